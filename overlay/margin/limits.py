"""What a part's ratings mean for what can be seen of it, before any policy."""

from __future__ import annotations

from dataclasses import replace

from overlay.board.model import Component, Rating
from overlay.margin.figures import CORE_RISE_K, current_heating
from overlay.margin.model import MarginCode, Spot, SurfaceLimit
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
HOTTER_INSIDE_K = {
    "inductor": 10.0,
    "transformer": 10.0,
    "electrolytic": CORE_RISE_K,
    "film capacitor": 5.0,
    "connector": 5.0,
}
# … there more current than rated heats what is inside by its square; a winding's allowance holds for what is seen.
_HEATED_BY_CURRENT = frozenset({"electrolytic", "film capacitor", "connector"})
_HOTTER_INSIDE_K = 10.0  # of any other kind: the largest of these
AMBIENT = Reason(
    MarginCode.AMBIENT_LIMIT,
    "its limit is for the ambient; it is held against the board around the part, which is warmer than the air: "
    "cautious, and no proof that the limit is broken",
)
_TERMINAL = Reason(
    MarginCode.TERMINAL_LIMIT,
    "its limit is for a terminal or solder point, which lies between the board around it and its own surface",
)
_CASE = Reason(
    MarginCode.AT_CASE,
    "its junction is worked out from the contact reading on its case or tab by θJC, not from the top",
)
_PLACE = Reason(
    MarginCode.PLACE_NOT_STATED,
    "limit_at is blank: taken for the surface, with room for a hotter junction; write junction, surface, ambient or "
    "terminal",
)


def limits_of(component: Component, row: Rating, seen: frozenset[Spot]) -> list[SurfaceLimit]:
    """One row's limit before any policy, for each place it can be held against."""
    assert row.limit_c is not None
    source = f"parts table, line {row.line}" + (f" ({row.limit_source})" if row.limit_source else "")
    own: Budget = (Term(TermName.LIMIT, row.limit_u_c),) if row.limit_u_c else ()
    if row.limit_at == "junction":
        return junction_limits(
            component.refdes, row, SurfaceLimit(row.limit_c, row.limit_c, None, "junction", own, source), seen
        )
    return [_limit_of(component, row, own, source)]


def _limit_of(component: Component, row: Rating, own: Budget, source: str) -> SurfaceLimit:
    assert row.limit_c is not None
    match row.limit_at:
        case "ambient":
            return SurfaceLimit(row.limit_c, row.limit_c, None, "ambient", own, source, why=(AMBIENT,))
        case "terminal":
            return SurfaceLimit(row.limit_c, row.limit_c, None, "terminal", own, source, why=(_TERMINAL,))
        case "hot spot":
            inside_k = HOTTER_INSIDE_K.get(component.kind, _HOTTER_INSIDE_K)
            if component.kind in _HEATED_BY_CURRENT:
                inside_k *= current_heating(row)
            text = f"its limit is for the hot spot inside, taken as {inside_k:g} ± {inside_k / 2:g} K above its surface"
            limit_c = row.limit_c - inside_k
            terms = (*own, Term(TermName.HIDDEN_PLACE, inside_k / 2.0))
            inside = (Reason(MarginCode.INSIDE_HOTTER, text),)
            return SurfaceLimit(limit_c, limit_c, None, "hot spot", terms, source, why=inside)
    beyond_k = CORE_RISE_K * (current_heating(row) - 1.0) if component.kind == "electrolytic" else 0.0
    if beyond_k:
        text = f"more ripple than rated heats its core by {beyond_k:.1f} ± {beyond_k / 2:.1f} K beyond its rating"
        terms = (*own, Term(TermName.HIDDEN_PLACE, beyond_k / 2.0))
        inside = (Reason(MarginCode.INSIDE_HOTTER, text),)
        return SurfaceLimit(row.limit_c - beyond_k, row.limit_c - beyond_k, None, "surface", terms, source, why=inside)
    if row.limit_at_stated or component.kind not in SEMICONDUCTORS:
        return SurfaceLimit(row.limit_c, row.limit_c, None, "surface", own, source)
    return SurfaceLimit(
        row.limit_c, row.limit_c, None, "surface", own, source, hidden_share=HIDDEN_SHARE, why=(_PLACE,)
    )


def junction_limits(refdes: str, row: Rating, at_junction: SurfaceLimit, seen: frozenset[Spot]) -> list[SurfaceLimit]:
    """A junction's limit on the top by ψJT, on the case by θJC; only to be broken where no way down is known.

    Where the case is read and θJC known, a top without ψJT adds nothing.
    """
    found: list[SurfaceLimit] = []
    for spot in ("case", "top"):
        if spot not in seen:
            continue
        drop = _junction_drop(refdes, row, spot)
        if drop is None:
            if spot == "case" or not any(not limit.only_breaks for limit in found):
                found.append(replace(at_junction, spot=spot, only_breaks=True))
            continue
        down_k, terms = drop
        found.append(
            replace(
                at_junction,
                limit_c=at_junction.limit_c - down_k,
                rating_c=None if at_junction.rating_c is None else at_junction.rating_c - down_k,
                derated_c=None if at_junction.derated_c is None else at_junction.derated_c - down_k,
                budget=(*at_junction.budget, *terms),
                spot=spot,
                why=(*at_junction.why, *_doubts_of(row, spot)),
            )
        )
    telling = [limit for limit in found if not limit.only_breaks]
    return telling or found


def _junction_drop(refdes: str, row: Rating, spot: Spot) -> tuple[float, Budget] | None:
    """How much hotter the junction is than the top or the case, and the terms of that (in projected minus limit)."""
    resistance, u = row.psi_jt_k_per_w, row.psi_u_k_per_w
    if spot == "case":
        resistance, u = row.theta_jc_k_per_w, row.theta_u_k_per_w
    power = row.power_w
    if resistance is None or power is None:
        return None
    terms = (
        Term(TermName.POWER, resistance * (row.power_u_w or 0.0), f"power:{refdes}"),
        Term(TermName.RESISTANCE, power * (u or 0.0)),
    )
    return resistance * power, tuple(term for term in terms if term.contribution_k != 0.0)


def _doubts_of(row: Rating, spot: Spot) -> tuple[Reason, ...]:
    if spot == "case":
        return (_CASE,)
    if row.psi_jt_k_per_w is None or row.psi_jt_k_per_w < DOUBTFUL_PSI_K_PER_W:
        return ()
    text = (
        f"psi_jt_k_per_w = {row.psi_jt_k_per_w:g} is high for ψJT (published ones seldom pass 20): is it RθJC, which "
        "does not belong to the top of the package? Give that as theta_jc_k_per_w with a contact on its case or tab"
    )
    return (Reason(MarginCode.RESISTANCE_DOUBTED, text),)
