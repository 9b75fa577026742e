"""Two analysed jobs, part by part."""

from __future__ import annotations

from overlay.comparison.change import compare_standings
from overlay.comparison.match import UNRELATED_BELOW, likeness
from overlay.comparison.model import Comparison, Standing
from overlay.errors import input_error
from overlay.job.analyse import conditions_of
from overlay.job.analysis import Analysis, Job
from overlay.margin.model import Conditions
from overlay.reading.model import Reading
from overlay.uncertainty import Budget, Term, TermName, scaled


def compare_jobs(before: Analysis, after: Analysis) -> Comparison:
    """Compare two jobs' parts at the rise of the required load, so that ambients and load scales may differ.

    Raises
    ------
    InputError
        Where the two are not revisions or units of one board.
    """
    refuse_unrelated(before.job, after.job)
    return compare_standings(standings_of(before), standings_of(after))


def refuse_unrelated(one: Job, other: Job) -> None:
    """Raise an `InputError` where two jobs show boards that have little in common."""
    alike = likeness(one.board.parts, other.board.parts)
    if alike < UNRELATED_BELOW:
        what = f"its board has little in common with that of {one.path} ({alike:.0%} of the parts are alike)"
        raise input_error(str(other.path), None, what, "name two revisions or two units of one board")


def standings_of(analysis: Analysis) -> tuple[Standing, ...]:
    """How each part of a job stood, in the board's order."""
    conditions = {capture.name: conditions_of(capture.settings) for capture in analysis.captures}
    readings: dict[str, list[tuple[str, float, Budget]]] = {}
    by_contact: dict[str, set[str]] = {}
    for capture in analysis.captures:
        for reading in capture.reading.readings:
            if reading.trusted:
                rise = _rise(reading, conditions[capture.name])
                readings.setdefault(reading.refdes, []).append((capture.name, *rise))
                if reading.state == "contact":
                    by_contact.setdefault(reading.refdes, set()).add(capture.name)
    parts = analysis.job.board.parts
    standings = []
    for part, margin in zip(parts, analysis.margins, strict=True):
        own = tuple(readings.get(part.refdes, ()))
        worst = next((item for item in own if item[0] == margin.capture), own[0] if own else None)
        standings.append(
            Standing(
                component=part,
                margin=margin,
                capture=None if worst is None else worst[0],
                rise_k=None if worst is None else worst[1],
                budget=() if worst is None else worst[2],
                readings=own,
                by_contact=frozenset(by_contact.get(part.refdes, ())),
            )
        )
    return tuple(standings)


def _rise(reading: Reading, conditions: Conditions) -> tuple[float, Budget]:
    assert reading.peak_c is not None
    rise = reading.peak_c - conditions.ambient_c
    budget = (
        *scaled(reading.budget, conditions.rise_scale),
        Term(TermName.AMBIENT, -conditions.ambient_u_c * conditions.rise_scale, f"ambient:{conditions.capture}"),
        Term(TermName.RISE_SCALE, conditions.rise_scale_u * rise, f"rise scale:{conditions.capture}"),
    )
    return rise * conditions.rise_scale, budget
