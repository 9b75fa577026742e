"""A job as read, and the one result that every report, the workbench and any batch start from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from overlay.board.model import Board, Component
from overlay.errors import Problem
from overlay.files import InputFile
from overlay.job.settings import CaptureSettings, Settings

if TYPE_CHECKING:  # `check` reads a job and analyses nothing
    from overlay.frames.frame import Frame
    from overlay.heat.model import FrameHeat, PartHeat
    from overlay.margin.areas import AreaMargin
    from overlay.margin.model import Margin
    from overlay.probes.contact import Meeting
    from overlay.reading.model import FrameReading, Reading
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

    def files(self) -> tuple[Path, ...]:
        """``job.toml``, and every place where a text of it could name a file."""
        return (self.path, *(self.folder / text for text in _texts(self.settings.model_dump()) if "\0" not in text))


@dataclass(frozen=True, slots=True, eq=False)
class CaptureAnalysis:
    """One capture, registered and read."""

    settings: CaptureSettings
    frame: Frame
    view: View
    reading: FrameReading
    notes: tuple[str, ...] = ()  # how the frame was come by: pages averaged, aligned, settled …
    problems: tuple[Problem, ...] = ()  # contact readings that contradict infrared
    contacts: tuple[Meeting, ...] = ()  # what each contact reading met
    heat: FrameHeat | None = None  # what makes the heat; None: not worked out

    @property
    def name(self) -> str:
        return self.settings.name

    def __getitem__(self, refdes: str) -> Reading:
        """The reading of that designator; KeyError where this capture has none."""
        for reading in self.reading.readings:
            if reading.refdes == refdes:
                return reading
        raise KeyError(refdes)

    @property
    def registration(self) -> Registration:
        return self.view.registration

    @property
    def faces(self) -> tuple[Face, ...]:
        """Every body on the seen side, mechanical ones too where they have a body."""
        return self.view.faces


@dataclass(frozen=True, slots=True, eq=False)
class PartAnalysis:
    """One part in all captures: what it is, how it reads by the capture's name, and how it stands."""

    component: Component
    margin: Margin
    readings: Mapping[str, Reading]

    def row(self) -> dict[str, Any]:
        """The part as one plain dict, numbers unrounded; None for what is not known."""
        part, margin = self.component, self.margin
        worst = self.readings.get(margin.capture or "")
        return {
            "refdes": part.refdes,
            "side": part.side,
            "package": part.package,
            "part_number": part.part_number,
            "kind": part.kind,
            "x_mm": part.center_mm[0],
            "y_mm": part.center_mm[1],
            "capture": margin.capture,
            "state": None if worst is None else worst.state,
            "peak_c": None if worst is None else worst.peak_c,
            "u_c": None if worst is None else worst.u_c,
            "emissivity": None if worst is None else worst.emissivity,
            "projected_c": margin.projected_c,
            "limit_c": margin.limit_c,
            "margin_c": margin.margin_c,
            "margin_u_c": margin.u_c,
            "probability_within": margin.probability_within,
            "verdict": margin.verdict,
        }


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Analysis:
    """All captures of a job, and each part's worst case."""

    job: Job
    captures: tuple[CaptureAnalysis, ...]
    margins: tuple[Margin, ...]  # one for each non-mechanical component, in the board's order
    inputs: tuple[InputFile, ...]
    problems: tuple[Problem, ...]
    areas: tuple[AreaMargin, ...] = ()  # laminate and surfaces to touch, where they have limits

    picture: ClassVar[Callable[[Analysis], str] | None] = None
    """Draws an analysis as SVG; set by `overlay` for notebooks, because drawings stand on a higher floor."""

    def __getitem__(self, refdes: str) -> PartAnalysis:
        """All that is known of a part; KeyError where the board has none of that designator."""
        readings = {
            capture.name: reading
            for capture in self.captures
            for reading in capture.reading.readings
            if reading.refdes == refdes
        }
        return PartAnalysis(self.job.board.component(refdes), self.margin(refdes), readings)

    def rows(self) -> list[dict[str, Any]]:
        """One plain dict a part, unrounded, in the board's order: its place, its worst capture, its verdict."""
        return [self[margin.refdes].row() for margin in self.margins]

    def to_frame(self) -> Any:
        """`rows` as a pandas DataFrame; ImportError where pandas is not installed."""
        import pandas

        return pandas.DataFrame(self.rows())

    def _repr_html_(self) -> str | None:
        return None if Analysis.picture is None else Analysis.picture(self)

    def heat_of(self, capture: str, refdes: str) -> PartHeat | None:
        """What makes a part's heat in a capture; None where that was not worked out."""
        heat = next((one.heat for one in self.captures if one.name == capture), None)
        return None if heat is None else heat.part(refdes)

    def heats(self) -> dict[tuple[str, str], PartHeat]:
        """What makes each part's heat, by capture and designator, where that was worked out."""
        heats = [capture.heat for capture in self.captures if capture.heat is not None]
        return {(heat.capture, part.refdes): part for heat in heats for part in heat.parts}

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


def _texts(values: object) -> Iterator[str]:
    if isinstance(values, str):
        yield values
    elif isinstance(values, dict):
        yield from _texts(tuple(values.values()))
    elif isinstance(values, tuple | list):
        for value in values:
            yield from _texts(value)
