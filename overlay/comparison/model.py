"""What two analyses of a board, or of two revisions of it, say about each other."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from overlay.board.model import Component
from overlay.margin.model import Margin
from overlay.reasons import Reason
from overlay.uncertainty import Budget


class ChangeCode(StrEnum):
    """What happened to a part between two jobs."""

    MOVED = "moved"
    RENAMED = "renamed"
    OTHER_PART = "other part number"
    RERATED = "rerated"
    NOT_COMPARED = "not compared"
    OTHER_MEANS = "read by other means"
    UNPROMPTED = "unprompted"


@dataclass(frozen=True, slots=True)
class Standing:
    """How one part stood in one job.

    ``rise_k`` is the surface peak above ambient at the required load (``rise_scale`` applied), of the capture
    ``capture``; None where nothing trustworthy was read. ``budget`` holds the terms of its uncertainty.
    """

    component: Component
    margin: Margin
    capture: str | None
    rise_k: float | None
    budget: Budget
    readings: tuple[tuple[str, float, Budget], ...] = ()  # (capture, rise_k, budget) of every trusted reading
    by_contact: frozenset[str] = frozenset()  # captures in which a thermocouple read it


@dataclass(frozen=True, slots=True)
class Match:
    """The same part in both jobs, and by what it was recognised."""

    one: Standing
    other: Standing
    matched_by: str  # "refdes" or "part number and place"
    moved_mm: float


@dataclass(frozen=True, slots=True)
class Change:
    """What became of one part from job A to job B.

    Parameters
    ----------
    delta_rise_k, u_k
        Change of the rise as read, and its standard uncertainty with both instruments and ambients in it; None where
        either side has no reading.
    own_change_k, own_u_k
        The part's own change: beyond the shift common to all parts, where instruments explain that.
    p_value, q_value
        Chance of so large an own change where there is none (two-sided), and the same with the number of parts looked
        at taken into account.
    changed
        The change is significant with the false discovery rate of the comparison.
    unprompted
        It became hotter although neither place, part number nor rating changed.
    set_apart
        It was read in one job only, or by a thermocouple in one and by infrared in the other: what differs may be the
        way of reading, so it takes no part in the common shift and is not called changed.
    """

    match: Match
    capture_a: str | None
    capture_b: str | None
    delta_rise_k: float | None
    u_k: float | None
    own_change_k: float | None
    own_u_k: float | None
    p_value: float | None
    q_value: float | None
    changed: bool
    delta_margin_k: float | None
    verdict_changed: bool
    rerated: bool
    unprompted: bool
    set_apart: bool = False
    why: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class Comparison:
    """All changes: changed verdicts by gravity, then significant changes of rise by size, last what is set apart."""

    changes: tuple[Change, ...]
    added: tuple[Component, ...]
    removed: tuple[Component, ...]
    common_shift_k: float
    common_shift_u_k: float
    common_shift_taken_off: bool  # from the parts' own changes, never from what was read
    false_discovery_rate: float
    notes: tuple[str, ...] = ()
