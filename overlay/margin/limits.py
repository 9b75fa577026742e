"""What a rating means for the surface that was seen."""

from __future__ import annotations

from overlay.board.model import Component, Rating
from overlay.margin.derating import Policy, Rule
from overlay.margin.figures import resistor_load
from overlay.margin.model import MarginCode, SurfaceLimit
from overlay.reasons import Reason
from overlay.uncertainty import Budget, Term, TermName

_AMBIENT_WHY = Reason(
    MarginCode.AMBIENT_LIMIT,
    "its limit is for the ambient; it is held against the board around the part, which is warmer than the air: "
    "cautious",
)


def surface_limit(component: Component, policy: Policy | None) -> SurfaceLimit | None:
    """The limit for the surface that was seen (for ``ambient`` limits: for the board around the part).

    Returns
    -------
    SurfaceLimit or None
        ``limit_c`` is the lower of the rating and the derated rating. None where no limit is known, or where one for
        the junction cannot be carried to the surface: `why_unrated` says which.
    """
    rating = component.rating
    if rating is None or rating.limit_c is None:
        return None
    drop_k, budget = 0.0, Budget()
    if rating.limit_at == "junction":
        if rating.psi_jt_k_per_w is None or rating.power_w is None:
            return None
        drop_k, budget = _junction_drop(component.refdes, rating.psi_jt_k_per_w, rating.power_w, rating.power_u_w)
    rating_c = rating.limit_c - drop_k
    source = f"parts table, line {rating.line}"
    why = [_AMBIENT_WHY] if rating.limit_at == "ambient" else []
    derated_c, used, remark = _derated(component, rating, rating.limit_c, policy)
    if remark is not None:
        why.append(remark)
    if used is not None and policy is not None:
        source += f", derated by {policy.name}" + (f", {used.clause}" if used.clause else "")
        carried = used.at == "junction" and rating.limit_at == "surface"
        if carried and rating.psi_jt_k_per_w is not None and rating.power_w is not None and derated_c is not None:
            derated_drop_k, derated_budget = _junction_drop(
                component.refdes, rating.psi_jt_k_per_w, rating.power_w, rating.power_u_w
            )
            derated_c -= derated_drop_k
            budget = derated_budget if derated_c < rating_c else budget
        elif derated_c is not None:
            derated_c -= drop_k
    limit_c = rating_c if derated_c is None else min(rating_c, derated_c)
    return SurfaceLimit(limit_c, rating_c, derated_c, rating.limit_at, budget, source, tuple(why))


def why_unrated(component: Component) -> Reason:
    """What is missing for a limit, as a sentence to act on."""
    rating = component.rating
    if rating is None:
        return Reason(MarginCode.UNRATED, "no row of the parts table names it: add one with limit_c")
    if rating.limit_c is None:
        return Reason(MarginCode.UNRATED, f"line {rating.line} of the parts table gives it no limit_c")
    missing = [
        name
        for name, value in (("psi_jt_k_per_w", rating.psi_jt_k_per_w), ("power_w", rating.power_w))
        if value is None
    ]
    return Reason(
        MarginCode.UNRATED,
        f"its limit is for the junction, and line {rating.line} of the parts table gives no {' and no '.join(missing)}"
        " to carry it to the surface",
    )


def load_ratio(component: Component, policy: Policy | None, around_c: float) -> tuple[float | None, Reason | None]:
    """Power ÷ power allowed for a resistor, with ``around_c`` the temperature of its surroundings, and a remark.

    The line falls from full power at 70 °C to zero at the part's own limit (general thick-film chips end at 155 °C);
    a policy's line or factor comes on top. None where powers are not known or none is allowed.
    """
    rating = component.rating
    if component.kind != "resistor" or rating is None or rating.power_w is None or not rating.rated_power_w:
        return None, None
    zero_at_c = rating.limit_c if rating.limit_c is not None and rating.limit_at != "junction" else 155.0
    allowed = resistor_load(around_c, zero_at_c) if zero_at_c > 70.0 else 0.0
    rule = None if policy is None else policy.load_rule(component.kind)
    by = "its derating line"
    if rule is not None and policy is not None:
        derated = rule.allowed_load(around_c, allowed)
        if derated < allowed:
            allowed, by = derated, f"{policy.name}, {rule.clause}"
    if allowed <= 0.0:
        return None, Reason(MarginCode.LOAD, f"{by} allows it no power in surroundings of {around_c:.0f} °C")
    ratio = rating.power_w / (allowed * rating.rated_power_w)
    if ratio <= 1.0:
        return ratio, None
    text = f"it carries {ratio:.0%} of the power that {by} allows in surroundings of {around_c:.0f} °C"
    return ratio, Reason(MarginCode.LOAD, text)


def _junction_drop(refdes: str, psi_k_per_w: float, power_w: float, power_u_w: float | None) -> tuple[float, Budget]:
    """How much hotter the junction is than the top, and the terms of that (in projected minus limit)."""
    if not power_u_w:
        return psi_k_per_w * power_w, ()
    return psi_k_per_w * power_w, (Term(TermName.POWER, psi_k_per_w * power_u_w, f"power:{refdes}"),)


def _derated(
    component: Component, rating: Rating, rated_c: float, policy: Policy | None
) -> tuple[float | None, Rule | None, Reason | None]:
    """Allowed temperature at the rule's own place, the rule, and what the reader should know."""
    if policy is None:
        return None, None, None
    rule = policy.temperature_rule(component.kind, rated_c)
    if rule is None:
        if policy.load_rule(component.kind) is not None:
            return None, None, None
        text = f"{policy.name} has no rule for it: held against its rating alone"
        return None, None, Reason(MarginCode.NO_RULE, text)
    allowed_c = rule.allowed_c(rated_c)
    place = f"{policy.name}, {rule.clause}" if rule.clause else policy.name
    if allowed_c is None:
        text = f"{place} does not allow this kind of part: held against its rating alone"
        return None, None, Reason(MarginCode.NOT_ALLOWED, text)
    if rule.at != rating.limit_at:
        can_carry = (
            rule.at == "junction"
            and rating.limit_at == "surface"
            and rating.psi_jt_k_per_w is not None
            and rating.power_w is not None
        )
        if not can_carry:
            text = f"{place} limits the {rule.at}, the rating the {rating.limit_at}: held against its rating alone"
            return None, None, Reason(MarginCode.OTHER_PLACE, text)
    if rule.hidden_k and rating.limit_at == "surface":
        text = f"{place} allows {allowed_c:g} °C at its hot spot, taken as {rule.hidden_k:g} K above the surface"
        return allowed_c - rule.hidden_k, rule, Reason(MarginCode.HIDDEN_HOT_SPOT, text)
    return allowed_c, rule, None
