"""The workbench of one job: its files, the pages open on it, and answers to what they ask."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.errors import input_error
from overlay.frames.frame import Array
from overlay.job.new import write_new_job
from overlay.job.propose import propose_for
from overlay.registration.propose import Proposal
from overlay.report.palette import LOOKS
from overlay.workbench import frame_opinion
from overlay.workbench.background import Task
from overlay.workbench.capture_form import preview_json, start_json, write_capture
from overlay.workbench.filling import fill_body, fill_rating
from overlay.workbench.finding import confirmed_points, found_json
from overlay.workbench.folder import REPORT_FOLDER, digest, inside, replace_files
from overlay.workbench.job_files import JobFiles, UnknownError
from overlay.workbench.looking import difference, difference_json, places_json
from overlay.workbench.page_session import PageSession
from overlay.workbench.requests import (
    Confirm,
    Difference,
    Drag,
    Edit,
    FillBody,
    FillRating,
    Look,
    OfCapture,
    Places,
    Preview,
    Save,
    StartJob,
    Where,
    WriteCapture,
    WriteSection,
)
from overlay.workbench.saving import files_to_save
from overlay.workbench.scales import scales
from overlay.workbench.section_form import write_section
from overlay.workbench.shapes import board_json

if TYPE_CHECKING:
    from overlay.workbench.readings import Readings
    from overlay.workbench.shooting import Shots

MOST_PAGES = 24  # open at once; a reload opens another, and the one unused for longest is dropped


class Workbench:
    """Answers what pages ask, as JSON values; knows nothing of sockets.

    Raises
    ------
    InputError
        Where the path leads neither to a job nor to a folder in which one can be begun.
    """

    def __init__(self, path: Path) -> None:
        self.folder = path if path.is_dir() else path.parent
        # a folder of files without a job: the page begins one
        to_begin = path.is_dir() and not (path / "job.toml").exists() and bool(start_json(path)["placement"])
        self._files = None if to_begin else JobFiles(path)
        self._lock = threading.RLock()
        self._pages: OrderedDict[str, PageSession] = OrderedDict()
        self._finds: dict[str, Task[Proposal]] = {}

    @cached_property
    def readings(self) -> Readings:
        """What reads the job: loaded when it is first asked for, after the page shows the board."""
        from overlay.workbench.readings import Readings

        return Readings(lambda: self.files, self._lock)

    @cached_property
    def shots(self) -> Shots:
        """What plans shots: likewise."""
        from overlay.workbench.shooting import Shots

        return Shots(lambda: self.files, self._lock)

    # What is there

    @property
    def files(self) -> JobFiles:
        """The job's files; `UnknownError` where no job has been begun yet."""
        if self._files is None:
            raise UnknownError("there is no job in this folder yet; reload the page")
        return self._files

    def start(self, wish: StartJob) -> dict[str, Any]:
        """Begin a job from files of the folder."""
        with self._lock:
            if self._files is None:
                placement, outline, parts = (
                    inside(self.folder, name) if name else None for name in (wish.placement, wish.outline, wish.parts)
                )
                if placement is None:
                    raise input_error("job.toml", None, "the job has no placement", "choose the placement file")
                write_new_job(self.folder, placement, outline, parts)
                self._files = JobFiles(self.folder)
            return {"file": self.files.path.name}

    def open(self) -> dict[str, Any]:
        """Everything a page begins with, and a session of its own."""
        with self._lock:
            if self._files is None:
                return {"start": start_json(self.folder)}
            self._look()
            page = PageSession(self.files)
            name = secrets.token_urlsafe(12)
            self._pages[name] = page
            while len(self._pages) > MOST_PAGES:
                self._pages.popitem(last=False)
            return {
                "session": name,
                "job": {"folder": self.files.folder.name, "file": self.files.path.name, "report": REPORT_FOLDER},
                **self._read(),
                "scales": scales(),
                "verdicts": {name: look.meaning for name, look in LOOKS.items()},
                "unsaved": [],
            }

    def check(self) -> dict[str, Any]:
        """What was read of the job's files, anew."""
        with self._lock:
            self._look()
            board = board_json(self.files.board) if self.files.has_board else None
            return {"check": self.files.check_json(), "board": board}

    def look(self, wish: Look) -> dict[str, Any]:
        """What changed in the job's files by another hand since a page was told; nothing where they are as they were.

        While ``job.toml`` cannot be read, what is wrong with it is all that is told: points and captures stay.
        """
        with self._lock:
            self._page(wish.session)
            self._look()
            if wish.version == self.files.version:
                return {}
            if not self.files.has_settings:
                return {"check": self.files.check_json()}
            return self._read()

    def frame(self, name: str) -> Array:
        """Apparent temperatures (rows, cols) of a capture."""
        with self._lock:
            return self.files.frame(self.files.capture(name))

    # Control points

    def state(self, wish: OfCapture) -> dict[str, Any]:
        """A capture's points and fit as they stand."""
        with self._lock:
            return self._page(wish.session).state(wish.capture)

    def edit(self, wish: Edit) -> dict[str, Any]:
        """Change the points, and tell how they stand then."""
        with self._lock:
            return self._page(wish.edit.session).edit(wish.edit)

    def drag(self, wish: Drag) -> dict[str, Any]:
        """Outlines and residuals with a point where it is dragged just now; nothing is changed."""
        with self._lock:
            return self._page(wish.session).drag(wish)

    def where(self, wish: Where) -> dict[str, Any]:
        """The place of the board's surface that is seen at a pixel."""
        with self._lock:
            return self._page(wish.session).where(wish.capture, wish.pixel)

    def places(self, wish: Places) -> dict[str, Any]:
        """The places of the board's surface that are seen at several pixels."""
        with self._lock:
            fitted = self._page(wish.session).fitted(self.files.capture(wish.capture))
        return places_json(fitted, np.array(wish.pixels, dtype=np.float64).reshape(-1, 2))

    def difference(self, wish: Difference) -> dict[str, Any]:
        """A capture less another one."""
        with self._lock:
            page = self._page(wish.session)
            both = [self.files.capture(name) for name in (wish.capture, wish.other)]
            one, other = ((capture, self.files.frame(capture), page.fitted(capture)) for capture in both)
        return difference_json(*difference(one, other, rises=wish.rises))

    def opinion(self, wish: OfCapture) -> dict[str, Any]:
        """What the frame itself says of the points; takes a second, and holds nobody up."""
        with self._lock:
            page, capture = self._page(wish.session), self.files.capture(wish.capture)
            fitted, frame, board = page.registered(capture), self.files.frame(capture), self.files.board
        return {"words": frame_opinion.opinion(fitted, frame, board, capture, self.files.settings.camera)}

    # Finding the board without clicks

    def find(self, wish: OfCapture) -> dict[str, Any]:
        """Begin to look for the board in a capture's frame, unless that is being done."""
        with self._lock:
            page, capture = self._page(wish.session), self.files.capture(wish.capture)
            task = self._finds.get(capture.name)
            if task is None or task.done:
                near, job = page.leading(capture), self.files.job()
                task = self._finds[capture.name] = Task("finding", lambda _: propose_for(job, capture, near))
                task.start()
        return self.finding(wish)

    def finding(self, wish: OfCapture) -> dict[str, Any]:
        """How far the looking is, and what the frame proposes once it is done."""
        capture = self.files.capture(wish.capture)
        task = self._finds.get(capture.name)
        return {"state": "none"} if task is None else task.state(lambda found: found_json(found, self.files, capture))

    def confirm(self, wish: Confirm) -> dict[str, Any]:
        """Take what was proposed for a capture's control points, because a person sees the asked part at a pixel."""
        with self._lock:
            page, capture = self._page(wish.session), self.files.capture(wish.capture)
            task = self._finds.get(capture.name)
            if task is None or task.result is None:
                raise UnknownError("nothing is proposed any more; look for the board again")
            return page.take(capture, confirmed_points(task.result, self.files.board, capture, wish.pixel))

    def save(self, wish: Save) -> dict[str, Any]:
        """Write the control points that differ from their files.

        Raises
        ------
        ChangedOnDiskError
            Where a file is not what this page read, and ``anyway`` was not asked for.
        """
        with self._lock:
            page = self._page(wish.session)
            saving = files_to_save(self.files.path, page.history, self.files.board, anyway=wish.anyway)
            replace_files(saving.contents)
            for capture, path in saving.points_files.items():
                page.history = page.history.written(capture, digest(path))
            self._look()
            names = [path.name for path in saving.points_files.values()]
            return {
                "written": names,
                "version": self.files.version,
                "unsaved": list(page.history.unsaved()),
                "points_files": {capture.name: capture.control_points for capture in self.files.captures},
            }

    # Captures

    def preview(self, wish: Preview) -> dict[str, Any]:
        """A frame's picture at once, before it belongs to a capture."""
        return preview_json(self.files.folder, wish.cells)

    def write_capture(self, wish: WriteCapture) -> dict[str, Any]:
        """Begin a capture or change its values, in ``job.toml``."""
        with self._lock:
            self._page(wish.session)
            name = write_capture(self.files.path, wish.former, wish.cells, wish.record)
            self._look()
            return {**self._read(), "capture": name, "written": self.files.path.name}

    def write_section(self, wish: WriteSection) -> dict[str, Any]:
        """Change the camera's or the requirement's values, in ``job.toml``."""
        with self._lock:
            self._page(wish.session)
            write_section(self.files.path, wish.section, wish.cells)
            return {**self.check(), "written": self.files.path.name}

    # Filling in

    def fill_body(self, wish: FillBody) -> dict[str, Any]:
        """Write a package's body size."""
        with self._lock:
            file = fill_body(self.files.path, self.files.settings, wish.package, wish.cells)
            return {**self.check(), "written": file}

    def fill_rating(self, wish: FillRating) -> dict[str, Any]:
        """Write a part's limit."""
        with self._lock:
            board = self.files.board
            if wish.refdes not in {part.refdes for part in board.components}:
                raise UnknownError(f"the board has no part {wish.refdes}")
            file = fill_rating(self.files.path, self.files.settings, board, wish.refdes, wish.cells, alone=wish.alone)
            return {**self.check(), "written": file}

    # Inside

    def _read(self) -> dict[str, Any]:
        """What was read of the job's files, with board and captures."""
        return {
            "check": self.files.check_json(),
            "board": board_json(self.files.board) if self.files.has_board else None,
            "captures": [self.files.capture_json(capture) for capture in self.files.captures],
        }

    def _look(self) -> None:
        """Read the job's files anew where they changed, and let every page take that up."""
        before = self.files.board if self.files.has_board else None
        if not self.files.look() or not self.files.has_settings:
            return
        self._finds.clear()  # they were made for another board, or of other frames
        for page in self._pages.values():
            page.captures_changed()
            if before is not None and self.files.has_board:
                page.board_changed(before)

    def _page(self, session: str) -> PageSession:
        page = self._pages.get(session)
        if page is None:
            raise UnknownError("this page is not known any more; reload it")
        self._pages.move_to_end(session)
        return page
