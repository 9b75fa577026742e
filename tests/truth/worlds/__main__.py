"""Benchmark of foreign worlds: ``python -m tests.truth.worlds`` from the root.

Columns: the hottest five true sources in sight that are first candidates of one of the first ten hot spots, and those
that are among the ten hottest of the plain way; readable parts read; errors of those within 2u; mean u; 95th percentile
of their error and of the plain way's; wild: off by more than 5 K and 3u; worse: by more than 3 K than the plain way;
false ``clear`` and false ``over``; absurd readings; hidden or shiny parts read; seconds a board.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.truth.worlds.folder import make_folder
from tests.truth.worlds.judge import HEADER, Outcome, PartOutcome, false_clear, false_over, judge, line
from tests.truth.worlds.kinds import KINDS


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kinds", nargs="*", choices=sorted(KINDS), default=list(KINDS))
    parser.add_argument("--seeds", type=int, default=2, help="worlds of each kind")
    parser.add_argument("--jobs", nargs="+", type=Path, default=[], help="job folders with truth.csv, instead of kinds")
    parser.add_argument("--keep", type=Path, help="keep the drawn job folders here, and use those that are there")
    parser.add_argument("--worst", action="store_true", help="also list what is wild, worse, absurd or falsely judged")
    options = parser.parse_args(arguments)
    print(HEADER)
    everything: list[Outcome] = []
    for folder in options.jobs:
        everything.append(judge(folder))
        print(line(folder.name, everything[-1:]), flush=True)
    for kind in [] if options.jobs else options.kinds:
        outcomes = [drawn_and_judged(kind, seed, options.keep) for seed in range(1, options.seeds + 1)]
        print(line(kind, outcomes), flush=True)
        everything += outcomes
    sound = [outcome for outcome in everything if not outcome.refuse]
    if len(sound) > 1:
        print(line("all", sound))
    if options.worst:
        print_worst(everything)


def drawn_and_judged(kind: str, seed: int, keep: Path | None) -> Outcome:
    """Draw one world and judge it."""
    name = f"{kind} {seed}"
    if keep is not None:
        place = keep / kind.replace(" ", "_") / str(seed)
        return judge(place if (place / "truth.json").is_file() else make_folder(place, kind, seed), name)
    with tempfile.TemporaryDirectory() as folder:
        return judge(make_folder(Path(folder), kind, seed), name)


def print_worst(outcomes: Sequence[Outcome]) -> None:
    for outcome in outcomes:
        if outcome.error:
            print(f"{outcome.world}: refused: {outcome.error}")
        for part in outcome.parts if not outcome.refuse else ():
            faults = _faults(part)
            if faults:
                read = "–" if part.peak_c is None else f"{part.peak_c:.1f} ± {part.u_c or 0.0:.1f}"
                plain = "–" if part.plain_c is None else f"{part.plain_c:.1f}"
                print(
                    f"{outcome.world:<16}{part.refdes:<6}{part.call:<9}{part.px:>5.1f} px  true {part.true_c:.1f}  "
                    f"{part.state} {read}  plain {plain}  {part.verdict} ({part.true_verdict}): {', '.join(faults)}"
                )


def _faults(part: PartOutcome) -> list[str]:
    faults = [part.absurd] if part.absurd else []
    if part.is_read and part.call == "readable":
        error, u = abs(part.error_k), part.u_c or 0.0
        faults += ["wild"] * (error > 5 and error > 3 * u)
        faults += ["worse than the plain way"] * (error - abs(part.plain_error_k) > 3)
    faults += ["read"] * (part.is_read and part.call in ("hidden", "shiny"))
    faults += ["false clear"] * false_clear(part) + ["false over"] * false_over(part)
    return faults


if __name__ == "__main__":
    main()
