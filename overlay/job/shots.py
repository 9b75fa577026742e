"""The plan of shots of a job, before or after its frames."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

from overlay.errors import input_error
from overlay.files import finish_writing
from overlay.job.analyse import Progress
from overlay.job.analysis import Job
from overlay.job.expected import with_expected_u
from overlay.job.load import read_capture_frame
from overlay.job.stack import page_of
from overlay.shots.after import parts_to_take_again, rises_of
from overlay.shots.model import ShotPlan, shot_camera
from overlay.shots.plan import MARGIN_PX, plan_shots, subjects_of


def plan_job_shots(job: Job, after: Path | None = None, progress: Progress | None = None) -> ShotPlan:
    """Plan where the camera goes for a job; with ``after``, a report's folder, only for what that left open.

    Raises
    ------
    InputError
        If the camera's field of view is not stated, or its pixels and no frame tells them, or ``after`` holds no report
        of `map`.
    """
    camera = job.settings.camera
    pixels = camera.pixels
    notes: tuple[str, ...] = ()
    if pixels is None and (pixels := _pixels_of_frames(job)) is not None:
        notes = (f"pixels = [{pixels[0]}, {pixels[1]}], as the job's frames have: state it if they are cropped",)
    planned = shot_camera(pixels, camera.hfov_deg, camera.min_focus_m, camera.close_up_dpt, job.path.name)
    if after is None:
        plan = plan_shots(job.board, planned, subjects_of(job.board))
        return with_expected_u(job, replace(plan, notes=(*plan.notes, *notes)), progress=progress)
    results = read_results(after)
    again = parts_to_take_again(results)
    subjects = [
        replace(subject, wanted_px=MARGIN_PX)
        for subject in subjects_of(job.board, frozenset(again))
        if subject.component.refdes in again
    ]
    plan = plan_shots(job.board, planned, subjects, overview=False)
    known = {subject.component.refdes for subject in subjects}
    missing = [
        f"{refdes}: {reason}, but no size or rating is known" for refdes, reason in again.items() if refdes not in known
    ]
    told = f"only what the report {after.name} left open: {', '.join(sorted(again)) or 'nothing'}"
    return with_expected_u(job, replace(plan, notes=(told, *missing, *notes)), rises_of(results), progress)


def _pixels_of_frames(job: Job) -> tuple[int, int] | None:
    """Columns and rows of the job's frames; None where there are none yet, or of more than one size."""
    shapes = {
        page_of(read_capture_frame(job.folder, capture), capture.frame).temperature_c.shape
        for capture in job.settings.capture
    }
    if len(shapes) != 1:
        return None
    rows, cols = shapes.pop()
    return int(cols), int(rows)


def read_results(folder: Path) -> dict[str, Any]:
    """The ``results.json`` of a report, given its folder or the file itself."""
    path = folder / "results.json" if folder.is_dir() else folder
    finish_writing(path.parent)
    remedy = "give the folder that `board-overlay map` wrote"
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise input_error(str(path), None, f"cannot be read as results of a map ({error})", remedy) from None
    if not isinstance(found, dict) or found.get("format") != 1 or not isinstance(found.get("components"), list):
        raise input_error(str(path), None, "is not the results.json of a map", remedy)
    return found
