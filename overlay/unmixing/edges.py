"""All edges of a frame's bodies as nodes, laid out so that many rings are drawn at once."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only, runs
from overlay.unmixing.masks import Float32, Kernels, Nodes, Placed, Places, edge_nodes, kernels, located
from overlay.unmixing.rings import GROUPS
from overlay.unmixing.solids import Outlines, Solids
from overlay.unmixing.windows import Lot

_MOST_WORK = 500_000  # numbers in the largest temporary array: 2 MB, about what a processor's cache holds
_USUAL_CHANGES = 10  # of a body: as many blocks of rows come of each node
_FEW_NODES = 600  # that are drawn in the time of the calls that it takes to draw any (measured: 0.1 ms)
_REACH_SIGMAS = 4.0  # beyond its edges a ring's kernels hold less than 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Rings of one kind of k bodies of a lot, all with t nodes: those that a body lacks have no weight.

    They are drawn in smaller windows of their own, all of one shape.
    """

    group: int
    which: Index  # (k,) of the lot
    corner: Index  # (2, k) first row and column of the smaller window in the body's
    nodes: Placed
    dx: Float32  # (k, t) tangent times weight
    dy: Float32  # (k, t)
    number: int  # among all pieces …
    nodes_at: slice  # … and where its nodes are among all nodes

    def __post_init__(self) -> None:
        read_only(self)

    def windows(self, pictures: Float32) -> Float32:
        """All windows of this piece's shape in pictures (…, rows, cols), without a copy: their corner comes first."""
        h, w = self.nodes.shape
        *others, rows, cols = pictures.shape
        strides = *pictures.strides, *pictures.strides[-2:]
        return np.ndarray((*others, rows - h + 1, cols - w + 1, h, w), pictures.dtype, pictures, strides=strides)


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """All edges as nodes, each ring running so that its area counts positive."""

    run: Array  # (e, 2) from each edge's start to its end
    kernels: Kernels
    edge: Places  # (t,) of each node …
    share: Float32  # (t,) … and where on it, 0…1
    weight: Float32  # (t,) of the edge's length
    pieces: tuple[tuple[Piece, ...], ...]  # by lot

    def __post_init__(self) -> None:
        read_only(self)


def edges_of(solids: Solids, outlines: Outlines, sigma_px: float, lots: tuple[Lot, ...]) -> Edges:
    """Edges ready to be drawn in windows."""
    owner = solids.rings.body * GROUPS + solids.rings.group
    outer = np.flatnonzero(~_shared(outlines, owner))
    nodes = edge_nodes(outlines.start[outer], outlines.end[outer], sigma_px)
    nodes = replace(nodes, edge=outer[nodes.edge])
    sense = outlines.sense[nodes.edge]
    nodes = replace(nodes, dx=nodes.dx * sense, dy=nodes.dy * sense)
    made = kernels(sigma_px, max((max(lot.shape) for lot in lots), default=1))
    run = (outlines.end - outlines.start) * outlines.sense[:, None]
    drawn = _drawn_of(owner[nodes.edge], lots, len(solids))
    take, real = _padded(drawn)
    pieces = _pieces(nodes, drawn, (take, real), made, lots)
    edge: Places = nodes.edge[take].astype(np.int32)
    share = nodes.share[take].astype(np.float32)
    weight = nodes.weight[take].astype(np.float32) * real
    return Edges(run, made, edge, share, weight, pieces)


def _shared(outlines: Outlines, owner: Index) -> Mask:
    """Edges (e,) between two rings of one kind of one body: what one of them draws there, the other takes away."""
    ahead = outlines.sense[:, None] > 0.0
    start = np.where(ahead, outlines.start, outlines.end)
    end = np.where(ahead, outlines.end, outlines.start)
    x, y = (outlines.start + outlines.end).T
    order = np.lexsort((y, x, owner))
    one, other = order[:-1], order[1:]
    same = (owner[one] == owner[other]) & np.all((start[one] == end[other]) & (end[one] == start[other]), axis=1)
    out = np.zeros(len(owner), dtype=bool)
    out[one[same]] = out[other[same]] = True
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """Rings of one kind of one body, r such pairs: those that are drawn at once stand side by side, in stretches."""

    kind: Index  # (r,)
    lot: Index  # (r,)
    place: Index  # (r,) in the lot
    begin: Index  # (r,) first node …
    count: Index  # (r,) … and how many there are
    starts: Index  # (stretches,) where each stretch begins

    def spread(self, values: Array | Index) -> Index:
        """What each stretch has (stretches, …) as integers for its pairs (r, …)."""
        return np.repeat(values.astype(np.intp), np.diff(self.starts, append=len(self.lot)), axis=0)

    @property
    def most(self) -> Index:
        """The most nodes of any pair of each stretch (stretches,)."""
        return np.maximum.reduceat(self.count, self.starts)


