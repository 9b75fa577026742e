"""What is read off a frame: a temperature for every part, and the hot spots."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from overlay.arrays import Array, read_only
from overlay.reasons import Reason
from overlay.uncertainty import Budget

State = Literal["read", "small", "saturated", "shiny", "hidden", "contact"]
_INFRARED: tuple[State, ...] = ("read", "small")


class ReadingCode(StrEnum):
    """What a user should know of a reading."""

    OTHER_SIDE = "other side"
    NO_PLACE = "no place in frame"
    TOO_STEEP = "seen too steeply"
    LITTLE_VISIBLE = "little visible"
    SHINY = "shiny"
    MAY_BE_REFLECTION = "may be reflection"
    NO_SOLUTION = "no solution"
    SMALL = "small"
    MISFIT = "misfit"
    INSEPARABLE = "inseparable"
    UNEVEN = "uneven"
    WARMED_BY_OTHERS = "warmed by others"
    TWO_WAYS_DIFFER = "two ways differ"
    BOUNDED = "bounded by its pixels"
    HOTTEST_AT_EDGE = "hottest at edge"
    SETTLED_VALUE = "settled value"
    SATURATED = "saturated"
    LOST_PIXELS = "lost pixels"
    COLDER_THAN_BOARD = "colder than board"
    COVERED = "covered"
    MIRRORS = "mirrors"
    FOREIGN_PLACEMENT = "placement of another board"


class SpotCode(StrEnum):
    """What a user should know of a hot spot."""

    FAINT = "faint"
    WORKED_OUT = "worked out"
    LOWER_BOUND = "lower bound"
    ON_BARE_BOARD = "on bare board"
    MAY_BE_OTHER = "may be other part"


@dataclass(frozen=True, slots=True)
class CaseReading:
    """What a contact says of a part's case or tab, which is another place than the top that a camera sees."""

    temperature_c: float
    budget: Budget


@dataclass(frozen=True, slots=True)
class Reading:
    """Surface temperature of one part in one capture.

    All temperatures in °C; None where there is none to give (``hidden``; a ``shiny`` part keeps its numbers, but they
    never reach a verdict; of a ``saturated`` one ``peak_c`` is a lower bound, which may suffice for ``over``).
    ``budget`` holds the terms of ``u_c`` of ``peak_c``; ``leaving_radiance`` and its ``leaving_u`` (private part:
    noise, unmixing, position) allow Monte Carlo where ε is low.
    """

    refdes: str
    capture: str
    state: State
    peak_c: float | None
    mean_c: float | None
    u_c: float | None
    apparent_peak_c: float | None
    peak_at_mm: tuple[float, float] | None
    pixels: float  # area of the visible top face in pixels
    visible: float  # share of the top face that is seen
    emissivity: float | None
    emissivity_u: float | None
    emissivity_source: str = ""
    leaving_radiance: float | None = None
    leaving_u: float | None = None
    ring_c: float | None = None  # mean surface of the board in a 2 mm ring around the part
    ring_u_c: float | None = None
    last_peak_c: float | None = None  # a stack still warming up: the last page's
    budget: Budget = ()
    why: tuple[Reason, ...] = ()
    case: CaseReading | None = None  # of a contact on its case or tab, where there is one

    @property
    def shows_top(self) -> bool:
        """Whether ``peak_c`` is of its top: of a part that a contact on its case alone could read it is of that."""
        return self.state != "contact" or self.case is None

    @property
    def trusted(self) -> bool:
        """Whether a verdict may rest on it: a temperature with its uncertainty, by infrared or by contact."""
        return (self.by_infrared or self.state == "contact") and self.u_c is not None and self.peak_c is not None

    @property
    def by_infrared(self) -> bool:
        """Whether infrared itself gave a temperature that can be trusted."""
        return self.state in _INFRARED and self.peak_c is not None


@dataclass(frozen=True, slots=True)
class Candidate:
    """A part (None: bare board) a hot spot may lie on, with its probability."""

    refdes: str | None
    probability: float


@dataclass(frozen=True, slots=True)
class HotSpot:
    """A part, or a place of bare board, whose worked-out temperature stands out (the rule: ``hotspots.py``)."""

    rank: int
    pixel: tuple[float, float]  # where ``board_mm`` at ``z_mm`` lies in the frame
    board_mm: tuple[float, float]
    z_mm: float  # height above the seen surface: of the part's top face
    position_u_mm: float
    temperature_c: float
    u_c: float
    rise_k: float
    candidates: tuple[Candidate, ...]
    why: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class FrameReading:
    """All that one capture says: a reading for every non-mechanical component, and the hot spots."""

    readings: tuple[Reading, ...]
    hot_spots: tuple[HotSpot, ...]
    surface_c: Array  # (rows, cols) surface temperature map with each pixel's emissivity; nan: no solution
    blur_px: float  # full width at half maximum that was used
    blur_source: str
    notes: tuple[str, ...] = ()
    bare_c: Array | None = None  # (rows, cols) surface of the bare board, parts taken off; nan where it is not seen

    def __post_init__(self) -> None:
        read_only(self)
