"""What the report tells of rows whose truth is known because the test wrote them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from overlay.campaign.model import FrameTask, Row
from overlay.campaign.summary import summarise
from overlay.report.campaign_pages import step_lines


def row(frame: int, unit: str, refdes: str, peak_c: float) -> Row:
    return Row(
        frame=frame,
        path=f"{frame}.npy",
        unit=unit,
        state="full",
        time_s=None,
        refdes=refdes,
        reading="read",
        peak_c=peak_c,
        mean_c=peak_c - 1.0,
        u_c=1.0,
        projected_c=peak_c + 40.0,
        margin_c=85.0 - peak_c,
        verdict="clear",
        moved_px=0.1,
        agreement=1.0,
        why="",
    )


def soak(units: int, frames: int) -> list[FrameTask]:
    places = [(u, k) for u in range(units) for k in range(frames)]
    return [FrameTask(i, "", f"SN{u}", "full", 10.0 * k, None) for i, (u, k) in enumerate(places)]


def test_worst_frame_spread_and_mean_are_those_of_the_rows() -> None:
    tasks = soak(3, 4)
    rows = [row(t.index, t.unit, "R1", 60.0 + int(t.unit[2:]) * 2.0 + (5.0 if t.index == 6 else 0.0)) for t in tasks]
    told = summarise(rows, tasks).parts[0]
    assert (told.worst_frame, told.worst_unit) == (6, "SN1")
    assert told.highest_c == 67.0
    assert told.mean_c == pytest.approx(62.0 + 5.0 / 12.0)
    assert told.spread_k == pytest.approx(float(np.std([60.0, 63.25, 64.0], ddof=1)))


def test_the_part_with_the_least_margin_comes_first_and_unrated_ones_last() -> None:
    tasks = soak(1, 1)
    rows = [row(0, "SN0", "R1", 60.0), row(0, "SN0", "R2", 80.0), row(0, "SN0", "R3", 99.0)]
    rows[2] = Row(**{**{n: getattr(rows[2], n) for n in rows[2].__slots__}, "margin_c": None})
    assert [part.refdes for part in summarise(rows, tasks).parts] == ["R2", "R1", "R3"]


def test_one_unit_that_runs_hotter_is_odd_and_the_others_are_not() -> None:
    rng = np.random.default_rng(1)
    tasks = soak(8, 3)
    rows = [
        row(t.index, t.unit, f"R{i}", 60.0 + 3 * i + rng.normal(0, 0.4) + (6.0 if t.unit == "SN5" else 0.0))
        for t in tasks
        for i in range(10)
    ]
    odd = summarise(rows, tasks).odd_units
    assert odd[0].unit == "SN5"
    assert odd[0].z > 3.5
    assert all(abs(item.z) < 3.5 for item in odd[1:])


def test_a_step_is_found_where_it_is_and_a_quiet_course_has_none() -> None:
    rng = np.random.default_rng(2)
    tasks = soak(1, 600)
    rows = []
    for task in tasks:
        rows.append(row(task.index, "SN0", "R1", 60.0 + rng.normal(0, 0.3) + (4.0 if task.index >= 400 else 0.0)))
        rows.append(row(task.index, "SN0", "R2", 50.0 + rng.normal(0, 0.3)))
    steps = summarise(rows, tasks).steps
    assert [(step.refdes, step.gradual) for step in steps] == [("R1", False)]
    assert steps[0].delta_k == pytest.approx(4.0, abs=0.2)
    assert abs(steps[0].frame - 400) <= 5
    assert steps[0].time_s == pytest.approx(4000.0, abs=50.0)


def test_a_course_that_climbs_by_and_by_is_no_step_and_told_once_for_all_units() -> None:
    rng = np.random.default_rng(3)
    tasks = soak(3, 100)
    rows = [row(t.index, t.unit, "R1", 60.0 + 0.1 * (t.index % 100) + rng.normal(0, 0.3)) for t in tasks]
    steps = summarise(rows, tasks).steps
    assert [(step.unit, step.gradual) for step in sorted(steps, key=lambda step: step.unit)] == [
        (unit, True) for unit in ("SN0", "SN1", "SN2")
    ]
    assert steps[0].delta_k == pytest.approx(9.9, abs=0.5)
    (line,) = step_lines(steps)
    assert line.endswith("K by and by; likewise in 2 more units")


def test_broken_frames_are_kept_with_their_reason() -> None:
    tasks = soak(1, 2)
    broken = Row(1, "1.npy", "SN0", "full", None, "", "", None, None, None, None, None, "", None, None, "not a frame")
    told = summarise([row(0, "SN0", "R1", 60.0), broken], tasks)
    assert told.broken == (broken,)
    assert (told.frames, told.frames_read) == (2, 1)


def test_courses_have_one_place_a_frame_where_few_and_stay_short_where_many() -> None:
    few = summarise([row(t.index, t.unit, "R1", 60.0 + t.index) for t in soak(1, 5)], soak(1, 5)).courses[0]
    assert few.peak_c.tolist() == [60.0, 61.0, 62.0, 63.0, 64.0]
    many = summarise([row(t.index, t.unit, "R1", 60.0) for t in soak(1, 5000)], soak(1, 5000)).courses[0]
    assert len(many.peak_c) == 120
    assert not math.isnan(float(many.peak_c.sum()))
