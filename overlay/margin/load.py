"""Power against the power allowed where the part stands: derating lines over temperature."""

from __future__ import annotations

import math
from dataclasses import dataclass

from overlay.board.model import Component, DeratesBy
from overlay.margin.derating import Policy
from overlay.margin.figures import resistor_load
from overlay.margin.limits import load_known
from overlay.margin.model import MarginCode
from overlay.margin.verdict import probability_within
from overlay.reasons import Reason

# General thick-film chips end here (their data sheets' operating range), where the part's own limit does not tell.
_FILM_LIMIT_C = 155.0
_PLACES: dict[DeratesBy, str] = {
    "ambient": "in air of",
    "terminal": "with the board around it at",
    "surface": "at a surface of",
}


@dataclass(frozen=True, slots=True)
class Load:
    """A part's power beside what its derating line allows there."""

    ratio: float | None  # power ÷ power allowed; None where none is allowed
    probability_within: float  # that it carries no more than is allowed
    why: tuple[Reason, ...]


def load_of(
    component: Component, policy: Policy | None, at_c: dict[DeratesBy, tuple[float, float] | None]
) -> Load | None:
    """How a part's power stands to its derating line; None where powers are not known or no line is.

    Parameters
    ----------
    at_c
        Projected temperature and its standard uncertainty of the air, of the board around the part, and of its own
        surface; None where one was not read, and then the next hotter place stands in for it.

    Notes
    -----
    A resistor's line falls from full power at 70 °C to zero at the part's own limit; a policy's line or factor comes
    on top. Over which temperature it is drawn, the data sheet says (``derates_by``); where nobody copied that, over
    the ambient, as general thick-film chips have it.
    """
    rule = None if policy is None else policy.load_rule(component.kind)
    if not load_known(component) or (component.kind != "resistor" and rule is None):
        return None
    rating = component.rating
    assert rating is not None
    assert rating.power_w is not None
    assert rating.rated_power_w is not None
    by: DeratesBy = rating.derates_by or "ambient"
    found = at_c[by] or at_c["surface"] or at_c["ambient"]
    assert found is not None  # the air is always known
    place_c, place_u = found
    film = rating.limit_c if rating.limit_c is not None and rating.limit_at == "surface" else _FILM_LIMIT_C

    def allowed(temperature_c: float) -> float:
        share = 1.0
        if component.kind == "resistor":
            share = resistor_load(temperature_c, film) if film > 70.0 else 0.0
        return share if rule is None else min(share, rule.allowed_load(temperature_c, share))

    name = "its derating line"
    if rule is not None and policy is not None:
        name = f"{policy.name}, {rule.clause}" if rule.clause else policy.name
    place = f"{_PLACES[by]} {place_c:.0f} °C"
    share = allowed(place_c)
    if share <= 0.0:
        text = f"{name} allows it no power {place}"
        return Load(None, 0.0 if rating.power_w > 0.0 else 1.0, (Reason(MarginCode.LOAD, text),))
    ratio = rating.power_w / (share * rating.rated_power_w)
    slope = (allowed(place_c - place_u) - allowed(place_c + place_u)) / 2.0
    relative_u = math.hypot((rating.power_u_w or 0.0) / rating.power_w if rating.power_w else 0.0, slope / share)
    within = probability_within(1.0, ratio, ratio * relative_u)
    if ratio <= 1.0:
        return Load(ratio, within, ())
    text = f"it carries {ratio:.0%} of the power that {name} allows {place}"
    return Load(ratio, within, (Reason(MarginCode.LOAD, text),))
