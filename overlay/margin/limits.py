"""What ratings and a derating policy mean for what can be seen of a part."""

from __future__ import annotations

from dataclasses import replace

from overlay.board.model import Component, Rating
from overlay.margin.derating import Policy, Rule
from overlay.margin.model import Demands, MarginCode, SurfaceLimit
from overlay.reasons import Reason
from overlay.uncertainty import Budget, Term, TermName

# Kinds whose data sheets limit a junction: there a blank ``limit_at`` is no small matter.
SEMICONDUCTORS = frozenset({"ic", "regulator", "transistor", "diode", "led", "optocoupler", "module"})
# Junction above the top of the package, as a share of the top's rise: ψ_JT/θ_JA of published tables runs from 0.01
# (exposed pads) over 0.07 (TSSOP-14) to 0.25 (wide SOIC); half of that range as one standard uncertainty.
HIDDEN_SHARE = 0.10
# Published ψ_JT run from 0.1 to 20 K/W, once to 49; R θJC(top), which is not meant here, from 8 to 63 (TI and
# Microchip tables).
DOUBTFUL_PSI_K_PER_W = 25.0
# What a hot spot inside may be hotter than the surface. Windings: the allowance of MIL-STD-975M, App. A, p. A.14; the
# core of a can at its rated ripple, film in its box, a contact in its shell: common practice.
HOTTER_INSIDE_K = {"inductor": 10.0, "transformer": 10.0, "electrolytic": 5.0, "film capacitor": 5.0, "connector": 5.0}
_HOTTER_INSIDE_K = 10.0  # of any other kind: the largest of these
_AMBIENT = Reason(
    MarginCode.AMBIENT_LIMIT,
    "its limit is for the ambient; it is held against the board around the part, which is warmer than the air: "
    "cautious, and no proof that the limit is broken",
)
_TERMINAL = Reason(
    MarginCode.TERMINAL_LIMIT,
    "its limit is for a terminal or solder point, which lies between the board around it and its own surface",
)
_PLACE = Reason(
    MarginCode.PLACE_NOT_STATED,
    "limit_at is blank: taken for the surface, with room for a hotter junction; write junction, surface, ambient or "
    "terminal",
)


def demands_on(component: Component, policy: Policy | None) -> Demands:
    """All that a part must keep, by its rows of the parts table and by the policy.

    A policy's rule that the ratings alone cannot answer (a junction's ceiling without ψJT·P) can still be broken for
    certain: such limits come with ``only_breaks``. What no number can show to be kept is ``uncovered``.
    """
    rating = component.rating
    rows = [row for row in (() if rating is None else rating.rows) if row.limit_c is not None]
    limits = [_limit_of(component, row) for row in rows]
    broken: list[Reason] = []
    uncovered: list[Reason] = []
    if policy is not None:
        limits, broken, uncovered = _under_policy(component, rows, limits, policy)
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
    missing = [name for name in ("psi_jt_k_per_w", "power_w") if getattr(row, name) is None]
    if limit is None or not missing:
        return Reason(MarginCode.UNRATED, f"line {rating.line} of the parts table gives it no limit_c")
    what = "its limit is for the junction" if limit.rating_c is not None else f"{limit.source} limits its junction"
    without = f"line {row.line} of the parts table gives no {' and no '.join(missing)}"
    return Reason(MarginCode.UNRATED, f"{what}, and {without} to carry it to the surface")


def _limit_of(component: Component, row: Rating) -> SurfaceLimit:
    """One row's limit, before any policy."""
    assert row.limit_c is not None
    source = f"parts table, line {row.line}" + (f" ({row.limit_source})" if row.limit_source else "")
    own: Budget = (Term(TermName.LIMIT, row.limit_u_c),) if row.limit_u_c else ()
    match row.limit_at:
        case "ambient":
            return SurfaceLimit(row.limit_c, row.limit_c, None, "ambient", own, source, why=(_AMBIENT,))
        case "terminal":
            return SurfaceLimit(row.limit_c, row.limit_c, None, "terminal", own, source, why=(_TERMINAL,))
        case "hot spot":
            inside_k = HOTTER_INSIDE_K.get(component.kind, _HOTTER_INSIDE_K)
            text = f"its limit is for the hot spot inside, taken as {inside_k:g} ± {inside_k / 2:g} K above its surface"
            limit_c = row.limit_c - inside_k
            terms = (*own, Term(TermName.HIDDEN_PLACE, inside_k / 2.0))
            inside = (Reason(MarginCode.INSIDE_HOTTER, text),)
            return SurfaceLimit(limit_c, limit_c, None, "hot spot", terms, source, why=inside)
        case "junction":
            drop = _junction_drop(component.refdes, row)
            if drop is None:
                return SurfaceLimit(row.limit_c, row.limit_c, None, "junction", own, source, only_breaks=True)
            limit_c = row.limit_c - drop[0]
            why = _doubts_of(row)
            return SurfaceLimit(limit_c, limit_c, None, "junction", (*own, *drop[1]), source, why=why)
    if row.limit_at_stated or component.kind not in SEMICONDUCTORS:
        return SurfaceLimit(row.limit_c, row.limit_c, None, "surface", own, source)
    return SurfaceLimit(
        row.limit_c, row.limit_c, None, "surface", own, source, hidden_share=HIDDEN_SHARE, why=(_PLACE,)
    )


