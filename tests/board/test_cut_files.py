"""A file that was cut off says so: a transfer that broke must not lose parts, edges or digits in silence."""

from __future__ import annotations

from pathlib import Path

import pytest

from overlay.board.model import BoardFiles
from overlay.board.outline.read import read_outline
from overlay.board.read import read_board
from overlay.errors import InputError, Problem
from overlay.files import noted_inputs, problems_of
from overlay.frames.read import read_frame
from overlay.job.read import read_job
from overlay.registration.control_points import read_control_points
from tests import bombs
from tests.board.test_idf import board_text
from tests.board.test_read import IPC, STEP

DEMO = Path(__file__).parents[2] / "demo_board"
PAGE = """<html><body><p>Units: mm</p><table><tr><th>Refdes</th><th>X</th><th>Y</th><th>Rotation</th><th>Side</th></tr>
<tr><td>R1</td><td>10.0</td><td>20.0</td><td>90</td><td>top</td></tr>
</table></body></html>
"""
PROFILE = (
    b"%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.1*%\nD10*\nX0Y0D02*\nX90000000Y0D01*\nX90000000Y90000000D01*\n"
    b"X0Y90000000D01*\nX0Y0D01*\nM02*\n"
)
LAYER = (
    b"%FSLAX46Y46*%\n%MOMM*%\n%TF.FileFunction,Component,L1,Top*%\n%TA.AperFunction,ComponentMain*%\n%ADD10C,0.3*%\n%TD*%\n"
    b"%TO.C,R1*%\n%TO.CRot,90*%\n%TO.CFtp,R0805*%\nD10*\nX1000000Y2000000D03*\n%TD*%\nM02*\n"
)
PLACEMENTS = {
    "placement.csv": (DEMO / "placement.csv").read_bytes(),
    "page.html": PAGE.encode(),
    "board.emn": board_text("MM", 1.0).encode(),
    "board.xml": IPC.format(steps=STEP.format(name="b", depth=30)).encode(),
    "layer.gbr": LAYER,
}
OUTLINES = {
    "outline.svg": (DEMO / "outline.svg").read_bytes(),
    "profile.gbr": PROFILE,
    "edge.dxf": bombs.dxf(
        "".join(
            f"0\nLINE\n8\n0\n10\n{x}\n20\n{y}\n11\n{u}\n21\n{v}\n"
            for x, y, u, v in ((0, 0, 90, 0), (90, 0, 90, 70), (90, 70, 0, 70), (0, 70, 0, 0))
        )
    ),
}


def told(folder: Path, name: str, data: bytes) -> list[Problem]:
    (folder / name).write_bytes(data)
    with noted_inputs() as inputs:
        if name in OUTLINES:
            _, problems = read_outline(folder / name, name)
        else:
            (folder / "placement.csv").write_bytes(PLACEMENTS["placement.csv"]) if name not in PLACEMENTS else None
            named = {"parts.csv": "parts", "bodies.csv": "bodies"}.get(name)
            files = BoardFiles(name) if named is None else BoardFiles("placement.csv", **{named: name})  # type: ignore[arg-type]
            _, problems = read_board(folder, files)
    return [problem for problem in (*problems, *problems_of(inputs)) if problem.file == name]


@pytest.mark.parametrize("name", [*PLACEMENTS, *OUTLINES, "parts.csv", "bodies.csv"])
def test_a_file_cut_near_its_end_says_so(tmp_path: Path, name: str) -> None:
    whole = {**PLACEMENTS, **OUTLINES}.get(name) or (DEMO / name).read_bytes()
    before = {problem.what for problem in told(tmp_path, name, whole)}
    for missing in (
        (16, 20, 33) if name == "board.emn" else (6, 7, 9, 12, 20, 33)
    ):  # .END_PLACEMENT itself tells nothing
        problems = told(tmp_path, name, whole[:-missing])
        assert {problem.what for problem in problems} - before, f"{missing} bytes were lost in silence"


def test_a_number_that_lost_its_last_digits_is_told_with_its_line(tmp_path: Path) -> None:
    text = "package,length_mm,width_mm,height_mm\nA,4.5,4.5,1.5\nB,4.5,4.5,46.50"
    assert [(p.severity, p.line) for p in told(tmp_path, "bodies.csv", text.encode()) if "cut off" in p.what] == [
        ("warning", 3)
    ]
    short = text.replace(",46.50", "\n")
    assert any(
        "3 cells, all others have 4" in p.what and p.line == 3 for p in told(tmp_path, "bodies.csv", short.encode())
    )
    assert not [p for p in told(tmp_path, "bodies.csv", f"{text}\n".encode()) if "cut off" in p.what]
    assert not [p for p in told(tmp_path, "bodies.csv", f"{text}\n# the end".encode()) if "cut off" in p.what]


def test_a_cut_table_of_points_is_told_with_the_capture(tmp_path: Path) -> None:
    board = read_job(DEMO).board
    name = "full_load.points.csv"
    (tmp_path / name).write_bytes((DEMO / name).read_bytes()[:-1])
    with noted_inputs() as inputs:
        read_control_points(tmp_path / name, name, board, "top")
    assert [(p.file, "cut off" in p.what) for p in problems_of(inputs)] == [(name, True)]


def test_a_stack_that_lost_its_last_pages_is_refused(tmp_path: Path) -> None:
    whole = bombs.tiff(16, 16, b"\x10\x0e" * 256, pages=5)
    path = tmp_path / "stack.tiff"
    path.write_bytes(whole)
    assert read_frame(path, "stack.tiff", scale=0.01).pages == 5
    for missing in (1, 4, 60, 130, 400):
        path.write_bytes(whole[:-missing])
        with pytest.raises(InputError, match="cut off"):
            read_frame(path, "stack.tiff", scale=0.01)
