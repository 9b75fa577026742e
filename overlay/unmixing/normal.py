"""What the frame would be for given unknowns, and the normal equations of the difference."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, Index, read_only
from overlay.unmixing import priors
from overlay.unmixing.board import BoardField
from overlay.unmixing.draw import Window, draw, nodes_of
from overlay.unmixing.masks import Nodes
from overlay.unmixing.rings import CAP, HULL, LEAD_X, LEAD_Y, PAD, TOP, WALL
from overlay.unmixing.solids import Outlines, Solids
from overlay.unmixing.state import Columns, Layout, State

if TYPE_CHECKING:
    from scipy.sparse import csr_array

_LARGE_PX = 1500  # windows beyond this use only the pixels that matter
_NO_MATTER = 1e-5
BOW_AT_ENDS = -2.0 / 3.0
"""⅓ − s² at s = ±1: a parabola about its own mean."""


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """What stays the same from round to round: pixels (rows, cols) and surfaces."""

    bodies: Solids
    field: BoardField
    layout: Layout
    observed: Array  # leaving radiance
    reflected: float  # radiance
    board_metal_ratio: float  # emissivity of metal over that of the board

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """The frame as the unknowns would have it, with what it takes to change them."""

    model: Array  # (rows, cols)
    added: Array  # (rows, cols) what all but the bare board contributes to it
    board_share: Array  # (rows, cols) how much of a pixel's signal is the bare board's
    windows: list[Window]
    columns: list[Array]  # by body (k, h, w): derivatives by its own columns
    averages: list[Array]  # by body: weights of its knots in the mean of its visible top face

    def __post_init__(self) -> None:
        read_only(self)


def picture_of(mixture: Mixture, state: State, outlines: Outlines, *, geometry: bool) -> Picture:
    """Draw everything at its present place."""
    bodies, field, layout = mixture.bodies, mixture.field, mixture.layout
    board = field.picture(state.board)
    nodes = nodes_of(bodies, outlines, state.sigma_px)
    contrast = _contrast(mixture, state, nodes, board) if geometry else None
    windows = draw(bodies, outlines, nodes, contrast, state.sigma_px, mixture.observed.shape)
    covered = np.zeros(board.shape)
    added = np.zeros(board.shape)
    columns: list[Array] = []
    averages: list[Array] = []
    bare = 1.0 - mixture.board_metal_ratio
    under = board_beneath(mixture, state)
    mirrors = _mirrors(mixture, state)
    for i, window in enumerate(windows):
        share, at = window.share, window.slices
        ratio = bodies.metal_ratio[i]
        top, cap, wall, pad = share[TOP], share[CAP], share[WALL], share[PAD]
        cap_metal, flat_metal = mirrors[i]
        leads = state.leads[i, 0] * share[LEAD_X] + state.leads[i, 1] * share[LEAD_Y]
        value = state.tops[layout.tops[i] : layout.tops[i + 1]]
        glow = top + ratio * cap + state.walls[i] * wall
        bow = np.zeros(top.shape)
        if bodies.bowed[i]:
            bow = _bow(bodies, i, window, outlines, state) * top + BOW_AT_ENDS * ratio * cap
        if bodies.knots[i].prod() > 1:
            basis = _basis(bodies, i, window, outlines, state)
            average = (basis * top).sum(axis=(1, 2))
            average = average / average.sum() if average.sum() > 0 else np.full(len(value), 1.0 / len(value))
            here, mean = np.tensordot(value, basis, 1), float(average @ value)
        else:
            basis, average, here, mean = np.ones((1, 1, 1)), np.ones(1), value[0], float(value[0])
        rise = mean - under[i]
        averages.append(average)
        covered[at] += top + cap + state.walls[i] * wall + bare * (pad + leads)
        added[at] += glow * here + state.bows[i] * rise * bow
        added[at] += cap_metal * (1.0 - ratio) * cap + flat_metal * bare * (pad + leads)
        beneath = board[at]
        away = bare * (flat_metal - beneath)
        columns.append(
            np.concatenate(
                [
                    glow * basis + state.bows[i] * bow * average[:, None, None],
                    [
                        (1.0 - ratio) * cap,
                        bare * (pad + leads),
                        away * share[LEAD_X],
                        away * share[LEAD_Y],
                        rise * bow,
                        (here - beneath) * wall,
                    ],
                    window.change,
                ]
            )
        )
    board_share = np.clip(1.0 - covered, 0.0, 1.0)
    return Picture(board_share * board + added, added, board_share, windows, columns, averages)


def board_beneath(mixture: Mixture, state: State) -> Array:
    """Radiance (n,) of the board beneath the middle of each body."""
    knots, weights = mixture.field.at(mixture.bodies.center_mm[:, :2])
    return np.asarray((state.board[knots] * weights).sum(axis=1))


def _mirrors(mixture: Mixture, state: State) -> Array:
    """Radiance (n, 2) that caps, and pads or leads, mirror."""
    around = board_beneath(mixture, state)[:, None]
    return np.asarray(mixture.reflected + priors.MIRRORED_BOARD * (around - mixture.reflected) + state.mirrored)


def _contrast(mixture: Mixture, state: State, nodes: Nodes, board: Array) -> Array:
    """At every node: radiance of its ring's surface less that of what would be seen without the ring."""
    bodies, layout = mixture.bodies, mixture.layout
    body = bodies.rings.body[nodes.edge]
    group = bodies.rings.group[nodes.edge]
    beneath = _sample(board, nodes.x, nodes.y)
    mean = np.add.reduceat(state.tops, layout.tops[:-1]) / np.diff(layout.tops)
    s = nodes.along(bodies.rings.sx, bodies.rings.sx[bodies.rings.following])
    bent = 1.0 + np.where(bodies.bowed & (bodies.code >= 0), state.bows, 0.0)[body] * np.where(
        group == TOP, 1.0 / 3.0 - s**2, np.where(group == CAP, BOW_AT_ENDS, 0.0)
    )
    top = (mean[body] - beneath) * bent
    metal = _mirrors(mixture, state)[body, np.where(group == CAP, 0, 1)]
    ratio = bodies.metal_ratio[body]
    bare = (1.0 - mixture.board_metal_ratio) * (metal - beneath)
    wall = state.walls[body] * top
    over_hull = np.where(bodies.walled[body], wall, 0.0)
    return np.select(
        [group == TOP, group == CAP, (group == HULL) | (group == WALL), group == PAD, group == LEAD_X],
        [
            top - over_hull,
            metal + ratio * (top + beneath - metal) - beneath,
            wall,
            bare,
            bare * state.leads[body, 0],
        ],
        bare * state.leads[body, 1],
    )


