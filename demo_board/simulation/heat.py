"""Heat: spreading in the board by finite differences, parts as nodes on it, temperatures within each part.

The board is two sheets, one for each side, tied through the laminate and cooled by air; a part takes its heat in, gives
it to the cells under it through a resistance, and to the air from its own surface. All of it is linear in the powers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import ndimage, sparse
from scipy.sparse.linalg import splu

from demo_board.simulation.world import Array, Part, World

FACE = 25  # points along each side of a face's temperature map
PART_AIR_W_PER_M2K = 11.0
LAMINATE_W_PER_MK = 0.35  # through the board, glass-fibre epoxy
BOARD_J_PER_M3K = 2.0e6
PART_J_PER_M3K = 2.3e6


@dataclass(frozen=True, eq=False)
class Heat:
    """Temperatures of a world: the sheets on their grid, and each part's mean and face."""

    origin_mm: tuple[float, float]
    step_mm: float
    board_c: dict[str, Array]  # by side, (rows, cols) at cell centres, filled beyond the edge
    part_c: Array  # (parts,) mean of the top face
    under_c: Array  # (parts,) mean of the board beneath
    faces_c: Array  # (parts, FACE, FACE), rows along the package's y, columns along its x

    def board_at(self, side: str, x_mm: Array, y_mm: Array) -> Array:
        """Temperature of one side of the board at points, bilinear."""
        at = [(y_mm - self.origin_mm[1]) / self.step_mm, (x_mm - self.origin_mm[0]) / self.step_mm]
        return ndimage.map_coordinates(self.board_c[side], at, order=1, mode="nearest")

    def face_at(self, part: int, u: Array, v: Array) -> Array:
        """Face temperature at shares of the sides (−½ … ½), bilinear."""
        at = [(v + 0.5) * (FACE - 1), (u + 0.5) * (FACE - 1)]
        return ndimage.map_coordinates(self.faces_c[part], at, order=1, mode="nearest")


