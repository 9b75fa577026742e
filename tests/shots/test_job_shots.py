"""The plan of a whole job, on paper and on screen."""

from __future__ import annotations

import json
import math
import shutil
from pathlib import Path

import numpy as np
import pytest
from overlay_cli.main import app
from typer.testing import CliRunner

from overlay.errors import InputError
from overlay.job.analysis import Analysis
from overlay.job.expected import with_expected_u
from overlay.job.read import read_job
from overlay.job.shots import plan_job_shots, read_results
from overlay.registration.project import board_from_pixels
from overlay.shots.after import parts_to_take_again
from overlay.shots.model import ShotCamera, ShotPlan
from overlay.shots.plan import subjects_of
from overlay.shots.side import Place, side_of

DEMO = Path(__file__).parents[2] / "demo_board"


@pytest.fixture
def unseen_demo(tmp_path: Path) -> Path:
    for name in ("placement.csv", "outline.svg", "parts.csv", "bodies.csv"):
        shutil.copy(DEMO / name, tmp_path / name)
    (tmp_path / "job.toml").write_text(
        'format = 1\n[board]\nplacement = "placement.csv"\noutline = "outline.svg"\nparts = "parts.csv"\n'
        'bodies = "bodies.csv"\n[camera]\nhfov_deg = 25.0\npixels = [160, 120]\n',
        encoding="utf-8",
    )
    return tmp_path


def test_a_job_without_any_frame_gets_a_plan_and_a_page(unseen_demo: Path) -> None:
    out = unseen_demo / "plan"
    ran = CliRunner().invoke(app, ["shots", str(unseen_demo), "--out", str(out), "--json"])
    assert ran.exit_code == 0, ran.output
    plan = json.loads(ran.stdout)
    assert plan["shots"][0]["distance_m"] > plan["shots"][1]["distance_m"]
    assert (out / "shot_plan.pdf").read_bytes().startswith(b"%PDF")
    rows = (out / "shot_plan.csv").read_text(encoding="utf-8").splitlines()
    assert len(rows) == 1 + sum(len(shot["sightings"]) for shot in plan["shots"])


def test_after_a_map_only_what_it_left_open_is_planned(unseen_demo: Path) -> None:
    report = unseen_demo / "results.json"
    row = {"refdes": "R31", "readings": [{"state": "small"}], "worst": {"verdict": "undecided"}}
    sure = {"refdes": "R17", "readings": [{"state": "read"}], "worst": {"verdict": "over"}}
    report.write_text(
        json.dumps({"format": 1, "requirement": {"ambient_max_c": 60.0}, "components": [row, sure]}), encoding="utf-8"
    )
    ran = CliRunner().invoke(app, ["shots", str(unseen_demo), "--after", str(report), "--json"])
    assert ran.exit_code == 0, ran.output
    plan = json.loads(ran.stdout)
    assert [shot["serves"] for shot in plan["shots"]] == [["R31"]]
    assert {item["refdes"] for item in plan["shortfalls"]} <= {"R31"}


def test_pixels_that_are_not_stated_are_those_of_the_frames_and_it_is_said(unseen_demo: Path) -> None:
    job, report = unseen_demo / "job.toml", unseen_demo / "results.json"
    untold = job.read_text(encoding="utf-8").replace("pixels = [160, 120]\n", "")
    job.write_text(untold, encoding="utf-8")
    empty = {"format": 1, "requirement": {"ambient_max_c": 60.0}, "components": []}
    report.write_text(json.dumps(empty), encoding="utf-8")
    with pytest.raises(InputError, match="pixels"):
        plan_job_shots(read_job(unseen_demo), report)
    shutil.copy(DEMO / "full_load.tiff", unseen_demo / "full_load.tiff")
    capture = '[[capture]]\nname = "full load"\nframe = "full_load.tiff"\nframe_scale = 0.01\nframe_offset = -40.0\n'
    job.write_text(f"{untold}{capture}ambient_c = 23.8\n", encoding="utf-8")
    plan = plan_job_shots(read_job(unseen_demo), report)
    assert (plan.camera.cols, plan.camera.rows) == (320, 240)
    assert any("as the job's frames have" in note for note in plan.notes)


def test_shiny_parts_and_settled_ones_are_not_taken_again() -> None:
    rows = [
        {"refdes": "U7", "readings": [{"state": "shiny"}], "worst": {"verdict": "unseen"}},
        {"refdes": "R1", "readings": [{"state": "hidden"}, {"state": "hidden"}], "worst": {"verdict": "unseen"}},
        {"refdes": "R2", "readings": [{"state": "read"}], "worst": {"verdict": "clear"}},
        {"refdes": "R3", "readings": [{"state": "small"}], "worst": {"verdict": "near"}},
    ]
    assert set(parts_to_take_again({"components": rows})) == {"R1", "R3"}


def test_what_is_no_report_is_refused(tmp_path: Path) -> None:
    (tmp_path / "results.json").write_text("[]", encoding="utf-8")
    with pytest.raises(InputError, match=r"not the results\.json of a map"):
        read_results(tmp_path)
    with pytest.raises(InputError, match="cannot be read"):
        read_results(tmp_path / "nowhere")


def test_the_expected_uncertainty_is_the_one_a_map_then_states(demo: Analysis) -> None:
    capture = demo.capture("telemetry idle")
    seen, lens = capture.registration, capture.registration.camera
    assert lens is not None
    hfov_deg = math.degrees(2.0 * math.atan(seen.shape_px[1] / 2.0 / lens.focal_px))
    camera = ShotCamera(seen.shape_px[1], seen.shape_px[0], hfov_deg, 0.05)
    aim = board_from_pixels(seen, np.array([lens.center_px]))[0]
    place = Place((float(aim[0]), float(aim[1])), float(lens.position_mm()[2]), False)
    shot = side_of(demo.job.board, camera, seen.side, subjects_of(demo.job.board)).shot(place)
    rise_k = {
        reading.refdes: reading.peak_c - capture.settings.ambient_c
        for reading in capture.reading.readings
        if reading.peak_c is not None
    }
    plan = with_expected_u(demo.job, ShotPlan(camera, (shot,), (), ()), rise_k)
    pairs = [(capture[item.refdes], item) for item in plan.shots[0].sightings]
    ratios = [item.expected_u_c / read.u_c for read, item in pairs if read.trusted and read.u_c and item.expected_u_c]
    pixels = [item.pixels / read.pixels for read, item in pairs if read.pixels]
    assert len(ratios) > 40
    assert np.mean(np.abs(np.array(ratios) - 1.0) < 0.3) >= 0.8
    assert np.mean(np.abs(np.array(pixels) - 1.0) < 0.05) >= 0.8
