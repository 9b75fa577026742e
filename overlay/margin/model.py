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


JUDGED: tuple[Verdict, ...] = ("over", "undecided", "near", "clear")  # held against a limit


class MarginCode(StrEnum):
    """What a user should know of a limit, a projection or a verdict."""

    AMBIENT_LIMIT = "ambient limit"
    AIR_TOO_HOT = "air too hot"
    TERMINAL_LIMIT = "terminal limit"
    AT_CASE = "at case"
    PLACE_NOT_STATED = "place not stated"
    RESISTANCE_DOUBTED = "resistance doubted"
    INSIDE_HOTTER = "inside hotter"
    NO_RULE = "no rule"
    NOT_CHECKED = "rule not checked"
    NOT_ALLOWED = "not allowed"
    JUNCTION_UNKNOWN = "junction unknown"
    LOAD = "load"
    BY_LOAD = "carried by load"
    LIFE_REFUSED = "life refused"
    UNRATED = "unrated"
    NO_CAPTURE = "no capture"
    NO_BODY = "no body"
    NO_BOARD_AROUND = "no board around"
    BY_MONTE_CARLO = "by Monte Carlo"
    OTHER_CAPTURE_FAILED = "other capture failed"
    MODEL_DECIDES = "projection model decides"


# Where on a part its own temperature was read: its top, or its case or tab by a contact.
Spot = Literal["top", "case"]
ONLY_TOP: frozenset[Spot] = frozenset({"top"})


@dataclass(frozen=True, slots=True)
class Requirement:
    """What the product must keep."""

    ambient_max_c: float
    margin_c: float
    confidence: float
    derating: str  # "none", the name of a published policy, or a CSV file
    enclosure_rise_k: float = 0.0  # air around the board in the product, above the ambient outside
    enclosure_rise_u_k: float = 0.0
    altitude_m: float = 0.0  # the highest place it must work at

    @property
    def air_c(self) -> float:
        """The hottest air around the board."""
        return self.ambient_max_c + self.enclosure_rise_k


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
    load: float | None = None  # current of this state ÷ required current, where stated
    altitude_m: float = 0.0  # of the bench


@dataclass(frozen=True, slots=True)
class SurfaceLimit:
    """One limit of a part, carried to what can be seen of it, in °C.

    ``limit_at`` says what it is held against: the part's surface (``surface``, ``junction``), the board around it
    (``ambient``), or what lies between the two (``terminal``).
    """

    limit_c: float  # what the verdict is held against: the lower of rating and derated rating
    rating_c: float | None  # from the part's own rating; None for a policy's ceiling alone
    derated_c: float | None  # from the derating policy, where one applies
    limit_at: LimitAt
    budget: Budget = ()  # ψJT·P, the limit's own uncertainty
    source: str = ""  # "parts table, line 4"; "… derated by NAME, table A.18"
    policy: str = ""  # the policy and clause, where one lowers it or makes it
    hidden_share: float = 0.0  # of the rise: how much hotter the place that is limited may be than what is seen
    spot: Spot = "top"  # of a limit held against the part itself: which of its places
    only_breaks: bool = False  # a surface above it breaks it; one below shows nothing (junction, ψJT·P unknown)
    why: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class Demands:
    """All that a part must keep: its limits, and what is broken or unknown whatever its temperature."""

    limits: tuple[SurfaceLimit, ...]
    broken: tuple[Reason, ...] = ()
    uncovered: tuple[Reason, ...] = ()  # rules that no number here can show to be kept


@dataclass(frozen=True, slots=True)
class Margin:
    """One part's worst capture, held against the limit that it keeps least.

    ``margin_c`` and ``rating_margin_c`` stand side by side: to the derated and to the bare limit. ``u_c`` is of the
    margin, on the side of the limit. ``surface_c`` and ``rise_k`` are the part's own, whatever the limit holds for.
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
    limit_at: LimitAt | None = None
    limit_source: str = ""
    policy: str = ""  # the policy and clause that made or lowered the limit
    surface_c: float | None = None  # the part's own surface, projected
    rise_k: float | None = None  # … above the ambient of its capture, at the required load
    life_h: float | None = None
    load_ratio: float | None = None  # power ÷ power allowed at the projected temperature
    freedom: float = float("inf")  # degrees of freedom of u_c
    budget: Budget = ()
    why: tuple[Reason, ...] = ()
    every: tuple[tuple[str, float], ...] = ()  # projected_c of every capture that read the part