def _drawn_of(owner: Index, lots: tuple[Lot, ...], bodies: int) -> _Drawn:
    """``owner`` (t,): body·GROUPS + kind of ring of each node, in order. A stretch has about as many nodes a pair."""
    counts = np.bincount(owner, minlength=bodies * GROUPS)
    there = np.flatnonzero(counts)
    body, kind, count = there // GROUPS, there % GROUPS, counts[there]
    lot, place = np.empty(bodies, dtype=np.intp), np.empty(bodies, dtype=np.intp)
    for number, these in enumerate(lots):
        lot[these.bodies], place[these.bodies] = number, np.arange(len(these))
    both = lot[body] * GROUPS + kind
    # a few nodes of no weight are less work than another stretch
    octave = np.floor(np.where(np.bincount(both, count)[both] > _FEW_NODES, 3.0, 1.0) * np.log2(count)).astype(np.intp)
    order = np.lexsort((body, octave, both))
    keys = both[order] * 100 + octave[order]
    body = body[order]
    begin = (np.cumsum(count) - count)[order]
    return _Drawn(kind[order], lot[body], place[body], begin, count[order], np.flatnonzero(np.diff(keys, prepend=-1)))


def _padded(drawn: _Drawn) -> tuple[Index, Float32]:
    """The nodes of all stretches, each pair's as many as the most of its stretch, and 0 for those that it lacks."""
    padded = drawn.spread(drawn.most)
    pair, number = np.repeat(np.arange(len(padded)), padded), runs(0, padded)
    take = drawn.begin[pair] + np.minimum(number, drawn.count[pair] - 1)
    return take, (number < drawn.count[pair]).astype(np.float32)


def _windows_of(
    nodes: Nodes, drawn: _Drawn, sigma_px: float, lots: tuple[Lot, ...]
) -> tuple[list[tuple[int, int]], Index, Index]:
    """The shape of each stretch's smaller windows, and each pair's first row and column (r, 2) in its body's window.

    And the same in the frame.
    """
    corner = np.stack([lots[i].corner[j] for i, j in zip(drawn.lot, drawn.place, strict=True)])
    limit = np.array([lot.shape for lot in lots])[drawn.lot]
    reach = _REACH_SIGMAS * math.hypot(sigma_px, 0.29) + 0.5
    order = np.argsort(drawn.begin)  # pairs as their nodes follow one another
    low, high = np.empty(corner.shape), np.empty(corner.shape)
    for axis, at in enumerate((nodes.y, nodes.x)):
        low[order, axis] = np.minimum.reduceat(at, drawn.begin[order]) - reach
        high[order, axis] = np.maximum.reduceat(at, drawn.begin[order]) + reach
    low = np.clip(np.floor(low) - corner, 0, limit - 1)
    high = np.clip(np.ceil(high) - corner, low, limit - 1)
    shapes = np.maximum.reduceat(high - low, drawn.starts, axis=0).astype(np.intp) + 1
    first = np.minimum(low, limit - drawn.spread(shapes)).astype(np.intp)
    return [(h, w) for h, w in shapes.tolist()], first, corner + first


def _pieces(
    nodes: Nodes, drawn: _Drawn, padding: tuple[Index, Float32], made: Kernels, lots: tuple[Lot, ...]
) -> tuple[tuple[Piece, ...], ...]:
    """The pieces of every lot: each stretch in as many as a cache holds; ``padding`` as `_padded` has it."""
    shapes, first, corner = _windows_of(nodes, drawn, made.sigma_px, lots)
    take, real = padding
    padded = drawn.spread(drawn.most)
    ends, pair = np.cumsum(padded), np.repeat(np.arange(len(padded)), padded)
    pixel, row, rest = located(made, np.stack([nodes.x, nodes.y]))
    pixel, row, rest = pixel[:, take], row[:, take], rest[:, take]
    pixel -= corner.T[::-1].astype(np.int32)[:, pair]
    longest = drawn.spread(np.array([max(shape) for shape in shapes])).astype(np.int32)[pair]
    at = row + np.clip(made.middle - pixel, 0, made.length - longest)
    dx, dy = (part[take].astype(np.float32) * real for part in (nodes.dx, nodes.dy))
    number = 0
    pieces: list[list[Piece]] = [[] for _ in lots]
    for shape, t, start, stop in zip(
        shapes, drawn.most.tolist(), drawn.starts, np.append(drawn.starts[1:], len(padded)), strict=True
    ):
        at_once = max(_MOST_WORK // (_USUAL_CHANGES * max(shape) * t), 1)
        for begin in range(start, stop, at_once):
            some = slice(begin, min(begin + at_once, stop))
            k = some.stop - begin
            here = slice(ends[begin] - t, ends[begin] + (k - 1) * t)
            pieces[drawn.lot[begin]].append(
                Piece(
                    group=int(drawn.kind[begin]),
                    which=drawn.place[some],
                    corner=first[some].T,
                    nodes=Placed(at[:, here].reshape(2, k, t), rest[:, here].reshape(2, k, t, 1), shape),
                    dx=dx[here].reshape(k, t),
                    dy=dy[here].reshape(k, t),
                    number=number,
                    nodes_at=here,
                )
            )
            number += 1
    return tuple(tuple(some) for some in pieces)
