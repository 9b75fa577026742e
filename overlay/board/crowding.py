"""Parts that cannot both be where they are said to be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from overlay.board.model import Component
from overlay.errors import Problem

# parts that others may lie under or in
ROOFS = frozenset(("shield", "heatsink", "module", "mechanical", "connector", "battery"))
_LEAST_SHARE = 0.3  # of the larger face that the smaller one fills: below it one may lie under the other
_MOST_NAMED = 20


def crowding_problems(components: Iterable[Component], file: str) -> list[Problem]:
    """A warning for each two bodies of one side whose centres lie inside each other."""
    problems = [_problem(one, other, file) for one, other in crowded_pairs(components)]
    if len(problems) > _MOST_NAMED:
        what = f"{len(problems)} pairs of bodies lie on one another, such as {problems[0].what}"
        remedy = "check the placement's units and centres, and the variants placed"
        return [Problem("warning", file, problems[0].line, what, remedy)]
    return problems


def crowded_pairs(components: Iterable[Component]) -> list[tuple[Component, Component]]:
    """Each two bodies of one side whose centres lie inside each other; roofs and mechanical items are left out."""
    told = [part for part in components if part.body is not None and not part.mechanical and part.kind not in ROOFS]
    return [pair for side in ("top", "bottom") for pair in _pairs([part for part in told if part.side == side])]


def _problem(one: Component, other: Component, file: str) -> Problem:
    what = f"the bodies of {one.refdes} and {other.refdes} lie on one another"
    return Problem("warning", file, other.line, what, "check their places, or leave out the one that is not fitted")


def _pairs(parts: Sequence[Component]) -> list[tuple[Component, Component]]:
    """Pairs whose centres lie in each other's boxes, in the file's order; swept along x, so quick for thousands."""
    if len(parts) < 2:
        return []
    center = np.array([part.center_mm for part in parts], dtype=float)
    half = np.array([(part.body.length_mm / 2, part.body.width_mm / 2) for part in parts if part.body is not None])
    turn = np.radians([part.rotation_deg for part in parts])
    area = 4.0 * half[:, 0] * half[:, 1]
    order = np.argsort(center[:, 0], kind="stable")
    x = center[order, 0]
    last = np.searchsorted(x, x + np.hypot(half[order, 0], half[order, 1]), side="right")
    pairs: list[tuple[int, int]] = []
    for place, one in enumerate(order):
        others = order[place + 1 : last[place]]
        if not len(others):
            continue
        near = _inside(center[others] - center[one], half[one], turn[one]) & _inside(
            center[others] - center[one], half[others], turn[others]
        )
        near &= np.minimum(area[others], area[one]) >= _LEAST_SHARE * np.maximum(area[others], area[one])
        pairs += [(min(one, other), max(one, other)) for other in others[near]]
    return [(parts[one], parts[other]) for one, other in sorted(pairs)]


def _inside(offset: NDArray[np.float64], half: NDArray[np.float64], turn: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether offsets (n, 2) lie inside boxes of half sides (n, 2) or (2,), turned by ``turn``."""
    cos, sin = np.cos(turn), np.sin(turn)
    along = np.abs(offset[:, 0] * cos + offset[:, 1] * sin)
    across = np.abs(offset[:, 1] * cos - offset[:, 0] * sin)
    inside: NDArray[np.bool_] = (along < half[..., 0]) & (across < half[..., 1])
    return inside
