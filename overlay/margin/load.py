"""Power and current against what is allowed where the part stands: derating lines over temperature."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from overlay.board.model import Component, DeratesBy, Rating
from overlay.margin.derating import Policy, Rule, load_line
from overlay.margin.figures import contact_rise_load, fuse_load, resistor_load
from overlay.margin.model import MarginCode
from overlay.margin.verdict import probability_within
from overlay.reasons import Reason

# General thick-film chips end here (their data sheets' operating range), where the part's own limit does not tell.
_FILM_LIMIT_C = 155.0
# Lines that are a trade's and no data sheet's are known to this share only: by 85 °C fast fuses lose a tenth and slow
# ones a third, contacts may rise by 30 or by 45 K (own estimate).
_GENERAL_U_SHARE = 0.15
_SURE = 0.999  # nothing is said of a load that keeps its line so surely

Quantity = Literal["power", "current"]
Place = DeratesBy | Literal["near"]  # near: the air at the part, between the room's and the board around it
Places = Mapping[DeratesBy, tuple[float, float] | None]

_PLACES: dict[Place, str] = {
    "ambient": "in air of",
    "near": "in air near it of",
    "terminal": "with the board around it at",
    "surface": "at a surface of",
}


@dataclass(frozen=True, slots=True)
class Load:
    """A part's power or current beside what its derating line allows there."""

    ratio: float | None  # carried ÷ allowed; None where none is allowed
    probability_within: float  # that it carries no more than is allowed
    why: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class _Line:
    """A derating line: the share of a rating that is allowed over the temperature of a place."""

    name: str
    share: Callable[[float], float]
    by: Place
    u_share: float = 0.0  # of the share: how well the line itself is known


def load_of(component: Component, policy: Policy | None, at_c: Places) -> Load | None:
    """How a part's power or current stands to its derating line, the worse of both; None where neither has one.

    Parameters
    ----------
    at_c
        Projected temperature and its standard uncertainty of the air, of the board around the part, and of its own
        surface; None where one was not read, and then the next hotter place stands in for it.

    Notes
    -----
    A line of the part's own (``derating_points``) comes first. Else a resistor's power falls from all at 70 °C to none
    at its own limit, a fuse's current is rerated as makers commonly do, a connector's is what lets its contacts rise
    no further than its limit, and no other current may pass its rating. A policy's line or factor comes on top. Over
    which temperature a line is drawn, the data sheet says (``derates_by``); where nobody copied that, over the
    ambient, for fuses and connectors over the air near them.
    """
    rule = None if policy is None else policy.load_rule(component.kind)
    if component.rating is None:
        return None
    found = []
    for quantity in loads_known(component):
        own = _own_line(component.kind, component.rating, quantity)
        derated = rule if rule is None or quantity == _limited(component) else None
        if own is not None or derated is not None:
            named = "" if derated is None or policy is None else f"{policy.name}, {derated.clause}".rstrip(", ")
            found.append(_held(component.rating, quantity, own, derated, named, at_c))
    return min(found, key=lambda load: load.probability_within, default=None)  # among equals the power


def loads_known(component: Component) -> tuple[Quantity, ...]:
    """Of what the parts table gives both the value at the required load and the rating."""
    rating = component.rating
    known: list[Quantity] = []
    if rating is not None and rating.power_w is not None and rating.rated_power_w:
        known.append("power")
    if rating is not None and rating.current_a is not None and rating.rated_current_a:
        known.append("current")
    return tuple(known)


def _limited(component: Component) -> Quantity:
    """What a policy's load rule is about: a fuse's current, as the standards have it, else power where it is known."""
    known = loads_known(component)
    return known[-1] if component.kind == "fuse" else known[0]


