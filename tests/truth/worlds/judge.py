"""Lays what the library says of a job folder beside its truth, and beside the plain way."""

from __future__ import annotations

import csv
import json
import re
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from overlay.errors import InputError
from overlay.job.analyse import analyse
from overlay.job.analysis import Analysis, Job
from overlay.job.read import read_job
from overlay.reading.model import Reading
from tests.truth.worlds.plain import plain_readings, ranked

HOTTEST = 5
AMONG_FIRST = 10
READ = ("read", "small")
MOST_U_K = 50.0
_CALL = "a_careful_expert_would_call_it"


@dataclass(frozen=True, slots=True)
class PartOutcome:
    """One part: what a careful expert would call it, the truth, the reading, the plain one."""

    world: str
    refdes: str
    call: str  # readable, partial, hidden, shiny, clipped
    px: float
    true_c: float
    true_verdict: str
    state: str
    peak_c: float | None
    u_c: float | None
    plain_c: float | None
    verdict: str
    absurd: str  # why the reading cannot be, "" where it can

    @property
    def is_read(self) -> bool:
        return self.state in READ and self.peak_c is not None

    @property
    def error_k(self) -> float:
        return np.nan if self.peak_c is None else self.peak_c - self.true_c

    @property
    def plain_error_k(self) -> float:
        return np.nan if self.plain_c is None else self.plain_c - self.true_c


@dataclass(frozen=True, slots=True)
class Outcome:
    """One job folder."""

    world: str
    parts: tuple[PartOutcome, ...]
    sources: tuple[str, ...]  # the hottest true ones in sight, hottest first
    named: int  # of these, first candidates of one of the first hot spots
    plain_named: int
    refuse: bool  # nothing of it may be read
    seconds: float
    error: str  # of the job, "" where it was read


def judge(folder: Path, world: str | None = None) -> Outcome:
    """Analyse one folder that has a truth.csv beside its job."""
    name = world or folder.name
    job = read_job(folder)
    rows = truth_rows(folder)
    sources, refuse = _facts(folder)
    start, error = time.perf_counter(), ""
    analysis: Analysis | None = None
    try:
        analysis = analyse(job)
    except InputError as problem:
        error = str(problem)
    seconds = time.perf_counter() - start
    plain = plain_readings(job)
    first_names: list[str | None] = []
    if analysis is not None:
        first_names = [spot.candidates[0].refdes for spot in analysis.captures[0].reading.hot_spots[:AMONG_FIRST]]
    return Outcome(
        world=name,
        parts=tuple(_part(name, job, row, analysis, plain) for row in rows),
        sources=sources,
        named=len(set(sources) & set(first_names)),
        plain_named=len(set(sources) & set(ranked(plain)[:AMONG_FIRST])),
        refuse=refuse,
        seconds=seconds,
        error=error,
    )


