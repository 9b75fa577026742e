"""Ways for leader lines: from a part to the edge of the picture between the other parts, not across them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.frames.frame import Array

if TYPE_CHECKING:
    from scipy.sparse import csr_array

_CELL_MM = 0.8  # on paper: narrower gaps count as closed
_ACROSS = 60.0  # how much longer a way may be before it crosses a part: only what is walled in crosses any
_BESIDE = 1.5  # likewise of ways that touch one


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """A lattice over a picture, with what it costs to go from cell to cell."""

    west_mm: float
    south_mm: float
    shape: tuple[int, int]  # rows, columns
    graph: csr_array

    def cell(self, x_mm: float, y_mm: float) -> int:
        """Number of the cell at a place; beyond the lattice, of the nearest."""
        rows, cols = self.shape
        col = min(max(int((x_mm - self.west_mm) / _CELL_MM), 0), cols - 1)
        row = min(max(int((y_mm - self.south_mm) / _CELL_MM), 0), rows - 1)
        return row * cols + col

    def between(self, start: tuple[float, float], end: tuple[float, float]) -> Array:
        """The cheapest way (n, 2) from a place to another; only the corners of it, its two ends included."""
        from scipy.sparse.csgraph import dijkstra

        first, cols = self.cell(*start), self.shape[1]
        _, before = dijkstra(self.graph, indices=np.intp(first), return_predecessors=True)  # type: ignore[call-overload]
        cells, now = [], self.cell(*end)
        while now != first and now >= 0:
            cells.append(now)
            now = int(before[now])
        inner = np.array(cells[::-1], dtype=np.intp)
        x = self.west_mm + (inner % cols + 0.5) * _CELL_MM
        y = self.south_mm + (inner // cols + 0.5) * _CELL_MM
        points = np.concatenate([[start], np.column_stack([x, y]), [end]])
        steps = np.diff(points, axis=0)
        turns = np.abs(steps[:-1, 0] * steps[1:, 1] - steps[:-1, 1] * steps[1:, 0]) > 1e-9
        return np.asarray(points[np.concatenate([[True], turns, [True]])], dtype=np.float64)


def ways_between(rings: Sequence[Array], inner: tuple[float, float, float, float]) -> Ways:
    """Lay a lattice over a picture (west, south, east, north) in which the rings (n, 2) are costly to cross."""
    import shapely
    from scipy.sparse import csr_array

    west, south, east, north = inner
    cols, rows = (max(int(np.ceil(side / _CELL_MM)), 2) for side in (east - west, north - south))
    x, y = np.meshgrid(west + (np.arange(cols) + 0.5) * _CELL_MM, south + (np.arange(rows) + 0.5) * _CELL_MM)
    cost = np.ones((rows, cols))
    bodies = [shapely.Polygon(ring) for ring in rings if len(ring) >= 3]
    if bodies:
        whole = shapely.union_all([shapely.make_valid(body) for body in bodies])
        for grown, price in ((shapely.buffer(whole, 0.5 * _CELL_MM), _BESIDE), (whole, _ACROSS)):
            shapely.prepare(grown)
            cost[shapely.contains_xy(grown, x, y)] = price
    number = np.arange(rows * cols, dtype=np.int32).reshape(rows, cols)  # what earlier versions of dijkstra need
    starts, ends, prices = [], [], []
    for dr, dc in ((0, 1), (1, 0), (1, 1), (1, -1)):
        here = (slice(0, rows - dr), slice(max(0, -dc), cols - max(0, dc)))
        there = (slice(dr, rows), slice(max(0, dc), cols - max(0, -dc)))
        starts.append(number[here].ravel())
        ends.append(number[there].ravel())
        prices.append((0.5 * (cost[here] + cost[there]) * np.hypot(dr, dc)).ravel())
    edges = (np.concatenate(prices), (np.concatenate(starts), np.concatenate(ends)))
    one_way = csr_array(edges, shape=(rows * cols,) * 2)
    return Ways(west, south, (rows, cols), csr_array(one_way + one_way.T))
