"""A job on the desk: its board and frames, the pages at work on it, and answers to what they ask."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from overlay.errors import InputError, input_error
from overlay.frames.frame import Array
from overlay.job.analyse import analyse
from overlay.job.analysis import Analysis
from overlay.job.naming import part_at
from overlay.job.read import read_job
from overlay.job.settings import CaptureSettings
from overlay.registration.model import Registration
from overlay.registration.project import board_from_pixels, pixels_from_board
from overlay.report.palette import LOOKS, SCALES, scale_colors
from overlay.report.results import named_json, numbers
from overlay.report.write import write_map_reports
from overlay.workbench import asking
from overlay.workbench import session as sessions
from overlay.workbench.filling import fill_body, fill_rating
from overlay.workbench.fitting import Tie, live, live_json, tie, tie_json
from overlay.workbench.folder import digest, inside, replace_files
from overlay.workbench.reading import Run
from overlay.workbench.requests import Drag, FillBody, FillRating, Move, OnCapture, OnPoint, Place, Save, Where, Who
from overlay.workbench.saving import files_to_save
from overlay.workbench.session import Points, Session, Target
from overlay.workbench.shapes import board_json
from overlay.workbench.shelf import Shelf, UnknownError

MOST_PAGES = 24
REPORT_FOLDER = "report"


@dataclass(slots=True)
class _Page:
    """One open page: its state, and the last fit of each capture to start the next one from."""

    session: Session
    ties: dict[str, Tie] = field(default_factory=dict)
    notes: dict[str, str] = field(default_factory=dict)  # why a capture's points could not be read


class Desk:
    """Answers what pages ask, as JSON values; knows nothing of sockets.

    Raises
    ------
    InputError
        Where the path leads to no job.
    """

    def __init__(self, path: Path) -> None:
        self.shelf = Shelf(path)
        self._lock = threading.RLock()
        self._pages: OrderedDict[str, _Page] = OrderedDict()
        self._run: Run | None = None

    # What is there

    def open(self) -> dict[str, Any]:
        """Everything a page begins with, and a session of its own."""
        with self._lock:
            self.shelf.look()
            page = self._begun()
            name = secrets.token_urlsafe(12)
            self._pages[name] = page
            while len(self._pages) > MOST_PAGES:
                self._pages.popitem(last=False)
            return {
                "session": name,
                "job": {"folder": self.shelf.folder.name, "file": self.shelf.path.name, "report": REPORT_FOLDER},
                "check": self.shelf.check_json(),
                "board": board_json(self.shelf.board) if self.shelf.has_board else None,
                "captures": [self.shelf.capture_json(capture) for capture in self.shelf.captures],
                "scales": {name: scale_colors(name).tolist() for name in SCALES},
                "verdicts": {name: look.meaning for name, look in LOOKS.items()},
                "can_ask": asking.can_ask(),
                "unsaved": [],
            }

    def check(self) -> dict[str, Any]:
        """What was read of the job's files, anew."""
        with self._lock:
            self.shelf.look()
            board = board_json(self.shelf.board) if self.shelf.has_board else None
            return {"check": self.shelf.check_json(), "board": board}

    def frame(self, name: str) -> Array:
        """Apparent temperatures (rows, cols) of a capture."""
        with self._lock:
            return self.shelf.frame(self.shelf.capture(name))

    # Control points

    def state(self, session: str, capture: str) -> dict[str, Any]:
        """A capture's points and fit as they stand."""
        with self._lock:
            return self._state(self._page(session), self.shelf.capture(capture))

    def edit(self, wish: Place | Move | OnPoint | OnCapture) -> dict[str, Any]:
        """Change the points, and tell how they stand then."""
        with self._lock:
            page, capture = self._page(wish.session), self.shelf.capture(wish.capture)
            points = page.session.points[capture.name]
            note, index = "", None
            if isinstance(wish, OnCapture) and wish.do in ("undo", "redo"):
                page.session = page.session.undone() if wish.do == "undo" else page.session.redone()
                return self._state(page, capture)
            if isinstance(wish, Place):
                points, index = sessions.placed(points, self._target(capture, wish.at, wish.board_mm), wish.pixel)
            elif isinstance(wish, Move | OnPoint):
                if wish.index >= len(points):
                    raise UnknownError("that point is gone; reload the page")
                points, note = self._on_point(page, capture, points, wish)
                index = None if isinstance(wish, OnPoint) and wish.do == "remove" else wish.index
            elif wish.do == "clear":
                points = ()
            elif wish.do == "follow":
                points, note = self._followed(page, capture, points)
            else:
                points, note = self._refined(page, capture, points)
            page.session = page.session.edited(capture.name, points)
            return {**self._state(page, capture), "index": index, "note": note}

    def drag(self, wish: Drag) -> dict[str, Any]:
        """Outlines and residuals with a point where it is dragged just now; nothing is changed."""
        with self._lock:
            page, capture = self._page(wish.session), self.shelf.capture(wish.capture)
            points, index = page.session.points[capture.name], wish.index
            if index is None:
                points, index = sessions.placed(points, self._target(capture, wish.at, wish.board_mm), wish.pixel)
            elif index < len(points):
                points = sessions.moved(points, index, wish.pixel)
            else:
                raise UnknownError("that point is gone; reload the page")
            former = page.ties.get(capture.name)
            fit = None
            if former is not None and former.registration is not None:
                fit = live(former.registration, points, index, capture, self.shelf.settings.camera)
            if fit is None:
                return {"outlines": None, "rms_px": None, "residuals_xy_px": []}
            return live_json(fit, self.shelf.shapes(capture))

    def where(self, wish: Where) -> dict[str, Any]:
        """The place of the board's surface that is seen at a pixel."""
        with self._lock:
            former = self._page(wish.session).ties.get(wish.capture)
        if former is None or former.registration is None:
            return {"board_mm": None}
        with np.errstate(all="ignore"):
            return {"board_mm": numbers(board_from_pixels(former.registration, np.array([wish.pixel]))[0], 3)}

    def save(self, wish: Save) -> dict[str, Any]:
        """Write the control points that differ from their files.

        Raises
        ------
        ChangedOnDiskError
            Where a file is not what this page read, and ``anyway`` was not asked for.
        """
        with self._lock:
            page = self._page(wish.session)
            saving = files_to_save(self.shelf.path, page.session, self.shelf.board, anyway=wish.anyway)
            replace_files(saving.contents)
            for capture, path in saving.points_files.items():
                page.session = page.session.written(capture, digest(path))
            if self.shelf.path in saving.contents:
                self.shelf.look()
            names = [path.name for path in saving.points_files.values()]
            return {"written": names, "unsaved": list(page.session.unsaved())}

    # Filling in

    def fill_body(self, wish: FillBody) -> dict[str, Any]:
        """Write a package's body size."""
        with self._lock:
            file = fill_body(self.shelf.path, self.shelf.settings, wish.package, wish.cells)
            return {**self.check(), "written": file}

    def fill_rating(self, wish: FillRating) -> dict[str, Any]:
        """Write a part's limit."""
        with self._lock:
            if wish.refdes not in {part.refdes for part in self.shelf.board.components}:
                raise UnknownError(f"the board has no part {wish.refdes}")
            file = fill_rating(
                self.shelf.path, self.shelf.settings, self.shelf.board, wish.refdes, wish.cells, alone=wish.alone
            )
            return {**self.check(), "written": file}

    # Reading

    def start_reading(self) -> dict[str, Any]:
        """Begin to read the job as it lies on the disk, unless that is being done."""
        with self._lock:
            if self._run is None or self._run.done:
                self._run = Run(lambda progress: analyse(read_job(self.shelf.path), progress))
                self._run.start()
        return self.reading()

    def reading(self) -> dict[str, Any]:
        """How far the reading is, and its result once there is one."""
        run = self._run
        if run is None:
            return {"state": "none"}
        if not run.done:
            return {"state": "running", "what": run.what, "share": run.share}
        if run.problems:
            return {"state": "failed", "problems": list(run.problems)}
        return {"state": "done", "result": run.shown}

    def who(self, wish: Who) -> dict[str, Any]:
        """Which part is at a pixel, with probabilities."""
        analysis = self._analysis()
        return named_json(part_at(analysis, wish.pixel[0], wish.pixel[1], wish.capture))

    def write_reports(self) -> dict[str, Any]:
        """Write the reports of the last reading into the job's folder."""
        written = write_map_reports(self._analysis(), inside(self.shelf.folder, REPORT_FOLDER))
        return {"folder": REPORT_FOLDER, "written": [path.name for path in written]}

    # Inside

    def _begun(self) -> _Page:
        points, versions, notes = {}, {}, {}
        for capture in self.shelf.captures:
            points[capture.name], versions[capture.name], notes[capture.name] = self.shelf.points(capture)
        return _Page(sessions.begun(points, versions), notes=notes)

    def _state(self, page: _Page, capture: CaptureSettings) -> dict[str, Any]:
        return {
            "capture": capture.name,
            **tie_json(self._tied(page, capture), self.shelf.board, self.shelf.shapes(capture)),
            "unread": page.notes.get(capture.name, ""),
            "leader": self._leader(page, capture),
            "unsaved": list(page.session.unsaved()),
            "can_undo": bool(page.session.past),
            "can_redo": bool(page.session.future),
        }

    def _leader(self, page: _Page, capture: CaptureSettings) -> str | None:
        """The first other capture of the same side, with a frame of the same size, that is registered."""
        try:
            shape = self.shelf.frame(capture).shape
            for other in self.shelf.captures:
                if other.name == capture.name or other.side != capture.side or len(page.session.points[other.name]) < 2:
                    continue
                if self.shelf.frame(other).shape == shape:
                    return other.name
        except InputError:
            pass
        return None

    def _tied(self, page: _Page, capture: CaptureSettings) -> Tie:
        points = page.session.points[capture.name]
        known = page.ties.get(capture.name)
        if known is None or known.points != points:
            rows, cols = self.shelf.frame(capture).shape
            known = page.ties[capture.name] = tie(points, capture, self.shelf.settings.camera, (rows, cols))
        return known

    def _registered(self, page: _Page, capture: CaptureSettings) -> Registration:
        known = self._tied(page, capture)
        if known.registration is None:
            raise input_error(capture.name, None, known.problems[0], "then ask again")
        return known.registration

    def _followed(self, page: _Page, capture: CaptureSettings, points: Points) -> tuple[Points, str]:
        """Points where the leading capture's pose has them: the board stood still, or nearly so."""
        name = self._leader(page, capture)
        if name is None:
            raise UnknownError("no other capture of this side is registered yet")
        fitted = self._registered(page, self.shelf.capture(name))
        leading = [item.point for item in fitted.points]
        places = np.array([[*point.board_mm, point.z_mm] for point in leading])
        for point, pixel in zip(leading, pixels_from_board(fitted, places), strict=True):
            if np.isfinite(pixel).all():
                target = Target(point.at, point.board_mm, point.z_mm, point.height_known)
                points, _ = sessions.placed(points, target, (float(pixel[0]), float(pixel[1])))
        return points, f"Points taken over from “{name}”: look whether they fit, and drag what does not."

    def _on_point(
        self, page: _Page, capture: CaptureSettings, points: Points, wish: Move | OnPoint
    ) -> tuple[Points, str]:
        if isinstance(wish, Move):
            return sessions.moved(points, wish.index, wish.pixel), ""
        if wish.do == "remove":
            return sessions.removed(points, wish.index), ""
        if wish.do == "unsnap":
            return sessions.unsnapped(points, wish.index), ""
        if not asking.can_ask():
            raise UnknownError("this version cannot snap points")
        fitted = self._registered(page, capture)
        point = points[wish.index]
        found = asking.snap(fitted, self.shelf.frame(capture), self.shelf.board, point)
        if found is None:
            return points, f"The frame shows no clear place for {point.name}; it stays where it was put."
        return sessions.snapped(
            points, wish.index, found.pixel, found.pixel_u
        ), f"{point.name} moved to the frame's own contrast."

    def _refined(self, page: _Page, capture: CaptureSettings, points: Points) -> tuple[Points, str]:
        if not asking.can_ask():
            raise UnknownError("this version cannot refine a registration")
        fitted = self._registered(page, capture)
        found = asking.refine(fitted, self.shelf.frame(capture), self.shelf.board, capture, self.shelf.settings.camera)
        if isinstance(found, str):
            return points, f"Nothing was moved: {found}."
        assert found.confidence is not None
        told = found.confidence
        words = (
            f"The frame disagreed with the points by {told.moved_px:.1f} px; {told.parts_agreeing} of "
            f"{told.parts_judged} parts agree now, to {told.precision_px:.2f} px."
        )
        return asking.points_of(found, points, self.shelf.board), words

    def _target(self, capture: CaptureSettings, at: str | None, board_mm: tuple[float, float] | None) -> Target:
        if at is not None:
            target = sessions.part_target(self.shelf.board, capture.side, at)
            if target is None:
                raise UnknownError(f"{at} cannot be used: it is not on the {capture.side}, or is there twice")
            return target
        if board_mm is None:
            raise UnknownError("name a part or a place of the board")
        return Target(None, board_mm)

    def _page(self, session: str) -> _Page:
        page = self._pages.get(session)
        if page is None:
            raise UnknownError("this page is not known any more; reload it")
        self._pages.move_to_end(session)
        return page

    def _analysis(self) -> Analysis:
        if self._run is None or self._run.analysis is None:
            raise UnknownError("read the job first")
        return self._run.analysis
