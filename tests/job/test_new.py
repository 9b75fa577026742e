"""New jobs: what is written can be read back, shows every key, and says what to do next."""

import re
import tomllib
from pathlib import Path

import pytest

from overlay.errors import InputError
from overlay.job.new import write_new_job
from overlay.job.read import survey_job
from overlay.job.read_settings import read_settings
from overlay.job.settings import (
    BoardSettings,
    CameraSettings,
    CaptureSettings,
    RecordSettings,
    RequirementSettings,
    Settings,
)
from overlay.report.check import check_text

PLACEMENT = "Ref,Value,Package,X(mm),Y(mm),Rot,Side\nR1,10k,R0603,1,2,0,top\nU1,amp,HOUSE-8,9,2,90,bottom\n"


def new(folder: Path, placement: str = PLACEMENT) -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "given.csv").write_text(placement)
    write_new_job(folder / "job", folder / "given.csv")
    return folder / "job"


def test_a_new_job_is_read_without_a_change(tmp_path: Path) -> None:
    job = new(tmp_path)
    settings = read_settings(job / "job.toml")
    assert settings.board.placement == "given.csv"
    survey = survey_job(job)
    assert survey.board is not None
    assert not [problem for problem in survey.problems if problem.severity == "error"]


@pytest.mark.parametrize(
    ("heading", "section"),
    [
        ("[board]", BoardSettings),
        ("[requirement]", RequirementSettings),
        ("[camera]", CameraSettings),
        ("[record]", RecordSettings),
        ("[[capture]]", CaptureSettings),
    ],
)
def test_it_shows_every_key_of_every_section(heading: str, section: type, tmp_path: Path) -> None:
    lines = (new(tmp_path) / "job.toml").read_text().split("\n")
    start = next(index for index, line in enumerate(lines) if line.removeprefix("# ") == heading)
    keys = []
    for line in lines[start + 1 :]:
        match = re.match(r"(?:# )?([a-z_]+) = ", line)
        if match is None:
            break
        keys.append(match.group(1))
    assert keys == list(section.model_fields)  # type: ignore[attr-defined]


def test_every_line_of_it_holds_once_its_mark_is_taken_away(tmp_path: Path) -> None:
    text = (new(tmp_path) / "job.toml").read_text()
    set_lines = [re.sub(r"^# (?=[a-z_]+ = |\[)", "", line) for line in text.split("\n")]
    # keys of which a job may give one only
    whole = "\n".join(line for line in set_lines if not line.startswith(("frame_times_s", "ambient_log")))
    settings = Settings.model_validate(tomllib.loads(whole))
    assert settings.capture[0].name == "full load"


def test_a_job_without_a_capture_says_what_to_do_next(tmp_path: Path) -> None:
    text = check_text(survey_job(new(tmp_path)))
    for words in ("none yet: what to do next", "board-overlay shots", "[[capture]]", "board-overlay workbench"):
        assert words in text


def test_a_placement_that_leaves_questions_open_makes_a_job_all_the_same(tmp_path: Path) -> None:
    job = new(tmp_path, "Ref,X,Y,Rot\nR1,1,2,0\nR2,3,2,0\n")
    assert '# placement_units = "mm"' in (job / "job.toml").read_text()
    problems = [problem.remedy for problem in survey_job(job).problems if problem.severity == "error"]
    assert any("placement_units" in remedy for remedy in problems)


def test_the_library_of_an_idf_board_comes_along(tmp_path: Path) -> None:
    head = '.HEADER\n{kind} 3.0 "ours" 2024/05/01 1\nboard MM\n.END_HEADER\n'
    places = ".PLACEMENT\nchip RES-1 R1\n4.0 5.0 0.0 0.0 TOP PLACED\n.END_PLACEMENT\n"
    (tmp_path / "amp.emn").write_text(head.format(kind="BOARD_FILE") + places)
    box = "0 -1 -1 0\n0 1 -1 0\n0 1 1 0\n0 -1 1 0\n0 -1 -1 0\n"
    library = head.format(kind="LIBRARY_FILE") + f".ELECTRICAL\nchip RES-1 MM 0.7\n{box}.END_ELECTRICAL\n"
    (tmp_path / "amp.emp").write_text(library)
    made = write_new_job(tmp_path / "job", tmp_path / "amp.emn")
    assert {"amp.emn", "amp.emp", "job.toml"} <= set(made.written)
    assert made.board is not None
    assert made.board.component("R1").height_mm == 0.7


def test_a_job_is_never_written_over(tmp_path: Path) -> None:
    new(tmp_path)
    with pytest.raises(InputError, match="is there already"):
        new(tmp_path)
