"""Damaged board files give an answer or problems, whatever the damage."""

import random
from pathlib import Path

import pytest

from overlay.board.model import BoardFiles
from overlay.board.read import read_board
from tests.board.placement.test_placement_panel import SINGLE, TURNED, rows
from tests.board.placement.test_placement_records import GENCAD, REPORT
from tests.board.test_idf import LIBRARY, board_text
from tests.board.test_read import IPC, STEP

DOCUMENTS = {
    "board.emn": board_text("MM", 1.0),
    "board.xml": IPC.format(steps=STEP.format(name="b", depth=30)),
    "board.rpt": REPORT,
    "board.cad": GENCAD.format(units="MM", x=1, y=2),
    "panel.csv": rows(TURNED) + SINGLE,
}
STRANGE = ["nan", "inf", "1e400", "-", '"', "<", ">", "&", "\0", "\n", "0", "360", "9" * 30, "é"]


def damaged(text: str, chance: random.Random) -> str:
    for _ in range(chance.randint(1, 6)):
        start = chance.randrange(len(text))
        end = min(len(text), start + chance.randint(1, 40))
        kind = chance.choice(["cut", "put", "repeat", "end"])
        if kind == "cut":
            text = text[:start] + text[end:]
        elif kind == "put":
            text = text[:start] + chance.choice(STRANGE) + text[start:]
        elif kind == "repeat":
            text = text[:start] + text[start:end] * chance.randint(2, 4) + text[end:]
        elif chance.random() < 0.3:
            text = text[:start]
        text = text or "x"
    return text


def test_a_list_of_more_lines_than_any_board_has_is_refused_before_it_is_read(tmp_path: Path) -> None:
    (tmp_path / "long.csv").write_text("Ref,X (mm),Y (mm),Rot,Side\n" + "R1,1,1,0,top\n" * 41_000)
    board, problems = read_board(tmp_path, BoardFiles("long.csv"))
    assert board is None
    assert "41,001 lines" in problems[0].what


@pytest.mark.parametrize("name", DOCUMENTS)
def test_a_damaged_file_gives_a_board_or_problems(name: str, tmp_path: Path) -> None:
    (tmp_path / "board.emp").write_text(LIBRARY)
    for seed in range(40):
        chance = random.Random(f"{name}{seed}")
        (tmp_path / name).write_bytes(damaged(DOCUMENTS[name], chance).encode())
        outline = name if name in ("board.emn", "board.xml") and seed % 2 else None
        files = BoardFiles(name, outline=outline, panel_board=chance.choice([None, 1, 2, "all"]))
        board, problems = read_board(tmp_path, files)
        assert board is not None or any(problem.severity == "error" for problem in problems)
