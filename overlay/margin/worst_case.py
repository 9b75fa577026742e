"""Every part's worst capture, held against all that it must keep."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from overlay.board.model import Board, Component, DeratesBy
from overlay.frames.radiometry import Band
from overlay.margin.budget import coverage_factor, freedom_of
from overlay.margin.derating import Policy
from overlay.margin.figures import life_of
from overlay.margin.limits import demands_on
from overlay.margin.load import Load, load_of
from overlay.margin.load_states import at_required_load
from overlay.margin.low_emissivity import projected_distribution
from overlay.margin.model import (
    VERDICTS,
    Conditions,
    Demands,
    Margin,
    MarginCode,
    Requirement,
    SurfaceLimit,
    Verdict,
)
from overlay.margin.projection import model_terms, projected_budget, projected_c
from overlay.margin.verdict import probability_within, verdict_of
from overlay.reading.model import FrameReading, Reading
from overlay.reasons import Reason
from overlay.uncertainty import Budget, Term, TermName, combined_k

# Below this emissivity the linear budget is skewed (at 0.6 already, wrong in the tail at 0.1).
LINEAR_FROM_EMISSIVITY = 0.8
# So far from the limit both ways give 0 or 1.
_SURE_SIGMAS = 6.0


@dataclass(frozen=True, slots=True)
class _Case:
    """One capture's word on one limit, projected to the hottest ambient."""

    reading: Reading
    limit: SurfaceLimit | None
    held_c: float  # what is held against the limit: the part, the board around it, the air
    budget: Budget  # of held_c minus the limit
    freedom: float
    probability: float | None  # that held_c keeps the limit; None without one
    why: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class _Bench:
    """What all cases of a job share."""

    conditions: Mapping[str, Conditions]
    requirement: Requirement
    policy: Policy | None
    band: Band


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
        for component in board.parts
    )


def margin_of(
    component: Component,
    readings: Iterable[Reading],
    conditions: Mapping[str, Conditions],
    requirement: Requirement,
    policy: Policy | None,
    band: Band,
) -> Margin:
    """One part's worst case over the captures that could read it, and over all that it must keep.

    The worst case is the one with the worst verdict, among those the one least likely to keep its limit; among equals
    the one of the smallest margin, then of the hotter surface, then the earlier capture and row. Several states of
    known load are first carried to the required one. A part that no capture could read is ``unseen`` whether or not it
    has a limit; so is one that is hotter than the range of the instrument in some capture, unless what is known of it
    suffices for ``over``. A broken rule is ``over`` whatever the temperature; a rule that nothing here can answer
    leaves the part ``unrated``, unless it is over or undecided already.
    """
    readings, conditions = at_required_load(tuple(readings), conditions)
    bench = _Bench(conditions, requirement, policy, band)
    demands = demands_on(component, policy)
    trusted = [reading for reading in readings if reading.trusted]
    bounds = [reading for reading in readings if reading.state == "saturated" and reading.u_c is not None]
    trusted += bounds
    if not trusted:
        return _without_reading(component, readings, demands)
    hottest = max(trusted, key=lambda reading: round(_surface_c(reading, bench), 6))  # among equals the earlier capture
    every = tuple((reading.capture, _surface_c(reading, bench)) for reading in trusted)
    seen = Margin(
        refdes=component.refdes,
        capture=hottest.capture,
        projected_c=_surface_c(hottest, bench),
        limit_c=None,
        margin_c=None,
        rating_margin_c=None,
        u_c=None,
        probability_within=None,
        verdict="unrated",
        surface_c=_surface_c(hottest, bench),
        rise_k=_surface_c(hottest, bench) - requirement.air_c,
        every=every,
    )
    cases = [case for limit in demands.limits for case in _cases(component, trusted, limit, bench)]
    telling = [case for case in cases if not _says_nothing(case, requirement)]
    if bounds and all(_verdict(case, requirement) != "over" for case in telling):
        # what is at least so hot can be shown to be over its limit, never to keep it
        return _without_reading(component, readings, demands)
    load = _load(component, hottest, bench)
    if not telling:
        return _unrated(component, seen, hottest, demands, load, bench)
    worst = min(telling, key=lambda case: _severity(case, requirement))  # among equals the first
    return _judged(component, seen, worst, readings, demands, load, bench)


def _surface_c(reading: Reading, bench: _Bench) -> float:
    assert reading.peak_c is not None
    return projected_c(reading.peak_c, bench.conditions[reading.capture], bench.requirement.air_c)


def _severity(case: _Case, requirement: Requirement) -> tuple[int, float, float, float]:
    """The worse the smaller. A cool but unsure capture must not hide a hotter one that keeps too little margin."""
    assert case.limit is not None
    assert case.probability is not None
    margin_c, gravity = case.limit.limit_c - case.held_c, VERDICTS.index(_verdict(case, requirement))
    # rounded, so that the noise of the last binary digits does not choose between equals
    return gravity, round(case.probability, 9), round(margin_c, 6), -round(case.held_c, 6)


