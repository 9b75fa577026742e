"""The normal equations of the difference between the frame and its picture.

What is summed over pixels are products of drawn columns: of one body's among themselves, with the board's knots, with
those of bodies whose windows overlap, and of knots among themselves. Where each product stands in the matrix stays the
same until windows are laid anew: it is worked out once (`pattern_of`), and every round only sums (`normal_equations`).
"""

from __future__ import annotations

import numpy as np

from overlay.arrays import Array
from overlay.unmixing.board import BoardField
from overlay.unmixing.columns import columns_of
from overlay.unmixing.draw import Sweeps
from overlay.unmixing.masks import Float32
from overlay.unmixing.pattern import ALIKE, CROSSED, ONE, OTHER, Ground, Pair, Pattern
from overlay.unmixing.picture import Mixture, Picture
from overlay.unmixing.solve import Equations


def normal_equations(
    mixture: Mixture, pattern: Pattern, picture: Picture, weight: Array, sweeps: Sweeps | None
) -> Equations:
    """AᵀWA with the prior's precision, and AᵀWr without it, for weights (rows, cols)."""
    from scipy.sparse import csr_array

    root = np.sqrt(weight).astype(np.float32)
    residual = (root * (mixture.observed - picture.model)).astype(np.float32)
    products, right = _products(mixture, pattern, picture, (root, residual), sweeps)
    entries = (pattern.sums @ products).astype(np.float64)
    local, upper = mixture.layout.local, len(pattern.indices)
    matrix = csr_array((entries[:upper], pattern.indices, pattern.indptr), shape=(local, local))
    shared = entries[upper:].reshape(len(right), -1)
    inner = shared[local:] + np.triu(shared[local:], 1).T
    return Equations(matrix, shared[:local], inner, right)


def _products(
    mixture: Mixture, pattern: Pattern, picture: Picture, weighted: tuple[Float32, Float32], sweeps: Sweeps | None
) -> tuple[Float32, Array]:
    """All products as `Pattern` counts them, and AᵀWr; ``weighted`` (rows, cols): √W and √W·r."""
    root, residual = weighted
    ground = root * picture.board_share.astype(np.float32)
    drawn: list[Float32] = []
    products: list[Float32] = []
    right = np.zeros(mixture.layout.count)
    for number, (lot, spread, under) in enumerate(zip(pattern.lots, pattern.spreads, pattern.grounds, strict=True)):
        own = columns_of(mixture, picture, number, spread.kept, sweeps)
        own *= lot.of(root)[:, None]
        drawn.append(own)
        flat = own.reshape(len(lot), own.shape[1], -1)
        products.append((flat @ flat.transpose(0, 2, 1)).ravel())
        products.append(_on_ground(under, flat, lot.of(ground)))
        ends = (flat @ lot.of(residual).reshape(len(lot), -1, 1))[:, :, 0]
        there = spread.unknown >= 0
        right += np.bincount(spread.unknown[there], (ends[:, spread.column] * spread.factor)[there], len(right))
    products += [_overlap(drawn, pair) for pair in pattern.pairs]
    among, alone = _knots(mixture.field, pattern, ground, residual)
    right[: mixture.field.knots] += alone
    return np.concatenate([*products, among.ravel(), pattern.prior]), right


def _on_ground(under: Ground, columns: Float32, ground: Float32) -> Float32:
    """Products (m·t·k,) of a lot's weighted columns (m, k, pixels) with the knots its windows touch."""
    from scipy.sparse import csc_array

    m, k, pixels = columns.shape
    data = under.share * ground.reshape(m, pixels, 1)
    starts = np.arange(0, 4 * m * pixels + 1, 4, dtype=np.int32)
    spread = csc_array((data.ravel(), under.place, starts), shape=(under.knots.size, m * pixels))
    return np.asarray(spread @ columns.transpose(0, 2, 1).reshape(-1, k)).ravel()


def _overlap(drawn: list[Float32], pair: Pair) -> Float32:
    """Products (k·l,) of the columns of two bodies where their windows overlap."""
    lot, i, rows, cols = pair.one
    one = drawn[lot][i, :, rows, cols]
    lot, i, rows, cols = pair.other
    other = drawn[lot][i, :, rows, cols]
    return (one.reshape(len(one), -1) @ other.reshape(len(other), -1).T).ravel()


def _knots(field: BoardField, pattern: Pattern, ground: Float32, residual: Float32) -> tuple[Float32, Array]:
    """Products (knots, 10) of the four knots of each cell among themselves, and sums (knots,) with the residual."""
    from scipy.sparse import csc_array

    of, left = ground.ravel()[pattern.pixels], residual.ravel()[pattern.pixels]
    starts = np.arange(len(of) + 1, dtype=np.int32)
    shape = (field.knots, len(of))
    weighted = csc_array((of**2, pattern.base, starts), shape=shape)
    among = np.empty((field.knots, len(ONE)), dtype=np.float32)
    among[:, CROSSED] = weighted @ pattern.crossed
    among[:, ALIKE[0]] = among[:, ALIKE[1]]
    # a pixel's weights sum to one: a knot's product with itself is what those with the others leave of its sum
    whole = weighted @ pattern.corner
    for knot in range(len(field.offsets)):
        own = (knot == ONE) & (knot == OTHER)
        others = ((knot == ONE) | (knot == OTHER)) & ~own
        among[:, own] = (whole[:, knot] - among[:, others].sum(axis=1))[:, None]
    sums = csc_array((of * left, pattern.base, starts), shape=shape) @ pattern.corner
    alone = np.zeros(field.knots)
    for offset, values in zip(field.offsets, sums.T, strict=True):
        alone[offset:] += values[: field.knots - offset]
    return among, alone
