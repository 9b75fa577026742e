"""What a campaign says of each part and each unit, gathered row by row in memory that does not grow with the frames."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from overlay.arrays import Array
from overlay.campaign.model import FrameTask, Row
from overlay.uncertainty import MAD_TO_SIGMA

COURSE_BINS = 120
"""Places of a course that are kept: as many as a printed curve can show."""
ODD_Z = 3.5
"""Robust z from which a unit is called odd (Iglewicz and Hoaglin 1993, from memory)."""
_FEWEST_UNITS = 4  # a median of fewer says nothing of who is odd
_LEAST_SPREAD_K = 0.3  # robust spread of units of a process without any: what a camera leaves between two frames
_FEWEST_BINS = 8  # four before a step and four after it tell it from scatter
_CHANGE_SIGMAS = 5.0  # of the noise of single bins, over all places a step may be at: common practice for step searches
_LEAST_CHANGE_K = 1.0  # what two frames of one unchanged board may differ by at the bench (common practice)


@dataclass(frozen=True, slots=True)
class PartSummary:
    """One part over the whole campaign; ``spread_k``: standard deviation over units of their means."""

    refdes: str
    readings: int
    mean_c: float
    highest_c: float
    worst_projected_c: float
    worst_margin_c: float | None
    worst_frame: int
    worst_path: str
    worst_unit: str
    spread_k: float | None


@dataclass(frozen=True, slots=True)
class OddUnit:
    """A unit whose parts lie away from those of the others, in robust standard deviations."""

    unit: str
    state: str
    z: float
    parts: tuple[tuple[str, float], ...]  # refdes and z, the most deviating first


@dataclass(frozen=True, slots=True)
class Step:
    """A part whose course changes: by how much, and from which frame on, or by and by over all of them."""

    unit: str
    state: str
    refdes: str
    delta_k: float
    frame: int  # of a gradual change the last
    time_s: float | None
    gradual: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """Mean peaks of one part in one unit and state over the frames, nan where none was read, (bins,)."""

    unit: str
    state: str
    refdes: str
    peak_c: Array
    first_frame: Array  # (bins,) index of the first frame of each bin
    time_s: Array  # (bins,) its time, nan where none is known


@dataclass(frozen=True, slots=True, eq=False)
class CampaignSummary:
    """All that a campaign's report tells."""

    frames: int
    frames_read: int
    rows: int
    units: tuple[str, ...]
    broken: tuple[Row, ...]
    parts: tuple[PartSummary, ...]  # worst margin first
    odd_units: tuple[OddUnit, ...]
    steps: tuple[Step, ...]
    courses: tuple[Course, ...]


@dataclass(slots=True)
class _Gathered:
    """Running figures of one part in one unit and state."""

    count: int = 0
    total: float = 0.0
    sums: Array = field(default_factory=lambda: np.zeros(COURSE_BINS))
    counts: Array = field(default_factory=lambda: np.zeros(COURSE_BINS))


@dataclass(slots=True)
class _Worst:
    readings: int = 0
    total: float = 0.0
    highest_c: float = -math.inf
    row: Row | None = None


def summarise(rows: Iterable[Row], tasks: Sequence[FrameTask]) -> CampaignSummary:
    """Gather rows, in any order, into what the report tells."""
    place, first, times = _bins(tasks)
    gathered: dict[tuple[str, str, str], _Gathered] = {}
    worst: dict[str, _Worst] = {}
    broken: list[Row] = []
    seen = bytearray(len(tasks))
    count = 0
    for row in rows:
        count += 1
        if not row.refdes:
            broken.append(row)
            continue
        seen[row.frame] = 1
        if row.peak_c is None or row.reading == "shiny":
            continue
        one = gathered.setdefault((row.unit, row.state, row.refdes), _Gathered())
        one.count += 1
        one.total += row.peak_c
        one.sums[place[row.frame]] += row.peak_c
        one.counts[place[row.frame]] += 1
        _keep_worst(worst.setdefault(row.refdes, _Worst()), row)
    courses = tuple(_course(key, one, first, times) for key, one in sorted(gathered.items()))
    return CampaignSummary(
        frames=len(tasks),
        frames_read=sum(seen),
        rows=count,
        units=tuple(dict.fromkeys(task.unit for task in tasks)),
        broken=tuple(sorted(broken, key=lambda row: row.frame)),
        parts=_parts(worst, gathered),
        odd_units=_odd_units(gathered),
        steps=tuple(sorted(filter(None, map(_step, courses)), key=lambda step: (-abs(step.delta_k), step.refdes))),
        courses=courses,
    )


def _bins(tasks: Sequence[FrameTask]) -> tuple[list[int], dict[tuple[str, str], Array], dict[tuple[str, str], Array]]:
    """The bin of each frame within its unit and state, and the first frame and time of each bin."""
    series: dict[tuple[str, str], list[FrameTask]] = {}
    for task in tasks:
        series.setdefault((task.unit, task.state), []).append(task)
    place = [0] * len(tasks)
    first = {key: np.full(COURSE_BINS, -1.0) for key in series}
    times = {key: np.full(COURSE_BINS, np.nan) for key in series}
    for key, own in series.items():
        own = sorted(own, key=lambda task: (task.time_s is not None, task.time_s or 0.0, task.index))
        bins = min(COURSE_BINS, len(own))
        for i, task in enumerate(own):
            at = i * bins // len(own)
            place[task.index] = at
            if first[key][at] < 0:
                first[key][at] = task.index
                times[key][at] = np.nan if task.time_s is None else task.time_s
    return place, first, times