def _verdict(case: _Case, requirement: Requirement) -> Verdict:
    assert case.limit is not None
    assert case.probability is not None
    return verdict_of(case.limit.limit_c - case.held_c, case.probability, requirement)


def _says_nothing(case: _Case, requirement: Requirement) -> bool:
    """A ceiling for the junction says something only where even the surface is above it."""
    assert case.limit is not None
    return case.limit.only_breaks and _verdict(case, requirement) != "over"


def _cases(component: Component, trusted: Iterable[Reading], limit: SurfaceLimit, bench: _Bench) -> list[_Case]:
    """What each capture says of one limit; none where it does not show what the limit is held against."""
    found = []
    for reading in trusted:
        case = {"ambient": _air_case, "terminal": _terminal_case}.get(limit.limit_at, _surface_case)(
            component, reading, limit, bench
        )
        if case is not None:
            found.append(case)
    return found


def _surface_case(component: Component, reading: Reading, limit: SurfaceLimit, bench: _Bench) -> _Case:
    """The part's own surface against its limit."""
    assert reading.peak_c is not None
    conditions, requirement = bench.conditions[reading.capture], bench.requirement
    held = _surface_c(reading, bench)
    rise_k = held - requirement.air_c
    kept = held <= limit.limit_c
    hidden = Term(TermName.HIDDEN_PLACE, limit.hidden_share * abs(rise_k) if kept else 0.0)
    beyond = (*model_terms(component.kind, rise_k, conditions, requirement, kept=kept), *limit.budget, hidden)
    beyond = tuple(term for term in beyond if term.contribution_k != 0.0)
    own = projected_budget(reading.peak_c, _complete(reading), conditions)
    budget = (*own, *beyond)
    freedom = freedom_of(budget) if reading.state == "small" else math.inf
    probability, why = _probability(reading, conditions, limit, bench, held, budget, beyond, freedom)
    return _Case(reading, limit, held, budget, freedom, probability, why)


def _air_case(component: Component, reading: Reading, limit: SurfaceLimit, bench: _Bench) -> _Case | None:
    """An ambient rating: the board around a part may clear it and can never break it; the air alone can."""
    conditions, requirement = bench.conditions[reading.capture], bench.requirement
    air_terms = (*limit.budget, Term(TermName.ENCLOSURE, requirement.enclosure_rise_u_k, "enclosure"))
    in_air = probability_within(limit.limit_c, requirement.air_c, combined_k(air_terms))
    if in_air <= 1.0 - requirement.confidence:
        text = f"even the air, at {requirement.air_c:.1f} °C, is above its ambient limit"
        why = (Reason(MarginCode.AIR_TOO_HOT, text),)
        return _Case(reading, limit, requirement.air_c, air_terms, math.inf, in_air, why)
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
    return _Case(reading, limit, held, budget, math.inf, probability_within(limit.limit_c, held, combined_k(budget)))


def _terminal_case(component: Component, reading: Reading, limit: SurfaceLimit, bench: _Bench) -> _Case | None:
    """A terminal or solder point lies between the board around the part and its own surface: a rectangle."""
    if reading.ring_c is None or reading.peak_c is None:
        return None
    between = (reading.ring_c + reading.peak_c) / 2.0
    half_k = abs(reading.peak_c - reading.ring_c) / 2.0
    spread = Term(TermName.HIDDEN_PLACE, half_k / math.sqrt(3.0))
    own = replace(reading, peak_c=between, budget=(*_complete(reading), spread), leaving_radiance=None)
    return replace(_surface_case(component, own, limit, bench), reading=reading)


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
    bench: _Bench,
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


def _load(component: Component, reading: Reading, bench: _Bench) -> Load | None:
    """The part's power against its derating line, at the place the line is drawn over."""
    conditions, requirement = bench.conditions[reading.capture], bench.requirement
    assert reading.peak_c is not None
    places: dict[DeratesBy, tuple[float, float] | None] = {
        "ambient": (requirement.air_c, requirement.enclosure_rise_u_k),
        "terminal": None,
        "surface": (
            _surface_c(reading, bench),
            combined_k(projected_budget(reading.peak_c, _complete(reading), conditions)),
        ),
    }
    if reading.ring_c is not None:
        around: Budget = (Term(TermName.BOARD_AROUND, reading.ring_u_c or 0.0),)
        u = combined_k(projected_budget(reading.ring_c, around, conditions))
        places["terminal"] = (projected_c(reading.ring_c, conditions, requirement.air_c), u)
    return load_of(component, bench.policy, places)


def _left_out(readings: Iterable[Reading], worst: Reading) -> Iterable[Reason]:
    """Captures on the part's side that could not read it: a hotter state may hide there."""
    for reading in readings:
        if not reading.trusted and reading is not worst and (reading.state == "shiny" or reading.visible > 0.0):
            yield Reason(
                MarginCode.OTHER_CAPTURE_FAILED,
                f'could not be read in capture "{reading.capture}" ({reading.state}); '
                f'the verdict rests on "{worst.capture}"',
            )


