"""Lines of a drawing before it is known which of them are the board's edge."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array
from overlay.errors import Problem

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """One drawn line in board coordinates, its arcs flattened.

    Parameters
    ----------
    xy_mm : array of float, shape (n, 2)
        Its points, at least two; closed where first and last are the same.
    line
        Line of the file that draws it, None where lines have no meaning.
    layer
        Layer or groups it is drawn on; empty where the format has none.
    filled
        Painted as an area and not as a line: its ends belong together, as a renderer would close it.
    """

    xy_mm: Array
    line: int | None = None
    layer: str = ""
    filled: bool = False

    @property
    def closed(self) -> bool:
        return bool(len(self.xy_mm) > 3 and math.dist(self.xy_mm[0], self.xy_mm[-1]) < 1e-4)

    @property
    def length_mm(self) -> float:
        return float(np.hypot(*np.diff(self.xy_mm, axis=0).T).sum())


@dataclass(frozen=True, slots=True, eq=False)
class Linework:
    """What a file draws: centre lines, painted areas, and what was noted while it was read."""

    strokes: tuple[Stroke, ...]
    source: str  # the format and how its units were found, in words
    area: Polygon | MultiPolygon | None = None  # Gerber regions, polarity applied
    problems: tuple[Problem, ...] = ()


def millimetres(xy: Sequence[float] | Array) -> str:
    """``(12.5, -3.04) mm`` for messages."""
    return f"({round(float(xy[0]), 3) + 0.0:g}, {round(float(xy[1]), 3) + 0.0:g}) mm"
