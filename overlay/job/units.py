"""Several analysed units of one board."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from overlay.comparison.units import Units, compare_units
from overlay.errors import Problem, input_error, raise_errors
from overlay.job.analysis import Analysis
from overlay.job.compare import refuse_unrelated

COVERAGE = 0.95  # share of all units that a tolerance bound is for (common practice)


def units_of(analyses: Sequence[Analysis]) -> Units:
    """Set several units of one board side by side, held against the first one's requirement.

    Raises
    ------
    InputError
        For fewer than two jobs, other boards among them, requirements that differ, or one unit that stands twice.
    """
    if len(analyses) < 2:
        raise input_error("units", None, "one job is one unit", "name two or more jobs of the same board")
    first = analyses[0]
    problems = []
    for other in analyses[1:]:
        refuse_unrelated(first.job, other.job)
        if other.job.settings.requirement != first.job.settings.requirement:
            what = f"its [requirement] differs from that of {first.job.path}"
            problems.append(Problem("error", str(other.job.path), None, what, "give all units the same requirement"))
    raise_errors([*problems, *_twice(analyses)])
    confidence = first.job.settings.requirement.confidence
    return compare_units(
        unit_names(analyses), [analysis.margins for analysis in analyses], coverage=COVERAGE, confidence=confidence
    )


def _twice(analyses: Sequence[Analysis]) -> Iterator[Problem]:
    """Jobs of one unit: a serial number or a frame that stands in two. Their scatter would be none between units."""
    serials: dict[str, int] = {}
    frames: dict[str, int] = {}
    for number, analysis in enumerate(analyses):
        path, serial = str(analysis.job.path), analysis.job.settings.record.serial.strip()
        earlier = serials.setdefault(serial, number) if serial else number
        if earlier != number:
            what = f"its serial number {serial!r} is that of {analyses[earlier].job.path}"
            yield Problem("error", path, None, what, "give each unit a job of its own, with its own serial", "serial")
            continue
        shots = {capture.settings.frame for capture in analysis.captures}
        for item in analysis.inputs:
            earlier = frames.setdefault(item.sha256, number) if item.file in shots else number
            if earlier != number:
                what = f"its frame {item.file} is that of {analyses[earlier].job.path}"
                yield Problem("error", path, None, what, "a unit that was measured once is one job: leave one out")


def unit_names(analyses: Sequence[Analysis]) -> tuple[str, ...]:
    """Serial numbers of the units, else their folders; a name that stands twice gets its place in the list."""
    names = [analysis.job.settings.record.serial or analysis.job.folder.resolve().name for analysis in analyses]
    counts = Counter(names)
    return tuple(name if counts[name] == 1 else f"{name} ({i})" for i, name in enumerate(names, start=1))
