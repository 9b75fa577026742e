"""Which way packages lie, by their neighbours; through-hole parts on their bodies; what was assumed."""

from pathlib import Path

import pytest

from overlay.board.assumed import assumptions
from overlay.board.model import Board, BoardFiles
from overlay.board.origins import pattern_offset_mm
from overlay.board.read import read_board
from overlay.errors import Problem

HEAD = "Designator,Mid X(mm),Mid Y(mm),Rotation,Layer,Package\n"
# an SO-16 (3.9 × 9.9 mm) whose rows run along x, with capacitors close above and below it
ALONG_X = HEAD + "U1,50,50,0,Top,SOIC-16\nC1,50,53.2,0,Top,C0603\nC2,48,53.2,0,Top,C0603\nC3,50,46.8,0,Top,C0603\n"
UPRIGHT = HEAD + "U1,50,50,0,Top,SOIC-16\nC1,53.4,50,90,Top,C0603\nC2,46.6,51,90,Top,C0603\nC3,46.6,49,90,Top,C0603\n"


def board_of(tmp_path: Path, text: str, **keys: str) -> tuple[Board, list[Problem]]:
    (tmp_path / "placement.csv").write_text(text, encoding="utf-8")
    board, problems = read_board(tmp_path, BoardFiles("placement.csv", **keys))  # type: ignore[arg-type]
    assert board is not None
    return board, problems


def test_a_package_lies_the_way_its_neighbours_leave_room_for(tmp_path: Path) -> None:
    board, problems = board_of(tmp_path, ALONG_X)
    body = board.component("U1").body
    assert body is not None
    assert (body.length_mm, body.width_mm, body.level) == (9.9, 3.9, "B")
    (problem,) = [problem for problem in problems if "other way" in problem.what]
    assert "0% a quarter turn on" in problem.what
    assert "zero_orientation" in problem.remedy


def test_without_evidence_level_a_stays(tmp_path: Path) -> None:
    board, problems = board_of(tmp_path, UPRIGHT)
    body = board.component("U1").body
    assert body is not None
    assert (body.length_mm, body.level) == (3.9, "A")
    assert problems == []


@pytest.mark.parametrize(("text", "level"), [(ALONG_X, "A"), (UPRIGHT, "B")])
def test_a_level_that_was_stated_stays_and_is_questioned(tmp_path: Path, text: str, level: str) -> None:
    board, problems = board_of(tmp_path, text, zero_orientation=level)
    body = board.component("U1").body
    assert body is not None
    assert body.level == level
    assert any("other way" in problem.what and "taken as" not in problem.what for problem in problems)


def test_a_row_of_the_bodies_table_settles_how_a_package_lies(tmp_path: Path) -> None:
    (tmp_path / "bodies.csv").write_text("package,zero_orientation\nSOIC-16,B\n", encoding="utf-8")
    board, problems = board_of(tmp_path, UPRIGHT, bodies="bodies.csv")
    body = board.component("U1").body
    assert body is not None
    assert (body.length_mm, body.level) == (9.9, "B")
    assert not any(problem.severity == "error" for problem in problems)


@pytest.mark.parametrize(
    ("package", "offset"),
    [
        ("PinHeader_1x04_P2.54mm_Vertical", (0.0, -3.81)),
        ("PinSocket_2x03_P2.54mm_Vertical", (1.27, -2.54)),
        ("DIP-8_W7.62mm", (3.81, -3.81)),
        ("CP_Radial_D6.3mm_P2.50mm", (1.25, 0.0)),
        ("R_Axial_DIN0207_L6.3mm_D2.5mm_P10.16mm_Horizontal", (5.08, 0.0)),
        ("TO-220-3_Vertical", (2.54, 0.0)),
        ("LED_D5.0mm", (1.27, 0.0)),
        ("R_Axial_DIN0207_L6.3mm_D2.5mm_P2.54mm_Vertical", None),
        ("SOIC-8", None),
    ],
)
def test_patterns_tell_where_the_body_is_from_pin_1(package: str, offset: tuple[float, float] | None) -> None:
    assert pattern_offset_mm(package) == (None if offset is None else pytest.approx(offset))


def test_parts_placed_by_pin_1_stand_on_their_bodies_and_are_named(tmp_path: Path) -> None:
    text = "Ref,PosX(mm),PosY(mm),Rot,Side,Package\nJ1,10,20,90,top,PinHeader_1x03_P2.54mm_Vertical\n"
    board, problems = board_of(tmp_path, text)
    header = board.component("J1")
    assert header.placed_mm == (10.0, 20.0)
    assert header.center_mm == pytest.approx((12.54, 20.0))
    assert any("pin 1" in problem.what and "J1" in problem.what for problem in problems)
    centred, quiet = board_of(tmp_path, text.replace("PosX", "Mid X").replace("PosY", "Mid Y"))
    assert centred.component("J1").center_mm == (10.0, 20.0)
    assert not any("pin 1" in problem.what for problem in quiet)


def test_assumptions_come_one_line_a_package_with_the_heaviest_first(tmp_path: Path) -> None:
    rows = "".join(f"U{n},{20 * n},0,0,Top,QFN-32\n" for n in range(1, 4))
    board, _ = board_of(tmp_path, HEAD + "U9,0,50,0,Top,SOIC-8\n" + rows + "R1,0,90,0,Top,R0603\n")
    first, second = assumptions(board)
    assert first.startswith("QFN-32: size 5 × 5 mm")
    assert "U1, U2, U3" in first
    assert second.startswith("SOIC-8: pin rows upright")
