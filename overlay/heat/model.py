"""What is worked out about the heat of a frame."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class HeatCall(StrEnum):
    """What is said of a part. The rise that is its own is held against what it owes to others."""

    MAKES_HEAT = "makes heat"
    HEATED = "heated by others"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True)
class HeatedBy:
    """A source elsewhere that warms a part, and by how much; ``refdes`` None: a place of bare board."""

    refdes: str | None
    board_mm: tuple[float, float]
    rise_k: float


@dataclass(frozen=True, slots=True)
class PartHeat:
    """What one part's temperature is made of in one capture.

    ``share`` is that of all heat worked out on the board; watts only where the input power was measured.
    """

    refdes: str
    call: HeatCall
    own_rise_k: float
    own_rise_u_k: float
    share: float
    share_u: float
    heated_by: tuple[HeatedBy, ...] = ()  # the most first
    power_w: float | None = None
    power_u_w: float | None = None


@dataclass(frozen=True, slots=True)
class BoardSource:
    """Heat that no part of the list explains: a trace, a via field, something that no file knows."""

    board_mm: tuple[float, float]
    share: float
    share_u: float
    power_w: float | None = None
    power_u_w: float | None = None


@dataclass(frozen=True, slots=True)
class FrameHeat:
    """What is known of one capture's heat. With a reason in ``why`` nothing is told apart."""

    capture: str
    parts: tuple[PartHeat, ...]
    board_sources: tuple[BoardSource, ...]
    total_power_w: float | None
    fit_rms_k: float | None  # of the bare board about the fit; None: there is none
    why: tuple[str, ...] = ()

    def part(self, refdes: str) -> PartHeat | None:
        """What is said of that part; None where nothing is."""
        return next((part for part in self.parts if part.refdes == refdes), None)
