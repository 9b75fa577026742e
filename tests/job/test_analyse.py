"""The pipeline from a job folder to an analysis: stacks, contact readings, and problems told all at once."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import tifffile

from overlay.errors import InputError
from overlay.frames.radiometry import Band
from overlay.job.analyse import analyse, register_all
from overlay.job.analysis import Analysis
from overlay.job.capture import apparent_page_c
from overlay.job.load import load_files
from overlay.job.read import read_job, survey_job
from overlay.report.results import results

DEMO = Path(__file__).parents[2] / "demo_board"
PARTS_OF_THE_JOB = shutil.ignore_patterns("simulation", "revision_c", "warm_up", "*.md", "*.png", "truth.json")


@pytest.fixture
def job_folder(tmp_path: Path) -> Path:
    """A copy of the demo job that a test may spoil."""
    return Path(shutil.copytree(DEMO, tmp_path / "job", ignore=PARTS_OF_THE_JOB))


@pytest.fixture
def full_load(job_folder: Path) -> Path:
    """The same with no other capture than "full load"."""
    path = job_folder / "job.toml"
    head, *captures = path.read_text(encoding="utf-8").split("[[capture]]")
    (own,) = (text for text in captures if '"full_load.tiff"' in text)
    path.write_text(f"{head}[[capture]]{own}", encoding="utf-8")
    return job_folder


@pytest.fixture(scope="module")
def warm_up() -> Analysis:
    return analyse(read_job(DEMO / "warm_up"))


def edit(folder: Path, old: str, new: str) -> None:
    path = folder / "job.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_readings_of_the_demo_are_within_three_u_of_their_truth(demo: Analysis) -> None:
    truth = json.loads((DEMO / "truth.json").read_text())["captures"]
    scores = []
    for capture in demo.captures:
        true = {part["refdes"]: part for part in truth[capture.name]["parts"]}
        for reading in capture.reading.readings:
            part = true.get(reading.refdes)
            if part is not None and reading.state in ("read", "small") and reading.peak_c is not None and reading.u_c:
                scores.append((reading.peak_c - part["peak_c"]) / reading.u_c)
    assert len(scores) > 100
    assert np.mean(np.abs(scores) < 2) > 0.9
    assert np.max(np.abs(scores)) < 4


def test_captures_read_side_by_side_are_the_same_to_the_bit(demo_c: Analysis) -> None:
    other = analyse(read_job(DEMO / "revision_c"), workers=2)
    assert results(other) == results(demo_c)
    for one, two in zip(demo_c.captures, other.captures, strict=True):
        assert repr(one.reading.readings) == repr(two.reading.readings)
        assert one.view.leaving_radiance.tobytes() == two.view.leaving_radiance.tobytes()
        assert two.view.board is other.job.board
        parts = {id(part) for part in other.job.board.components}
        assert all(id(face.component) in parts for face in two.faces)


def test_problems_of_all_captures_are_told_at_once(job_folder: Path) -> None:
    for name in ("full_load.tiff", "telemetry_idle.tiff"):
        (job_folder / name).write_bytes(b"nothing like a frame")
    (job_folder / "full_load_bottom.points.csv").write_text("pixel_x,pixel_y,at\n1,2,R9999\n")
    broken = {"full_load.tiff", "telemetry_idle.tiff", "full_load_bottom.points.csv"}
    for step in (lambda: analyse(read_job(job_folder), workers=2), lambda: register_all(read_job(job_folder))):
        with pytest.raises(InputError) as caught:
            step()
        assert {problem.file for problem in caught.value.problems} == broken
    surveyed = {problem.file for problem in survey_job(job_folder).problems if problem.severity == "error"}
    assert surveyed == broken


def test_a_missing_file_of_any_kind_is_named(job_folder: Path) -> None:
    for name in ("placement.csv", "outline.svg", "parts.csv", "bodies.csv"):
        (job_folder / name).unlink()
    problems = survey_job(job_folder).problems
    assert {problem.file for problem in problems if problem.what == "no such file"} == {
        "placement.csv",
        "outline.svg",
        "parts.csv",
        "bodies.csv",
    }


def test_settled_values_of_a_warming_board_meet_the_truth(warm_up: Analysis) -> None:
    (capture,) = warm_up.captures
    truth = json.loads((DEMO / "warm_up" / "truth.json").read_text())["captures"][capture.name]["parts"]
    true = {part["refdes"]: part for part in truth}
    scores, gained = [], []
    for reading in capture.reading.readings:
        part = true.get(reading.refdes)
        if part is None or reading.state not in ("read", "small") or reading.last_peak_c is None:
            continue
        assert reading.peak_c is not None
        assert reading.u_c is not None
        scores.append((reading.peak_c - part["peak_c"]) / reading.u_c)
        gained.append(reading.peak_c - reading.last_peak_c)
    assert len(scores) > 40
    assert np.mean(np.abs(scores) < 2) > 0.95
    assert np.max(gained) > 1.5
    notes = " ".join(capture.notes)
    assert "still warming up" in notes
    assert "IEC 60598-1" in notes
    assert "lie over one another" in notes


def test_a_drifting_stack_without_times_asks_for_them(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(DEMO / "warm_up", tmp_path / "job"))
    path = folder / "job.toml"
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join(line for line in lines if not line.startswith("frame_period_s")), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        analyse(read_job(folder))
    (problem,) = caught.value.problems
    assert problem.file == "warm_up.tiff"
    assert "frame_period_s" in problem.remedy


def test_a_record_too_short_to_extrapolate_is_refused(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(DEMO / "warm_up", tmp_path / "job"))
    pages = tifffile.imread(folder / "warm_up.tiff")[:4]
    tifffile.imwrite(folder / "warm_up.tiff", pages, photometric="minisblack")
    with pytest.raises(InputError, match="too few to tell where the board settles"):
        analyse(read_job(folder))


def test_contact_readings_take_the_place_of_what_infrared_could_not_read_or_contradict_it(full_load: Path) -> None:
    (full_load / "contact.csv").write_text("refdes,temperature_c,u_c\nU7,61.0,0.8\nU3,99.0,0.8\n")
    edit(
        full_load,
        'control_points = "full_load.points.csv"\n',
        'control_points = "full_load.points.csv"\ncontact_readings = "contact.csv"\n',
    )
    analysis = analyse(read_job(full_load))
    reading = next(item for item in analysis.capture("full load").reading.readings if item.refdes == "U7")
    assert (reading.state, reading.peak_c, reading.u_c) == ("contact", 61.0, 0.8)
    assert analysis.margin("U7").verdict != "unseen"
    assert "contact.csv" in {item.file for item in analysis.inputs}
    (problem,) = (item for item in analysis.problems if item.file == "contact.csv")
    assert problem.line == 3
    assert "contradict each other" in problem.what
    assert analysis.margin("U3").capture == "full load"


def test_a_job_without_captures_can_be_checked_but_not_mapped(job_folder: Path) -> None:
    path = job_folder / "job.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text[: text.index("[[capture]]")], encoding="utf-8")
    assert not [problem for problem in survey_job(job_folder).problems if problem.severity == "error"]
    with pytest.raises(InputError, match="nothing to read"):
        analyse(read_job(job_folder))


def test_a_frame_that_the_instrument_corrected_is_the_same_as_one_it_did_not(full_load: Path) -> None:
    """The instrument was set to ε = 0.95: turned back with its own settings, nothing changes."""
    band = Band(8.0, 14.0)
    apparent = tifffile.imread(full_load / "full_load.tiff") * 0.01 - 40.0
    shown = band.temperature_c((band.radiance(apparent) - 0.05 * band.radiance(22.0)) / 0.95)
    np.save(full_load / "corrected.npy", shown)
    edit(
        full_load,
        'frame = "full_load.tiff"\nframe_scale = 0.01\nframe_offset = -40.0\n',
        'frame = "corrected.npy"\nframe_emissivity = 0.95\nframe_reflected_c = 22.0\n',
    )
    job = read_job(full_load)
    data = load_files(job.folder, job.settings.capture[0], job.board)
    np.testing.assert_allclose(apparent_page_c(data, job.settings.camera), apparent, rtol=0, atol=1e-6)
