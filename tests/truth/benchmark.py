"""Benchmark of truth: how the library does on simulated boards. ``python -m tests.truth.benchmark`` from the root.

The boards come from ``demo_board/simulation``, which shares no code with the library. They are kept in the system's
folder for temporary files and made anew when the simulation changes.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from collections.abc import Callable, Sequence

import numpy as np

from demo_board.simulation.kinds import KINDS
from tests.truth.harvest import Harvest, Outcome, harvest, simulated_board

CLASSES = ((0.0, 1.0), (1.0, 1.5), (1.5, 3.0), (3.0, 6.0), (6.0, 12.0), (12.0, 1e9))
READ = ("read", "small")
LEAST_PX = 3.0  # sources from here on must be named
TALL_MM = 3.0


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    usual = [kind for kind in KINDS if kind not in ("small", "crowded")]
    parser.add_argument("--kinds", nargs="+", choices=sorted(KINDS), default=usual)
    parser.add_argument("--seeds", type=int, default=3, help="boards of each kind")
    parser.add_argument("--worst", type=int, default=0, help="also list so many of the largest errors")
    options = parser.parse_args(arguments)
    harvests: dict[str, list[Harvest]] = {}
    for kind in options.kinds:
        harvests[kind] = []
        for seed in range(1, options.seeds + 1):
            harvests[kind].append(harvest(simulated_board(kind, seed), kind))
            print(f"{kind} {seed}: {harvests[kind][-1].seconds:.2f} s", file=sys.stderr)
    outcomes = [outcome for many in harvests.values() for one in many for outcome in one.outcomes]
    print_naming(harvests)
    print_errors(outcomes)
    print_states(outcomes)
    print_verdicts(outcomes)
    if options.worst:
        print_worst(outcomes, options.worst)


def readable(outcome: Outcome) -> bool:
    """Whether there is a number to judge: it was read, and there was something to see."""
    return outcome.state in READ and outcome.error_k is not None and not outcome.shiny and not outcome.hidden


def to_be_named(outcome: Outcome) -> bool:
    """Whether it is a heat source that the frame shows well enough to be named."""
    return outcome.source and outcome.px >= LEAST_PX and not outcome.shiny and not outcome.hidden


def print_naming(harvests: dict[str, list[Harvest]]) -> None:
    print("\nHot spots: sources at least 3 px across, visible and not shiny, that are the first candidate of one;")
    print("those that touch a hotter part (in its shade) apart")
    print(f"{'kind':<12}{'named':>12}{'tall':>12}{'in the shade':>14}{'spots on non-sources':>24}{'s/board':>10}")
    totals = np.zeros((3, 2), dtype=int)
    for kind, many in harvests.items():
        sources = [o for one in many for o in one.outcomes if to_be_named(o)]
        groups = [
            [o for o in sources if not o.shaded],
            [o for o in sources if not o.shaded and o.height_mm >= TALL_MM],
            [o for o in sources if o.shaded],
        ]
        counts = [(sum(o.named_first for o in group), len(group)) for group in groups]
        totals += counts
        names = [is_source for one in many for _, is_source in one.first_names]
        cells = [f"{named} of {count}" for named, count in counts]
        seconds = float(np.median([one.seconds for one in many]))
        others = f"{names.count(False)} of {len(names)}"
        print(f"{kind:<12}{cells[0]:>12}{cells[1]:>12}{cells[2]:>14}{others:>24}{seconds:>10.2f}")
    cells = [f"{named} of {count}" for named, count in totals]
    print(f"{'all':<12}{cells[0]:>12}{cells[1]:>12}{cells[2]:>14}")


def print_errors(outcomes: Sequence[Outcome]) -> None:
    groups: list[tuple[str, Callable[[Outcome], bool]]] = []
    for low, high in CLASSES:
        label = f"{low:g}–{high:g} px" if high < 1e6 else f"over {low:g} px"
        groups.append((label, lambda o, low=low, high=high: low <= o.px < high))  # type: ignore[misc]
    groups += [("small, < 3 px", lambda o: o.px < 3), ("resolved", lambda o: o.px >= 3)]
    groups += [("hot, 1.5–3 px", lambda o: 1.5 <= o.px < 3 and (o.true_peak_c or 0) > 60)]
    groups += [(kind, lambda o, kind=kind: o.kind == kind) for kind in sorted({o.kind for o in outcomes})]  # type: ignore[misc]
    print("\nPeak temperature, K: error as read (raw), and with the camera's own simulated error taken out")
    print(f"{'':<16}{'parts':>6}{'raw med':>9}{'bias':>7}{'p95':>7}{'|own off':>9}", end="")
    print(f"{'bias':>7}{'med':>7}{'p95':>7}{'within 2u':>11}{'1u':>6}{'mean u':>8}{'mean bias':>11}")
    for label, belongs in groups:
        some = [o for o in outcomes if belongs(o) and readable(o)]
        if not some:
            continue
        raw = np.array([o.error_k for o in some], dtype=float)
        own = raw - np.array([o.camera_k for o in some])
        u = np.array([o.u_c for o in some], dtype=float)
        of_mean = np.array(
            [o.mean_c - o.true_mean_c - o.camera_k for o in some if o.mean_c is not None and o.true_mean_c is not None]
        )
        print(
            f"{label:<16}{len(some):>6}{np.median(np.abs(raw)):>9.2f}{raw.mean():>+7.2f}"
            f"{np.percentile(np.abs(raw), 95):>7.2f}{'|':>9}{own.mean():>+7.2f}{np.median(np.abs(own)):>7.2f}"
            f"{np.percentile(np.abs(own), 95):>7.2f}{100 * np.mean(np.abs(raw) <= 2 * u):>10.1f}%"
            f"{100 * np.mean(np.abs(raw) <= u):>5.0f}%{u.mean():>8.2f}{np.mean(of_mean):>+11.2f}"
        )


def print_states(outcomes: Sequence[Outcome]) -> None:
    def share(belongs: Callable[[Outcome], bool], states: Sequence[str]) -> str:
        some = [o for o in outcomes if belongs(o)]
        return f"{sum(o.state in states for o in some)} of {len(some)}"

    print("\nStates")
    print("shiny parts taken as read:     ", share(lambda o: o.shiny and not o.hidden, READ))
    print("hidden parts taken as read:    ", share(lambda o: o.hidden, READ))
    print("  of those under 0.4 visible:  ", share(lambda o: o.visible < 0.4, READ))
    print("readable parts not read:       ", share(lambda o: not o.shiny and o.visible > 0.6, ("shiny", "hidden")))
    with_verdict = [o for o in outcomes if o.shiny and o.verdict not in ("", "unseen")]
    print("shiny parts with a verdict:    ", len(with_verdict))


def print_verdicts(outcomes: Sequence[Outcome]) -> None:
    rated = [o for o in outcomes if o.true_margin_c is not None and o.probability_within is not None]
    print(f"\nVerdicts of {len(rated)} rated and read parts")
    for verdict in ("clear", "near", "undecided", "over"):
        some = [o for o in rated if o.verdict == verdict]
        over = sum((o.true_margin_c or 0) < 0 for o in some)
        print(f"{verdict:<10}{len(some):>6}, truly over: {over}")
    undecided = [o for o in rated if o.verdict == "undecided"]
    print(f"\nWhat leaves {len(undecided)} of them ({len(undecided) / max(len(rated), 1):.1%}) undecided")
    print(f"{'term':<26}{'largest of':>11}{'decided without it':>20}")
    names = {o.largest for o in undecided} | {name for o in undecided for name in o.settled_without}
    rows = [
        (sum(name in o.settled_without for o in undecided), sum(name == o.largest for o in undecided), name)
        for name in names
    ]
    for without, first, name in sorted(rows, key=lambda row: (-row[0], -row[1], row[2])):
        print(f"{name:<26}{first:>11}{without:>20}")
    print("\nProbability of keeping the limit: said, and how many truly do")
    edges = (0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 0.99, 1.0000001)
    for low, high in itertools.pairwise(edges):
        some = [o for o in rated if low <= (o.probability_within or 0) < high]
        if some:
            said = np.mean([o.probability_within for o in some])
            kept = np.mean([(o.true_margin_c or 0) >= 0 for o in some])
            print(f"{low:>5.2f} … {min(high, 1):<5.2f} {len(some):>5} parts: said {said:.3f}, kept {kept:.3f}")


def print_worst(outcomes: Sequence[Outcome], count: int) -> None:
    print("\nLargest errors, the camera's own taken out")
    some = sorted((o for o in outcomes if readable(o)), key=lambda o: -abs((o.error_k or 0) - o.camera_k))
    for o in some[:count]:
        own = (o.error_k or 0) - o.camera_k
        print(
            f"{o.board:<14}{o.refdes:<6}{o.state:<6}{o.px:>6.1f} px{o.height_mm:>5.1f} mm  visible {o.visible:.2f}  "
            f"true {o.true_peak_c:.1f}  read {o.peak_c:.1f}  own error {own:+.2f}  u {o.u_c:.2f}"
        )
    for o in outcomes:
        if to_be_named(o) and not o.named_first:
            where = "in the shade" if o.shaded else ""
            print(
                f"not named: {o.board} {o.refdes} {o.px:.1f} px, {o.height_mm:.1f} mm, {o.true_peak_c:.1f} °C {where}"
            )
    for o in outcomes:
        if o.verdict == "clear" and (o.true_margin_c or 0) < 0:
            print(f"false clear: {o.board} {o.refdes} true margin {o.true_margin_c:.2f}, P {o.probability_within:.3f}")


if __name__ == "__main__":
    main()
