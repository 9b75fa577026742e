"""What a table of control points may hold, and what is said of one that cannot be used."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.errors import InputError
from overlay.registration.control_points import DEFAULT_PIXEL_U, read_control_points


@pytest.fixture
def board(board_of, part):
    return board_of(
        part("U3", 20.0, 30.0, (7.0, 7.0, 1.2)),
        part("C12", 40.0, 30.0, (8.0, 8.0, None)),
        part("Q1", 60.0, 10.0, None),
        part("R9", 70.0, 20.0, side="bottom"),
        part("FID1", 3.0, 3.0, None, mechanical=True),
    )


def read(tmp_path: Path, text: str, board, side="top"):
    path = tmp_path / "points.csv"
    path.write_text(text, encoding="utf-8")
    return read_control_points(path, "points.csv", board, side)


def test_a_refdes_stands_for_the_middle_of_its_top_face(tmp_path, board):
    (point,) = read(tmp_path, "pixel_x,pixel_y,at\n12.5,40,U3\n", board)
    assert (point.board_mm, point.z_mm, point.height_known) == ((20.0, 30.0), 1.2, True)
    assert (point.pixel, point.pixel_u, point.at, point.line) == ((12.5, 40.0), DEFAULT_PIXEL_U, "U3", 2)


def test_coordinates_lie_on_the_surface_unless_a_height_is_given(tmp_path, board):
    text = "pixel_x;pixel_y;board_x_mm;board_y_mm;z_mm;pixel_u\n1;2;3,5;4;;\n5;6;7;8;1,6;0,2\n"
    flat, raised = read(tmp_path, text, board)
    assert (flat.board_mm, flat.z_mm, flat.at, flat.name) == ((3.5, 4.0), 0.0, None, "(3.5, 4) mm")
    assert (raised.z_mm, raised.pixel_u) == (1.6, 0.2)


def test_a_given_height_wins_over_that_of_the_body(tmp_path, board):
    (point,) = read(tmp_path, "pixel_x,pixel_y,at,z_mm\n1,2,U3,0\n", board)
    assert point.z_mm == 0.0


def test_an_unknown_height_is_marked_but_a_fiducial_is_flat(tmp_path, board):
    points = read(tmp_path, "pixel_x,pixel_y,at\n1,2,C12\n30,2,Q1\n60,2,FID1\n", board)
    assert [point.z_mm for point in points] == [0.0, 0.0, 0.0]
    assert [point.height_known for point in points] == [False, False, True]


def test_every_problem_is_told_at_once(tmp_path, board):
    text = (
        "pixel_x,pixel_y,at,board_x_mm,board_y_mm,pixel_u\n"
        "1,2,U33,,,\n"  # unknown, U3 is near
        "1,2,R9,,,\n"  # on the other side
        "1,2,U3,5,,\n"  # both
        "1,2,,,,\n"  # neither
        "x,,U3,,,0\n"  # no pixel, no uncertainty
        "9,9,,5,,\n"  # half a place
        "7,7,C12,,,\n8,8,C12,,,\n7,7,Q1,,,\n"  # a place twice, a pixel twice
    )
    with pytest.raises(InputError) as caught:
        read(tmp_path, text, board)
    problems = caught.value.problems
    told = {(problem.line, word) for problem in problems for word in str(problem).split("; ")}
    assert sorted({problem.line for problem in problems}) == [2, 3, 4, 5, 6, 7, 9, 10]
    assert (2, "the nearest known refdes is 'U3'") in told
    assert "bottom side, the capture shows the top" in str(caught.value)
    assert "already in line 8" in str(caught.value)
    assert len([problem for problem in problems if problem.line == 6]) == 3


def test_a_refdes_placed_on_both_sides_is_the_one_that_is_seen(tmp_path, board_of, part):
    board = board_of(part("X1", 1.0, 1.0), part("X1", 5.0, 5.0, side="bottom"))
    (point,) = read(tmp_path, "pixel_x,pixel_y,at\n1,2,X1\n", board, "bottom")
    assert point.board_mm == (5.0, 5.0)


@given(
    st.one_of(
        st.binary(max_size=200),
        st.text(max_size=120).map(lambda text: ("pixel_x,pixel_y,at,board_x_mm,board_y_mm\n" + text).encode()),
        st.lists(st.lists(st.sampled_from(["1", "-7.5", "U3", "", '"', "1e999", "nan"]), max_size=7), max_size=5).map(
            lambda rows: (
                "pixel_x,pixel_y,at,board_x_mm,board_y_mm,z_mm,pixel_u\n" + "\n".join(map(",".join, rows))
            ).encode()
        ),
    )
)
def test_any_bytes_give_points_or_an_input_error(tmp_path, board, data):
    path = tmp_path / "points.csv"
    path.write_bytes(data)
    try:
        read_control_points(path, "points.csv", board, "top")
    except InputError as error:
        assert error.problems