class HeatNetwork:
    """The conductances of a world, factorised once; ``steady`` and ``warm_up`` answer for any powers."""

    def __init__(self, world: World, step_mm: float = 0.5) -> None:
        self.world, self.step_mm = world, step_mm
        board = world.board
        self.shape = (round(board.height_mm / step_mm), round(board.width_mm / step_mm))
        self.origin_mm = (board.origin_mm[0] + step_mm / 2, board.origin_mm[1] + step_mm / 2)
        self.x, self.y = np.meshgrid(
            self.origin_mm[0] + step_mm * np.arange(self.shape[1]),
            self.origin_mm[1] + step_mm * np.arange(self.shape[0]),
        )
        self.inside = board.inside(self.x, self.y)
        self.index = np.where(self.inside, np.cumsum(self.inside).reshape(self.shape) - 1, -1)
        self.sheet = int(self.inside.sum())  # cells of one side
        self.cells = 2 * self.sheet
        self.cover = [self._cover(part) for part in world.parts]
        self.matrix = self._conductances()
        self._steady = splu(self.matrix.tocsc())

    def _cover(self, part: Part) -> tuple[Array, Array]:
        """Cells under a part and the share of its footprint on each (sum 1)."""
        line = (np.arange(12) + 0.5) / 12 - 0.5
        u, v = np.meshgrid(line, line)
        uv = np.stack([u.ravel(), v.ravel()], axis=1)
        if part.round:
            uv = uv[np.hypot(uv[:, 0], uv[:, 1]) <= 0.5]
        elif part.cap_share:  # heat leaves a chip through its ends
            uv = uv[np.abs(uv[:, 0]) > 0.5 - part.cap_share]
        xy = part.face_mm(uv)
        j = np.clip(np.rint((xy[:, 0] - self.origin_mm[0]) / self.step_mm), 0, self.shape[1] - 1).astype(int)
        i = np.clip(np.rint((xy[:, 1] - self.origin_mm[1]) / self.step_mm), 0, self.shape[0] - 1).astype(int)
        index = self.index[i, j]
        index = index[index >= 0]
        if not len(index):
            raise ValueError(f"{part.refdes} lies off the board")
        cells, counts = np.unique(index, return_counts=True)
        return cells + (self.sheet if part.side == "bottom" else 0), counts / counts.sum()

    def _conductances(self) -> Any:
        world, cell_m2 = self.world, (self.step_mm * 1e-3) ** 2
        spread = np.full(self.shape, world.board.spread_w_per_k / 2)
        for copper in world.board.copper:
            x0, y0, x1, y1 = copper.box_mm
            inside = (self.x >= x0) & (self.x <= x1) & (self.y >= y0) & (self.y <= y1)
            spread[inside] = world.board.spread_w_per_k / 2 * copper.spread
        rows: list[Array] = []
        cols: list[Array] = []
        values: list[Array] = []
        total = self.cells + len(world.parts)
        diagonal = np.zeros(total)

        def link(a: Array, b: Array, g: Array) -> None:
            rows.extend((a, b))
            cols.extend((b, a))
            values.extend((-g, -g))
            np.add.at(diagonal, a, g)
            np.add.at(diagonal, b, g)

        for axis in (0, 1):
            one = [slice(None), slice(None)]
            two = [slice(None), slice(None)]
            one[axis], two[axis] = slice(None, -1), slice(1, None)
            a, b = self.index[tuple(one)], self.index[tuple(two)]
            both = (a >= 0) & (b >= 0)
            g = 2 / (1 / spread[tuple(one)][both] + 1 / spread[tuple(two)][both])
            for first in (0, self.sheet):
                link(first + a[both], first + b[both], g)
        through = LAMINATE_W_PER_MK * cell_m2 / (world.board.thickness_mm * 1e-3)
        one_side = np.arange(self.sheet)
        link(one_side, self.sheet + one_side, np.full(self.sheet, through))
        air = np.full(self.cells, world.board.air_w_per_m2k * cell_m2)
        for k, part in enumerate(world.parts):
            cells, share = self.cover[k]
            link(cells, np.full(len(cells), self.cells + k), share / part.to_board_k_per_w)
            length, width, height = (1e-3 * side for side in part.size_mm)
            foot = length * width * (np.pi / 4 if part.round else 1)
            np.add.at(air, cells, -np.minimum(share * foot, cell_m2) * world.board.air_w_per_m2k * 0.9)
            diagonal[self.cells + k] += PART_AIR_W_PER_M2K * (foot + 2 * (length + width) * height)
        diagonal[: self.cells] += np.maximum(air, world.board.air_w_per_m2k * cell_m2 * 0.1)
        rows.append(np.arange(total))
        cols.append(np.arange(total))
        values.append(diagonal)
        return sparse.coo_matrix(
            (np.concatenate(values), (np.concatenate(rows), np.concatenate(cols))), shape=(total, total)
        ).tocsr()

    def rises_k(self, powers_w: Sequence[float] | Array) -> Array:
        """Steady rises of cells and parts over ambient, (cells + parts,)."""
        heat = np.zeros(self.cells + len(self.world.parts))
        heat[self.cells :] = powers_w
        return np.asarray(self._steady.solve(heat))

    def heat_to_air_w(self, rises_k: Array) -> float:
        """What the air takes up at these rises: the row sums of the matrix are the links to the air."""
        return float((np.asarray(self.matrix.sum(axis=1)).ravel() * rises_k).sum())

    def powers_for(self, wanted_rise_k: dict[int, float], rounds: int = 12) -> Array:
        """Powers (parts,) that bring the parts of those indices to the wanted rises; the others get none."""
        powers = np.zeros(len(self.world.parts))
        for k, rise in wanted_rise_k.items():
            powers[k] = rise / (self.world.parts[k].to_board_k_per_w + 30.0)
        for _ in range(rounds):
            rises = self.rises_k(powers)[self.cells :]
            for k, rise in wanted_rise_k.items():
                powers[k] *= float(np.clip(rise / max(rises[k], 1e-6), 0.3, 3.0))
        return powers

    def steady(self, powers_w: Sequence[float] | Array, ambient_c: float) -> Heat:
        """The settled temperatures."""
        return self._heat(self.rises_k(powers_w), np.asarray(powers_w, dtype=float), ambient_c)

    def warm_up(self, powers_w: Sequence[float] | Array, ambient_c: float, times_s: Sequence[float]) -> list[Heat]:
        """Temperatures at those times after switching on at ambient (400 implicit steps)."""
        parts = self.world.parts
        capacity = np.full(
            self.cells + len(parts),
            BOARD_J_PER_M3K * self.world.board.thickness_mm / 2 * 1e-3 * (self.step_mm * 1e-3) ** 2,
        )
        capacity[self.cells :] = [PART_J_PER_M3K * float(np.prod(part.size_mm)) * 1e-9 for part in parts]
        heat = np.zeros(len(capacity))
        heat[self.cells :] = powers_w
        dt = max(times_s) / 400
        step = splu((self.matrix + sparse.diags(capacity / dt)).tocsc())
        rises, now, out = np.zeros(len(capacity)), 0.0, []
        for time in sorted(times_s):
            while now < time - dt / 2:
                rises = step.solve(heat + capacity / dt * rises)
                now += dt
            out.append(self._heat(rises, np.asarray(powers_w, dtype=float), ambient_c))
        return out

    def _heat(self, rises: Array, powers_w: Array, ambient_c: float) -> Heat:
        nearest = tuple(ndimage.distance_transform_edt(~self.inside, return_distances=False, return_indices=True))
        board = {}
        for side, first in (("top", 0), ("bottom", self.sheet)):
            grid = np.full(self.shape, np.nan)
            grid[self.inside] = rises[first : first + self.sheet] + ambient_c
            board[side] = grid[nearest]
        part_c = rises[self.cells :] + ambient_c
        under = np.array([(rises[cells] * share).sum() for cells, share in self.cover]) + ambient_c
        heat = Heat(self.origin_mm, self.step_mm, board, part_c, under, np.zeros((len(part_c), FACE, FACE)))
        for k, part in enumerate(self.world.parts):
            heat.faces_c[k] = _face(part, heat, k, float(powers_w[k]))
        return heat