def _keep_worst(worst: _Worst, row: Row) -> None:
    assert row.peak_c is not None
    worst.readings += 1
    worst.total += row.peak_c
    worst.highest_c = max(worst.highest_c, row.peak_c)
    if worst.row is None or _gravity(row) > _gravity(worst.row):
        worst.row = row


def _gravity(row: Row) -> tuple[float, float, int]:
    """Least margin first, then highest projection; of two alike the earlier frame."""
    margin = math.inf if row.margin_c is None else row.margin_c
    return -margin, -math.inf if row.projected_c is None else row.projected_c, -row.frame


def _parts(worst: dict[str, _Worst], gathered: dict[tuple[str, str, str], _Gathered]) -> tuple[PartSummary, ...]:
    means: dict[tuple[str, str], list[float]] = {}  # by refdes and state: one mean a unit
    for (_unit, state, refdes), one in gathered.items():
        means.setdefault((refdes, state), []).append(one.total / one.count)
    out = []
    for refdes, high in worst.items():
        row = high.row
        assert row is not None
        spreads = [float(np.std(v, ddof=1)) for (name, _), v in means.items() if name == refdes and len(v) > 1]
        out.append(
            PartSummary(
                refdes=refdes,
                readings=high.readings,
                mean_c=high.total / high.readings,
                highest_c=high.highest_c,
                worst_projected_c=math.nan if row.projected_c is None else row.projected_c,
                worst_margin_c=row.margin_c,
                worst_frame=row.frame,
                worst_path=row.path,
                worst_unit=row.unit,
                spread_k=max(spreads, default=None),
            )
        )
    return tuple(sorted(out, key=_worst_first))


def _worst_first(part: PartSummary) -> tuple[float, float, str]:
    margin = math.inf if part.worst_margin_c is None else part.worst_margin_c
    return margin, -part.highest_c, part.refdes


def _odd_units(gathered: dict[tuple[str, str, str], _Gathered]) -> tuple[OddUnit, ...]:
    """Units whose parts lie, in the median, away from the other units' in the same state."""
    by_state: dict[str, dict[str, dict[str, float]]] = {}
    for (unit, state, refdes), one in gathered.items():
        by_state.setdefault(state, {}).setdefault(refdes, {})[unit] = one.total / one.count
    odd = []
    for state, parts in sorted(by_state.items()):
        z_of: dict[str, list[tuple[str, float]]] = {}
        for refdes, values in parts.items():
            if len(values) < _FEWEST_UNITS:
                continue
            numbers = np.array(list(values.values()))
            middle = float(np.median(numbers))
            spread = max(MAD_TO_SIGMA * float(np.median(np.abs(numbers - middle))), _LEAST_SPREAD_K)
            for unit, value in values.items():
                z_of.setdefault(unit, []).append((refdes, (value - middle) / spread))
        for unit, pairs in sorted(z_of.items()):
            z = float(np.median([value for _, value in pairs]))
            far = tuple(sorted((p for p in pairs if abs(p[1]) > ODD_Z), key=lambda p: (-abs(p[1]), p[0])))
            if abs(z) > ODD_Z or far:
                odd.append(OddUnit(unit, state, z, far))
    return tuple(sorted(odd, key=lambda item: (-abs(item.z), -len(item.parts), item.unit)))


def _course(
    key: tuple[str, str, str],
    one: _Gathered,
    first: dict[tuple[str, str], Array],
    times: dict[tuple[str, str], Array],
) -> Course:
    unit, state, refdes = key
    used = first[unit, state] >= 0
    with np.errstate(invalid="ignore", divide="ignore"):
        peaks = np.where(one.counts > 0, one.sums / one.counts, np.nan)[used]
    return Course(unit, state, refdes, peaks, first[unit, state][used], times[unit, state][used])


def _step(course: Course) -> Step | None:
    """The one step that splits a course best, if it stands out from the scatter of its neighbours.

    Where a straight line explains the course better than a step does, it is a gradual change.
    """
    good = np.flatnonzero(np.isfinite(course.peak_c))
    if len(good) < _FEWEST_BINS:
        return None
    values = course.peak_c[good]
    changes = np.diff(values)
    noise = MAD_TO_SIGMA * float(np.median(np.abs(changes - np.median(changes)))) / math.sqrt(2.0)
    counts = np.arange(1, len(values))
    before = np.cumsum(values)[:-1] / counts
    after = (values.sum() - np.cumsum(values)[:-1]) / (len(values) - counts)
    score = np.abs(after - before) * np.sqrt(counts * (len(values) - counts) / len(values))
    at = int(np.argmax(score.round(9)))
    delta = float(after[at] - before[at])
    if score[at] < _CHANGE_SIGMAS * max(noise, 1e-3) or abs(delta) < _LEAST_CHANGE_K:
        return None
    along = good - good.mean()
    slope = float(along @ values / (along @ along))
    gradual = slope**2 * float(along @ along) > float(score[at]) ** 2  # both: what they take off the squares
    bin_ = good[-1] if gradual else good[at + 1]
    time = float(course.time_s[bin_])
    return Step(
        course.unit,
        course.state,
        course.refdes,
        slope * float(np.ptp(good)) if gradual else delta,
        int(course.first_frame[bin_]),
        None if math.isnan(time) else time,
        gradual,
    )
