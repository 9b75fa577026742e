"""Benchmark of names: are the hottest sources named, and do the probabilities come true?

``python -m tests.truth.naming`` from the root. Columns: of the ten hottest sources of a capture (visible, not shiny, at
least 1 px across), those that are first candidates of one of the first 20 hot spots, from 3 px on and below; of the
first ten hot spots, those that lie on a source; Brier score of all first candidates; length of the list. Below: what
was said and what came true. Places of bare board count only on boards that have none of their own to be found.
"""

from __future__ import annotations

import argparse
import itertools
import json
import tempfile
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from demo_board.simulation.kinds import KINDS as SIMULATED
from overlay.job.analyse import analyse
from overlay.job.analysis import Analysis
from overlay.job.read import read_job
from overlay.reading.model import HotSpot
from tests.truth.harvest import simulated_board
from tests.truth.worlds.folder import make_folder
from tests.truth.worlds.judge import truth_rows
from tests.truth.worlds.kinds import KINDS as FOREIGN

HOTTEST, AMONG_FIRST, FIRST_TEN = 10, 20, 10
RESOLVED_PX = 3.0
BARE_BOARD_MAY_BE_HOT = ("two sides", "trace", "strays", "cables", "relay")
_BINS = (0.0, 0.5, 0.7, 0.9, 1.0000001)


@dataclass(frozen=True, slots=True)
class Source:
    refdes: str
    peak_c: float
    px: float


@dataclass(slots=True)
class Score:
    """Sums over captures."""

    named: list[int] = field(default_factory=lambda: [0, 0])  # from 3 px on, and below
    wanted: list[int] = field(default_factory=lambda: [0, 0])
    first_ten: list[bool] = field(default_factory=list)
    said: list[tuple[float, bool]] = field(default_factory=list)
    lengths: list[int] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


def add(
    score: Score,
    board: str,
    spots: Sequence[HotSpot],
    sources: Sequence[Source],
    true: Collection[str],
    bare_may_be: bool,
) -> None:
    """Add one capture to a score: sources in sight, and all parts that truly make heat."""
    hottest = sorted(sources, key=lambda source: -source.peak_c)[:HOTTEST]
    named = {spot.candidates[0].refdes for spot in spots[:AMONG_FIRST]}
    for source in hottest:
        small = int(source.px < RESOLVED_PX)
        score.wanted[small] += 1
        score.named[small] += source.refdes in named
        if source.refdes not in named:
            score.missed.append(f"{board} {source.refdes} {source.px:.1f} px {source.peak_c:.1f} °C")
    for rank, spot in enumerate(spots, start=1):
        first = spot.candidates[0]
        if first.refdes is None and bare_may_be:
            continue
        comes_true = first.refdes in true
        if rank <= FIRST_TEN:
            score.first_ten.append(comes_true)
        score.said.append((first.probability, comes_true))
        if not comes_true:
            score.wrong.append(f"{board} #{rank} {first.refdes} said {first.probability:.2f}, {spot.rise_k:.1f} K")
    score.lengths.append(len(spots))


def brier(said: Sequence[tuple[float, bool]]) -> float:
    """Mean square of what was said less what came true."""
    return float(np.mean([(probability - came) ** 2 for probability, came in said])) if said else float("nan")


def sources_of(place: Path, capture: str) -> tuple[list[Source], set[str]]:
    """True sources in sight of a capture, of a simulated board or a foreign world; and all there are."""
    facts = json.loads((place / "truth.json").read_text(encoding="utf-8"))
    if "captures" in facts:
        rows = facts["captures"][capture]["parts"]
        fit = [row for row in rows if row["source"] and row["visible"] >= 0.5 and not row["shiny"]]
        seen = [Source(row["refdes"], row["peak_c"], row["pixels_across"]) for row in fit if row["pixels_across"] >= 1]
        return seen, {row["refdes"] for row in rows if row["source"]}
    rows = [row for row in truth_rows(place) if row["refdes"] in facts["sources"]]
    seen = [Source(row["refdes"], float(row["peak_c"]), float(row["short_side_px"])) for row in rows]
    return seen, set(facts["all_sources"])


def line(kind: str, score: Score) -> str:
    shares = [f"{named}/{wanted}" for named, wanted in zip(score.named, score.wanted, strict=True)]
    ten = f"{sum(score.first_ten)}/{len(score.first_ten)}"
    length = np.mean(score.lengths) if score.lengths else 0.0
    return f"{kind:<14}{shares[0]:>10}{shares[1]:>10}{ten:>11}{brier(score.said):>8.3f}{length:>8.1f}"


def reliability(said: Sequence[tuple[float, bool]]) -> list[str]:
    lines = []
    for low, high in itertools.pairwise(_BINS):
        some = [(probability, came) for probability, came in said if low <= probability < high]
        if some:
            mean, true = np.mean(some, axis=0)
            lines.append(f"said {low:.1f} … {min(high, 1):.1f}: {len(some):>4} spots, said {mean:.2f}, true {true:.2f}")
    return lines


def score_board(score: Score, analysis: Analysis, place: Path, kind: str) -> None:
    for capture in analysis.captures:
        seen, true = sources_of(place, capture.name)
        bare_may_be = kind in BARE_BOARD_MAY_BE_HOT
        add(score, f"{kind} {place.name}", capture.reading.hot_spots, seen, true, bare_may_be)


def main(arguments: Sequence[str] | None = None) -> None:
    usual = [*SIMULATED, *(name for name, kind in FOREIGN.items() if not kind.refuse)]
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kinds", nargs="+", choices=sorted(usual), default=usual)
    parser.add_argument("--seeds", type=int, default=2, help="boards of each kind")
    parser.add_argument("--wrong", action="store_true", help="also list what was missed and what was wrong")
    options = parser.parse_args(arguments)
    print(f"{'kind':<14}{'>= 3 px':>10}{'1-3 px':>10}{'first ten':>11}{'Brier':>8}{'length':>8}")
    whole = Score()
    for kind in options.kinds:
        score = Score()
        for seed in range(1, options.seeds + 1):
            place = board_of(kind, seed)
            analysis = analyse(read_job(place))
            for each in (score, whole):
                score_board(each, analysis, place, kind)
        print(line(kind, score), flush=True)
    print(line("all", whole))
    print("\n".join(reliability(whole.said)))
    if options.wrong:
        print("\n".join([*("missed: " + text for text in whole.missed), *("wrong: " + text for text in whole.wrong)]))


def board_of(kind: str, seed: int) -> Path:
    """The job folder of a simulated board or a foreign world, drawn when it is not there yet."""
    if kind in SIMULATED:
        return simulated_board(kind, seed)
    place = Path(tempfile.gettempdir()) / "board_overlay_worlds" / kind.replace(" ", "_") / str(seed)
    return place if (place / "truth.json").is_file() else make_folder(place, kind, seed)


if __name__ == "__main__":
    main()
