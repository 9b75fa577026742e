"""What one capture says of one limit of a part, projected to the hottest ambient."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from overlay.board.model import Component
from overlay.frames.radiometry import Band
from overlay.margin.budget import BEAD_FREEDOM, coverage_factor, freedom_of
from overlay.margin.derating import Policy
from overlay.margin.low_emissivity import projected_distribution
from overlay.margin.model import Conditions, MarginCode, Requirement, SurfaceLimit
from overlay.margin.projection import model_terms, projected_budget, projected_c
from overlay.margin.verdict import probability_within
from overlay.reading.model import Reading
from overlay.reasons import Reason
from overlay.uncertainty import Budget, Term, TermName, combined_k

# Below this emissivity the linear budget is skewed (at 0.6 already, wrong in the tail at 0.1).
LINEAR_FROM_EMISSIVITY = 0.8
# So far from the limit both ways give 0 or 1.
_SURE_SIGMAS = 6.0


@dataclass(frozen=True, slots=True)
class Case:
    """One capture's word on one limit, projected to the hottest ambient."""

    reading: Reading
    limit: SurfaceLimit | None
    held_c: float  # what is held against the limit: the part, the board around it, the air
    budget: Budget  # of held_c minus the limit
    freedom: float
    probability: float | None  # that held_c keeps the limit; None without one
    why: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class Bench:
    """What all cases of a job share."""

    conditions: Mapping[str, Conditions]
    requirement: Requirement
    policy: Policy | None
    band: Band


def surface_c(reading: Reading, bench: Bench) -> float:
    """A part's own surface, projected to the hottest air."""
    assert reading.peak_c is not None
    return projected_c(reading.peak_c, bench.conditions[reading.capture], bench.requirement.air_c)


def cases_of(component: Component, trusted: Iterable[Reading], limit: SurfaceLimit, bench: Bench) -> list[Case]:
    """What each capture says of one limit; none where it does not show what the limit is held against."""
    found = []
    for reading in trusted:
        if limit.limit_at == "junction":
            place = _at_case(reading) if limit.spot == "case" else reading if reading.shows_top else None
            if place is not None:
                found.append(replace(_surface_case(component, place, limit, bench), reading=reading))
            continue
        case = {"ambient": _air_case, "terminal": _terminal_case}.get(limit.limit_at, _surface_case)(
            component, reading, limit, bench
        )
        if case is not None:
            found.append(case)
    return found


def _at_case(reading: Reading) -> Reading | None:
    """The reading with its case or tab in the place of its top; None without a contact there."""
    if reading.case is None:
        return None
    case, u = reading.case, combined_k(reading.case.budget)
    return replace(
        reading, state="contact", peak_c=case.temperature_c, budget=case.budget, u_c=u, leaving_radiance=None
    )


def _surface_case(component: Component, reading: Reading, limit: SurfaceLimit, bench: Bench) -> Case:
    """The part's own surface against its limit."""
    assert reading.peak_c is not None
    conditions, requirement = bench.conditions[reading.capture], bench.requirement
    held = surface_c(reading, bench)
    rise_k = held - requirement.air_c
    kept = held <= limit.limit_c
    hidden = Term(TermName.HIDDEN_PLACE, limit.hidden_share * abs(rise_k) if kept else 0.0)
    beyond = (*model_terms(component.kind, rise_k, conditions, requirement, kept=kept), *limit.budget, hidden)
    beyond = tuple(term for term in beyond if term.contribution_k != 0.0)
    own = projected_budget(reading.peak_c, complete(reading), conditions)
    budget = (*own, *beyond)
    freedom = freedom_of(budget, None if reading.state == "small" else BEAD_FREEDOM)
    probability, why = _probability(reading, conditions, limit, bench, held, budget, beyond, freedom)
    return Case(reading, limit, held, budget, freedom, probability, why)


def _air_case(component: Component, reading: Reading, limit: SurfaceLimit, bench: Bench) -> Case | None:
    """An ambient rating: the board around a part may clear it and can never break it; the air alone can."""
    conditions, requirement = bench.conditions[reading.capture], bench.requirement
    air_terms = (*limit.budget, Term(TermName.ENCLOSURE, requirement.enclosure_rise_u_k, "enclosure"))
    in_air = probability_within(limit.limit_c, requirement.air_c, combined_k(air_terms))
    if in_air <= 1.0 - requirement.confidence:
        text = f"even the air, at {requirement.air_c:.1f} °C, is above its ambient limit"
        why = (Reason(MarginCode.AIR_TOO_HOT, text),)
        return Case(reading, limit, requirement.air_c, air_terms, math.inf, in_air, why)
    if reading.ring_c is None:
        return None
    held = projected_c(reading.ring_c, conditions, requirement.air_c)
    around: Budget = (Term(TermName.BOARD_AROUND, reading.ring_u_c or 0.0),)
    rise_k = held - requirement.air_c
    kept = held <= limit.limit_c
    terms = [*projected_budget(reading.ring_c, around, conditions), *limit.budget]
    terms += model_terms("", rise_k, conditions, requirement, kept=kept)
    if not kept:
        # the air may be cooler than the board, down to the ambient: at the confidence asked for nothing is broken
        reach = max(rise_k, 0.0) / coverage_factor(requirement.confidence)
        terms.append(Term(TermName.AIR_UNKNOWN, 1.001 * reach))
    budget = tuple(terms)
    return Case(reading, limit, held, budget, math.inf, probability_within(limit.limit_c, held, combined_k(budget)))


def _terminal_case(component: Component, reading: Reading, limit: SurfaceLimit, bench: Bench) -> Case | None:
    """A terminal or solder point lies between the board around the part and its own surface: a rectangle."""
    if reading.ring_c is None or reading.peak_c is None:
        return None
    between = (reading.ring_c + reading.peak_c) / 2.0
    half_k = abs(reading.peak_c - reading.ring_c) / 2.0
    spread = Term(TermName.HIDDEN_PLACE, half_k / math.sqrt(3.0))
    own = replace(reading, peak_c=between, budget=(*complete(reading), spread), leaving_radiance=None)
    return replace(_surface_case(component, own, limit, bench), reading=reading)


def complete(reading: Reading) -> Budget:
    """The reading's budget; what its u_c holds beyond it (a contact reading without terms) as a term of its own."""
    stated = reading.u_c or 0.0
    rest = stated**2 - combined_k(reading.budget) ** 2
    if rest <= (0.01 * stated) ** 2:
        return reading.budget
    return (*reading.budget, Term(TermName.READING, math.sqrt(rest)))


def _probability(
    reading: Reading,
    conditions: Conditions,
    limit: SurfaceLimit,
    bench: Bench,
    held_c: float,
    budget: Budget,
    beyond: Budget,
    freedom: float,
) -> tuple[float, tuple[Reason, ...]]:
    """Probability that a surface keeps its limit, by the linear budget or, where emissivity is low, by draws."""
    u = combined_k(budget)
    linear = probability_within(limit.limit_c, held_c, u, freedom)
    emissivity = reading.emissivity
    if (
        reading.state == "contact"
        or emissivity is None
        or emissivity >= LINEAR_FROM_EMISSIVITY
        or reading.leaving_radiance is None
        or abs(limit.limit_c - held_c) > _SURE_SIGMAS * u
    ):
        return linear, ()
    distribution = projected_distribution(reading, conditions, beyond, bench.requirement.air_c, bench.band)
    probability = distribution.probability_up_to(limit.limit_c)
    text = f"probability by Monte Carlo, since its emissivity is only {emissivity:.2f}"
    return probability, (Reason(MarginCode.BY_MONTE_CARLO, text),)