def _sample(picture: Array, x: Array, y: Array) -> Array:
    rows, cols = picture.shape
    column = np.clip(np.round(x), 0, cols - 1).astype(np.intp)
    row = np.clip(np.round(y), 0, rows - 1).astype(np.intp)
    return picture[row, column]


def _place(bodies: Solids, i: int, window: Window, outlines: Outlines, state: State) -> Array:
    """Where the pixels of a window lie on a top face without its ends (2, h, w): −1…1, beyond it its nearest place."""
    h, w = window.share.shape[1:]
    x = np.arange(window.left, window.left + w) - outlines.center[i, 0]
    y = np.arange(window.top, window.top + h)[:, None] - outlines.center[i, 1]
    along, across = bodies.to_face[i]
    code = int(bodies.code[i])
    bare = 1.0 - 2.0 * float(state.caps[code]) if code >= 0 else 1.0
    place = np.empty((2, h, w))
    np.add((along[0] / bare) * x, (along[1] / bare) * y, out=place[0])
    np.add(across[0] * x, across[1] * y, out=place[1])
    return np.clip(place, -1.0, 1.0, out=place)


def _bow(bodies: Solids, i: int, window: Window, outlines: Outlines, state: State) -> Array:
    """A parabola (h, w) about its own mean: along a chip, in both directions of other bodies."""
    place = _place(bodies, i, window, outlines, state)
    if bodies.code[i] >= 0:
        return np.asarray(1.0 / 3.0 - place[0] ** 2)
    return np.asarray(1.0 / 3.0 - 0.5 * (place**2).sum(axis=0))


def _basis(bodies: Solids, i: int, window: Window, outlines: Outlines, state: State) -> Array:
    """Hat functions (knots, h, w) of a top face at the pixels of its window."""
    place = _place(bodies, i, window, outlines, state)
    hats = []
    for axis in (0, 1):
        count = int(bodies.knots[i, axis])
        steps = (place[axis] + 1.0) / 2.0 * (count - 1)
        hats.append(np.maximum(1.0 - np.abs(steps - np.arange(count)[:, None, None]), 0.0))
    return np.asarray((hats[0][:, None] * hats[1][None]).reshape(-1, *place.shape[1:]))


class _Blocks:
    """Entries of a symmetric sparse matrix, block by block."""

    def __init__(self) -> None:
        self._rows: list[Index] = []
        self._cols: list[Index] = []
        self._data: list[Array] = []

    def entries(self, rows: Index, cols: Index, data: Array, *, mirror: bool) -> None:
        self._rows.append(rows)
        self._cols.append(cols)
        self._data.append(data)
        if mirror:
            self.entries(cols, rows, data, mirror=False)

    def block(self, rows: Index, cols: Index, data: Array, *, mirror: bool) -> None:
        self.entries(np.repeat(rows, len(cols)), np.tile(cols, len(rows)), data.ravel(), mirror=mirror)

    def matrix(self, size: int) -> csr_array:
        from scipy.sparse import coo_array, csr_array

        places = np.concatenate(self._rows), np.concatenate(self._cols)
        return csr_array(coo_array((np.concatenate(self._data), places), shape=(size, size)))


