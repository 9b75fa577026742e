"""A frame that does not show the board of the placement: nothing of it is read, and everybody is told."""

import shutil
from pathlib import Path

import numpy as np
import pytest
import tifffile

from overlay.errors import InputError
from overlay.job.analyse import analyse
from overlay.job.read import read_job, survey_job
from overlay.reading.model import ReadingCode
from overlay.registration import policy
from tests.truth.worlds.folder import make_folder

DEMO = Path(__file__).parents[2] / "demo_board"
PARTS_OF_THE_JOB = shutil.ignore_patterns("simulation", "revision_c", "warm_up", "*.md", "*.png", "truth.json")


def test_a_capture_that_shows_something_else_is_not_read_but_the_others_are(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(DEMO, tmp_path / "job", ignore=PARTS_OF_THE_JOB))
    head, *captures = (folder / "job.toml").read_text(encoding="utf-8").split("[[capture]]")
    kept = [text for text in captures if "full_load_bottom.tiff" not in text]
    (folder / "job.toml").write_text("[[capture]]".join([head, *kept]), encoding="utf-8")
    counts = tifffile.imread(folder / "full_load.tiff")
    tifffile.imwrite(folder / "full_load.tiff", np.ascontiguousarray(counts[::-1, ::-1]), photometric="minisblack")
    analysis = analyse(read_job(folder))
    foreign = analysis.capture("full load")
    assert {reading.state for reading in foreign.reading.readings} == {"hidden"}
    assert {why.code for reading in foreign.reading.readings for why in reading.why} == {ReadingCode.FOREIGN_PLACEMENT}
    assert not foreign.reading.hot_spots
    (error,) = (problem for problem in analysis.problems if problem.severity == "error")
    assert 'capture "full load": the placement does not belong to this frame' in error.what
    assert error.file == "placement.csv"
    read = [reading.state for reading in analysis.capture("telemetry idle").reading.readings]
    assert read.count("read") > 10
    assert "full load" not in {margin.capture for margin in analysis.margins if margin.verdict == "clear"}


def test_a_job_of_nothing_but_another_boards_frame_is_refused_with_the_cause(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "job", "mirrored", 1)
    with pytest.raises(InputError) as caught:
        analyse(read_job(folder))
    (problem,) = caught.value.problems
    assert problem.file == "placement.csv"
    assert "mirrored" in problem.what
    assert problem in survey_job(folder).problems


def test_a_check_looks_no_further_where_parts_lie_where_the_points_put_them(monkeypatch: pytest.MonkeyPatch) -> None:
    def looked(*_given: object) -> None:
        raise AssertionError("the frame's own pose was looked for")

    monkeypatch.setattr(policy, "best_pose", looked)
    assert not [problem for problem in survey_job(DEMO).problems if problem.severity == "error"]
