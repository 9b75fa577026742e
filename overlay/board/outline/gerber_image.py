"""What a Gerber file draws, as far as an edge is concerned: centre lines and painted regions."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array
from overlay.board.exchange.arcs import sweep
from overlay.board.outline.strokes import Stroke

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon


@dataclass(slots=True)
class Image:
    """Lines and regions of a file, or of a step-and-repeat or a block aperture in it."""

    strokes: list[Stroke] = field(default_factory=list)
    regions: list[tuple[Array, bool]] = field(default_factory=list)  # ring, dark

    @property
    def size(self) -> int:
        """How many lines and regions it holds."""
        return len(self.strokes) + len(self.regions)

    def moved(self, dx: float, dy: float) -> Image:
        by = np.array([dx, dy])
        return Image(
            [Stroke(stroke.xy_mm + by, stroke.line) for stroke in self.strokes],
            [(ring + by, dark) for ring, dark in self.regions],
        )

    def add(self, other: Image) -> None:
        self.strokes += other.strokes
        self.regions += other.regions

    def painted(self) -> Polygon | MultiPolygon | None:
        """What the regions leave painted, each dark or clear over those before it."""
        import shapely

        painted = shapely.Polygon()
        index = 0
        while index < len(self.regions):
            dark = self.regions[index][1]
            run = []
            while index < len(self.regions) and self.regions[index][1] == dark:
                if len(self.regions[index][0]) > 2:
                    run.append(shapely.make_valid(shapely.Polygon(self.regions[index][0])))
                index += 1
            layer = shapely.union_all(run)
            painted = painted.union(layer) if dark else painted.difference(layer)
        parts = [part for part in shapely.get_parts(painted) if part.geom_type == "Polygon" and part.area > 1e-6]
        if not parts:
            return None
        return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def single_quadrant_center(
    start: tuple[float, float], end: tuple[float, float], offset: tuple[float, float], clockwise: bool
) -> tuple[float, float] | None:
    """The centre, of the four that unsigned distances allow, from which the arc turns by at most 90°."""
    best, least = None, math.inf
    for sign_x in (1, -1):
        for sign_y in (1, -1):
            center = (start[0] + sign_x * abs(offset[0]), start[1] + sign_y * abs(offset[1]))
            uneven = abs(math.dist(start, center) - math.dist(end, center))
            turn = abs(sweep(start, end, center, clockwise=clockwise))
            if turn <= math.pi / 2 + 0.02 and uneven < min(least, 0.05 * math.hypot(*offset)):
                best, least = center, uneven
    return best
