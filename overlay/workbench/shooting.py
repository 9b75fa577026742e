"""The plan of shots: worked out in the background, shown, and written."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from overlay.job.shots import plan_job_shots
from overlay.report.numbers import numbers
from overlay.report.shot_pages import field_corners_mm, preparation_lines, shortfall_lines
from overlay.report.write import write_shot_reports
from overlay.shots.model import ShotPlan
from overlay.workbench.background import Task
from overlay.workbench.folder import REPORT_FOLDER, inside
from overlay.workbench.job_files import JobFiles, UnknownError


class Shots:
    """The plan of shots of a workbench; ``files`` gives the job's files as they are known now."""

    def __init__(self, files: Callable[[], JobFiles], lock: threading.RLock) -> None:
        self._files = files
        self._lock = lock
        self._plan: Task[ShotPlan] | None = None

    def start(self) -> dict[str, Any]:
        """Begin to plan where the camera goes, unless that is being done."""
        with self._lock:
            if self._plan is None or self._plan.done:
                job = self._files().job()
                self._plan = Task("planning", lambda tell: plan_job_shots(job, progress=tell))
                self._plan.start()
        return self.state()

    def state(self) -> dict[str, Any]:
        """How far the planning is, and the plan once there is one."""
        return {"state": "none"} if self._plan is None else self._plan.state(plan_json)

    def write(self) -> dict[str, Any]:
        """Write the plan into the job's folder."""
        if self._plan is None or self._plan.result is None:
            raise UnknownError("plan the shots first")
        written = write_shot_reports(
            self._files().job(), self._plan.result, inside(self._files().folder, REPORT_FOLDER)
        )
        return {"folder": REPORT_FOLDER, "written": [path.name for path in written]}


def plan_json(plan: ShotPlan) -> dict[str, Any]:
    """Fields to draw, how to stand for each, and what cannot be had."""
    return {
        "shots": [
            {
                "number": shot.number,
                "side": shot.side,
                "aim_mm": numbers(shot.aim_mm, 1),
                "distance_mm": round(1000.0 * shot.distance_m),
                "along": "y" if shot.turned else "x",
                "field_mm": numbers(shot.field_mm, 0),
                "corners_mm": [numbers(corner, 2) for corner in field_corners_mm(shot)],
                "mm_per_px": round(shot.mm_per_px, 3),
                "parts": len(shot.sightings),
                "enough": shot.large_enough,
                "to_click": shot.control_points,
                "notes": list(shot.notes),
            }
            for shot in plan.shots
        ],
        "camera": f"{plan.camera.cols} × {plan.camera.rows} pixels, {plan.camera.hfov_deg:g}° wide, "
        f"nearest {plan.camera.nearest_mm:.0f} mm",
        "shortfalls": shortfall_lines(plan.shortfalls),
        "preparations": preparation_lines(plan.preparations),
        "notes": list(plan.notes),
    }