def _face(part: Part, heat: Heat, k: int, power_w: float) -> Array:
    """Temperatures over a part's face, their mean over its bare (not metal) area being the node's."""
    line = np.linspace(-0.5, 0.5, FACE)
    u, v = np.meshgrid(line, line)
    over = heat.part_c[k] - heat.under_c[k] if power_w > 0 else 0.0
    shape = np.zeros((FACE, FACE))
    if part.cap_share:  # a bar heated along its length and cooled at both ends: a parabola
        s = np.clip(u / (0.5 - part.cap_share), -1, 1)
        shape += part.inner_share * over * (1 - s**2)
    elif part.die is not None:
        ox, oy, sx, sy = part.die
        shape += part.inner_share * over * np.exp(-(((u - ox) / sx) ** 2) / 2 - ((v - oy) / sy) ** 2 / 2)
    else:
        shape += 0.12 * over * (1 - (2 * u) ** 2) * (1 - (2 * v) ** 2)
    xy = part.face_mm(np.stack([u.ravel(), v.ravel()], axis=1))
    beneath = heat.board_at(part.side, xy[:, 0], xy[:, 1]).reshape(u.shape)
    # the taller a part, the less of the board's own slope reaches its top
    shape += (0.15 if part.metal_top else 0.5 * math.exp(-part.size_mm[2] / 4.0)) * beneath
    bare = np.hypot(u, v) <= 0.5 if part.round else np.abs(u) <= 0.5 - part.cap_share + 1e-9
    return heat.part_c[k] + shape - float(shape[bare].mean())
