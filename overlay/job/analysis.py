"""A job as read, and the one result that every report, the workbench and any batch start from."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from overlay.board.model import Board
from overlay.errors import Problem
from overlay.files import InputFile
from overlay.frames.frame import Frame
from overlay.job.settings import CaptureSettings, Settings
from overlay.margin.model import Margin
from overlay.reading.model import FrameReading
from overlay.registration.model import Face, Registration
from overlay.view.model import View


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """A job folder, read: the settings, the board, and what was odd about them."""

    path: Path  # the job.toml
    settings: Settings
    board: Board
    problems: tuple[Problem, ...]  # warnings only; errors were raised
    inputs: tuple[InputFile, ...] = ()  # job.toml and the board's files, with the digests of the bytes that were used

    @property
    def folder(self) -> Path:
        return self.path.parent


@dataclass(frozen=True, slots=True, eq=False)
class CaptureAnalysis:
    """One capture, registered and read."""

    settings: CaptureSettings
    frame: Frame
    view: View
    reading: FrameReading
    notes: tuple[str, ...] = ()  # how the frame was come by: pages averaged, aligned, settled …
    problems: tuple[Problem, ...] = ()  # contact readings that contradict infrared

    @property
    def name(self) -> str:
        return self.settings.name

    @property
    def registration(self) -> Registration:
        return self.view.registration

    @property
    def faces(self) -> tuple[Face, ...]:
        """Every body on the seen side, mechanical ones too where they have a body."""
        return self.view.faces


@dataclass(frozen=True, slots=True, eq=False)
class Analysis:
    """All captures of a job, and each part's worst case."""

    job: Job
    captures: tuple[CaptureAnalysis, ...]
    margins: tuple[Margin, ...]  # one for each non-mechanical component, in the board's order
    inputs: tuple[InputFile, ...]
    problems: tuple[Problem, ...]

    def margin(self, refdes: str) -> Margin:
        """The margin of that designator; KeyError where there is none."""
        for margin in self.margins:
            if margin.refdes == refdes:
                return margin
        raise KeyError(refdes)

    def capture(self, name: str) -> CaptureAnalysis:
        """The capture of that name; KeyError where there is none."""
        for capture in self.captures:
            if capture.name == name:
                return capture
        raise KeyError(name)
