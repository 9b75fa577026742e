"""Every part's worst capture, held against its limit."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from overlay.board.model import Board, Component
from overlay.frames.radiometry import Band
from overlay.margin.budget import effective_freedom
from overlay.margin.derating import Policy
from overlay.margin.figures import electrolytic_life_h
from overlay.margin.limits import load_ratio, surface_limit, why_unrated
from overlay.margin.low_emissivity import projected_distribution
from overlay.margin.model import VERDICTS, Conditions, Margin, MarginCode, Requirement, SurfaceLimit
from overlay.margin.projection import projected_budget, projected_c
from overlay.margin.verdict import probability_within, verdict_of
from overlay.reading.model import FrameReading, Reading
from overlay.reasons import Reason
from overlay.uncertainty import OF_A_MODEL, Budget, Term, TermName, combined_k

# Below this emissivity the linear budget is skewed (at 0.6 already, wrong in the tail at 0.1).
LINEAR_FROM_EMISSIVITY = 0.8
# So far from the limit both ways give 0 or 1.
_SURE_SIGMAS = 6.0


# An uncertainty that is itself known to about a third has four degrees of freedom (JCGM 100:2008, G.4.2, from memory).
_MODEL_FREEDOM = 4.0


@dataclass(frozen=True, slots=True)
class _Case:
    """One capture's word on one part, projected to the hottest ambient."""

    reading: Reading
    surface_projected_c: float  # of the part itself
    held_c: float  # what is held against the limit: the part, or the board around it
    budget: Budget  # of held_c minus the limit
    probability: float | None  # that held_c keeps the limit; None without one
    why: tuple[Reason, ...] = ()


def margins(
    board: Board,
    frame_readings: Mapping[str, FrameReading],
    conditions: Mapping[str, Conditions],
    requirement: Requirement,
    policy: Policy | None,
    band: Band,
) -> tuple[Margin, ...]:
    """The margin of every component that is not mechanical, in the board's order.

    Parameters
    ----------
    frame_readings, conditions
        By the capture's name; a capture needs both.
    policy
        Derating policy, or None for the bare ratings.
    band
        The camera's band, for the propagation of distributions where emissivity is low.
    """
    by_refdes: dict[str, list[Reading]] = {}
    for frame in frame_readings.values():
        for reading in frame.readings:
            by_refdes.setdefault(reading.refdes, []).append(reading)
    return tuple(
        margin_of(component, by_refdes.get(component.refdes, ()), conditions, requirement, policy, band)
        for component in board.components
        if not component.mechanical
    )


def margin_of(
    component: Component,
    readings: Iterable[Reading],
    conditions: Mapping[str, Conditions],
    requirement: Requirement,
    policy: Policy | None,
    band: Band,
) -> Margin:
    """One part's worst case over the captures that could read it.

    The worst capture is the one with the worst verdict, among those the one least likely to keep the limit; among
    equals, and without a limit, the hottest.
    A part that no capture could read is ``unseen`` whether or not it has a limit; so is one that is hotter than the
    range of the instrument in some capture, unless what is known of it suffices for ``over``.
    """
    readings = tuple(readings)
    limit = surface_limit(component, policy)
    trusted = [reading for reading in readings if reading.trusted]
    bounds = [reading for reading in readings if reading.state == "saturated" and reading.u_c is not None]
    if not trusted and not bounds:
        return _without_reading(component, readings, limit)
    found = [_case(reading, conditions[reading.capture], limit, requirement, band) for reading in (*trusted, *bounds)]
    cases = [case for case in found if case is not None]
    every = tuple((case.reading.capture, case.held_c) for case in cases)
    if not cases:
        assert limit is not None  # a case is refused only for want of what an ambient limit is held against
        text = "the board around it could not be read in any capture"
        why = (*limit.why, Reason(MarginCode.NO_BOARD_AROUND, text))
        return _margin(component, None, limit, requirement, policy, why, every)
    worst = min(cases, key=lambda case: _severity(case, limit, requirement))
    if bounds and not _is_over(worst, requirement):
        # what is at least so hot can be shown to be over its limit, never to keep it
        return _without_reading(component, readings, limit)
    why = (*worst.why, *_left_out(readings, worst))
    return _margin(component, worst, limit, requirement, policy, why, every)


def _severity(case: _Case, limit: SurfaceLimit | None, requirement: Requirement) -> tuple[int, float, float]:
    """The worse the smaller. A cool but unsure capture must not hide a hotter one that keeps too little margin."""
    if limit is None or case.probability is None:
        return 0, 0.0, -case.held_c
    verdict = verdict_of(limit.limit_c - case.held_c, case.probability, requirement)
    return VERDICTS.index(verdict), case.probability, -case.held_c


def _is_over(case: _Case, requirement: Requirement) -> bool:
    return case.probability is not None and verdict_of(0.0, case.probability, requirement) == "over"


def _case(
    reading: Reading, conditions: Conditions, limit: SurfaceLimit | None, requirement: Requirement, band: Band
) -> _Case | None:
    assert reading.peak_c is not None
    peak_projected = projected_c(reading.peak_c, conditions, requirement.ambient_max_c)
    around = limit is not None and limit.limit_at == "ambient"
    if around:
        if reading.ring_c is None:
            return None
        held, surface = projected_c(reading.ring_c, conditions, requirement.ambient_max_c), reading.ring_c
        terms: Budget = (Term(TermName.BOARD_AROUND, reading.ring_u_c or 0.0),)
    else:
        held, surface, terms = peak_projected, reading.peak_c, _complete(reading)
    budget = (*projected_budget(surface, terms, conditions), *(limit.budget if limit is not None else ()))
    if limit is None:
        return _Case(reading, peak_projected, held, budget, None)
    probability, why = _probability(reading, conditions, limit, requirement, band, held, budget, around)
    return _Case(reading, peak_projected, held, budget, probability, why)


