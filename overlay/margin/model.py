"""How far a part is from what it may reach."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from overlay.board.model import LimitAt
from overlay.reasons import Reason
from overlay.uncertainty import Budget

Verdict = Literal["over", "undecided", "near", "clear", "unseen", "unrated"]
VERDICTS: tuple[Verdict, ...] = ("over", "undecided", "near", "clear", "unseen", "unrated")


class MarginCode(StrEnum):
    """What a user should know of a limit, a projection or a verdict."""

    AMBIENT_LIMIT = "ambient limit"
    NO_RULE = "no rule"
    NOT_ALLOWED = "not allowed"
    OTHER_PLACE = "rule for another place"
    HIDDEN_HOT_SPOT = "hidden hot spot"
    LOAD = "load"
    UNRATED = "unrated"
    NO_CAPTURE = "no capture"
    NO_BOARD_AROUND = "no board around"
    BY_MONTE_CARLO = "by Monte Carlo"
    OTHER_CAPTURE_FAILED = "other capture failed"


@dataclass(frozen=True, slots=True)
class Requirement:
    """What the product must keep."""

    ambient_max_c: float
    margin_c: float
    confidence: float
    derating: str  # "none", the name of a published policy, or a CSV file
    enclosure_rise_k: float = 0.0  # air around the board in the product, above the ambient outside
    enclosure_rise_u_k: float = 0.0


@dataclass(frozen=True, slots=True)
class Conditions:
    """Under what conditions a capture was taken, as far as a projection needs it."""

    capture: str
    ambient_c: float
    ambient_u_c: float
    reflected_c: float
    reflected_u_c: float
    rise_scale: float
    rise_scale_u: float


@dataclass(frozen=True, slots=True)
class SurfaceLimit:
    """The limit for the surface that was seen, after ψJT·P and derating, in °C."""

    limit_c: float  # what the verdict is held against: the lower of rating and derated rating
    rating_c: float  # from the part's own rating
    derated_c: float | None  # from the derating policy, where one applies
    limit_at: LimitAt
    budget: Budget = ()  # ψJT·P and the like
    source: str = ""  # "parts.csv, line 4"; "… derated by NAME, table A.18"
    why: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class Margin:
    """One part's worst capture, held against its limit.

    ``margin_c`` and ``rating_margin_c`` stand side by side: to the derated and to the bare limit.
    """

    refdes: str
    capture: str | None
    projected_c: float | None
    limit_c: float | None
    margin_c: float | None
    rating_margin_c: float | None
    u_c: float | None
    probability_within: float | None
    verdict: Verdict
    life_h: float | None = None
    load_ratio: float | None = None  # power ÷ power allowed at the projected temperature, resistors
    budget: Budget = ()
    why: tuple[Reason, ...] = ()
    every: tuple[tuple[str, float], ...] = ()  # projected_c of every capture that read the part
