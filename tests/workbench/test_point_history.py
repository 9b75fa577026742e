from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from overlay.board.model import Board, Body, Component, Outline
from overlay.registration.control_points import read_control_points
from overlay.registration.model import ControlPoint
from overlay.workbench.point_history import (
    PointHistory,
    Target,
    begun,
    moved,
    part_target,
    placed,
    removed,
    snapped,
    unsnapped,
)
from overlay.workbench.points_file import points_csv

HOLE = Target(None, (4.0, 60.0))
PART = Target("R1", (10.0, 20.0), 0.6)


def history() -> PointHistory:
    points, _ = placed((), HOLE, (42.0, 41.0))
    return begun({"one": points, "two": ()}, {"one": "abc", "two": ""}, {"one": "one.csv", "two": ""})


def board() -> Board:
    def part(refdes: str, side: str, height: float | None) -> Component:
        body = Body(2.0, 1.2, height, "a test")
        return Component(refdes, (10.0, 20.0), 0.0, side, "R0805", "", "", False, 2, "resistor", body)  # type: ignore[arg-type]

    parts = (part("R1", "top", 0.6), part("R2", "bottom", 0.6), part("C1", "top", None), part("R9", "top", 1.0))
    parts += (part("R9", "top", 1.0),)
    return Board("b", "A", parts, Outline(box(0, 0, 50, 40), "a test"), Path("placement.csv"), "mm", "a test")


def test_an_edit_is_a_new_state_and_the_old_one_stays_as_it_was() -> None:
    before = history()
    after = before.edited("one", moved(before.points["one"], 0, (50.0, 51.0)))
    assert before.points["one"][0].pixel == (42.0, 41.0)
    assert after.points["one"][0].pixel == (50.0, 51.0)
    assert after.points["two"] is before.points["two"]


def test_undo_gives_the_very_state_before_and_redo_the_one_after() -> None:
    first = history()
    second = first.edited("one", ())
    assert second.undone().points is first.points
    assert second.undone().redone().points is second.points


def test_undo_at_the_beginning_and_redo_at_the_end_change_nothing() -> None:
    first = history()
    assert first.undone() is first
    assert first.redone() is first


def test_an_edit_after_undo_forgets_what_was_undone() -> None:
    first = history()
    undone = first.edited("one", ()).undone()
    assert undone.edited("two", first.points["one"]).future == ()


def test_an_edit_that_changes_nothing_leaves_nothing_to_undo() -> None:
    first = history()
    assert first.edited("one", first.points["one"]) is first


def test_work_is_unsaved_until_written_and_again_after_undo() -> None:
    first = history()
    assert first.unsaved() == ()
    edited = first.edited("one", ())
    assert edited.unsaved() == ("one",)
    written = edited.written("one", "def")
    assert written.unsaved() == ()
    assert written.versions["one"] == "def"
    assert written.undone().unsaved() == ("one",)


def test_a_place_that_has_a_point_already_gets_that_one_moved() -> None:
    points, first = placed((), PART, (1.0, 2.0))
    points, second = placed(points, HOLE, (3.0, 4.0))
    points, again = placed(points, PART, (5.0, 6.0))
    assert (first, second, again) == (0, 1, 0)
    assert [point.pixel for point in points] == [(5.0, 6.0), (3.0, 4.0)]


def test_a_point_moved_to_the_contrast_remembers_the_click_and_goes_back_to_it() -> None:
    points, _ = placed((), PART, (10.0, 10.0))
    twice = snapped(snapped(points, 0, (11.0, 10.5), 0.1), 0, (11.2, 10.6), 0.1)
    assert twice[0].clicked_px == (10.0, 10.0)
    back = unsnapped(twice, 0)
    assert back == points


def test_a_point_dragged_by_hand_is_a_click_again() -> None:
    points, _ = placed((), PART, (10.0, 10.0))
    assert moved(snapped(points, 0, (11.0, 10.5), 0.1), 0, (12.0, 12.0))[0].clicked_px is None


def test_a_point_can_be_taken_away() -> None:
    points, _ = placed((), PART, (1.0, 2.0))
    assert removed(points, 0) == ()


def test_a_part_is_a_target_on_its_own_side_only_and_only_if_it_is_there_once() -> None:
    target = part_target(board(), "top", "R1")
    assert target == Target("R1", (10.0, 20.0), 0.6, True)
    assert part_target(board(), "top", "C1") == Target("C1", (10.0, 20.0), 0.0, False)
    assert part_target(board(), "top", "R2") is None
    assert part_target(board(), "top", "R9") is None
    assert part_target(board(), "top", "X1") is None


coordinates = st.floats(-900.0, 900.0).map(lambda value: round(value, 3))
pixels = st.tuples(coordinates, coordinates)
places = pixels.filter(lambda place: place != (10.0, 20.0))  # where the parts are


@given(
    rows=st.lists(
        st.tuples(pixels, places, st.sampled_from([0.5, 0.1, 0.25]), st.none() | pixels, st.booleans()),
        max_size=8,
        unique_by=(lambda item: item[0], lambda item: item[1]),
    )
)
def test_points_written_and_read_again_are_the_same(
    tmp_path_factory: pytest.TempPathFactory,
    rows: list[tuple[tuple[float, float], tuple[float, float], float, tuple[float, float] | None, bool]],
) -> None:
    points = [
        ControlPoint(pixel, place, 3.25 if raised else 0.0, u, None, 0, True, clicked)
        for pixel, place, u, clicked, raised in rows
    ]
    points.append(ControlPoint((1000.5, 2.0), (10.0, 20.0), 0.6, 0.5, "R1", 0))
    points.append(ControlPoint((1001.5, 2.0), (10.0, 20.0), 0.0, 0.5, "C1", 0, False))
    path = tmp_path_factory.mktemp("points") / "a.points.csv"
    path.write_text(points_csv(points, board(), "top", "# by hand\n# twice\npixel_x,pixel_y\n# later\n"))
    assert path.read_text().startswith("# by hand\n# twice\npixel_x,pixel_y,at,board_x_mm,board_y_mm")
    again = read_control_points(path, path.name, board(), "top")
    assert [replace(point, line=0) for point in again] == points


def test_columns_that_say_nothing_are_not_written() -> None:
    points, _ = placed((), PART, (10.0, 10.25))
    assert points_csv(points, board(), "top") == "pixel_x,pixel_y,at,board_x_mm,board_y_mm\n10,10.25,R1,,\n"


def test_captures_of_one_file_have_one_set_of_points() -> None:
    files = {"hot": "points.csv", "cold": "points.csv", "other": ""}
    before = begun({"hot": (), "cold": (), "other": ()}, {"hot": "a", "cold": "a", "other": ""}, files)
    points, _ = placed((), HOLE, (3.0, 4.0))
    after = before.edited("cold", points)
    assert after.points == {"hot": points, "cold": points, "other": ()}
    assert after.unsaved() == ("hot", "cold")
    assert after.undone().points == before.points
    written = after.written("hot", "b")
    assert written.unsaved() == ()
    assert written.versions == {"hot": "b", "cold": "b", "other": ""}
