"""Where every product of drawn columns stands in the normal equations: the same until windows are laid anew."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.unmixing.board import BoardField
from overlay.unmixing.masks import Float32, Places
from overlay.unmixing.picture import Mixture
from overlay.unmixing.state import BENEATH, NOT_THERE, unknowns_of
from overlay.unmixing.windows import Lot

if TYPE_CHECKING:
    from scipy.sparse import csr_array

ONE, OTHER = np.triu_indices(4)  # the four knots around a pixel in pairs
CROSSED = [1, 2, 3, 6, 8]  # pairs of different ones, all but …
ALIKE = 5, 3  # … that of 1 and 2, whose product is that of 0 and 3


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """What the kept columns of a lot mean: each is one unknown's, the last that of the four knots beneath its body."""

    kept: Mask  # of all columns
    column: Index  # (s,) of the kept ones
    unknown: Index  # (m, s) or NOT_THERE
    factor: Array  # (m, s)


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The board's knots that a lot's windows touch: in each as many, in a rectangle of the lattice."""

    knots: Index  # (m, t)
    place: Places  # (m·h·w·4,) of the four knots around each pixel among all m·t
    share: Float32  # (m, h·w, 4) their weights there


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Two bodies whose windows overlap: lot, place in it, and what they share of their windows."""

    one: tuple[int, int, slice, slice]
    other: tuple[int, int, slice, slice]


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """Where every product stands in the matrix, and every sum on the right."""

    lots: tuple[Lot, ...]
    spreads: list[Spread]
    grounds: list[Ground]
    pairs: list[Pair]
    pixels: Index  # (q,) those that count
    base: Places  # (q,) the knot of each
    corner: Float32  # (q, 4) weights of the four knots …
    crossed: Float32  # (q, 5) … and products of two of them, as `CROSSED` counts them
    sums: csr_array  # (entries, products): which are summed where. Entries are those of the local unknowns on and above
    indices: Places  # (u,) the diagonal, row after row, in these columns; …
    indptr: Places  # … then all of every unknown with the shared ones, on and above the diagonal
    prior: Float32  # the last products: what is believed beforehand

    def __post_init__(self) -> None:
        read_only(self)


def pattern_of(mixture: Mixture, lots: tuple[Lot, ...], usable: Mask, prior: csr_array) -> Pattern:
    """Lay out the products for windows; pixels that are not ``usable`` (rows, cols) never count."""
    from scipy.sparse import triu

    field, size = mixture.field, mixture.layout.count
    spreads = [_spread(mixture, lot) for lot in lots]
    grounds = [_ground(field, lot) for lot in lots]
    pairs = _pairs(lots)
    places = _Places(mixture.layout.local, size)
    for spread, under in zip(spreads, grounds, strict=True):
        places.within(spread)
        places.on_ground(spread, under)
    places.between(spreads, pairs)
    pixels = np.flatnonzero(usable)
    base = field.around[pixels, 0]
    places.of_knots(field, np.unique(base))
    believed = triu(prior, format="coo")
    places.told(believed.row, believed.col)
    upper, sums = places.summed()
    row, column = np.divmod(upper, mixture.layout.local)
    share = field.share[pixels]
    return Pattern(
        lots=lots,
        spreads=spreads,
        grounds=grounds,
        pairs=pairs,
        pixels=pixels,
        base=base,
        corner=share,
        crossed=share[:, ONE[CROSSED]] * share[:, OTHER[CROSSED]],
        sums=sums,
        indices=column.astype(np.int32),
        indptr=np.searchsorted(row, np.arange(mixture.layout.local + 1)).astype(np.int32),
        prior=believed.data.astype(np.float32),
    )


def _spread(mixture: Mixture, lot: Lot) -> Spread:
    drawn = unknowns_of(mixture.bodies, mixture.layout, lot)
    kept = np.any(drawn != NOT_THERE, axis=0)
    own = drawn[:, kept][:, :-1]
    knots, share = mixture.field.at(mixture.bodies.center_mm[lot.bodies, :2])
    assert np.all(drawn[:, -1] == BENEATH)
    return Spread(
        kept=kept,
        column=np.concatenate([np.arange(own.shape[1]), np.full(4, own.shape[1])]),
        unknown=np.concatenate([own, knots], axis=1),
        factor=np.concatenate([np.ones(own.shape), share], axis=1),
    )


def _ground(field: BoardField, lot: Lot) -> Ground:
    """The rectangle of knots under each window of a lot, all of one size."""
    ny, nx = field.shape
    base = field.around[lot.pixels, 0]  # (m, pixels)
    row, col = base // nx, base % nx
    low = np.stack([row.min(axis=1), col.min(axis=1)], axis=1).astype(np.intp)
    height, width = int((row.max(axis=1) - low[:, 0]).max()) + 2, int((col.max(axis=1) - low[:, 1]).max()) + 2
    low = np.minimum(low, [ny - height, nx - width])
    inside = (np.arange(height)[:, None] * nx + np.arange(width)).ravel()
    place = (row - low[:, :1]) * width + col - low[:, 1:] + np.arange(len(lot))[:, None] * (height * width)
    around = place[:, :, None] + np.array([0, 1, width, width + 1])
    return Ground(low @ np.array([nx, 1])[:, None] + inside, around.astype(np.int32).ravel(), field.share[lot.pixels])


