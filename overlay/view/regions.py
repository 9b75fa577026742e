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

from overlay.arrays import Array, Index, runs
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
    edges, owner = _edges(regions)
    top, bottom, left, right = windows = _windows(edges, owner, len(regions), shape_px)
    # Each region's window is laid out in one flat buffer, with one more column that takes all beyond its right.
    height, width = bottom - top, right - left
    size = height * (width + 1)
    offset = np.cumsum(size) - size
    total = int(size.sum())

    edges, owner = _cut(edges, owner, left, right)
    (y0, x0, y1, x1), owner = _cut(edges[[1, 0, 3, 2]], owner, top, bottom)
    row = np.floor(0.5 * (y0 + y1)).astype(np.intp) - top[owner]
    inside = (row >= 0) & (row < height[owner])
    if not inside.all():
        x0, x1, y0, y1, row, owner = (each[inside] for each in (x0, x1, y0, y1, row, owner))
    # An edge left of the window counts for the whole row, one right of it for nothing.
    x = np.clip(0.5 * (x0 + x1) - left[owner], 0.0, width[owner])
    col = np.floor(x).astype(np.intp)
    cell = offset[owner] + row * (width + 1)[owner] + col
    rise = y1 - y0
    own = rise * (col + 1.0 - x)  # the part of the cell itself that lies right of the edge
    weights = np.concatenate([own, rise - own, np.zeros(1)])
    shares = np.asarray(np.bincount(np.concatenate([cell, cell + 1, [0]]), weights, total + 1), dtype=np.float64)
    # The rises of a row sum to nothing over a closed ring, so that one running sum serves all rows of all regions.
    np.cumsum(shares, out=shares)
    np.clip(shares, 0.0, 1.0, out=shares)
    shares[_ends_of_rows(offset, height, width)] = 0.0
    return Blocks(shares[:total], offset, windows.T, shape_px)


def _ends_of_rows(offset: Index, height: Index, width: Index) -> Index:
    """The cells that take what lies beyond the right of each window's rows."""
    row = runs(0, height)
    return np.asarray(np.repeat(offset + width, height) + row * np.repeat(width + 1, height))


def _edges(regions: Sequence[Polygon | MultiPolygon] | Geometries) -> tuple[Array, Index]:
    """All edges that rise or fall as (x0, y0, x1, y1), (4, n), and the regions that they are of (n,).

    Shells turn so that their area is positive, holes the other way. Coordinates are moved by half a pixel: pixel (x, y)
    is the square from (x, y) to (x + 1, y + 1).
    """
    import shapely

    shapes = np.empty(len(regions), dtype=object)
    shapes[:] = regions
    parts, of_shape = shapely.get_parts(shapes, return_index=True)
    areal = shapely.get_type_id(parts) == 3
    parts, of_shape = parts[areal], of_shape[areal]
    rings, of_part = shapely.get_rings(parts, return_index=True)
    vertices, of_ring = shapely.get_coordinates(rings, return_index=True)
    x, y = (vertices + 0.5).T
    same = of_ring[1:] == of_ring[:-1]
    twice = np.bincount(of_ring[:-1], np.where(same, x[:-1] * y[1:] - x[1:] * y[:-1], 0.0), len(rings))
    is_shell = np.concatenate([[True], of_part[1:] != of_part[:-1]])[: len(rings)]
    begin = np.flatnonzero(same & (y[:-1] != y[1:]))  # level edges part nothing
    of_edge = of_ring[begin]
    swap = ((twice > 0.0) == is_shell)[of_edge]
    first, last = begin + swap, begin + ~swap
    return np.stack([x[first], y[first], x[last], y[last]]), of_shape[of_part[of_edge]]


def _windows(edges: Array, owner: Index, count: int, shape_px: tuple[int, int]) -> Index:
    """First row, row beyond the last, first column and column beyond the last of regions, (4, count)."""
    rows, cols = shape_px
    result = np.zeros((4, count), dtype=np.intp)
    begin = np.flatnonzero(np.concatenate([[True], owner[1:] != owner[:-1]])) if len(owner) else owner
    of, x, y = owner[begin], edges[[0, 2]], edges[[1, 3]]
    if len(begin):
        result[0, of] = np.clip(np.floor(np.minimum.reduceat(y.min(axis=0), begin)), 0, rows)
        result[1, of] = np.clip(np.ceil(np.maximum.reduceat(y.max(axis=0), begin)), result[0, of], rows)
        result[2, of] = np.clip(np.floor(np.minimum.reduceat(x.min(axis=0), begin)), 0, cols)
        result[3, of] = np.clip(np.ceil(np.maximum.reduceat(x.max(axis=0), begin)), result[2, of], cols)
    return result


def _cut(edges: Array, owner: Index, first: Index, last: Index) -> tuple[Array, Index]:
    """Cut edges (a0, b0, a1, b1) at whole values of a, within each owner's window (its borders included)."""
    a0, b0, a1, b1 = edges
    lowest = np.maximum(np.floor(np.minimum(a0, a1)) + 1.0, first[owner])
    highest = np.minimum(np.ceil(np.maximum(a0, a1)) - 1.0, last[owner])
    cuts = np.maximum(highest - lowest + 1.0, 0.0).astype(np.intp)
    begin = np.arange(len(cuts)) + np.cumsum(cuts) - cuts  # of each edge's pieces
    pieces = np.empty((4, len(cuts) + int(cuts.sum())))
    pieces[:2, begin], pieces[2:, begin + cuts] = edges[:2], edges[2:]
    # where the cuts come: each ends a piece and begins the next
    which = np.repeat(np.arange(len(cuts)), cuts)
    at = np.arange(len(which)) + which
    number = at - begin[which]
    rises = (a1 > a0)[which]
    a = np.where(rises, lowest[which] + number, highest[which] - number)
    with np.errstate(divide="ignore", invalid="ignore"):  # what does not move along a is not cut
        slope = (b1 - b0) / (a1 - a0)
    b = b0[which] + slope[which] * (a - a0[which])
    pieces[2, at], pieces[3, at] = a, b
    pieces[0, at + 1], pieces[1, at + 1] = a, b
    return pieces, np.repeat(owner, cuts + 1)
