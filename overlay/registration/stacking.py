"""Bodies that lie over one another on the board: how high each stands, and which is the roof.

A list of bodies does not say what stands on what. Heights settle most of it; these rules the rest (common practice):
a thin module carries the smaller parts within its outline, a heat sink or a shield covers what is not clearly taller,
and a transformer, a relay or their like of unknown height covers the small parts under it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, Mask, read_only
from overlay.board.model import Component

if TYPE_CHECKING:
    from numpy.typing import NDArray

ROOFS = ("shield", "heatsink")
"""Kinds that stand over what lies inside their outline."""
CLEARLY_TALLER = 1.5
"""A part this many times as tall as a heat sink beside it stands out of it; told heights are off by up to 30 %."""
THIN_MM = 3.0
"""A module up to this height is a board that carries parts; a thicker one stands on pins over them."""
OVERHANGS = ("transformer", "relay", "connector", "module", "battery", "switch", "inductor")
"""Kinds whose bodies stand on legs or a foot smaller than themselves …"""
LARGE = 4.0
"""… so that one of unknown height is the roof of what has this much less area and lies under it by half."""
_INSIDE = 0.9  # share of a part's outline within a module that carries it


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """How n bodies stand. Heights in mm above the seen surface."""

    top_mm: Array  # (n,) of the top face; 0 where unknown
    reach_mm: Array  # (n,) up to which it may hide others: -inf for none, inf for a roof of unknown height
    roof: Mask  # (n,) covers whatever under it is not clearly taller

    def __post_init__(self) -> None:
        read_only(self)

    def over(self, hiders: NDArray[np.intp], faces: NDArray[np.intp]) -> Mask:
        """Whether each hider stands above the top face of each of ``faces``, where they lie over one another."""
        higher = self.reach_mm[hiders] > self.top_mm[faces]
        near = np.maximum(self.reach_mm[hiders], self.top_mm[hiders]) * CLEARLY_TALLER > self.top_mm[faces]
        covers = self.roof[hiders] & ~self.roof[faces] & near
        covered = self.roof[faces] & ~self.roof[hiders] & (self.top_mm[hiders] < CLEARLY_TALLER * self.top_mm[faces])
        return np.asarray((higher | covers) & ~covered)


def stack_of(components: Sequence[Component], sections_mm: Sequence[Array]) -> Stack:
    """How the bodies of one side stand; ``sections_mm`` are their outlines (k, 2) on the board."""
    import shapely

    own = np.array([component.height_mm or 0.0 for component in components])
    known = np.array([component.height_mm is not None for component in components])
    bodied = np.array([component.body is not None for component in components])
    roof = np.array([component.kind in ROOFS for component in components]) & bodied
    owner = np.repeat(np.arange(len(sections_mm)), [len(section) for section in sections_mm])
    outlines = shapely.polygons(shapely.linearrings(np.concatenate(sections_mm), indices=owner))
    area = shapely.area(outlines)
    below, above = shapely.STRtree(outlines).query(outlines, predicate="intersects")
    pairs = (below != above) & bodied[above]
    below, above = below[pairs], above[pairs]
    shared = shapely.area(shapely.intersection(outlines[below], outlines[above])) / np.maximum(area[below], 1e-12)
    smaller = area[below] < area[above]
    carrier = np.array([component.kind == "module" for component in components]) & known & (own <= THIN_MM)
    base = np.zeros(len(own))
    carried = carrier[above] & ~carrier[below] & smaller & (shared >= _INSIDE)
    np.maximum.at(base, below[carried], own[above[carried]])
    reach = np.where(known & bodied, own + base, -math.inf)
    legged = np.array([component.kind in OVERHANGS for component in components]) & ~known
    large = legged[above] & (area[above] >= LARGE * area[below]) & (shared >= 0.5) & ~carried
    hides = np.zeros(len(own), dtype=bool)
    hides[above[large]] = True
    reach = np.where(bodied & ~known & (roof | hides), math.inf, reach)
    return Stack(own + np.where(known, base, 0.0), reach, roof)
