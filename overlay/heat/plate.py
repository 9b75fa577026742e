"""A board as a thin plate: cells, the conductance between them, and bodies that stand on it.

∇·(k ∇θ) − s·h·θ + q = 0 with k the in-plane conductivity times the thickness (W/K), h the film of both faces
(W/(m²·K)), θ the rise over ambient; no heat leaves through the rim. Heat from a body comes through a resistance to the
cells beneath it, and some of it leaves from its own surface.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, Index, read_only

if TYPE_CHECKING:
    from scipy.sparse import csr_array
    from shapely import MultiPolygon, Polygon

FINEST_MM = 1.25  # a board spreads heat over several of these
KNOT_MM = 7.0  # between knots of the spreading: copper pours differ over about a centimetre
_FOOT_POINTS = 7  # a side: where a footprint is asked for its cell


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """N cells of a board, F faces between them, m knots of its conductivity."""

    step_mm: float
    origin_mm: tuple[float, float]  # centre of the cell of column 0, row 0
    index: Index  # (ny, nx) number of a cell; −1 off the board
    center_mm: Array  # (N, 2)
    faces: Index  # (F, 2) cells on either side
    knots_at_faces: csr_array  # (F, m) bilinear weights of the knots
    knot_steps: csr_array  # (d, m) differences of neighbouring knots

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def cells(self) -> int:
        return len(self.center_mm)

    @property
    def knots(self) -> int:
        return int(self.knots_at_faces.shape[1])

    @property
    def cell_m2(self) -> float:
        return (self.step_mm * 1e-3) ** 2

    def at(self, places_mm: Array) -> csr_array:
        """Bilinear weights (n, N) of the cells at places (n, 2); beyond the edge, of the cells that are there."""
        from scipy.sparse import csr_array

        ny, nx = self.index.shape
        x = (places_mm[:, 0] - self.origin_mm[0]) / self.step_mm
        y = (places_mm[:, 1] - self.origin_mm[1]) / self.step_mm
        left, low = np.clip(np.floor(x), 0, nx - 2).astype(int), np.clip(np.floor(y), 0, ny - 2).astype(int)
        fx, fy = np.clip(x - left, 0, 1), np.clip(y - low, 0, 1)
        rows, cols, weights = [], [], []
        for dy, wy in ((0, 1 - fy), (1, fy)):
            for dx, wx in ((0, 1 - fx), (1, fx)):
                cell = self.index[low + dy, left + dx]
                ok = cell >= 0
                rows.append(np.flatnonzero(ok))
                cols.append(cell[ok])
                weights.append((wx * wy)[ok])
        shape = (len(places_mm), self.cells)
        raw = csr_array((np.concatenate(weights), (np.concatenate(rows), np.concatenate(cols))), shape=shape)
        whole = np.asarray(raw.sum(axis=1)).ravel()
        return csr_array(raw.multiply((1.0 / np.where(whole > 0, whole, 1.0))[:, None]))

    def under(self, center_mm: Array, size_mm: Array, turn_deg: Array) -> Array:
        """Shares (N, n) of n footprints on the cells, each summing to 1; zeros for one off the board.

        ``center_mm`` and ``size_mm`` (n, 2), ``turn_deg`` (n,).
        """
        line = (np.arange(_FOOT_POINTS) + 0.5) / _FOOT_POINTS - 0.5
        local = np.stack(np.meshgrid(line, line), axis=-1).reshape(1, -1, 2) * size_mm[:, None, :]
        c, s = np.cos(np.radians(turn_deg))[:, None], np.sin(np.radians(turn_deg))[:, None]
        u, v = local[..., 0], local[..., 1]
        places = np.stack([center_mm[:, :1] + c * u - s * v, center_mm[:, 1:] + s * u + c * v], axis=-1)
        weights = self.at(places.reshape(-1, 2))
        owner = np.repeat(np.arange(len(center_mm)), line.size**2)
        entries = weights.tocoo()
        cell = owner[entries.row] * self.cells + entries.col
        share = np.bincount(cell, entries.data, len(center_mm) * self.cells).reshape(-1, self.cells).T
        whole = share.sum(axis=0)
        return np.asarray(share / np.where(whole > 0, whole, 1.0))


def plate_of(outline: Polygon | MultiPolygon, most_cells: int) -> Plate:
    """Lay cells over a board, as fine as `FINEST_MM` where that takes no more than ``most_cells``."""
    import shapely

    low_x, low_y, high_x, high_y = outline.bounds
    step = max(FINEST_MM, math.sqrt(max(float(outline.area), 1.0) / most_cells))
    nx, ny = (max(math.ceil(side / step - 1e-9), 2) for side in (high_x - low_x, high_y - low_y))
    x, y = low_x + (np.arange(nx) + 0.5) * step, low_y + (np.arange(ny) + 0.5) * step
    grid_x, grid_y = np.meshgrid(x, y)
    inside = shapely.contains_xy(outline, grid_x, grid_y)
    index = np.where(inside, np.cumsum(inside).reshape(inside.shape) - 1, -1).astype(np.intp)
    pairs = []
    for one, other in (
        ((slice(None), slice(None, -1)), (slice(None), slice(1, None))),
        ((slice(None, -1), slice(None)), (slice(1, None), slice(None))),
    ):
        a, b = index[one], index[other]
        both = (a >= 0) & (b >= 0)
        pairs.append(np.column_stack([a[both], b[both]]))
    center = np.column_stack([grid_x[inside], grid_y[inside]])
    faces = np.concatenate(pairs)
    middle = 0.5 * (center[faces[:, 0]] + center[faces[:, 1]])
    at_faces, steps = _knots(middle, (low_x, low_y), (high_x - low_x, high_y - low_y))
    return Plate(step, (float(x[0]), float(y[0])), index, center, faces, at_faces, steps)


def _knots(places_mm: Array, low_mm: tuple[float, float], side_mm: tuple[float, float]) -> tuple[csr_array, csr_array]:
    """Bilinear weights of a lattice's knots at places, and the differences of its neighbours."""
    from scipy.sparse import csr_array, diags_array, identity, kron, vstack

    nx, ny = (max(round(side / KNOT_MM), 1) + 1 for side in side_mm)
    x = np.clip((places_mm[:, 0] - low_mm[0]) / max(side_mm[0], 1e-9) * (nx - 1), 0, nx - 1 - 1e-9)
    y = np.clip((places_mm[:, 1] - low_mm[1]) / max(side_mm[1], 1e-9) * (ny - 1), 0, ny - 1 - 1e-9)
    col, row = np.floor(x).astype(int), np.floor(y).astype(int)
    fx, fy = x - col, y - row
    base, number = row * nx + col, np.arange(len(places_mm))
    columns = np.concatenate([base, base + 1, base + nx, base + nx + 1])
    weights = np.concatenate([(1 - fx) * (1 - fy), fx * (1 - fy), (1 - fx) * fy, fx * fy])
    at = csr_array((weights, (np.tile(number, 4), columns)), shape=(len(places_mm), nx * ny))

    def first(n: int) -> csr_array:
        return csr_array(diags_array([-1.0, 1.0], offsets=[0, 1], shape=(n - 1, n)))

    return at, csr_array(vstack([kron(identity(ny), first(nx)), kron(first(ny), identity(nx))], format="csr"))