def _junction_drop(refdes: str, row: Rating) -> tuple[float, Budget] | None:
    """How much hotter the junction is than the top, and the terms of that (in projected minus limit)."""
    psi, power = row.psi_jt_k_per_w, row.power_w
    if psi is None or power is None:
        return None
    terms = (
        Term(TermName.POWER, psi * (row.power_u_w or 0.0), f"power:{refdes}"),
        Term(TermName.RESISTANCE, power * (row.psi_u_k_per_w or 0.0)),
    )
    return psi * power, tuple(term for term in terms if term.contribution_k != 0.0)


def _doubts_of(row: Rating) -> tuple[Reason, ...]:
    if row.psi_jt_k_per_w is None or row.psi_jt_k_per_w < DOUBTFUL_PSI_K_PER_W:
        return ()
    text = (
        f"psi_jt_k_per_w = {row.psi_jt_k_per_w:g} is high for ψJT (published ones seldom pass 20): is it RθJC, which "
        "does not belong to the top of the package?"
    )
    return (Reason(MarginCode.RESISTANCE_DOUBTED, text),)


def _under_policy(
    component: Component, rows: list[Rating], limits: list[SurfaceLimit], policy: Policy
) -> tuple[list[SurfaceLimit], list[Reason], list[Reason]]:
    """The limits with the policy's rule applied to them or added; what it forbids; what it leaves open."""
    found = list(limits)
    broken: dict[Reason, None] = {}
    uncovered: dict[Reason, None] = {}
    ceilings: dict[str, SurfaceLimit] = {}
    load_rule, covered = policy.load_rule(component.kind), False
    for index, row in enumerate(rows):
        assert row.limit_c is not None
        rule = policy.temperature_rule(component.kind, row.limit_c)
        if rule is None:
            continue
        covered = True
        place = f"{policy.name}, {rule.clause}" if rule.clause else policy.name
        allowed_c = rule.allowed_c(row.limit_c)
        if allowed_c is None:
            broken[Reason(MarginCode.NOT_ALLOWED, f"{place} does not allow this kind of part")] = None
        elif rule.at == row.limit_at:
            found[index] = _derated(limits[index], row, allowed_c, rule, place, policy.name)
        elif rule.relative and rule.at != "surface":
            text = f"{place} derates a limit for the {rule.at}, and the parts table gives one for the {row.limit_at}"
            uncovered[Reason(MarginCode.NOT_CHECKED, text)] = None
        elif all(other.limit_at != rule.at for other in rows):
            ceilings.setdefault(rule.at, _ceiling(component, row, allowed_c, rule, place))
    if not rows:
        found, broken = _without_rating(component, policy)
    elif not covered and load_rule is None:
        text = f"{policy.name} has no rule for this kind of part: it is not rated under that policy"
        uncovered[Reason(MarginCode.NO_RULE, text)] = None
    if load_rule is not None and not load_known(component):
        text = (
            f"{policy.name}, {load_rule.clause} limits its load, and the parts table gives no power_w and rated_power_w"
        )
        uncovered[Reason(MarginCode.NOT_CHECKED, text)] = None
    return [*found, *ceilings.values()], list(broken), list(uncovered)


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


def _ceiling(component: Component, row: Rating, allowed_c: float, rule: Rule, place: str) -> SurfaceLimit:
    """A policy's figure for another place than the rating's: a limit of its own."""
    if rule.at != "junction":
        why = (_AMBIENT,) if rule.at == "ambient" else ()
        return SurfaceLimit(allowed_c - rule.hidden_k, None, allowed_c, rule.at, (), place, place, why=why)
    drop = _junction_drop(component.refdes, row)
    if drop is None:
        text = (
            f"{place} allows its junction {allowed_c:g} °C; without psi_jt_k_per_w and power_w only its surface shows"
        )
        why = (Reason(MarginCode.JUNCTION_UNKNOWN, text),)
        return SurfaceLimit(allowed_c, None, allowed_c, "junction", (), place, place, only_breaks=True, why=why)
    return SurfaceLimit(
        allowed_c - drop[0], None, allowed_c - drop[0], "junction", drop[1], place, place, why=_doubts_of(row)
    )


def load_known(component: Component) -> bool:
    """Whether the parts table gives what a part's load is worked out from."""
    rating = component.rating
    return rating is not None and rating.power_w is not None and bool(rating.rated_power_w)
