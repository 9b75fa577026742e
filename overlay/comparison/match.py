"""Which part of one job is which part of the other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from overlay.board.model import Component
from overlay.comparison.model import Match, Standing

# A part within this of its old place has not moved (placement files round to 0.01 mm or to a mil).
MOVED_MM = 0.05
# A renumbered part is looked for this far around its old place.
_RENUMBERED_WITHIN_MM = 2.0
# Two boards with less in common than this are not revisions of one: unrelated ones share a few usual values (own
# estimate: one part in ten), revisions most of their parts.
UNRELATED_BELOW = 0.3


def match_parts(
    one: Sequence[Standing], other: Sequence[Standing]
) -> tuple[tuple[Match, ...], tuple[Component, ...], tuple[Component, ...]]:
    """Pair the parts of two jobs.

    A part keeps its designator unless that now names another part (other part number or side, another place)
    while a part of the old number stands where it stood: then it was renumbered. A shift of the whole
    placement (another origin) is taken out before places are compared.

    Returns
    -------
    matches, added, removed
        Pairs in the order of ``other``; components only there; components only in ``one``.
    """
    before = {standing.component.refdes: standing for standing in one}
    after = {standing.component.refdes: standing for standing in other}
    shift = _common_shift(before, after)
    pairs: dict[str, tuple[str, str]] = {}  # refdes in other → (refdes in one, by what)
    doubtful = []
    for refdes in after:
        if refdes not in before:
            continue
        a, b = before[refdes].component, after[refdes].component
        near = a.side == b.side and _distance(a, b, shift) <= _RENUMBERED_WITHIN_MM
        if near or (_same_part(a, b) and not _places_were_taken(a, b, before, after, shift)):
            pairs[refdes] = (refdes, "refdes")
        else:
            doubtful.append(refdes)
    kept = set(pairs)
    candidates = sorted(
        (_distance(a.component, b.component, shift), name_a, name_b)
        for name_a, a in before.items()
        for name_b, b in after.items()
        if name_a not in kept and name_b not in kept and _same_part(a.component, b.component)
    )
    taken: set[str] = set()
    for distance, name_a, name_b in candidates:
        if distance <= _RENUMBERED_WITHIN_MM and name_a not in taken and name_b not in pairs:
            taken.add(name_a)
            pairs[name_b] = (name_a, "refdes" if name_a == name_b else "part number and place")
    for refdes in doubtful:  # another part under the old name, and the old part is nowhere else: it was exchanged
        if refdes not in taken and refdes not in pairs:
            taken.add(refdes)
            pairs[refdes] = (refdes, "refdes")
    matches = tuple(
        Match(before[old], after[new], how, _distance(before[old].component, after[new].component, shift))
        for new, (old, how) in ((new, pairs[new]) for new in after if new in pairs)
    )
    gone = {a for a, _ in pairs.values()}
    added = tuple(standing.component for refdes, standing in after.items() if refdes not in pairs)
    removed = tuple(standing.component for refdes, standing in before.items() if refdes not in gone)
    return matches, added, removed


def likeness(one: Sequence[Component], other: Sequence[Component]) -> float:
    """Share of the smaller board's parts that the other one has too: the same name, package and part number.

    Names alone say nothing: every board has an R1.
    """
    parts = {part.refdes: part for part in one}
    alike = sum(part.refdes in parts and _same_part(parts[part.refdes], part) for part in other)
    return alike / max(min(len(one), len(other)), 1)


def _same_part(a: Component, b: Component) -> bool:
    return (
        a.side == b.side
        and a.part_number.casefold() == b.part_number.casefold()
        and a.package.casefold() == b.package.casefold()
    )


def _places_were_taken(
    a: Component,
    b: Component,
    before: dict[str, Standing],
    after: dict[str, Standing],
    shift: tuple[float, float],
) -> bool:
    """Whether such a part stands now where ``a`` stood, and one stood before where ``b`` stands now.

    Then the names went round among like parts. A part that merely moved leaves its old place empty, or finds
    its new one so.
    """
    now = any(
        _same_part(a, standing.component) and _distance(a, standing.component, shift) <= MOVED_MM
        for standing in after.values()
    )
    then = any(
        _same_part(standing.component, b) and _distance(standing.component, b, shift) <= MOVED_MM
        for standing in before.values()
    )
    return now and then


def _distance(a: Component, b: Component, shift: tuple[float, float]) -> float:
    return float(np.hypot(b.center_mm[0] - a.center_mm[0] - shift[0], b.center_mm[1] - a.center_mm[1] - shift[1]))


def _common_shift(before: dict[str, Standing], after: dict[str, Standing]) -> tuple[float, float]:
    """Shift between the two placements' origins: only one that most parts share to the rounding of the files."""
    moves = np.array(
        [
            np.subtract(after[refdes].component.center_mm, before[refdes].component.center_mm)
            for refdes in before.keys() & after.keys()
        ]
    )
    if len(moves) < 4:
        return 0.0, 0.0
    middle = np.median(moves, axis=0)
    sharing = np.mean(np.hypot(*(moves - middle).T) <= MOVED_MM)
    return (float(middle[0]), float(middle[1])) if sharing > 0.5 else (0.0, 0.0)
