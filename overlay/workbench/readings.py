"""The reading of a job that a workbench shows: what it says of pixels and parts, its reports, and trials on it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from overlay.job.analyse import analyse, judge_again
from overlay.job.analysis import Analysis
from overlay.job.naming import part_at
from overlay.job.probe import plan_job
from overlay.job.read import read_job
from overlay.report.numbers import number, numbers
from overlay.report.results import named_json
from overlay.report.write import write_map_reports, write_probe_reports
from overlay.workbench.background import Task
from overlay.workbench.folder import REPORT_FOLDER, digest, inside, replace_files
from overlay.workbench.job_files import JobFiles, UnknownError
from overlay.workbench.reading_json import analysis_json
from overlay.workbench.requests import ProbeOn, Try, Who
from overlay.workbench.saving import ChangedOnDiskError
from overlay.workbench.trying import Trial, trial_json, try_out


class Readings:
    """Answers what pages ask of a reading; ``files`` gives the job's files as they are known now."""

    def __init__(self, files: Callable[[], JobFiles], lock: threading.RLock) -> None:
        self._files = files
        self._lock = lock
        self._run: Task[Analysis] | None = None
        self._trial: Task[Trial] | None = None

    def start(self) -> dict[str, Any]:
        """Begin to read the job as it lies on the disk, unless that is being done."""
        with self._lock:
            if self._run is None or self._run.done:
                path = self._files().path
                self._run = Task("reading", lambda tell: analyse(read_job(path), tell))
                self._run.start()
        return self.state()

    def state(self) -> dict[str, Any]:
        """How far the reading is, and its result once there is one."""
        return {"state": "none"} if self._run is None else self._run.state(analysis_json)

    def last(self) -> dict[str, Any]:
        """The last reading for a page that has just been opened, and whether its files are still what was read."""
        state = self.state()
        if self._run is not None and self._run.result is not None:
            folder = self._files().folder
            state["fresh"] = all(digest(folder / item.file) == item.sha256 for item in self._run.result.inputs)
        return state

    def who(self, wish: Who) -> dict[str, Any]:
        """Which part is at a pixel, with probabilities."""
        return named_json(part_at(self._analysis(), wish.pixel[0], wish.pixel[1], wish.capture))

    def write_reports(self) -> dict[str, Any]:
        """Write the reports of the last reading into the job's folder."""
        written = write_map_reports(self._analysis(), inside(self._files().folder, REPORT_FOLDER))
        return {"folder": REPORT_FOLDER, "written": [path.name for path in written]}

    def plan_probe(self, wish: ProbeOn) -> dict[str, Any]:
        """Plan a thermocouple on one part of the last reading, and write the plan into the job's folder."""
        analysis = self._analysis()
        plan = plan_job(analysis, channels=1, parts=wish.refdes)
        place = plan.places[0]
        written = write_probe_reports(analysis, plan, inside(self._files().folder, REPORT_FOLDER))
        return {
            "refdes": place.refdes,
            "on": place.on,
            "board_mm": numbers(place.board_mm, 2),
            "words": [words for words in (place.from_edges, place.from_pin_1) if words],
            "expected_c": number(place.expected_c, 1),
            "cautions": list(place.cautions),
            "written": [f"{REPORT_FOLDER}/{path.name}" for path in written],
        }

    # What if

    def try_out(self, wish: Try) -> dict[str, Any]:
        """Begin to try other values on the last reading; nothing is written."""
        base = self._analysis()
        with self._lock:
            self._trial = Task("trying", lambda tell: try_out(base, wish.refdes, wish.cells, tell))
            self._trial.start()
        return self.trying()

    def trying(self) -> dict[str, Any]:
        """How far the trial is, and how the board would stand once it is done."""
        return {"state": "none"} if self._trial is None else self._trial.state(trial_json)

    def keep_trial(self) -> dict[str, Any]:
        """Write what was tried into the job's files, and go on from there.

        Raises
        ------
        ChangedOnDiskError
            Where a file is not what it was when the trial began.
        """
        with self._lock:
            trial = None if self._trial is None else self._trial.result
            if trial is None or self._run is None or trial.before is not self._run.result:
                raise UnknownError("what was tried is not known any more; try it again")
            changed = [path.name for path, version in trial.versions.items() if digest(path) != version]
            if changed:
                raise ChangedOnDiskError(", ".join(changed))
            replace_files(trial.contents)
            self._files().look()
            self._run.result = judge_again(trial.analysis, read_job(self._files().path))
            self._trial = None
            return {"written": [path.name for path in trial.contents], **self.state()}

    def _analysis(self) -> Analysis:
        if self._run is None or self._run.result is None:
            raise UnknownError("read the job first")
        return self._run.result