def _without_reading(component: Component, readings: Iterable[Reading], demands: Demands) -> Margin:
    reasons = list(dict.fromkeys(reason for reading in readings for reason in reading.why))
    if not reasons:
        reasons = [Reason(MarginCode.NO_CAPTURE, "no capture shows it")]
    limit = next(iter(demands.limits), None)
    reasons += [*demands.broken, *demands.uncovered]
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
        limit_at=None if limit is None else limit.limit_at,
        limit_source="" if limit is None else limit.source,
        why=tuple(dict.fromkeys(reasons)),
    )


def _unrated(
    component: Component, seen: Margin, reading: Reading, demands: Demands, load: Load | None, bench: _Bench
) -> Margin:
    """A part that was read and that no limit can be held against: unseen where only its board could not be read."""
    assert reading.peak_c is not None
    conditions, requirement = bench.conditions[reading.capture], bench.requirement
    terms = model_terms(component.kind, seen.rise_k or 0.0, conditions, requirement, kept=True)
    budget = (*projected_budget(reading.peak_c, _complete(reading), conditions), *terms)
    blind = [limit for limit in demands.limits if not limit.only_breaks]
    why = [*(reason for limit in demands.limits for reason in limit.why)]
    verdict: Verdict = "unrated"
    if blind:
        verdict = "unseen"
        why.append(Reason(MarginCode.NO_BOARD_AROUND, "the board around it could not be read in any capture"))
    why += demands.uncovered
    margin = replace(seen, u_c=combined_k(budget), budget=budget, verdict=verdict, why=tuple(dict.fromkeys(why)))
    if blind:
        margin = replace(margin, projected_c=None, u_c=None, budget=(), capture=None, limit_c=blind[0].limit_c)
    return _with_rules(component, margin, demands, load, requirement)


def _judged(
    component: Component,
    seen: Margin,
    worst: _Case,
    readings: Iterable[Reading],
    demands: Demands,
    load: Load | None,
    bench: _Bench,
) -> Margin:
    limit = worst.limit
    assert limit is not None
    assert worst.probability is not None
    margin_c = limit.limit_c - worst.held_c
    requirement = bench.requirement
    verdict = verdict_of(margin_c, worst.probability, requirement)
    carried = (reason for reason in worst.reading.why if reason.code is MarginCode.BY_LOAD)
    why = [*limit.why, *worst.why, *carried, *_left_out(readings, worst.reading)]
    without = combined_k(tuple(term for term in worst.budget if term.name is not TermName.PROJECTION))
    if verdict == "undecided":
        bare = probability_within(limit.limit_c, worst.held_c, without, worst.freedom)
        if verdict_of(margin_c, bare, requirement) != "undecided":
            text = "the margin is thinner than the projection is sure: measure nearer to the hottest ambient"
            why.append(Reason(MarginCode.MODEL_DECIDES, text))
    if component.body is None and worst.reading.by_infrared and verdict in ("near", "clear"):
        # where it begins and ends, and whether its top is bare metal, is not known
        text = "without its body's size no limit can be shown to be kept: give its package a line in the bodies table"
        verdict = "undecided"
        why.append(Reason(MarginCode.NO_BODY, text))
    rating_c = limit.rating_c
    margin = replace(
        seen,
        capture=worst.reading.capture,
        projected_c=worst.held_c,
        limit_c=limit.limit_c,
        margin_c=margin_c,
        rating_margin_c=None if rating_c is None else rating_c - worst.held_c,
        u_c=combined_k(worst.budget),
        probability_within=worst.probability,
        verdict=verdict,
        limit_at=limit.limit_at,
        limit_source=limit.source,
        policy=limit.policy,
        freedom=worst.freedom,
        budget=worst.budget,
        why=tuple(dict.fromkeys(why)),
    )
    return _with_rules(component, margin, demands, load, requirement)


def _with_rules(
    component: Component, margin: Margin, demands: Demands, load: Load | None, requirement: Requirement
) -> Margin:
    """The margin with the rules that are not about its temperature: kind, load, coverage; and its life."""
    life_h, remark = life_of(component.rating, margin.surface_c)
    why = [*margin.why, *((remark,) if remark is not None else ())]
    margin = replace(margin, life_h=life_h, load_ratio=None if load is None else load.ratio)
    if load is not None:
        why += load.why
        margin = _no_better(margin, load.probability_within, requirement)
    if demands.broken:
        why += demands.broken
        margin = _no_better(margin, 0.0, requirement)
    if demands.uncovered and margin.verdict in ("near", "clear"):
        why += demands.uncovered
        margin = replace(margin, verdict="unrated", limit_c=None, margin_c=None, probability_within=None)
    return replace(margin, why=tuple(dict.fromkeys(why)))


def _no_better(margin: Margin, probability: float, requirement: Requirement) -> Margin:
    """The verdict of the temperature, or that of another rule where it is graver."""
    found = verdict_of(requirement.margin_c, probability, requirement)
    if found not in ("over", "undecided") or VERDICTS.index(found) >= VERDICTS.index(margin.verdict):
        return margin
    return replace(margin, verdict=found, probability_within=probability)
