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
from overlay.heat.lines import LineFactor, factored

if TYPE_CHECKING:
    from scipy.sparse import csr_array
    from shapely import MultiPolygon, Polygon

FINEST_MM = 1.25  # a board spreads heat over several of these
KNOT_MM = 7.0  # between knots of the spreading: copper pours differ over about a centimetre
_MOST_AROUND = 3.0
"""Cells of the rectangle around a board for each that may lie on it: a narrow frame is cut coarser, not slower."""
_FOOT_POINTS = 7  # a side: where a footprint is asked for its cell


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """N cells of the rectangle around a board, F faces between those that lie on it, m knots of its conductivity.

    The cells are numbered along the rectangle's short side, line by line. Those off the board share no face with any.
    """

    step_mm: float
    origin_mm: tuple[float, float]  # centre of the cell of column 0, row 0
    index: Index  # (ny, nx) number of a cell; −1 off the board
    center_mm: Array  # (N, 2)
    faces: Index  # (F, 2) cells on either side, the lower number first
    face_knots: Index  # (F, 4) the knots around each face …
    face_shares: Array  # (F, 4) … and their bilinear weights
    knot_steps: Array  # (d, m) differences of neighbouring knots

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def cells(self) -> int:
        return len(self.center_mm)

    @property
    def width(self) -> int:
        """Cells of a line."""
        return int(min(self.index.shape))

    @property
    def knots(self) -> int:
        return int(self.knot_steps.shape[1])

    @property
    def cell_m2(self) -> float:
        return (self.step_mm * 1e-3) ** 2

    @property
    def on_board(self) -> Index:
        """Cells that lie on the board."""
        return self.index[self.index >= 0]

    def conductance(self, ln_k: Array) -> Array:
        """Conductance (F,) of each face, in W/K, from the logarithms at the knots (m,)."""
        return np.asarray(np.exp(np.einsum("fk,fk->f", self.face_shares, ln_k[self.face_knots])))

    def factor(self, conductance: Array, film: Array) -> LineFactor:
        """The factored network of the plate alone: ``conductance`` (F,) of its faces, ``film`` (N,) of its cells."""
        one, other = self.faces.T
        sums = np.bincount(self.faces.ravel(), np.repeat(conductance, 2), self.cells)
        next_line = other - one > 1
        lines = (self.cells // self.width, self.width)
        across, along = np.zeros(lines), np.zeros(lines)
        across.flat[one[~next_line]] = conductance[~next_line]
        along.flat[one[next_line]] = conductance[next_line]
        return factored((film + sums).reshape(lines), across[:, :-1], along[:-1])

    def by_knots(self, flow: Array) -> Array:
        """Heat (N, m) into each cell by each knot's logarithm, where heat ``flow`` (F,) passes the faces."""
        heat = (self.face_shares * flow[:, None]).ravel()
        one, other = ((cell[:, None] * self.knots + self.face_knots).ravel() for cell in self.faces.T)
        size = self.cells * self.knots
        moved = np.bincount(np.concatenate([other, one]), np.concatenate([heat, -heat]), size)
        return np.asarray(moved, dtype=np.float64).reshape(self.cells, self.knots)

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
        share = np.bincount(cell, entries.data, len(center_mm) * self.cells).reshape(-1, self.cells)
        whole = share.sum(axis=1, keepdims=True)
        return np.ascontiguousarray((share / np.where(whole > 0, whole, 1.0)).T)


def plate_of(outline: Polygon | MultiPolygon, most_cells: int) -> Plate:
    """Lay cells over a board, as fine as `FINEST_MM` where that takes no more than ``most_cells``."""
    import shapely

    low_x, low_y, high_x, high_y = outline.bounds
    area_mm2 = max(float(outline.area), (high_x - low_x) * (high_y - low_y) / _MOST_AROUND, 1.0)
    step = max(FINEST_MM, math.sqrt(area_mm2 / most_cells))
    nx, ny = (max(math.ceil(side / step - 1e-9), 2) for side in (high_x - low_x, high_y - low_y))
    x, y = low_x + (np.arange(nx) + 0.5) * step, low_y + (np.arange(ny) + 0.5) * step
    grid_x, grid_y = np.meshgrid(x, y)
    inside = shapely.contains_xy(outline, grid_x, grid_y)
    number = np.arange(nx * ny).reshape(ny, nx) if nx < ny else np.arange(nx * ny).reshape(nx, ny).T
    index = np.where(inside, number, -1).astype(np.intp)
    center = np.empty((nx * ny, 2))
    center[number.ravel()] = np.column_stack([grid_x.ravel(), grid_y.ravel()])
    faces = _neighbours(index)
    middle = 0.5 * (center[faces[:, 0]] + center[faces[:, 1]])
    knots, shares, steps = _knots(middle, (low_x, low_y), (high_x - low_x, high_y - low_y))
    return Plate(step, (float(x[0]), float(y[0])), index, center, faces, knots, shares, steps)


def _knots(places_mm: Array, low_mm: tuple[float, float], side_mm: tuple[float, float]) -> tuple[Index, Array, Array]:
    """Knots (n, 4) of a lattice around places with their bilinear weights, and the differences of its neighbours."""
    nx, ny = (max(round(side / KNOT_MM), 1) + 1 for side in side_mm)
    x = np.clip((places_mm[:, 0] - low_mm[0]) / max(side_mm[0], 1e-9) * (nx - 1), 0, nx - 1 - 1e-9)
    y = np.clip((places_mm[:, 1] - low_mm[1]) / max(side_mm[1], 1e-9) * (ny - 1), 0, ny - 1 - 1e-9)
    col, row = np.floor(x).astype(np.intp), np.floor(y).astype(np.intp)
    fx, fy = x - col, y - row
    knots = (row * nx + col)[:, None] + np.array([0, 1, nx, nx + 1])
    shares = np.stack([(1 - fx) * (1 - fy), fx * (1 - fy), (1 - fx) * fy, fx * fy], axis=1)

    one, other = _neighbours(np.arange(nx * ny).reshape(ny, nx)).T
    every = np.eye(nx * ny)
    return knots, shares, every[other] - every[one]


def _neighbours(number: Index) -> Index:
    """Pairs (p, 2) of numbers beside and above each other on a lattice (ny, nx); negative ones are left out."""
    pairs = [
        np.column_stack([one.ravel(), other.ravel()])
        for one, other in ((number[:, :-1], number[:, 1:]), (number[:-1], number[1:]))
    ]
    both = np.concatenate(pairs)
    return both[(both >= 0).all(axis=1)]
