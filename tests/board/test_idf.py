"""IDF board files and their libraries, all of them invented."""

import math
from pathlib import Path

import pytest

from overlay.board.model import Board, BoardFiles
from overlay.board.outline.read import read_outline
from overlay.board.placement.read import read_placement
from overlay.board.read import read_board

BOARD = """.HEADER
BOARD_FILE 3.0 "a generator of ours" 2024/05/01.10:11:12 1
tide_gauge {unit}
.END_HEADER
.BOARD_OUTLINE MCAD
62.0
0 0.0 0.0 0.0
0 {w} 0.0 0.0
0 {w} {h} 0.0
0 0.0 {h} 0.0
0 0.0 0.0 0.0
1 {cx} {cy} 0.0
1 {rx} {cy} 360.0
.END_BOARD_OUTLINE
.DRILLED_HOLES
30.0 1800.0 100.0 PTH J1 PIN ECAD
.END_DRILLED_HOLES
.PLACEMENT
"so 8" AMP-1 U1
{ux} {uy} 0.0 90.0 TOP ECAD
so8x AMP-2 U2
{ux} {vy} 0.0 0.0 BOTTOM PLACED
can CAP-9 C1
{uy} {uy} 0.0 45.0 TOP PLACED
can CAP-9 C2
0.0 0.0 0.0 0.0 TOP UNPLACED
hole M3 NOREFDES
{uy} {vy} 0.0 0.0 TOP ECAD
.END_PLACEMENT
"""
LIBRARY = """.HEADER
LIBRARY_FILE 3.0 "a generator of ours" 2024/05/01.10:11:12 1
.END_HEADER
.ELECTRICAL
"so 8" AMP-1 THOU 69.0
0 -100.0 -75.0 0.0
0 100.0 -75.0 0.0
0 100.0 75.0 0.0
0 -100.0 75.0 0.0
0 -100.0 -75.0 0.0
PROP CAPACITANCE 0.0
.END_ELECTRICAL
.ELECTRICAL
so8x AMP-2 MM 1.5
0 0.0 0.0 0.0
0 4.0 0.0 0.0
0 4.0 2.0 0.0
0 0.0 2.0 0.0
0 0.0 0.0 0.0
.END_ELECTRICAL
.ELECTRICAL
can CAP-9 MM 10.0
0 0.0 0.0 0.0
0 4.0 0.0 360.0
.END_ELECTRICAL
"""


def board_text(unit: str, mm: float) -> str:
    places = {"w": 60.0, "h": 40.0, "cx": 50.0, "cy": 30.0, "rx": 52.0, "ux": 12.7, "uy": 20.0, "vy": 7.62}
    return BOARD.format(unit=unit, **{name: value / mm for name, value in places.items()})


def read(folder: Path, unit: str = "THOU", mm: float = 0.0254, *, library: bool = True, **files: str) -> Board:
    (folder / "board.emn").write_text(board_text(unit, mm))
    if library:
        (folder / "board.emp").write_text(LIBRARY)
    board, _ = read_board(folder, BoardFiles("board.emn", **files))  # type: ignore[arg-type]
    assert board is not None
    return board


@pytest.mark.parametrize(("unit", "mm"), [("THOU", 0.0254), ("MM", 1.0), ("TNM", 1e-5)])
def test_one_pair_of_files_tells_places_edge_and_heights(unit: str, mm: float, tmp_path: Path) -> None:
    board = read(tmp_path, unit, mm)
    assert board.outline.polygon.bounds == pytest.approx((0, 0, 60, 40))
    assert board.outline.polygon.area == pytest.approx(2400 - math.pi * 4, abs=0.01)
    assert [part.refdes for part in board.components] == ["U1", "U2", "C1"]
    u1, u2, c1 = board.components
    assert u1.center_mm == pytest.approx((12.7, 20.0))
    assert (u1.rotation_deg, u1.side, u1.package, u1.part_number) == (90.0, "top", "so 8", "AMP-1")
    assert u1.body is not None
    assert (u1.body.length_mm, u1.body.width_mm, u1.height_mm) == pytest.approx((5.08, 3.81, 1.7526))
    assert "board.emp" in u1.body.source
    assert u2.side == "bottom"
    # drawn from its corner and turned over about its y axis: the middle lies to the left
    assert u2.center_mm == pytest.approx((12.7 - 2.0, 7.62 + 1.0))
    assert u2.placed_mm == pytest.approx((12.7, 7.62))
    assert c1.body is not None
    assert (c1.body.length_mm, c1.height_mm) == pytest.approx((8.0, 10.0))


def test_what_is_not_placed_or_has_no_name_is_left_out_and_said(tmp_path: Path) -> None:
    read(tmp_path)
    placement, problems = read_placement(tmp_path / "board.emn", "board.emn")
    assert placement is not None
    told = {problem.what.split(",")[0]: problem.severity for problem in problems}
    assert told == {"C2 is not placed": "warning", "reference designator '' is not assigned": "warning"}


def test_without_its_library_the_board_is_read_all_the_same(tmp_path: Path) -> None:
    board = read(tmp_path, library=False)
    assert len(board.components) == 3
    _, problems = read_placement(tmp_path / "board.emn", "board.emn")
    assert any("no library" in problem.what for problem in problems)


def test_the_board_file_alone_gives_an_outline(tmp_path: Path) -> None:
    read(tmp_path)
    outline, problems = read_outline(tmp_path / "board.emn", "board.emn")
    assert outline is not None
    assert not problems
    assert len(outline.polygon.interiors) == 1  # type: ignore[union-attr]


def test_an_arc_with_a_positive_angle_bulges_to_the_right_of_its_way(tmp_path: Path) -> None:
    text = board_text("MM", 1.0).replace("0 60.0 40.0 0.0\n", "0 60.0 40.0 180.0\n")
    (tmp_path / "board.emn").write_text(text)
    outline, _ = read_outline(tmp_path / "board.emn", "board.emn")
    assert outline is not None
    assert outline.polygon.bounds == pytest.approx((0, 0, 80, 40))


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ("tide_gauge MM", "tide_gauge FURLONG", "names no unit"),
        ("BOARD_FILE", "LIBRARY_FILE", "another kind"),
        ("0 60.0 0.0 0.0", "0 sixty 0.0 0.0", "a point of the outline cannot be read"),
        ("12.7 20.0 0.0 90.0 TOP ECAD", "12.7 20.0 0.0 ninety TOP ECAD", "U1: its place cannot be read"),
        ("so8x AMP-2 U2", "so8x", "here are 1 words"),
    ],
)
def test_what_cannot_be_used_is_said_with_its_line(old: str, new: str, what: str, tmp_path: Path) -> None:
    text = board_text("MM", 1.0)
    assert old in text
    (tmp_path / "board.emn").write_text(text.replace(old, new))
    _, problems = read_placement(tmp_path / "board.emn", "board.emn")
    _, more = read_outline(tmp_path / "board.emn", "board.emn")
    errors = [problem for problem in [*problems, *more] if problem.severity == "error"]
    assert what in errors[0].what
    assert errors[0].line is not None
