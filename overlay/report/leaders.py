"""Ways for leader lines: from a part to the edge of the picture between the other parts, and apart from each other."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from overlay.arrays import Array, Index

_CELL_MM = 0.8  # on paper: narrower gaps count as closed
_ACROSS = 60.0  # how much longer a way may be before it crosses a part: only what is walled in crosses any
_BESIDE = 1.5  # likewise of ways that touch one
_ON_ANOTHER = 25.0  # … before it crosses or joins another leader …
_NEAR_ANOTHER = 3.0  # … and before it runs beside one
_STEPS = ((0, 1), (1, 0), (1, 1), (1, -1))  # east, north and both diagonals; the ways back follow


def outside(way: Array, ring: Array) -> Array:
    """The end of a way (n, 2) from where it leaves a body for good; the whole way where it never does."""
    import shapely

    left = shapely.difference(shapely.LineString(way), shapely.make_valid(shapely.Polygon(ring)))
    pieces = [piece for piece in getattr(left, "geoms", [left]) if not piece.is_empty]
    ending = [piece for piece in pieces if np.allclose(piece.coords[-1], way[-1])]
    return np.asarray(ending[0].coords, dtype=np.float64) if ending else way


class Ways:
    """A lattice over a picture, with what it costs to go from cell to cell; each way taken makes its cells dearer.

    Parameters
    ----------
    rings
        Outlines (n, 2) of what is drawn, by part, in mm on paper.
    inner
        (west, south, east, north) of the lattice.
    """

    def __init__(self, rings: Mapping[str, Array], inner: tuple[float, float, float, float]) -> None:
        from scipy.sparse import csr_array

        self._west, self._south, east, north = inner
        rows, cols = (max(int(np.ceil(side / _CELL_MM)), 2) for side in (north - self._south, east - self._west))
        self._shape = (rows, cols)
        self._x, self._y = np.meshgrid(
            self._west + (np.arange(cols) + 0.5) * _CELL_MM, self._south + (np.arange(rows) + 0.5) * _CELL_MM
        )
        self.rings = rings
        self._cost = self._cost_of_bodies()
        number = np.arange(rows * cols, dtype=np.int32).reshape(rows, cols)  # what earlier versions of dijkstra need
        starts, ends, lengths = [], [], []
        for dr, dc in _STEPS:
            here = (slice(0, rows - dr), slice(max(0, -dc), cols - max(0, dc)))
            there = (slice(dr, rows), slice(max(0, dc), cols - max(0, -dc)))
            starts += [number[here].ravel(), number[there].ravel()]
            ends += [number[there].ravel(), number[here].ravel()]
            lengths += [np.full(number[here].size, np.hypot(dr, dc))] * 2
        self._ends = np.concatenate(starts), np.concatenate(ends)
        self._length = np.concatenate(lengths)
        order = csr_array((np.arange(1.0, len(self._length) + 1.0), self._ends), shape=(rows * cols,) * 2)
        self._order = order.data.astype(np.intp) - 1
        self._graph = order

    def taken(self, start: tuple[float, float], end: tuple[float, float], part: str = "") -> Array:
        """The cheapest way (n, 2) from a place of a part to another, only its corners, both ends included.

        The part itself costs nothing to leave. Later ways keep away from this one.
        """
        from scipy.sparse.csgraph import dijkstra

        cost = self._cost.copy()
        if part in self.rings:
            cost[self._inside(self.rings[part])] = 1.0
        flat = cost.ravel()
        self._graph.data = (0.5 * (flat[self._ends[0]] + flat[self._ends[1]]) * self._length)[self._order]
        first, now, cols = self._cell(*start), self._cell(*end), self._shape[1]
        _, before = dijkstra(self._graph, indices=np.intp(first), return_predecessors=True)  # type: ignore[call-overload]
        cells = []
        while now != first and now >= 0:
            cells.append(now)
            now = int(before[now])
        inner = np.array(cells[::-1], dtype=np.intp)
        self._make_dearer(inner)
        x = self._west + (inner % cols + 0.5) * _CELL_MM
        y = self._south + (inner // cols + 0.5) * _CELL_MM
        points = np.concatenate([[start], np.column_stack([x, y]), [end]])
        steps = np.diff(points, axis=0)
        turns = np.abs(steps[:-1, 0] * steps[1:, 1] - steps[:-1, 1] * steps[1:, 0]) > 1e-9
        return np.asarray(points[np.concatenate([[True], turns, [True]])], dtype=np.float64)

    def _cell(self, x_mm: float, y_mm: float) -> int:
        """Number of the cell at a place; beyond the lattice, of the nearest."""
        rows, cols = self._shape
        col = min(max(int((x_mm - self._west) / _CELL_MM), 0), cols - 1)
        row = min(max(int((y_mm - self._south) / _CELL_MM), 0), rows - 1)
        return row * cols + col

    def _make_dearer(self, cells: Index) -> None:
        rows, cols = self._shape
        used = np.zeros(self._shape, dtype=bool)
        used.ravel()[cells] = True
        padded = np.pad(used, 1)
        near = np.zeros(self._shape, dtype=bool)
        for dr in range(3):
            for dc in range(3):
                near |= padded[dr : dr + rows, dc : dc + cols]
        self._cost = np.maximum(self._cost, np.where(used, _ON_ANOTHER, np.where(near, _NEAR_ANOTHER, 1.0)))

    def _cost_of_bodies(self) -> Array:
        import shapely

        cost = np.ones(self._shape)
        bodies = [shapely.Polygon(ring) for ring in self.rings.values() if len(ring) >= 3]
        if bodies:
            whole = shapely.union_all([shapely.make_valid(body) for body in bodies])
            for grown, price in ((shapely.buffer(whole, 0.5 * _CELL_MM), _BESIDE), (whole, _ACROSS)):
                shapely.prepare(grown)
                cost[shapely.contains_xy(grown, self._x, self._y)] = price
        return cost

    def _inside(self, ring: Array) -> Array:
        import shapely

        if len(ring) < 3:
            return np.zeros(self._shape, dtype=bool)
        body = shapely.make_valid(shapely.Polygon(ring))
        shapely.prepare(body)
        return np.asarray(shapely.contains_xy(body, self._x, self._y))