def _own_line(kind: str, rating: Rating, quantity: Quantity) -> _Line | None:
    by = rating.derates_by
    if rating.derating_points and quantity == ("current" if rating.rated_current_a else "power"):
        points = rating.derating_points
        return _Line("its data sheet's line", lambda c: load_line(c, points), by or "ambient")
    if quantity == "power":
        if kind != "resistor":
            return None
        film = rating.limit_c if rating.limit_c is not None and rating.limit_at == "surface" else _FILM_LIMIT_C
        share = (lambda c: resistor_load(c, film)) if film > 70.0 else (lambda c: 0.0)
        return _Line("its derating line", share, by or "ambient")
    if kind == "electrolytic":
        return None  # more ripple than rated heats the core and costs life: see `limits` and `figures`
    if kind == "fuse":
        return _Line("common practice for fuses", fuse_load, by or "near", _GENERAL_U_SHARE)
    if kind == "connector" and rating.limit_c is not None and rating.limit_at in ("surface", "hot spot"):
        limit_c = rating.limit_c
        name = "the rise of its contacts"
        return _Line(name, lambda c: contact_rise_load(c, limit_c), by or "near", _GENERAL_U_SHARE)
    return _Line("its rating", lambda c: 1.0, by or "ambient")


def _held(
    rating: Rating, quantity: Quantity, own: _Line | None, rule: Rule | None, rule_name: str, at_c: Places
) -> Load:
    """One quantity against its own line, a policy's, or the lower of both, each where it is drawn over."""
    value, u, rated = rating.power_w, rating.power_u_w, rating.rated_power_w
    if quantity == "current":
        value, u, rated = rating.current_a, 0.0, rating.rated_current_a
    assert value is not None
    assert rated is not None
    line = own or _Line(rule_name, lambda c: 1.0, rating.derates_by or "ambient")
    own_c, own_u = _at(line.by, at_c)
    ruled: Place = line.by
    if rule is not None and rating.derates_by is None:
        ruled = "terminal" if rule.at == "terminal" else "ambient" if rule.at == "ambient" else "surface"
    rule_c, rule_u = _at(ruled, at_c)

    def allowed(sigmas: float) -> tuple[float, bool]:
        share = line.share(own_c + sigmas * own_u)
        by_rule = math.inf if rule is None else rule.allowed_load(rule_c + sigmas * rule_u, share)
        return min(share, by_rule), by_rule <= share

    share, by_rule = allowed(0.0)
    name, place = (rule_name, f"{_PLACES[ruled]} {rule_c:.0f} °C")
    if not by_rule:
        name, place = line.name, f"{_PLACES[line.by]} {own_c:.0f} °C"
    if share <= 0.0:
        text = f"{name} allows it no {quantity} {place}"
        return Load(None, 0.0 if value > 0.0 else 1.0, (Reason(MarginCode.LOAD, text),))
    ratio = value / (share * rated)
    slope = (allowed(-1.0)[0] - allowed(1.0)[0]) / 2.0
    known_to = math.hypot((u or 0.0) / value if value else 0.0, slope / share, line.u_share)
    within = probability_within(1.0, ratio, ratio * known_to)
    if line.u_share and value > rated:
        within = 0.0  # more than its rating: whatever the line, that is too much
    if ratio <= 1.0 and within >= _SURE:
        return Load(ratio, within, ())
    text = f"it carries {ratio:.0%} of the {quantity} that {name} allows {place}"
    return Load(ratio, within, (Reason(MarginCode.LOAD, text),))


def _at(by: Place, at_c: Places) -> tuple[float, float]:
    """Temperature and standard uncertainty of the place a line is drawn over."""
    air = at_c["ambient"]
    assert air is not None  # the air is always known
    if by != "near":
        return at_c[by] or at_c["surface"] or air
    board = at_c["terminal"]
    if board is None or board[0] <= air[0]:
        return air
    half_k = (board[0] - air[0]) / 2.0  # anywhere between the two: a rectangle
    return air[0] + half_k, math.hypot(half_k / math.sqrt(3.0), air[1], board[1] / 2.0)
