"""All that a part must keep: its ratings as far as they can be seen, and what a derating policy makes of them."""

from __future__ import annotations

from dataclasses import replace

from overlay.board.model import Component, Rating
from overlay.margin.derating import Policy, Rule
from overlay.margin.limits import AMBIENT, junction_limits, limits_of
from overlay.margin.load import loads_known
from overlay.margin.model import ONLY_TOP, Demands, MarginCode, Spot, SurfaceLimit
from overlay.reasons import Reason


def demands_on(component: Component, policy: Policy | None, seen: frozenset[Spot] = ONLY_TOP) -> Demands:
    """All that a part must keep, by its rows of the parts table and by the policy.

    A policy's rule that the ratings alone cannot answer (a junction's ceiling without ψJT·P) can still be broken for
    certain: such limits come with ``only_breaks``. What no number can show to be kept is ``uncovered``.

    ``seen``: whether the top of the part was read, its case or tab by a contact, or both; a junction is carried to the
    top by ψJT, to the case by θJC, and to nothing else.
    """
    rating = component.rating
    rows = [row for row in (() if rating is None else rating.rows) if row.limit_c is not None]
    held = [(row, limit) for row in rows for limit in limits_of(component, row, seen)]
    broken: list[Reason] = []
    uncovered: list[Reason] = []
    limits = [limit for _, limit in held]
    if policy is not None:
        limits, broken, uncovered = _under_policy(component, rows, held, policy, seen)
    uncovered += [why_unrated(component, limit) for limit in limits if limit.only_breaks]
    if not rows:
        uncovered.append(why_unrated(component))
    return Demands(tuple(limits), tuple(broken), tuple(uncovered))


def why_unrated(component: Component, limit: SurfaceLimit | None = None) -> Reason:
    """What is missing for a limit, as a sentence to act on; with ``limit``, to carry that one to the surface."""
    rating = component.rating
    if rating is None:
        return Reason(MarginCode.UNRATED, "no row of the parts table names it: add one with limit_c")
    row = next((row for row in rating.rows if row.limit_at == "junction" and row.limit_c is not None), rating)
    resistance = "psi_jt_k_per_w" if limit is None or limit.spot == "top" else "theta_jc_k_per_w"
    missing = [name for name in (resistance, "power_w") if getattr(row, name) is None]
    if limit is None or not missing:
        return Reason(MarginCode.UNRATED, f"line {rating.line} of the parts table gives it no limit_c")
    what = "its limit is for the junction" if limit.rating_c is not None else f"{limit.source} limits its junction"
    without = f"line {row.line} of the parts table gives no {' and no '.join(missing)}"
    where = "surface" if limit.spot == "top" else "case, where the contact is,"
    text = f"{what}, and {without} to carry it to the {where}".rstrip(",")
    if limit.spot == "top" and row.theta_jc_k_per_w is not None:
        text += "; its theta_jc_k_per_w holds from a contact reading at its case or tab (column at)"
    return Reason(MarginCode.JUNCTION_UNKNOWN, text)


