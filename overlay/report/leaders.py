"""Ways for leader lines: from a part to the edge of the picture between the other parts, and apart from each other."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from overlay.arrays import Array, Index, Mask, runs

_CELL_MM = 0.8  # on paper: narrower gaps count as closed
_ACROSS = 60.0  # how much longer a way may be before it crosses a part: only what is walled in crosses any
_BESIDE = 1.5  # likewise of ways that touch one
_BESIDE_MM = 0.5 * _CELL_MM  # what is nearer touches
_ON_ANOTHER = 25.0  # … before it crosses or joins another leader …
_NEAR_ANOTHER = 3.0  # … and before it runs beside one
_ROUNDING = 1e-9  # cells: what arithmetic leaves of no distance
_LEAST = 1.0  # what a cell costs where nothing is
_AROUND = np.array([(dr, dc) for dr in (-1, 0, 1) for dc in (-1, 0, 1) if dr or dc])  # in the order of cells
_STEP = np.hypot(_AROUND[:, 0], _AROUND[:, 1])  # lengths of those steps, in cells
_TURN = np.sqrt(2.0) - 1.0  # what a cell to the side adds to a way straight on
_DETOUR, _DETOUR_CELLS = 1.1, 2.0  # a first guess at how much longer ways become: nine in ten are shorter


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
        west, south, east, north = inner
        self._origin_mm = np.array([west, south])
        rows, cols = (max(int(np.ceil(side / _CELL_MM)), 2) for side in (north - south, east - west))
        self.rings = rings
        self._cost = np.full((rows, cols), _LEAST)
        self._own: dict[str, Index] = {}  # cells inside each part
        bodies = {part: (ring - self._origin_mm) / _CELL_MM - 0.5 for part, ring in rings.items() if len(ring) >= 3}
        ring_of, cells, inside = _covered(list(bodies.values()), (rows, cols))
        flat = self._cost.reshape(-1)
        flat[cells] = _BESIDE
        flat[cells[inside]] = _ACROSS
        ends = np.cumsum(np.bincount(ring_of[inside], minlength=len(bodies)))
        self._own = dict(zip(bodies, np.split(cells[inside], ends[:-1]), strict=True)) if bodies else {}

    def taken(self, start: tuple[float, float], end: tuple[float, float], part: str = "") -> Array:
        """The cheapest way (n, 2) from a place of a part to another, only its corners, both ends included.

        The part itself costs nothing to leave. Later ways keep away from this one.
        """
        cost = self._cost.copy()
        cost.reshape(-1)[self._own.get(part, [])] = _LEAST
        first, last = self._cell(start), self._cell(end)
        length = _DETOUR * _straight(first, last) + _DETOUR_CELLS
        cells, found = _cheapest(cost, first, last, length)
        if found > length:  # a cheaper one may lie farther out, but for none that is longer than this
            cells, _ = _cheapest(cost, first, last, found)
        self._make_dearer(cells)
        places = self._origin_mm + (cells[:, ::-1] + 0.5) * _CELL_MM
        points = np.concatenate([[start], places, [end]])
        steps = np.diff(points, axis=0)
        turns = np.abs(steps[:-1, 0] * steps[1:, 1] - steps[:-1, 1] * steps[1:, 0]) > 1e-9
        return np.asarray(points[np.concatenate([[True], turns, [True]])], dtype=np.float64)

    def _cell(self, place_mm: tuple[float, float]) -> Index:
        """(row, column) of the cell at a place; beyond the lattice, of the nearest."""
        own = ((np.array(place_mm) - self._origin_mm) / _CELL_MM).astype(np.intp)[::-1]
        return np.asarray(np.clip(own, 0, np.array(self._cost.shape) - 1))

    def _make_dearer(self, cells: Index) -> None:
        for places, price in (((cells[:, None] + _AROUND).reshape(-1, 2), _NEAR_ANOTHER), (cells, _ON_ANOTHER)):
            rows, cols = np.clip(places, 0, np.array(self._cost.shape) - 1).T
            self._cost[rows, cols] = np.maximum(self._cost[rows, cols], price)


def _straight(first: Index, last: Index) -> float:
    """Length of the shortest way from cell to cell where nothing is, in cells."""
    across, along = np.sort(np.abs(last - first))
    return float(along + _TURN * across)


def _cheapest(cost: Array, first: Index, last: Index, length: float) -> tuple[Index, float]:
    """The cheapest way among those that come as far as one of that length does, and what it costs.

    Parameters
    ----------
    cost
        Of each cell, (rows, columns), none below `_LEAST`.
    first, last
        (row, column).
    length
        In cells. What costs no more than this is the cheapest way of all, since each cell costs one at least.

    Returns
    -------
    The cells (n, 2) of the way but for the first, and the cost.
    """
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    apart = np.abs(last - first)
    # twice what a way can come beyond both ends, in either direction: going there and back fits into the length
    beyond = np.minimum((length - apart[::-1]) / _TURN, length - _TURN * apart[::-1]) - apart
    reach = np.ceil(np.maximum(beyond, 0.0) / 2).astype(np.intp)
    low = np.maximum(np.minimum(first, last) - reach, 0)
    high = np.minimum(np.maximum(first, last) + reach + 1, cost.shape)
    rows, cols = high - low
    walled = np.pad(cost[low[0] : high[0], low[1] : high[1]], 1, constant_values=np.inf)
    own = walled[1:-1, 1:-1]
    edges = np.empty((rows, cols, len(_AROUND)))
    for number, ((dr, dc), step) in enumerate(zip(_AROUND, _STEP, strict=True)):
        edges[:, :, number] = 0.5 * step * (own + walled[1 + dr : 1 + dr + rows, 1 + dc : 1 + dc + cols])
    size = rows * cols
    # a step over the wall leads nowhere at no price that anybody pays
    ends = np.clip(np.arange(size)[:, None] + _AROUND @ [cols, 1], 0, size - 1).astype(np.int32)
    begins = np.arange(0, 8 * size + 1, 8, dtype=np.int32)
    graph = csr_array((edges.reshape(-1), ends.reshape(-1), begins), shape=(size, size))
    start, now = ((cell - low) @ [cols, 1] for cell in (first, last))
    price, before = dijkstra(graph, indices=start, return_predecessors=True)
    total, way = float(price[now]), []
    while now != start:
        way.append(now)
        now = before[now]
    return np.column_stack(np.divmod(np.array(way[::-1], dtype=np.intp), cols)) + low, total


def _covered(rings: list[Array], shape: tuple[int, int]) -> tuple[Index, Index, Mask]:
    """Cells in rings and near to them.

    Parameters
    ----------
    rings
        Corners (n, 2), n at least 3, x right and y up, in cells from the centre of the first.
    shape
        (rows, columns) of the lattice.

    Returns
    -------
    Which ring and which cell, numbered row by row, of each pair of both that touch; ordered by ring; and whether the
    cell's centre is inside.
    """
    reach = _BESIDE_MM / _CELL_MM
    ends = np.array([(ring.min(axis=0), ring.max(axis=0)) for ring in rings]).reshape(-1, 2, 2)
    low = np.maximum(np.ceil(ends[:, 0] - reach), 0).astype(np.intp)
    high = np.minimum(np.floor(ends[:, 1] + reach), np.array(shape[::-1]) - 1).astype(np.intp)
    wide, tall = np.maximum(high - low + 1, 0).T
    ring_of = np.repeat(np.arange(len(rings)), wide * tall)
    down, across = np.divmod(runs(0, wide * tall), wide[ring_of])
    cell = low[ring_of] + np.column_stack([across, down])
    away, inside = np.empty(len(cell)), np.empty(len(cell), dtype=bool)
    corners = np.array([len(ring) for ring in rings], dtype=np.intp)
    for count in np.unique(corners):
        alike = np.flatnonzero(corners == count)
        chosen = corners[ring_of] == count
        of = np.searchsorted(alike, ring_of[chosen])
        away[chosen], inside[chosen] = _held(np.stack([rings[number] for number in alike])[of], cell[chosen])
    # a centre on the very edge is outside, whatever rounding makes of it
    inside &= away > _ROUNDING
    touching = inside | (away < reach - _ROUNDING)
    return ring_of[touching], (cell[:, 1] * shape[1] + cell[:, 0])[touching], inside[touching]


def _held(rings: Array, points: Array) -> tuple[Array, Mask]:
    """How far each point (n, 2) is from the line of its ring (n, corners, 2), and whether it is inside (even-odd)."""
    to_point = points[:, None] - rings
    edge = np.roll(rings, -1, axis=1) - rings
    along = np.sum(to_point * edge, axis=2) / np.maximum(np.sum(edge**2, axis=2), 1e-12)
    off = to_point - np.clip(along, 0.0, 1.0)[:, :, None] * edge
    crossed = (to_point[:, :, 1] < 0.0) != (to_point[:, :, 1] < edge[:, :, 1])
    with np.errstate(divide="ignore", invalid="ignore"):  # level edges, which no level ray crosses
        crossed &= to_point[:, :, 0] < edge[:, :, 0] * to_point[:, :, 1] / edge[:, :, 1]
    return np.sqrt(np.min(np.sum(off**2, axis=2), axis=1)), np.sum(crossed, axis=1) % 2 == 1
