"""Panels: equal boards are told, asked for, and read one by one or all together; all boards are invented."""

from pathlib import Path

import pytest
from shapely.geometry import box

from overlay.board.model import BoardFiles, Outline, PanelBoard, Placement
from overlay.board.outline.panel import stepped
from overlay.board.placement.read import read_placement
from overlay.board.read import read_board
from overlay.errors import Problem

PARTS = (("R1", 1.5, 2.0, 0.0), ("R2", 7.0, 9.25, 90.0), ("U1", 22.0, 3.0, 180.0), ("C4", 9.0, 14.0, 0.0))
HEAD = "Designator,Mid X(mm),Mid Y(mm),Rotation,Layer\n"
SINGLE = "FID1,-5,0,0,Top\nFID2,130,0,0,Top\n"


def rows(boards: tuple[PanelBoard, ...], *, by_part: bool = False) -> str:
    lines = []
    for board in boards:
        for name, x, y, turn in PARTS:
            place = board.moved(x, y)
            lines.append((name, f"{name},{place[0]},{place[1]},{(turn + board.turn_deg) % 360},Top\n"))
    ordered = sorted(lines, key=lambda line: line[0]) if by_part else lines
    return HEAD + "".join(line for _, line in ordered)


ROW = tuple(PanelBoard(0.0, (dx, 0.0)) for dx in (0.0, 50.0, 100.0))
TURNED = (PanelBoard(0.0, (0.0, 0.0)), PanelBoard(180.0, (80.0, 40.0)))
QUARTERS = tuple(PanelBoard(turn, shift) for turn, shift in ((0.0, (0.0, 0.0)), (90.0, (60.0, 0.0))))


def read(folder: Path, text: str, panel_board: int | str | None = None) -> tuple[Placement | None, list[Problem]]:
    (folder / "panel.csv").write_text(text)
    return read_placement(folder / "panel.csv", "panel.csv", panel_board=panel_board)  # type: ignore[arg-type]


@pytest.mark.parametrize("boards", [ROW, TURNED, QUARTERS], ids=["in a row", "turned by half", "turned by a quarter"])
@pytest.mark.parametrize("by_part", [False, True], ids=["board by board", "part by part"])
def test_a_panel_is_asked_for_with_how_many_and_where(
    boards: tuple[PanelBoard, ...], by_part: bool, tmp_path: Path
) -> None:
    _, problems = read(tmp_path, rows(boards, by_part=by_part))
    assert [problem.severity for problem in problems] == ["error"]
    assert f"panel of {len(boards)} equal boards" in problems[0].what
    assert "1: x 1.5 … 22.0, y 2.0 … 14.0 mm" in problems[0].what
    assert "panel_board" in problems[0].remedy


@pytest.mark.parametrize("boards", [ROW, TURNED, QUARTERS], ids=["in a row", "turned by half", "turned by a quarter"])
@pytest.mark.parametrize("by_part", [False, True], ids=["board by board", "part by part"])
def test_each_board_of_a_panel_can_be_read(boards: tuple[PanelBoard, ...], by_part: bool, tmp_path: Path) -> None:
    text = rows(boards, by_part=by_part) + SINGLE
    for number, board in enumerate(boards, start=1):
        placement, problems = read(tmp_path, text, number)
        assert placement is not None
        # the fiducials of the frame are left out, and said to be
        assert [("left out" in problem.what, problem.severity) for problem in problems] == [(True, "warning")] * 2
        places = {part.refdes: (part.center_mm, part.rotation_deg) for part in placement.components}
        assert places == {
            name: (pytest.approx(board.moved(x, y)), (turn + board.turn_deg) % 360) for name, x, y, turn in PARTS
        }
        assert any(f"board {number} of them read" in note for note in placement.notes)


def test_all_boards_are_read_with_names_that_tell_the_board(tmp_path: Path) -> None:
    placement, problems = read(tmp_path, rows(ROW) + SINGLE, "all")
    assert not problems
    assert placement is not None
    names = [part.refdes for part in placement.components]
    assert len(names) == 14
    assert {"R1@1", "R1@2", "R1@3", "C4@3", "FID1"} <= set(names)
    assert placement.components[5].center_mm == (57.0, 9.25)


def test_a_board_that_is_not_there_is_refused(tmp_path: Path) -> None:
    _, problems = read(tmp_path, rows(ROW), 4)
    assert "panel_board is 4, but the panel holds 3 equal boards" in problems[0].what
    _, problems = read(tmp_path, rows(ROW[:1]), 2)
    assert "the placement holds one board" in problems[0].what


def test_names_used_twice_are_no_panel(tmp_path: Path) -> None:
    text = rows(ROW[:1]) + "R1,40,41,0,Top\nR2,3,31,0,Top\nC9,2,8,0,Top\n"
    placement, problems = read(tmp_path, text)
    assert placement is not None
    assert [problem.severity for problem in problems] == ["warning", "warning"]
    assert "R1 names 2 parts (lines 2, 6)" in problems[0].what
    names = [part.refdes for part in placement.components]
    assert names == ["R1 (line 2)", "R2 (line 3)", "U1", "C4", "R1 (line 6)", "R2 (line 7)", "C9"]


@pytest.mark.parametrize("boards", [ROW, TURNED, QUARTERS], ids=["in a row", "turned by half", "turned by a quarter"])
def test_an_outline_of_one_board_is_stepped_to_those_read(boards: tuple[PanelBoard, ...], tmp_path: Path) -> None:
    outline = Outline(box(0.0, 0.0, 30.0, 18.0), "one board")
    for number, board in enumerate(boards, start=1):
        placement, _ = read(tmp_path, rows(boards), number)
        assert placement is not None
        moved = stepped(outline, boards, number, placement.components)
        corners = [board.moved(x, y) for x, y in ((0.0, 0.0), (30.0, 18.0))]
        xs, ys = zip(*corners, strict=True)
        assert moved.polygon.bounds == pytest.approx((min(xs), min(ys), max(xs), max(ys)))
    placement, _ = read(tmp_path, rows(boards), "all")
    assert placement is not None
    assert stepped(outline, boards, "all", placement.components).polygon.area == pytest.approx(len(boards) * 540.0)


def test_an_outline_of_the_whole_panel_stays(tmp_path: Path) -> None:
    (tmp_path / "panel.csv").write_text(rows(ROW))
    (tmp_path / "frame.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"><path d="M-5 5 H140 V-25 H-5 Z"/></svg>'
    )
    board, _ = read_board(tmp_path, BoardFiles("panel.csv", outline="frame.svg", panel_board=2))
    assert board is not None
    assert board.outline.polygon.bounds == (-5.0, -5.0, 140.0, 25.0)
    assert len(board.components) == len(PARTS)


def test_a_rating_by_designator_holds_on_every_board_of_the_panel(tmp_path: Path) -> None:
    (tmp_path / "panel.csv").write_text(rows(ROW))
    (tmp_path / "parts.csv").write_text("refdes,limit_c\nR1,155\nR2@2,125\n")
    board, problems = read_board(tmp_path, BoardFiles("panel.csv", parts="parts.csv", panel_board="all"))
    assert board is not None
    assert not [problem for problem in problems if problem.file == "parts.csv"]
    limits = {part.refdes: part.rating.limit_c for part in board.components if part.rating is not None}
    assert limits == {"R1@1": 155.0, "R1@2": 155.0, "R1@3": 155.0, "R2@2": 125.0}