def _under_policy(
    component: Component,
    rows: list[Rating],
    held: list[tuple[Rating, SurfaceLimit]],
    policy: Policy,
    seen: frozenset[Spot],
) -> tuple[list[SurfaceLimit], list[Reason], list[Reason]]:
    """The limits with the policy's rule applied to them or added; what it forbids; what it leaves open."""
    found: list[SurfaceLimit] = []
    broken: dict[Reason, None] = {}
    uncovered: dict[Reason, None] = {}
    ceilings: dict[str, list[SurfaceLimit]] = {}
    load_rule, covered = policy.load_rule(component.kind), False
    for row in rows:
        assert row.limit_c is not None
        limits = [limit for other, limit in held if other is row]
        rule = policy.temperature_rule(component.kind, row.limit_c)
        if rule is None:
            found += limits
            continue
        covered = True
        place = f"{policy.name}, {rule.clause}" if rule.clause else policy.name
        allowed_c = rule.allowed_c(row.limit_c)
        if allowed_c is None:
            broken[Reason(MarginCode.NOT_ALLOWED, f"{place} does not allow this kind of part")] = None
        elif rule.at == row.limit_at:
            limits = [_derated(limit, row, allowed_c, rule, place, policy.name) for limit in limits]
        elif rule.relative and rule.at != "surface":
            text = f"{place} derates a limit for the {rule.at}, and the parts table gives one for the {row.limit_at}"
            uncovered[Reason(MarginCode.NOT_CHECKED, text)] = None
        elif all(other.limit_at != rule.at for other in rows):
            ceilings.setdefault(rule.at, _ceilings(component, row, allowed_c, rule, place, seen))
        found += limits
    if not rows:
        found, broken = _without_rating(component, policy)
    elif not covered and load_rule is None:
        text = f"{policy.name} has no rule for this kind of part: it is not rated under that policy"
        uncovered[Reason(MarginCode.NO_RULE, text)] = None
    if load_rule is not None and not loads_known(component):
        what = "current" if component.kind == "fuse" else "power"
        names = "current_a and rated_current_a" if component.kind == "fuse" else "power_w and rated_power_w"
        text = f"{policy.name}, {load_rule.clause} limits its {what}, and the parts table gives no {names}"
        uncovered[Reason(MarginCode.NOT_CHECKED, text)] = None
    return [*found, *(limit for more in ceilings.values() for limit in more)], list(broken), list(uncovered)


def _without_rating(component: Component, policy: Policy) -> tuple[list[SurfaceLimit], dict[Reason, None]]:
    """What a policy can still say of a part that nobody rated: a ceiling may be broken, never kept."""
    rule = policy.temperature_rule(component.kind, float("nan"))
    if rule is None or rule.relative:
        return [], {}
    place = f"{policy.name}, {rule.clause}" if rule.clause else policy.name
    allowed_c = rule.allowed_c(float("nan"))
    if allowed_c is None:
        return [], {Reason(MarginCode.NOT_ALLOWED, f"{place} does not allow this kind of part"): None}
    return [SurfaceLimit(allowed_c, None, allowed_c, rule.at, (), place, place, only_breaks=True)], {}


def _derated(
    limit: SurfaceLimit, row: Rating, allowed_c: float, rule: Rule, place: str, policy_name: str
) -> SurfaceLimit:
    """A limit with the policy's figure for the same place beside it; the lower counts."""
    assert row.limit_c is not None
    why = limit.why
    if rule.hidden_k and row.limit_at == "surface":
        text = f"{place} allows {allowed_c:g} °C at its hot spot, taken as {rule.hidden_k:g} K above the surface"
        why = (*why, Reason(MarginCode.INSIDE_HOTTER, text))
        allowed_c -= rule.hidden_k
    derated_c = allowed_c - (row.limit_c - limit.limit_c)  # the same way down from the junction
    clause = f", {rule.clause}" if rule.clause else ""
    return replace(
        limit,
        limit_c=min(limit.limit_c, derated_c),
        derated_c=derated_c,
        source=f"{limit.source}, derated by {policy_name}{clause}",
        policy=f"{policy_name}{clause}",
        why=why,
    )


def _ceilings(
    component: Component, row: Rating, allowed_c: float, rule: Rule, place: str, seen: frozenset[Spot]
) -> list[SurfaceLimit]:
    """A policy's figure for another place than the rating's: a limit of its own."""
    if rule.at != "junction":
        why = (AMBIENT,) if rule.at == "ambient" else ()
        return [SurfaceLimit(allowed_c - rule.hidden_k, None, allowed_c, rule.at, (), place, place, why=why)]
    limits = junction_limits(
        component.refdes, row, SurfaceLimit(allowed_c, None, allowed_c, "junction", (), place, place), seen
    )
    text = f"{place} allows its junction {allowed_c:g} °C; without psi_jt_k_per_w and power_w only its surface shows"
    why = (Reason(MarginCode.JUNCTION_UNKNOWN, text),)
    return [replace(limit, why=why) if limit.only_breaks else limit for limit in limits]