def _complete(reading: Reading) -> Budget:
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
    requirement: Requirement,
    band: Band,
    held_c: float,
    budget: Budget,
    around: bool,
) -> tuple[float, tuple[Reason, ...]]:
    u = combined_k(budget)
    linear = probability_within(limit.limit_c, held_c, u, _freedom(reading, budget))
    emissivity = reading.emissivity
    if (
        around
        or reading.state == "contact"
        or emissivity is None
        or emissivity >= LINEAR_FROM_EMISSIVITY
        or reading.leaving_radiance is None
        or abs(limit.limit_c - held_c) > _SURE_SIGMAS * u
    ):
        return linear, ()
    distribution = projected_distribution(reading, conditions, limit, requirement.ambient_max_c, band)
    probability = distribution.probability_up_to(limit.limit_c)
    text = f"probability by Monte Carlo, since its emissivity is only {emissivity:.2f}"
    return probability, (Reason(MarginCode.BY_MONTE_CARLO, text),)


def _left_out(readings: Iterable[Reading], worst: _Case) -> Iterable[Reason]:
    """Captures on the part's side that could not read it: a hotter state may hide there."""
    for reading in readings:
        if not reading.trusted and reading is not worst.reading and (reading.state == "shiny" or reading.visible > 0.0):
            yield Reason(
                MarginCode.OTHER_CAPTURE_FAILED,
                f'could not be read in capture "{reading.capture}" ({reading.state}); '
                f'the verdict rests on "{worst.reading.capture}"',
            )


def _without_reading(component: Component, readings: Iterable[Reading], limit: SurfaceLimit | None) -> Margin:
    reasons = list(dict.fromkeys(sentence for reading in readings for sentence in reading.why))
    if not reasons:
        reasons = [Reason(MarginCode.NO_CAPTURE, "no capture shows it")]
    if limit is None:
        reasons.append(why_unrated(component))
    return Margin(
        refdes=component.refdes,
        capture=None,
        projected_c=None,
        limit_c=None if limit is None else limit.limit_c,
        margin_c=None,
        rating_margin_c=None,
        u_c=None,
        probability_within=None,
        verdict="unseen",
        why=tuple(reasons),
    )


def _freedom(reading: Reading, budget: Budget) -> float:
    """Effective degrees of freedom of a projected temperature: few where a model of a small part rules its budget."""
    if reading.state != "small":
        return math.inf
    return effective_freedom(
        [(term.contribution_k, _MODEL_FREEDOM if term.name in OF_A_MODEL else math.inf) for term in budget]
    )


def _margin(
    component: Component,
    worst: _Case | None,
    limit: SurfaceLimit | None,
    requirement: Requirement,
    policy: Policy | None,
    why: tuple[Reason, ...],
    every: tuple[tuple[str, float], ...],
) -> Margin:
    if worst is None:
        limit_c = None if limit is None else limit.limit_c
        return Margin(component.refdes, None, None, limit_c, None, None, None, None, "unseen", why=why)
    life_h = _life_h(component, worst.surface_projected_c)
    ratio, remark = load_ratio(component, policy, _around_c(worst, requirement))
    why = (*(limit.why if limit is not None else ()), *why, *((remark,) if remark else ()))
    u_c = combined_k(worst.budget)
    if limit is None or worst.probability is None:
        why = (*why, why_unrated(component))
        return Margin(
            refdes=component.refdes,
            capture=worst.reading.capture,
            projected_c=worst.held_c,
            limit_c=None,
            margin_c=None,
            rating_margin_c=None,
            u_c=u_c,
            probability_within=None,
            verdict="unrated",
            budget=worst.budget,
            why=why,
            every=every,
            life_h=life_h,
            load_ratio=ratio,
        )
    margin_c = limit.limit_c - worst.held_c
    return Margin(
        refdes=component.refdes,
        capture=worst.reading.capture,
        projected_c=worst.held_c,
        limit_c=limit.limit_c,
        margin_c=margin_c,
        rating_margin_c=limit.rating_c - worst.held_c,
        u_c=u_c,
        probability_within=worst.probability,
        verdict=verdict_of(margin_c, worst.probability, requirement),
        budget=worst.budget,
        why=why,
        every=every,
        life_h=life_h,
        load_ratio=ratio,
    )


def _life_h(component: Component, case_c: float) -> float | None:
    rating = component.rating
    if rating is None or rating.endurance_h is None or rating.endurance_c is None:
        return None
    return electrolytic_life_h(rating.endurance_h, rating.endurance_c, case_c)


def _around_c(worst: _Case, requirement: Requirement) -> float:
    """Temperature of the board around a part at the hottest ambient, by the same rise scale; that ambient at least."""
    reading = worst.reading
    if reading.ring_c is None or reading.peak_c is None:
        return requirement.ambient_max_c
    offset = worst.surface_projected_c - reading.peak_c
    return max(requirement.ambient_max_c, reading.ring_c + offset)
