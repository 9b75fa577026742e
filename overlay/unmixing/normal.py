"""The normal equations of the difference between the frame and its picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, Index
from overlay.unmixing.board import BoardField
from overlay.unmixing.draw import Window
from overlay.unmixing.picture import Mixture, Picture
from overlay.unmixing.state import Columns

if TYPE_CHECKING:
    from scipy.sparse import csr_array

_LARGE_PX = 1500  # windows beyond this use only the pixels that matter
_NO_MATTER = 1e-5  # of a pixel's signal: far below its noise
_MOST_WAITING = 4_000_000  # entries of a matrix that wait to be packed: 100 MB


class _Blocks:
    """Entries of a sparse matrix, block by block; packed now and then, since most places are told several times."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._waiting: list[tuple[Index, Index, Array]] = []
        self._count = 0
        self._packed: csr_array | None = None

    def entries(self, rows: Index, cols: Index, data: Array) -> None:
        self._waiting.append((rows, cols, data))
        self._count += len(data)
        if self._count > _MOST_WAITING:
            self._pack()

    def block(self, rows: Index, cols: Index, data: Array) -> None:
        self.entries(np.repeat(rows, len(cols)), np.tile(cols, len(rows)), data.ravel())

    def _pack(self) -> None:
        from scipy.sparse import coo_array, csr_array

        rows, cols, data = (np.concatenate(parts) for parts in zip(*self._waiting, strict=True))
        more = csr_array(coo_array((data, (rows, cols)), shape=(self._size,) * 2))
        self._packed = more if self._packed is None else csr_array(self._packed + more)
        self._waiting, self._count = [], 0

    def matrix(self) -> csr_array:
        from scipy.sparse import csr_array

        if self._waiting:
            self._pack()
        return csr_array((self._size,) * 2) if self._packed is None else self._packed


def normal_equations(mixture: Mixture, picture: Picture, weight: Array, columns: Columns) -> tuple[csr_array, Array]:
    """AᵀWA (unknowns, unknowns) and AᵀWr for weights (rows, cols), without any prior."""
    from scipy.sparse import csr_array

    residual = mixture.observed - picture.model
    size = int(columns.first[-1])
    right = np.zeros(size)
    blocks, beside_diagonal = _Blocks(size), _Blocks(size)  # the latter stand on both sides of it
    _board_block(mixture.field, picture, weight, residual, right, blocks, beside_diagonal)
    bounds = _bounds(picture.windows)
    root = np.sqrt(weight)
    owns: list[Array] = []  # each body's columns times the root of the weight
    for i, window in enumerate(picture.windows):
        at = window.slices
        own = picture.columns[i][columns.used[i]] * root[at]
        k = len(own)
        owns.append(own)
        ids = np.arange(columns.first[i], columns.first[i] + k)
        flat = own.reshape(k, -1)
        heavy = flat * root[at].ravel()
        right[ids] += heavy @ residual[at].ravel()
        blocks.block(ids, ids, flat @ flat.T)
        touched, product = _board_product(mixture.field, picture.board_share, window, heavy)
        beside_diagonal.block(ids, touched, product)
    for i, j in _overlaps(bounds):
        low, high = np.maximum(bounds[i, :2], bounds[j, :2]), np.minimum(bounds[i, 2:], bounds[j, 2:])
        one, other = _cut(owns[i], bounds[i], low, high), _cut(owns[j], bounds[j], low, high)
        first, second = (np.arange(columns.first[n], columns.first[n + 1]) for n in (i, j))
        beside_diagonal.block(first, second, one @ other.T)
    spread = columns.spread
    one_side = beside_diagonal.matrix()
    whole = blocks.matrix() + one_side + one_side.T
    return csr_array(spread.T @ (whole @ spread)), np.asarray(spread.T @ right)


def _cut(columns: Array, bounds: Index, low: Index, high: Index) -> Array:
    """The columns (k, pixels) of a window between two corners (row, column)."""
    top, left = low - bounds[:2]
    bottom, right = high - bounds[:2]
    return columns[:, top:bottom, left:right].reshape(len(columns), -1)


def _board_block(
    field: BoardField, picture: Picture, weight: Array, residual: Array, right: Array, blocks: _Blocks, beside: _Blocks
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
            (blocks if a == b else beside).entries(at + first, at + second, value[at])


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
