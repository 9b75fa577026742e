"""A job as it lies in its folder: settings, board, frames, and what is wrong with them."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from overlay.board.model import Board
from overlay.errors import InputError, Problem, input_error
from overlay.frames.frame import Array
from overlay.job.analysis import Job
from overlay.job.capture import apparent_of, band_of
from overlay.job.load import read_capture_frame
from overlay.job.path import job_path
from overlay.job.read import Survey, survey_job
from overlay.job.settings import CaptureSettings, Settings
from overlay.job.stack import page_of
from overlay.registration.control_points import read_control_points
from overlay.report.check import check_lines, problem_json
from overlay.report.frame_map import frame_range_c
from overlay.report.numbers import number
from overlay.workbench.capture_form import form_json
from overlay.workbench.filling import missing_json
from overlay.workbench.folder import digest, inside
from overlay.workbench.point_history import Points
from overlay.workbench.shapes import SideShapes, side_shapes


class UnknownError(LookupError):
    """There is no such page, capture, part or point (any more); the message says what to do."""


class JobFiles:
    """Reads a job's files once, and again when asked to look.

    Raises
    ------
    InputError
        Where the path leads to no job.
    """

    def __init__(self, path: Path) -> None:
        self.path = job_path(path).resolve()
        self._frames: dict[tuple[str, str, int, int], Array] = {}
        self._survey: Survey
        self._shapes: dict[str, SideShapes] = {}
        self._stamps: dict[str, tuple[int, int]] | None = None
        self.version = 0  # how often the files were read: a page knows by it whether it shows the newest
        self.look()

    @property
    def folder(self) -> Path:
        """Where the job lies."""
        return self.path.parent

    def look(self) -> bool:
        """Read settings and board anew, unless every file is as it was; whether they were read."""
        if self._stamps is not None and self._stamps == self._stamps_now():
            return False
        self.version += 1
        self._survey = survey_job(self.path, registered=False)
        self._stamps = self._stamps_now()
        board = self._survey.board
        sides = ("top", "bottom")
        self._shapes = {} if board is None else {side: side_shapes(board, side) for side in sides}  # type: ignore[arg-type]
        return True

    def _stamps_now(self) -> dict[str, tuple[int, int]]:
        """Time and size of every file that the job names and that is there."""
        found = {}
        for path in [self.path, *self._named()]:
            try:
                stat = path.stat()
            except (OSError, ValueError):
                continue
            found[str(path)] = (stat.st_mtime_ns, stat.st_size)
        return found

    def _named(self) -> list[Path]:
        settings = self._survey.settings
        if settings is None:
            return []
        board = settings.board
        names = [board.placement, board.outline, board.parts, board.bodies, board.bom]
        for capture in settings.capture:
            names += [capture.frame, capture.control_points, *capture.emissivity_map, capture.emissivity_map_points]
        return [self.folder / name for name in names if name]

    @property
    def settings(self) -> Settings:
        """What ``job.toml`` says; `InputError` where it cannot be read."""
        if self._survey.settings is None:
            raise InputError(self._survey.problems)
        return self._survey.settings

    @property
    def has_settings(self) -> bool:
        """Whether ``job.toml`` could be read."""
        return self._survey.settings is not None

    @property
    def has_board(self) -> bool:
        """Whether the board could be read."""
        return self._survey.board is not None

    @property
    def board(self) -> Board:
        """The board; `InputError` where it cannot be read."""
        if self._survey.board is None:
            raise InputError(self._survey.problems)
        return self._survey.board

    def job(self) -> Job:
        """The job as it was read; `InputError` where it cannot be."""
        return Job(self.path, self.settings, self.board, ())

    @property
    def captures(self) -> tuple[CaptureSettings, ...]:
        """The job's captures; none where its settings cannot be read."""
        return () if self._survey.settings is None else self._survey.settings.capture

    def capture(self, name: str) -> CaptureSettings:
        """The capture of that name."""
        for capture in self.captures:
            if capture.name == name:
                return capture
        raise UnknownError(f"the job has no capture “{name}”; reload the page")

    def shapes(self, capture: CaptureSettings) -> SideShapes:
        """Rings of the side that a capture shows."""
        return self._shapes[capture.side]

    def check_json(self) -> dict[str, Any]:
        """What was read, what is wrong, and what is missing."""
        survey = self._survey
        missing = {"bodies": [], "ratings": []} if survey.board is None else missing_json(survey.board)
        return {
            "version": self.version,
            "lines": _without_captures(check_lines(survey)),
            "problems": [problem_json(problem) for problem in survey.problems if not _asked_for(problem, missing)],
            "missing": missing,
            "form": None if survey.settings is None else form_json(self.folder, survey.settings),
        }

    def capture_json(self, capture: CaptureSettings) -> dict[str, Any]:
        """A capture, and the size and range of its frame or the reason why it cannot be shown."""
        values: dict[str, Any] = {
            "name": capture.name,
            "side": capture.side,
            "frame": capture.frame,
            "ambient_c": capture.ambient_c,
            "points_file": capture.control_points,
            "shape": None,
            "range": None,
            "problem": None,
        }
        try:
            apparent = self.frame(capture)
            values["shape"] = list(apparent.shape)
            values["range"] = [number(value, 2) for value in frame_range_c(apparent)]
        except InputError as error:
            values["problem"] = str(error)
        return values

    def frame(self, capture: CaptureSettings) -> Array:
        """Apparent temperatures (rows, cols) of a capture, kept until the file changes."""
        path = inside(self.folder, capture.frame)
        try:
            stat = path.stat()
        except OSError:
            raise input_error(capture.frame, None, "no such file", "correct the name or put the file there") from None
        key = (capture.name, capture.model_dump_json(), stat.st_mtime_ns, stat.st_size)
        if key not in self._frames:
            frame = read_capture_frame(self.folder, capture)
            page = page_of(frame, capture.frame).temperature_c
            self._frames = {old: kept for old, kept in self._frames.items() if old[0] != capture.name}
            self._frames[key] = apparent_of(capture, band_of(self.settings.camera), page)
        return self._frames[key]

    def points(self, capture: CaptureSettings) -> tuple[Points, str, str]:
        """A capture's control points, the version of their file, and why it could not be read (if so)."""
        if capture.control_points is None or not self.has_board:
            return (), "", ""
        try:
            path = inside(self.folder, capture.control_points)
            version = digest(path)
            if not version:
                return (), version, ""
            return read_control_points(path, capture.control_points, self.board, capture.side), version, ""
        except InputError as error:
            return (), digest(self.folder / capture.control_points), str(error)


def _asked_for(problem: Problem, missing: dict[str, Any]) -> bool:
    """Whether a problem is a body that the page asks for anyway: each is listed once."""
    asked = {item["package"] for item in missing["bodies"]}
    return problem.column == "package" and (problem.value or "").strip() in asked


def _without_captures(lines: Iterable[tuple[str, str]]) -> list[list[str]]:
    """What was read without its captures: the page lists them, and a terminal’s next steps are not its own."""
    kept, term = [], ""
    for name, words in lines:
        term = name or term
        if term != "captures":
            kept.append([name, words])
    return kept
