"""A whole campaign over an invented board of five blocks: followed, killed, resumed, told."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from overlay_cli.main import app
from scipy.ndimage import gaussian_filter
from typer.testing import CliRunner

from overlay.campaign.plan import read_plan
from overlay.campaign.run import run_campaign
from overlay.campaign.store import read_rows
from overlay.errors import InputError
from overlay.report.campaign_pages import campaign_pdf

PX_PER_MM = 1.5
SHAPE_PX = (60, 80)
BLOCKS = {"U1": (10.0, 30.0, 60.0), "U2": (25.0, 30.0, 50.0), "U3": (40.0, 30.0, 45.0)}  # x, y in mm, °C
BLOCKS |= {"U4": (10.0, 10.0, 40.0), "U5": (40.0, 10.0, 70.0)}


def pixel_of(x_mm: float, y_mm: float) -> tuple[float, float]:
    return 4.0 + PX_PER_MM * x_mm, 58.0 - PX_PER_MM * y_mm


def frame_of(shift_px: tuple[float, float] = (0.0, 0.0), hotter_k: float = 0.0, seed: int = 0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    fine = np.full((SHAPE_PX[0] * 8, SHAPE_PX[1] * 8), 27.0)
    for x_mm, y_mm, peak_c in BLOCKS.values():
        u, v = pixel_of(x_mm, y_mm)
        u0, v0 = (u + shift_px[0] + 0.5) * 8, (v + shift_px[1] + 0.5) * 8
        half = 4.0 * PX_PER_MM * 8
        fine[round(v0 - half) : round(v0 + half), round(u0 - half) : round(u0 + half)] = peak_c + hotter_k
    pixels = gaussian_filter(fine, 0.6 * 8).reshape(SHAPE_PX[0], 8, SHAPE_PX[1], 8).mean(axis=(1, 3))
    return (pixels + rng.normal(0.0, 0.05, SHAPE_PX)).astype(np.float32)


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    job, frames = tmp_path / "job", tmp_path / "frames"
    job.mkdir()
    frames.mkdir()
    parts = "".join(f"{name},{x},{y},0,top,BLOCK\n" for name, (x, y, _) in BLOCKS.items())
    (job / "placement.csv").write_text("refdes,x (mm),y (mm),rotation,side,package\n" + parts)
    (job / "bodies.csv").write_text(
        "package,length_mm,width_mm,height_mm,emissivity,emissivity_u\nBLOCK,8,8,0.1,1.0,0.001\n"
    )
    (job / "parts.csv").write_text("refdes,kind,limit_c,limit_at\nU1-U5,ic,125,surface\n")
    points = "".join("{:.2f},{:.2f},{}\n".format(*pixel_of(x, y), name) for name, (x, y, _) in BLOCKS.items())
    (job / "points.csv").write_text("pixel_x,pixel_y,at\n" + points)
    np.save(job / "frame.npy", frame_of())
    (job / "job.toml").write_text(
        'format = 1\n[board]\nplacement = "placement.csv"\nbodies = "bodies.csv"\nparts = "parts.csv"\n'
        '[camera]\nblur_px = 1.4\n[[capture]]\nname = "full"\nframe = "frame.npy"\ncontrol_points = "points.csv"\n'
        "ambient_c = 25.0\n"
    )
    for index in range(8):
        np.save(frames / f"f{index}.npy", frame_of((0.1 * index, 0.0), 5.0 if index >= 4 else 0.0, index))
    (frames / "f2.npy").write_bytes(b"\x93NUMPY is broken")
    (tmp_path / "campaign.toml").write_text(
        'format = 1\njob = "job"\nframes_per_part = 2\n'
        '[[frames]]\nfiles = "frames/*.npy"\nunit = "A"\nperiod_s = 60.0\n'
    )
    return tmp_path


def test_every_frame_is_read_in_its_place_a_broken_one_is_a_row_and_a_pool_gives_the_same(plan: Path) -> None:
    told: list[str] = []
    summary = run_campaign(read_plan(plan), plan / "out", progress=lambda what, _share: told.append(what))
    rows = list(read_rows(plan / "out", "csv"))
    assert (summary.frames, summary.frames_read, len(summary.broken)) == (8, 7, 1)
    assert "damaged .npy header" in summary.broken[0].why
    for row in rows:
        if row.refdes:
            assert row.peak_c == pytest.approx(BLOCKS[row.refdes][2] + (5.0 if row.frame >= 4 else 0.0), abs=0.7)
            assert row.moved_px is not None
            assert row.moved_px < 1.0
    assert len(rows) == 7 * 5 + 1
    assert told[-1].startswith("8 of 8 frames")
    assert campaign_pdf(summary, "blocks").startswith(b"%PDF")
    run_campaign(read_plan(plan), plan / "pool", workers=2, format_="parquet")
    assert list(read_rows(plan / "pool", "parquet")) == rows


def test_a_run_killed_in_the_middle_goes_on_where_it_was(plan: Path) -> None:
    command = [sys.executable, "-m", "overlay_cli.main", "campaign", str(plan), "--out", str(plan / "out")]
    run = subprocess.Popen([*command, "--workers", "1"], start_new_session=True, stdout=subprocess.DEVNULL)
    rows = plan / "out" / "rows"
    deadline = time.monotonic() + 120.0
    while not list(rows.glob("part-*.csv")) and time.monotonic() < deadline:
        time.sleep(0.02)
    os.killpg(run.pid, signal.SIGKILL)
    run.wait()
    done = {path.name: path.stat().st_mtime_ns for path in rows.glob("part-*.csv")}
    assert done, "killed before any part was done"
    run_campaign(read_plan(plan), plan / "out")
    run_campaign(read_plan(plan), plan / "whole")
    assert list(read_rows(plan / "out", "csv")) == list(read_rows(plan / "whole", "csv"))
    assert {name: (rows / name).stat().st_mtime_ns for name in done} == done, "what was done was not done again"


def test_a_changed_job_is_another_campaign(plan: Path) -> None:
    run_campaign(read_plan(plan), plan / "out")
    table = plan / "job" / "parts.csv"
    table.write_text(table.read_text().replace("125", "120"))
    from overlay.campaign.work import base_of

    base_of.cache_clear()
    with pytest.raises(InputError, match="another campaign"):
        run_campaign(read_plan(plan), plan / "out")


def test_a_capture_that_the_job_does_not_have_is_named(plan: Path) -> None:
    with pytest.raises(InputError, match="'full'"):
        run_campaign(replace(read_plan(plan), capture="idle"), plan / "out")


def test_the_command_writes_its_report_and_tells_of_the_lost_frame(plan: Path) -> None:
    ran = CliRunner().invoke(app, ["campaign", str(plan), "--out", str(plan / "out"), "--workers", "1"])
    assert ran.exit_code == 0, ran.output
    assert "f2.npy" in ran.stdout
    told = json.loads((plan / "out" / "campaign_summary.json").read_text())
    assert told["frames_read"] == 7
    assert {part["refdes"] for part in told["parts"]} == set(BLOCKS)
    assert CliRunner().invoke(app, ["campaign", str(plan), "--out", str(plan / "x"), "--format", "xml"]).exit_code != 0
