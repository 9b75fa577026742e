"""Which control point is wrong: each left out in turn, and each pair exchanged."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from overlay.registration.least_squares import Goodness, Sightings
from overlay.registration.tails import chi2_tail, f_tail

SUSPICIOUS_P = 0.01
"""Chance of a false alarm for a whole set of points (Bonferroni)."""
LEFT_OUT_SIGMA = 8.0
"""Left-out residual over its standard uncertainty beyond which a point is clearly wrong."""
LEFT_OUT_REST = 4
"""Points that must remain, and agree, for the wrong one to be left out of the fit."""
CONSISTENT = 4.0
"""Scatter found over scatter stated, squared, up to which points agree with each other."""
CLEARLY = 12.0
"""How much better in chi-square the best explanation must be than the next."""
_FEW = 6  # points of which one left out leaves the others too free to contradict
_MOST_FOR_PAIRS = 14  # 91 pairs, a fit each


@dataclass(frozen=True, slots=True)
class Suspicion:
    """What is wrong with a set of points, by index."""

    remarks: dict[int, str]  # of the suspects
    left_out: tuple[int, ...]
    notes: tuple[str, ...] = ()
    hint: str = ""  # remedy for a fit that has to be refused
    explained: bool = False  # all other points agree


@dataclass(frozen=True, slots=True)
class _Explanation:
    indices: tuple[int, ...]
    swap: bool
    chi2: float
    dof: int
    reduced: float


def find_suspects(
    seen: Sightings, names: Sequence[str], fit: Callable[[Sequence[Sightings]], Sequence[Goodness]]
) -> Suspicion:
    """Find the point, the swapped pair or the two points without which all others agree.

    Each explanation is a fit of its own: linear formulas mislead where a point is far off. ``fit`` makes many at once,
    of sightings some of which take no part.
    """
    count = len(seen)
    (whole,) = fit([seen])
    if chi2_tail(max(whole.dof, 1), whole.chi2) > SUSPICIOUS_P:
        return Suspicion({}, ())
    singles = _explanations(fit, seen, [(i,) for i in range(count)] if count >= 5 else [], swap=False)
    swaps: list[_Explanation] = []
    pairs: list[_Explanation] = []
    if count <= _FEW or singles[0].reduced > CONSISTENT:
        order = [item.indices[0] for item in singles][:_MOST_FOR_PAIRS] or list(range(count))
        couples = list(itertools.combinations(sorted(order), 2))
        swaps = _explanations(fit, seen, couples, swap=True)
        if count > _FEW and swaps[0].reduced > CONSISTENT:
            pairs = _explanations(fit, seen, couples, swap=False)
    # an exchange explains with nothing given away: of two explanations it is the stricter one
    for explanations in (swaps, singles, pairs):
        if explanations and explanations[0].reduced <= CONSISTENT and _significant(whole, explanations[0], count):
            return _suspicion(whole, explanations, names, count)
    best = singles[0] if singles else None
    if best is not None and _significant(whole, best, count):
        return _suspicion(whole, singles, names, count)
    if whole.reduced > CONSISTENT:
        note = (
            "the control points disagree by more than their pixel_u says, and none alone explains it: "
            "check them all, or state a larger pixel_u"
        )
        return Suspicion({}, (), (note,))
    return Suspicion({}, ())


def _explanations(
    fit: Callable[[Sequence[Sightings]], Sequence[Goodness]],
    seen: Sightings,
    which: Sequence[tuple[int, ...]],
    *,
    swap: bool,
) -> list[_Explanation]:
    """What is gained by exchanging pairs, or by leaving points out; the best first."""
    if not which:
        return []
    found = fit([seen.swapped(*some) if swap else seen.leaving_out(*some) for some in which])
    explanations = [
        _Explanation(indices, swap, one.chi2, one.dof, one.reduced) for indices, one in zip(which, found, strict=True)
    ]
    return sorted(explanations, key=lambda item: item.chi2)


def _significant(whole: Goodness, best: _Explanation, count: int) -> bool:
    """Whether leaving out (or exchanging) takes away more misfit than the worst of good points would."""
    freed = 2 * len(best.indices)
    tries = math.comb(count, len(best.indices))
    gain = (whole.chi2 - best.chi2) / freed / best.reduced
    return bool(f_tail(freed, 4 + best.dof, gain) * tries < SUSPICIOUS_P)


def _suspicion(whole: Goodness, explanations: Sequence[_Explanation], names: Sequence[str], count: int) -> Suspicion:
    best = explanations[0]
    near = [item for item in explanations if (item.chi2 - best.chi2) / best.reduced < CLEARLY]
    if best.swap and len(near) == 1:
        one, other = best.indices
        remarks = {one: f"looks swapped with {names[other]}", other: f"looks swapped with {names[one]}"}
        told = f"{names[one]} and {names[other]} look swapped"
    elif len(near) == 1:
        remarks = dict.fromkeys(best.indices, "disagrees with the others, which agree among themselves")
        told = " and ".join(names[index] for index in best.indices)
        told += " disagrees with all other points" if len(best.indices) == 1 else " disagree with all other points"
    else:
        indices = sorted({index for item in near for index in item.indices})
        if len(indices) > 4:
            return Suspicion(
                {}, (), ("the control points disagree, and any of them could be the wrong one: add points",)
            )
        listed = " or ".join(names[index] for index in indices)
        return Suspicion(
            dict.fromkeys(indices, f"{listed} is wrong; too few points to tell which"),
            (),
            (f"{listed} is wrong, too few points to tell which: check them, add points",),
            f"check {listed}: too few points to tell which is wrong",
        )
    sigma = math.sqrt(max(whole.chi2 - best.chi2, 0.0) / best.reduced)
    enough = count - len(best.indices) >= LEFT_OUT_REST
    clear = sigma > LEFT_OUT_SIGMA and best.reduced <= CONSISTENT and enough
    left_out = best.indices if clear else ()
    consequence = "left out of the fit" if clear else "still in the fit, which is poor for it"
    verb = "is" if len(best.indices) == 1 else "are"
    note = f"{told}: {'it' if len(best.indices) == 1 else 'they'} {verb} {consequence}; correct the table"
    return Suspicion(remarks, left_out, (note,), f"{told}: correct the table", best.reduced <= CONSISTENT)
