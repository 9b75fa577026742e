"""Which pixels a region of the frame covers, and with what share of each.

Pixel (x, y) is the unit square around its centre: x ± 0.5, y ± 0.5. Shares are exact areas, worked out from
the region's edges alone (Green's theorem, as in exact-area scan conversion): every edge is cut where it
crosses a grid line, and each piece adds the area between itself and the right-hand side of its row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, Index, read_only

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

# Shares below this are rounding, not area; the largest frame has about 1e3 edges a row.
_LEAST_SHARE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """The pixels under a region, row by row, each with the area of it that is covered (0…1).

    ``window`` is (first row, row beyond the last, first column, column beyond the last) of the region inside
    the frame; all arrays are empty for a region that lies outside.
    """

    rows: Index  # (n,)
    cols: Index  # (n,)
    weight: Array  # (n,)
    window: tuple[int, int, int, int]

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def area_px(self) -> float:
        """Area of the region inside the frame."""
        return float(self.weight.sum())

    def mean(self, values: Array) -> float:
        """Mean of a map of shape (rows, cols) over the region; nan where the region is empty."""
        area = self.weight.sum()
        return float(self.weight @ values[self.rows, self.cols] / area) if area > 0.0 else float("nan")

    def share(self) -> Array:
        """The window as an array of covered shares, shape (window rows, window cols)."""
        top, bottom, left, right = self.window
        share = np.zeros((bottom - top, right - left))
        share[self.rows - top, self.cols - left] = self.weight
        return share


def pixel_weights(region: Polygon | MultiPolygon | Array, shape_px: tuple[int, int]) -> Weights:
    """Exact overlap of a region with the pixels of a frame.

    Parameters
    ----------
    region
        A polygon with or without holes, several polygons, or an (n, 2) array of vertices (x, y) of a ring
        that does not cross itself, in either sense of turning.
    shape_px
        (rows, cols) of the frame.
    """
    return pixel_weights_of([region], shape_px)[0]


def pixel_weights_of(
    regions: Sequence[Polygon | MultiPolygon | Array], shape_px: tuple[int, int]
) -> tuple[Weights, ...]:
    """`pixel_weights` of many regions, in one pass over all their edges."""
    start, end, owner = _edges(regions)
    lowest, highest = _bounds(start, owner, len(regions))
    rows, cols = shape_px
    left = np.clip(np.floor(lowest[:, 0]), 0, cols).astype(np.intp)
    right = np.clip(np.ceil(highest[:, 0]), left, cols).astype(np.intp)
    top = np.clip(np.floor(lowest[:, 1]), 0, rows).astype(np.intp)
    bottom = np.clip(np.ceil(highest[:, 1]), top, rows).astype(np.intp)
    # Each region's window is laid out in one flat buffer, with one more column that takes all beyond its right.
    height, width = bottom - top, right - left
    size = height * (width + 1)
    offset = np.concatenate([[0], np.cumsum(size)])

    start, end, owner = _cut(start, end, owner, left, right, axis=0)
    start, end, owner = _cut(start, end, owner, top, bottom, axis=1)
    middle = 0.5 * (start + end)
    row = np.floor(middle[:, 1]).astype(np.intp) - top[owner]
    inside = (row >= 0) & (row < height[owner])
    middle, start, end, owner, row = middle[inside], start[inside], end[inside], owner[inside], row[inside]
    # An edge left of the window counts for the whole row, one right of it for nothing.
    x = np.clip(middle[:, 0] - left[owner], 0.0, width[owner])
    col = np.floor(x).astype(np.intp)
    rise = end[:, 1] - start[:, 1]
    cell = offset[owner] + row * (width[owner] + 1) + col
    own = rise * (col + 1.0 - x)  # the part of the cell itself that lies right of the edge
    total = int(offset[-1])
    shares = np.bincount(cell, own, total + 1) + np.bincount(cell + 1, rise - own, total + 1)
    # The rises of a row sum to nothing over a closed ring, so that one running sum serves all rows of all regions.
    shares = np.cumsum(shares)

    result = []
    for i in range(len(regions)):
        block = shares[offset[i] : offset[i + 1]].reshape(height[i], width[i] + 1)[:, : width[i]]
        block = np.clip(block, 0.0, 1.0)
        r, c = np.nonzero(block > _LEAST_SHARE)
        window = (int(top[i]), int(bottom[i]), int(left[i]), int(right[i]))
        result.append(Weights(r + top[i], c + left[i], block[r, c], window))
    return tuple(result)


def _edges(regions: Sequence[Polygon | MultiPolygon | Array]) -> tuple[Array, Array, Index]:
    """All edges as (start, end, region), shells turning so that their area is positive, holes the other way.

    Coordinates are moved by half a pixel: pixel (x, y) is the square from (x, y) to (x + 1, y + 1).
    """
    import shapely

    starts, ends, owners = [np.zeros((0, 2))], [np.zeros((0, 2))], [np.zeros(0, dtype=np.intp)]
    shapes, shape_owner = [], []
    for i, region in enumerate(regions):
        if isinstance(region, np.ndarray):
            ring = np.asarray(region, dtype=np.float64)
            if len(ring) >= 3:
                following = np.roll(ring, -1, axis=0)
                if _twice_area(ring, following) > 0.0:
                    ring, following = following, ring
                starts.append(ring)
                ends.append(following)
                owners.append(np.full(len(ring), i))
        else:
            shapes.append(region)
            shape_owner.append(i)
    if shapes:
        parts, of_shape = shapely.get_parts(np.array(shapes, dtype=object), return_index=True)
        areal = shapely.get_type_id(parts) == 3
        parts, of_shape = parts[areal], of_shape[areal]
        rings, of_part = shapely.get_rings(parts, return_index=True)
        vertices, of_ring = shapely.get_coordinates(rings, return_index=True)
        same = of_ring[1:] == of_ring[:-1]
        start, end, of_edge = vertices[:-1][same], vertices[1:][same], of_ring[:-1][same]
        twice = np.bincount(of_edge, start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1], len(rings))
        is_shell = np.concatenate([[True], of_part[1:] != of_part[:-1]]) if len(of_part) else np.zeros(0, dtype=bool)
        swap = ((twice > 0.0) == is_shell)[of_edge][:, None]
        starts.append(np.where(swap, end, start))
        ends.append(np.where(swap, start, end))
        owners.append(np.array(shape_owner, dtype=np.intp)[of_shape[of_part[of_edge]]])
    return np.concatenate(starts) + 0.5, np.concatenate(ends) + 0.5, np.concatenate(owners)


def _twice_area(start: Array, end: Array) -> float:
    return float(np.sum(start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1]))


def _bounds(start: Array, owner: Index, count: int) -> tuple[Array, Array]:
    """Lowest and highest (x, y) of each region, (count, 2) each; zero for a region without edges."""
    lowest, highest = np.full((count, 2), np.inf), np.full((count, 2), -np.inf)
    np.minimum.at(lowest, owner, start)
    np.maximum.at(highest, owner, start)
    empty = ~np.isfinite(lowest)
    lowest[empty], highest[empty] = 0.0, 0.0
    return lowest, highest


def _cut(start: Array, end: Array, owner: Index, first: Index, last: Index, axis: int) -> tuple[Array, Array, Index]:
    """Cut edges at the grid lines of an axis, within each owner's window (its borders included)."""
    a, b = start[:, axis], end[:, axis]
    low, high = np.minimum(a, b), np.maximum(a, b)
    line = np.maximum(np.floor(low) + 1.0, first[owner])
    crossings = np.maximum(np.minimum(np.ceil(high) - 1.0, last[owner]) - line + 1.0, 0.0).astype(np.intp)
    pieces = crossings + 1
    edge = np.repeat(np.arange(len(a)), pieces)
    number = np.arange(len(edge)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    with np.errstate(divide="ignore", invalid="ignore"):
        up = (line[edge] + number - low[edge]) / (high - low)[edge]
    # Cuts are counted from the lower end; an edge that runs down is cut from its far end backwards.
    upper = np.where(number < crossings[edge], up, 1.0)
    lower = np.where(number > 0, np.roll(upper, 1), 0.0)
    rising = (a <= b)[edge]
    t0, t1 = np.where(rising, lower, 1.0 - upper), np.where(rising, upper, 1.0 - lower)
    origin, along = start[edge], (end - start)[edge]
    return origin + t0[:, None] * along, origin + t1[:, None] * along, owner[edge]
