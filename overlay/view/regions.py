"""Which pixels a region of the frame covers, and with what share of each.

Pixel (x, y) is the unit square around its centre: x ± 0.5, y ± 0.5. Shares are exact areas, worked out from
the region's edges alone (Green's theorem, as in exact-area scan conversion): every edge is cut where it
crosses a grid line, and each piece adds the area between itself and the right-hand side of its row.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Index
from overlay.view.overlaps import Blocks, Overlaps

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

Geometries = NDArray[np.object_]  # of shapely


def pixel_weights_of(regions: Sequence[Polygon | MultiPolygon] | Geometries, shape_px: tuple[int, int]) -> Overlaps:
    """Exact overlaps of polygons with the pixels of a frame, worked out in one pass over all their edges.

    Parameters
    ----------
    regions
        Polygons, with or without holes and of one part or several, that do not cross themselves.
    shape_px
        (rows, cols) of the frame.
    """
    return pixel_blocks_of(regions, shape_px).overlaps()


def pixel_blocks_of(regions: Sequence[Polygon | MultiPolygon] | Geometries, shape_px: tuple[int, int]) -> Blocks:
    """The same as whole windows: see `pixel_weights_of`."""
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
    offset = np.cumsum(size) - size

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
    total = int(size.sum())
    shares = np.zeros(total + 1)
    shares += np.bincount(cell, own, total + 1)
    shares += np.bincount(cell + 1, rise - own, total + 1)
    # The rises of a row sum to nothing over a closed ring, so that one running sum serves all rows of all regions.
    np.cumsum(shares, out=shares)
    np.clip(shares, 0.0, 1.0, out=shares)
    shares[_ends_of_rows(offset, height, width)] = 0.0
    return Blocks(shares[:total], offset, np.column_stack([top, bottom, left, right]), shape_px)


def _ends_of_rows(offset: Index, height: Index, width: Index) -> Index:
    """The cells that take what lies beyond the right of each window's rows."""
    row = np.arange(height.sum()) - np.repeat(np.cumsum(height) - height, height)
    return np.asarray(np.repeat(offset + width, height) + row * np.repeat(width + 1, height))


def _edges(regions: Sequence[Polygon | MultiPolygon] | Geometries) -> tuple[Array, Array, Index]:
    """All edges as (start, end, region), shells turning so that their area is positive, holes the other way.

    Coordinates are moved by half a pixel: pixel (x, y) is the square from (x, y) to (x + 1, y + 1).
    """
    import shapely

    shapes = np.empty(len(regions), dtype=object)
    shapes[:] = regions
    parts, of_shape = shapely.get_parts(shapes, return_index=True)
    areal = shapely.get_type_id(parts) == 3
    parts, of_shape = parts[areal], of_shape[areal]
    rings, of_part = shapely.get_rings(parts, return_index=True)
    vertices, of_ring = shapely.get_coordinates(rings, return_index=True)
    same = of_ring[1:] == of_ring[:-1]
    start, end, of_edge = vertices[:-1][same], vertices[1:][same], of_ring[:-1][same]
    twice = np.bincount(of_edge, start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1], len(rings))
    is_shell = np.concatenate([[True], of_part[1:] != of_part[:-1]])[: len(rings)]
    swap = ((twice > 0.0) == is_shell)[of_edge][:, None]
    return np.where(swap, end, start) + 0.5, np.where(swap, start, end) + 0.5, of_shape[of_part[of_edge]]


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