def truth_rows(folder: Path) -> list[dict[str, str]]:
    """Rows of a folder's truth.csv."""
    with (folder / "truth.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def _facts(folder: Path) -> tuple[tuple[str, ...], bool]:
    """The hottest true sources in sight, and whether the job must be refused."""
    if (folder / "truth.json").is_file():
        facts = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
        return tuple(facts["sources"][:HOTTEST]), bool(facts["refuse"])
    readme = folder / "README.md"
    found = re.search(r"hottest true sources in sight: ([^.]*)\.", readme.read_text(encoding="utf-8"))
    return (tuple(found.group(1).replace(" ", "").split(",")) if found else ()), False


def _part(name: str, job: Job, row: dict[str, str], analysis: Analysis | None, plain: dict[str, float]) -> PartOutcome:
    refdes = row["refdes"]
    reading = None
    verdict = ""
    if analysis is not None:
        reading = next((r for r in analysis.captures[0].reading.readings if r.refdes == refdes), None)
        verdict = next((m.verdict for m in analysis.margins if m.refdes == refdes), "")
    return PartOutcome(
        world=name,
        refdes=refdes,
        call=row[_CALL],
        px=float(row["short_side_px"]),
        true_c=float(row["peak_c"]),
        true_verdict=row["true_verdict"],
        state="" if reading is None else reading.state,
        peak_c=None if reading is None else reading.peak_c,
        u_c=None if reading is None else reading.u_c,
        plain_c=plain.get(refdes),
        verdict=verdict,
        absurd="" if analysis is None or reading is None else _absurd(analysis, reading, _place_of(job, row)),
    )


@dataclass(frozen=True, slots=True)
class _Place:
    center_mm: tuple[float, float]
    half_mm: tuple[float, float]
    turn_deg: float


def _place_of(job: Job, row: dict[str, str]) -> _Place | None:
    """Where the part truly is; where the truth does not say, where it is listed."""
    if "center_x_mm" in row:
        x, y, length, width, turn = (
            float(row[key]) for key in ("center_x_mm", "center_y_mm", "length_mm", "width_mm", "rotation_deg")
        )
        return _Place((x, y), (length / 2, width / 2), turn)
    part = job.board.component(row["refdes"])
    if part.body is None:
        return None
    return _Place(part.center_mm, (part.body.length_mm / 2, part.body.width_mm / 2), part.rotation_deg)


def _absurd(analysis: Analysis, reading: Reading, place: _Place | None) -> str:
    """Why a reading is one that a look at the frame refutes."""
    if reading.state not in READ or reading.peak_c is None:
        return ""
    view = analysis.captures[0].view
    if reading.peak_c < float(np.nanpercentile(view.apparent_c, 0.5)) - 1.0:
        return "colder than the coldest thing in sight"
    if reading.u_c is None or reading.u_c > MOST_U_K:
        return "an uncertainty that says nothing"
    if place is not None and reading.peak_at_mm is not None:
        dx, dy = (a - b for a, b in zip(reading.peak_at_mm, place.center_mm, strict=True))
        c, s = np.cos(np.radians(place.turn_deg)), np.sin(np.radians(place.turn_deg))
        reach = max(1.0, 1.5 * view.registration.mm_per_px)
        if abs(c * dx + s * dy) > place.half_mm[0] + reach or abs(-s * dx + c * dy) > place.half_mm[1] + reach:
            return "its peak lies off the part"
    return ""


HEADER = (
    f"{'world':<14}{'named':>9}{'plain':>6}{'read':>10}{'in 2u':>7}{'mean u':>8}{'p95':>7}{'plain':>7}"
    f"{'wild':>6}{'worse':>7}{'clear!':>8}{'over!':>7}{'absurd':>8}{'unfit':>7}{'s':>6}"
)


def line(world: str, outcomes: Sequence[Outcome]) -> str:
    """The figures of one kind of world."""
    parts = [part for outcome in outcomes for part in outcome.parts]
    seconds = float(np.median([outcome.seconds for outcome in outcomes]))
    if all(outcome.refuse for outcome in outcomes):
        judged = sum(part.verdict in ("clear", "near", "over", "undecided") for part in parts)
        kept = sum(part.is_read for part in parts)
        return f"{world:<14}must be refused: {kept} of {len(parts)} read, {judged} judged{seconds:>66.1f}"
    able = [part for part in parts if part.call == "readable"]
    some = [part for part in able if part.is_read]
    if not some:
        return f"{world:<14}nothing of {len(able)} readable parts read{seconds:>76.1f}"
    own, plain = (np.abs([getattr(part, name) for part in some]) for name in ("error_k", "plain_error_k"))
    u = np.array([part.u_c for part in some], dtype=float)
    wild, worse = int(np.sum((own > 5) & (own > 3 * u))), int(np.sum(own - plain > 3))
    named, plain_named = (sum(getattr(o, name) for o in outcomes) for name in ("named", "plain_named"))
    whole = sum(len(outcome.sources) for outcome in outcomes)
    unfit = sum(part.is_read and part.call in ("hidden", "shiny") for part in parts)
    return (
        f"{world:<14}{f'{named}/{whole}':>9}{plain_named:>6}{f'{len(some)}/{len(able)}':>10}"
        f"{100 * np.mean(own <= 2 * u):>6.0f}%{u.mean():>8.1f}{np.percentile(own, 95):>7.1f}"
        f"{np.nanpercentile(plain, 95):>7.1f}{wild:>6}{worse:>7}"
        f"{sum(map(false_clear, parts)):>8}{sum(map(false_over, parts)):>7}{sum(bool(p.absurd) for p in parts):>8}"
        f"{unfit:>7}{seconds:>6.1f}"
    )


def false_clear(part: PartOutcome) -> bool:
    """Called clear, truly over its limit."""
    return part.verdict == "clear" and part.true_verdict == "over"


def false_over(part: PartOutcome) -> bool:
    """Called over, truly within its limit."""
    return part.verdict == "over" and part.true_verdict in ("clear", "near")