def _pairs(lots: tuple[Lot, ...]) -> list[Pair]:
    """Bodies whose windows share pixels."""
    of = np.concatenate([np.full(len(lot), number) for number, lot in enumerate(lots)])
    place = np.concatenate([np.arange(len(lot)) for lot in lots])
    low = np.concatenate([lot.corner for lot in lots])
    high = np.concatenate([lot.corner + np.array(lot.shape) for lot in lots])
    meet = [
        np.flatnonzero(np.all((low[i + 1 :] < high[i]) & (high[i + 1 :] > low[i]), axis=1)) + i + 1
        for i in range(len(of))
    ]
    i, j = np.repeat(np.arange(len(of)), [len(some) for some in meet]), np.concatenate(meet)
    begin, end = np.maximum(low[i], low[j]), np.minimum(high[i], high[j])
    cuts = [np.column_stack([of[k], place[k], begin - low[k], end - low[k]]).tolist() for k in (i, j)]
    one, other = (
        [(lot, m, slice(top, bottom), slice(left, right)) for lot, m, top, left, bottom, right in cut] for cut in cuts
    )
    return [Pair(*both) for both in zip(one, other, strict=True)]


class _Places:
    """Entries of the matrix, on and above its diagonal, that products are summed into, told in the products' order."""

    def __init__(self, local: int, size: int) -> None:
        self._local, self._size = local, size
        self._kind = np.int32 if local**2 + size * (size - local) < 2**31 else np.int64  # half as much to go through
        self.products = 0
        self._keys: list[Index] = []
        self._product: list[Index] = []
        self._factor: list[Float32] = []

    def _add(self, rows: Index, cols: Index, product: Index, factor: Array) -> None:
        """All of one shape; a product of two columns that stand for one unknown counts twice on the diagonal."""
        there = (rows >= 0) & (cols >= 0)
        rows, cols = rows[there].astype(self._kind), cols[there].astype(self._kind)
        low, high = np.minimum(rows, cols), np.maximum(rows, cols)
        local, shared = self._local, self._size - self._local
        self._keys.append(np.where(high < local, low * local + high, local**2 + low * shared + high - local))
        self._product.append(product[there].astype(np.int32))
        self._factor.append(factor[there].astype(np.float32))

    def within(self, spread: Spread) -> None:
        """Products (m, k, k) of a body's columns with each other."""
        m, k = len(spread.unknown), int(spread.column[-1]) + 1
        a, b = np.triu_indices(len(spread.column))
        product = np.arange(m)[:, None] * (k * k) + spread.column[a] * k + spread.column[b]
        factor = spread.factor[:, a] * spread.factor[:, b]
        self._add(spread.unknown[:, a], spread.unknown[:, b], self.products + product, factor)
        self.products += m * k * k

    def on_ground(self, spread: Spread, under: Ground) -> None:
        """Products (m, t, k) of knots with a body's columns."""
        (m, t), k = under.knots.shape, int(spread.column[-1]) + 1
        knots, unknown = np.broadcast_arrays(under.knots[:, :, None], spread.unknown[:, None])
        product = np.arange(m * t).reshape(m, t, 1) * k + spread.column
        factor = spread.factor[:, None] * np.where(knots == unknown, 2.0, 1.0)
        self._add(knots, unknown, self.products + product, factor)
        self.products += m * t * k

    def between(self, spreads: list[Spread], pairs: list[Pair]) -> None:
        """Products (k, l) of the columns of two bodies, pair after pair."""
        count = [int(spread.column[-1]) + 1 for spread in spreads]
        both = np.array([(p.one[0], p.other[0], p.one[1], p.other[1]) for p in pairs], dtype=np.intp).reshape(-1, 4)
        sizes = np.array([count[a] * count[b] for a, b in both[:, :2].tolist()], dtype=np.intp)
        first = self.products + np.cumsum(sizes) - sizes
        for a, b in np.unique(both[:, :2], axis=0).tolist():
            these = np.flatnonzero(np.all(both[:, :2] == (a, b), axis=1))
            one, other = spreads[a], spreads[b]
            i, j = both[these, 2], both[these, 3]
            rows, cols = np.broadcast_arrays(one.unknown[i][:, :, None], other.unknown[j][:, None])
            product = first[these][:, None, None] + one.column[:, None] * count[b] + other.column
            factor = one.factor[i][:, :, None] * other.factor[j][:, None] * np.where(rows == cols, 2.0, 1.0)
            self._add(rows, cols, product, factor)
        self.products += int(sizes.sum())

    def of_knots(self, field: BoardField, base: Index) -> None:
        """Products (knots, 10) of the four knots of each cell with each other; ``base``: the cells that count."""
        offsets = np.array(field.offsets)
        product = self.products + base[:, None] * len(ONE) + np.arange(len(ONE))
        rows, cols = base[:, None] + offsets[ONE], base[:, None] + offsets[OTHER]
        self._add(rows, cols, product, np.ones(product.shape))
        self.products += field.knots * len(ONE)

    def told(self, rows: Index, cols: Index) -> None:
        """Further values, one for each given place."""
        rows, cols = rows.astype(np.intp), cols.astype(np.intp)
        self._add(rows, cols, self.products + np.arange(len(rows)), np.ones(len(rows)))
        self.products += len(rows)

    def summed(self) -> tuple[Index, csr_array]:
        """Different entries of the local unknowns, as row·local + column, in order; and `Pattern.sums`."""
        from scipy.sparse import csr_array

        keys = np.concatenate(self._keys)
        order = np.argsort(keys)
        ranked = keys[order]
        begins = np.flatnonzero(np.diff(ranked, prepend=-1))
        entries = ranked[begins]
        upper = entries[: np.searchsorted(entries, self._local**2)]
        dense = np.searchsorted(ranked, self._local**2 + np.arange(self._size * (self._size - self._local) + 1))
        starts = np.concatenate([begins[: len(upper)], dense]).astype(np.int32)
        product, factor = np.concatenate(self._product)[order], np.concatenate(self._factor)[order]
        return upper, csr_array((factor, product, starts), shape=(len(starts) - 1, self.products))
