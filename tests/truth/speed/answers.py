"""A small table of readings that a gain of speed must not change."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from pathlib import Path

from overlay.job.analysis import Analysis
from tests.truth.harvest import DIGEST

TABLE = Path(__file__).parent / "answers.csv"
TOLERANCE_K = 0.02
_COLUMNS = ("job", "capture", "refdes", "state", "peak_c", "u_c")
_EVERY = {"crowded": 6}  # of a large board so many parts apart

Key = tuple[str, str, str]
Answer = tuple[str, float | None, float | None]  # state, peak, standard uncertainty


def answers_of(analyses: Mapping[str, Analysis]) -> dict[Key, Answer]:
    """State, peak and uncertainty of the parts that are kept, by job, capture and designator."""
    return {
        (job, capture.name, reading.refdes): (str(reading.state), reading.peak_c, reading.u_c)
        for job, analysis in analyses.items()
        for capture in analysis.captures
        for reading in capture.reading.readings[:: _EVERY.get(job, 1)]
    }


def accept(found: Mapping[Key, Answer]) -> None:
    """Write the table anew."""
    with TABLE.open("w", encoding="utf-8", newline="") as stream:
        stream.write(f"# simulated boards of {DIGEST[:12]}\n")
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(_COLUMNS)
        writer.writerows([*key, state, _text(peak_c), _text(u_c)] for key, (state, peak_c, u_c) in found.items())


def differences(found: Mapping[Key, Answer]) -> list[str]:
    """What is not as the table has it, a line each; none where all is."""
    with TABLE.open(encoding="utf-8", newline="") as stream:
        if DIGEST[:12] not in stream.readline():
            return ["the simulation draws other boards than those of the table: look at the readings, then accept them"]
        known = {(row["job"], row["capture"], row["refdes"]): row for row in csv.DictReader(stream)}
    said = [f"{' '.join(key)}: only in one of both" for key in known.keys() ^ found.keys()]
    for key in known.keys() & found.keys():
        state, *values = found[key]
        row = known[key]
        before = [float(row[name]) if row[name] else None for name in ("peak_c", "u_c")]
        if state != row["state"] or any(_apart(a, b) for a, b in zip(values, before, strict=True)):
            said.append(f"{' '.join(key)}: {state} {values}, was {row['state']} {before}")
    return sorted(said)


def _apart(one: float | None, other: float | None) -> bool:
    return (one is None) != (other is None) or (
        one is not None and other is not None and abs(one - other) > TOLERANCE_K
    )


def _text(value: float | None) -> str:
    return "" if value is None else f"{value:.4f}"
