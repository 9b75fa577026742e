"""The parts table that a new job begins with."""

from pathlib import Path

from overlay.board.parts import read_parts
from overlay.job.new import write_new_job
from overlay.job.read import survey_job

PLACEMENT = """Designator,Mid X(mm),Mid Y(mm),Rotation,Layer,Comment
R1,1,1,0,Top,10k
R2,3,1,0,Top,10k
U1,20,20,0,Top,XY1234
R9,5,5,0,Top,0R
"""
BILL = """Designator,MPN,Footprint,Temperature,DNP
"R1,R2",ABC-103,R_0402,-55°C ~ 155°C,
U1,XY1234DGK,VSSOP-8_3x3mm,,
R9,ABC-0,R_0402,,x
"""


def job_at(tmp_path: Path) -> Path:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "placement.csv").write_text(PLACEMENT, encoding="utf-8")
    (tmp_path / "in" / "bom.csv").write_text(BILL, encoding="utf-8")
    folder = tmp_path / "job"
    write_new_job(folder, tmp_path / "in" / "placement.csv", parts=tmp_path / "in" / "bom.csv")
    return folder


def test_limits_of_a_purchasing_list_stand_in_the_table_with_their_cells(tmp_path: Path) -> None:
    folder = job_at(tmp_path)
    table, problems = read_parts(folder / "parts.csv", "parts.csv")
    assert problems == []
    assert table.by_refdes["R2"].limit_c == 155.0
    assert table.by_refdes["R2"].limit_at == "ambient"
    assert "bom.csv, line 2" in table.by_refdes["R2"].limit_source
    assert table.by_part_number["xy1234dgk"].limit_c is None  # left to fill in
    assert "left to fill in: the limits of 1 parts" in (folder / "parts.csv").read_text(encoding="utf-8")


def test_the_list_goes_on_telling_packages_and_what_is_not_fitted(tmp_path: Path) -> None:
    survey = survey_job(job_at(tmp_path))
    assert [str(problem) for problem in survey.problems if problem.severity == "error"] == []
    board = survey.board
    assert board is not None
    assert board.component("R1").package == "R_0402"
    assert board.component("R1").rating is not None
    assert [part.refdes for part in board.unfitted] == ["R9"]


def test_assumed_sizes_wait_for_a_word_in_the_bodies_table(tmp_path: Path) -> None:
    placement = tmp_path / "placement.csv"
    placement.write_text(
        "Designator,Mid X(mm),Mid Y(mm),Rotation,Layer,Package\nU1,1,1,0,Top,QFN-32\nU2,9,9,0,Top,ODD\n"
    )
    write_new_job(tmp_path / "job", placement)
    text = (tmp_path / "job" / "bodies.csv").read_text(encoding="utf-8")
    assert '# "QFN-32",5,5,0.9,box,,' in text
    assert '# "ODD",,,,box,,' in text
    assert text.index("ODD") < text.index("QFN-32")