def normal_equations(mixture: Mixture, picture: Picture, weight: Array, columns: Columns) -> tuple[csr_array, Array]:
    """AᵀWA (unknowns, unknowns) and AᵀWr for weights (rows, cols), without any prior."""
    from scipy.sparse import csr_array

    residual = mixture.observed - picture.model
    size = int(columns.first[-1])
    right = np.zeros(size)
    blocks = _Blocks()
    _board_block(mixture.field, picture, weight, residual, right, blocks)
    bounds = _bounds(picture.windows)
    owns: list[Array] = []
    weighted: list[Array] = []
    for i, window in enumerate(picture.windows):
        own = picture.columns[i][columns.used[i]]
        k = len(own)
        owns.append(own)
        at = window.slices
        heavy = own * weight[at]
        weighted.append(heavy)
        ids = np.arange(columns.first[i], columns.first[i] + k)
        flat, heavy = own.reshape(k, -1), heavy.reshape(k, -1)
        right[ids] += heavy @ residual[at].ravel()
        blocks.block(ids, ids, heavy @ flat.T, mirror=False)
        touched, product = _board_product(mixture.field, picture.board_share, window, heavy)
        blocks.block(ids, touched, product, mirror=True)
    for i, j in _overlaps(bounds):
        low, high = np.maximum(bounds[i, :2], bounds[j, :2]), np.minimum(bounds[i, 2:], bounds[j, 2:])
        one, other = _cut(weighted[i], bounds[i], low, high), _cut(owns[j], bounds[j], low, high)
        first, second = (np.arange(columns.first[n], columns.first[n + 1]) for n in (i, j))
        blocks.block(first, second, one @ other.T, mirror=True)
    spread = columns.spread
    return csr_array(spread.T @ (blocks.matrix(size) @ spread)), np.asarray(spread.T @ right)


def _cut(columns: Array, bounds: Index, low: Index, high: Index) -> Array:
    """The columns (k, pixels) of a window between two corners (row, column)."""
    top, left = low - bounds[:2]
    bottom, right = high - bounds[:2]
    return columns[:, top:bottom, left:right].reshape(len(columns), -1)


def _board_block(
    field: BoardField, picture: Picture, weight: Array, residual: Array, right: Array, blocks: _Blocks
) -> None:
    used = (weight > 0) & (picture.board_share > _NO_MATTER)
    base = field.base[used]
    share = field.share[:, used] * picture.board_share[used]
    w, r = weight[used], residual[used]
    knots = field.knots
    for a, first in enumerate(field.offsets):
        heavy = share[a] * w
        right[:knots] += np.bincount(base + first, heavy * r, knots)
        for b, second in enumerate(field.offsets[: a + 1]):
            value = np.asarray(np.bincount(base, heavy * share[b], knots), dtype=np.float64)
            at = np.flatnonzero(value).astype(np.intp)
            blocks.entries(at + first, at + second, value[at], mirror=a != b)


def _board_product(field: BoardField, board_share: Array, window: Window, heavy: Array) -> tuple[Index, Array]:
    """Knots a window touches, and the product (k, knots) of its weighted columns with the board's."""
    at = window.slices
    share = board_share[at].ravel()
    base = field.base[at].ravel()
    corner = field.share[(slice(None), *at)].reshape(4, -1)
    if len(base) > _LARGE_PX:
        matters = share > _NO_MATTER
        share, base, corner, heavy = share[matters], base[matters], corner[:, matters], heavy[:, matters]
        if not len(base):
            return np.zeros(0, dtype=np.intp), np.zeros((len(heavy), 0))
    nx = field.shape[1]
    row, column = base // nx, base % nx
    r0, c0 = int(row.min()), int(column.min())
    height, width = int(row.max()) - r0 + 2, int(column.max()) - c0 + 2
    local = (row - r0) * width + (column - c0)
    dense = np.zeros((len(base), height * width))
    pixel = np.arange(len(base))
    for offset, weight in zip((0, 1, width, width + 1), corner, strict=True):
        dense[pixel, local + offset] = weight * share
    touched = ((r0 + np.arange(height))[:, None] * nx + c0 + np.arange(width)).ravel()
    return touched, heavy @ dense


def _bounds(windows: list[Window]) -> Index:
    """Top, left, bottom, right of each window (n, 4)."""
    corners = [(w.top, w.left, w.top + w.share.shape[1], w.left + w.share.shape[2]) for w in windows]
    return np.array(corners, dtype=np.intp).reshape(-1, 4)


def _overlaps(bounds: Index) -> list[tuple[int, int]]:
    """Pairs of windows that share pixels."""
    low, high = bounds[:, :2], bounds[:, 2:]
    pairs: list[tuple[int, int]] = []
    for i in range(len(bounds) - 1):
        meet = np.all((low[i + 1 :] < high[i]) & (high[i + 1 :] > low[i]), axis=1)
        pairs += [(i, int(j)) for j in np.flatnonzero(meet) + i + 1]
    return pairs
