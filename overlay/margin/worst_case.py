"""Every part's worst capture, held against all that it must keep."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from overlay.board.model import Board, Component, DeratesBy
from overlay.frames.radiometry import Band
from overlay.margin.cases import Bench, Case, cases_of, complete, surface_c
from overlay.margin.demands import demands_on
from overlay.margin.derating import Policy
from overlay.margin.figures import life_of
from overlay.margin.load import Load, load_of, loads_known
from overlay.margin.load_states import at_required_load
from overlay.margin.model import (
    ONLY_TOP,
    VERDICTS,
    Conditions,
    Demands,
    Margin,
    MarginCode,
    Requirement,
    Spot,
    Verdict,
)
from overlay.margin.projection import model_terms, projected_budget, projected_c
from overlay.margin.verdict import probability_within, verdict_of
from overlay.reading.model import FrameReading, Reading
from overlay.reasons import Reason
from overlay.uncertainty import Budget, Term, TermName, combined_k


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
    bench = Bench(conditions, requirement, policy, band)
    trusted = [reading for reading in readings if reading.trusted]
    demands = demands_on(component, policy, _seen(trusted))
    bounds = [reading for reading in readings if reading.state == "saturated" and reading.u_c is not None]
    trusted += bounds
    if not trusted:
        return _without_reading(component, readings, demands)
    hottest = max(trusted, key=lambda reading: round(surface_c(reading, bench), 6))  # among equals the earlier capture
    every = tuple((reading.capture, surface_c(reading, bench)) for reading in trusted)
    seen = Margin(
        refdes=component.refdes,
        capture=hottest.capture,
        projected_c=surface_c(hottest, bench),
        limit_c=None,
        margin_c=None,
        rating_margin_c=None,
        u_c=None,
        probability_within=None,
        verdict="unrated",
        surface_c=surface_c(hottest, bench),
        rise_k=surface_c(hottest, bench) - requirement.air_c,
        every=every,
    )
    cases = [case for limit in demands.limits for case in cases_of(component, trusted, limit, bench)]
    telling = [case for case in cases if not _says_nothing(case, requirement)]
    if bounds and all(_verdict(case, requirement) != "over" for case in telling):
        # what is at least so hot can be shown to be over its limit, never to keep it
        return _without_reading(component, readings, demands)
    load = _load(component, hottest, bench)
    if not telling:
        return _unrated(component, seen, hottest, demands, load, bench)
    worst = min(telling, key=lambda case: _severity(case, requirement))  # among equals the first
    return _judged(component, seen, worst, readings, demands, load, bench)


def _seen(trusted: Sequence[Reading]) -> frozenset[Spot]:
    """Which places of a part its readings are of; its top where there are none."""
    found: set[Spot] = {"top" for reading in trusted if reading.shows_top}
    found |= {"case" for reading in trusted if reading.case is not None}
    return frozenset(found) or ONLY_TOP


def _severity(case: Case, requirement: Requirement) -> tuple[int, float, float, float]:
    """The worse the smaller. A cool but unsure capture must not hide a hotter one that keeps too little margin."""
    assert case.limit is not None
    assert case.probability is not None
    margin_c, gravity = case.limit.limit_c - case.held_c, VERDICTS.index(_verdict(case, requirement))
    # rounded, so that the noise of the last binary digits does not choose between equals
    return gravity, round(case.probability, 9), round(margin_c, 6), -round(case.held_c, 6)


def _verdict(case: Case, requirement: Requirement) -> Verdict:
    assert case.limit is not None
    assert case.probability is not None
    return verdict_of(case.limit.limit_c - case.held_c, case.probability, requirement)


def _says_nothing(case: Case, requirement: Requirement) -> bool:
    """A ceiling for the junction says something only where even the surface is above it."""
    assert case.limit is not None
    return case.limit.only_breaks and _verdict(case, requirement) != "over"


def _load(component: Component, reading: Reading, bench: Bench) -> Load | None:
    """The part's power against its derating line, at the place the line is drawn over."""
    if not loads_known(component):
        return None
    conditions, requirement = bench.conditions[reading.capture], bench.requirement
    assert reading.peak_c is not None
    places: dict[DeratesBy, tuple[float, float] | None] = {
        "ambient": (requirement.air_c, requirement.enclosure_rise_u_k),
        "terminal": None,
        "surface": (
            surface_c(reading, bench),
            combined_k(projected_budget(reading.peak_c, complete(reading), conditions)),
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
    component: Component, seen: Margin, reading: Reading, demands: Demands, load: Load | None, bench: Bench
) -> Margin:
    """A part that was read and that no limit can be held against: unseen where only its board could not be read."""
    assert reading.peak_c is not None
    conditions, requirement = bench.conditions[reading.capture], bench.requirement
    terms = model_terms(component.kind, seen.rise_k or 0.0, conditions, requirement, kept=True)
    budget = (*projected_budget(reading.peak_c, complete(reading), conditions), *terms)
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
    worst: Case,
    readings: Iterable[Reading],
    demands: Demands,
    load: Load | None,
    bench: Bench,
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
    if life_h is not None:
        margin = replace(margin, life_h=life_h)
    if load is not None:
        margin = replace(margin, load_ratio=load.ratio)
        why += load.why
        margin = _no_better(margin, load.probability_within, requirement)
    if demands.broken:
        why += demands.broken
        margin = _no_better(margin, 0.0, requirement)
    if demands.uncovered and margin.verdict in ("near", "clear"):
        why += demands.uncovered
        margin = replace(margin, verdict="unrated", limit_c=None, margin_c=None, probability_within=None)
    told = tuple(dict.fromkeys(why))
    return margin if told == margin.why else replace(margin, why=told)


def _no_better(margin: Margin, probability: float, requirement: Requirement) -> Margin:
    """The verdict of the temperature, or that of another rule where it is graver."""
    found = verdict_of(requirement.margin_c, probability, requirement)
    if found not in ("over", "undecided") or VERDICTS.index(found) >= VERDICTS.index(margin.verdict):
        return margin
    return replace(margin, verdict=found, probability_within=probability)
