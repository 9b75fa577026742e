"""Each body's shares of the pixels of its window, and how they change as the body moves and grows."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.unmixing.masks import (
    Float32,
    Kernels,
    Nodes,
    Placed,
    Places,
    blurred,
    edge_nodes,
    kernels,
    located,
    moved,
    placed,
    sampled,
    shares,
)
from overlay.unmixing.rings import CAP, GROUPS, HULL, TOP, WALL
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
    dx: Float32  # (k, t), and likewise …
    dy: Float32
    edge: Places
    share: Float32
    weight: Float32

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
    pieces: tuple[tuple[Piece, ...], ...]  # by lot

    def __post_init__(self) -> None:
        read_only(self)


def edges_of(solids: Solids, outlines: Outlines, sigma_px: float, lots: tuple[Lot, ...]) -> Edges:
    """Edges ready to be drawn in windows."""
    owner = solids.rings.body * GROUPS + solids.rings.group
    outer = np.flatnonzero(~_shared(outlines, owner))
    nodes = edge_nodes(outlines.start[outer], outlines.end[outer], sigma_px)
    edge = outer[nodes.edge]
    sense = outlines.sense[edge]
    nodes = replace(nodes, dx=nodes.dx * sense, dy=nodes.dy * sense, edge=edge)
    widest = max((max(lot.shape) for lot in lots), default=1)
    made = kernels(sigma_px, widest)
    cut = _Cut(solids, nodes, owner[edge], made)
    run = (outlines.end - outlines.start) * outlines.sense[:, None]
    return Edges(run, made, tuple(tuple(cut.pieces(lot)) for lot in lots))


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


class _Cut:
    """Cuts sorted nodes into pieces."""

    def __init__(self, solids: Solids, nodes: Nodes, owner: Index, made: Kernels) -> None:
        """``owner`` (t,): body·GROUPS + kind of ring, in order."""
        reach = _REACH_SIGMAS * math.hypot(made.sigma_px, 0.29) + 0.5
        shape = len(solids), GROUPS
        count = np.bincount(owner, minlength=len(solids) * GROUPS)
        begin = np.cumsum(count) - count
        there = np.flatnonzero(count)
        low, high = np.zeros((2, len(count))), np.zeros((2, len(count)))
        for axis, place in enumerate((nodes.y, nodes.x)):
            low[axis, there] = np.minimum.reduceat(place, begin[there]) - reach
            high[axis, there] = np.maximum.reduceat(place, begin[there]) + reach
        self._kernels = made
        # what is taken at once stands side by side
        pixel, row, rest = located(made, np.stack([nodes.x, nodes.y], axis=1))
        self._places = np.column_stack([pixel, row, nodes.edge]).astype(np.int32)
        self._values = np.column_stack([rest, nodes.share, nodes.dx, nodes.dy, nodes.weight]).astype(np.float32)
        self._count, self._begin = count.reshape(shape), begin.reshape(shape)
        self._low, self._high = np.floor(low).T.reshape(*shape, 2), np.ceil(high).T.reshape(*shape, 2)

    def pieces(self, lot: Lot) -> Iterator[Piece]:
        """Bodies with about equally many nodes, in pieces that a cache holds."""
        counts = self._count[lot.bodies]
        for group in np.flatnonzero(counts.any(axis=0)).tolist():
            count = counts[:, group]
            # a few nodes of no weight are less work than another piece
            octave = np.floor((3.0 if count.sum() > _FEW_NODES else 1.0) * np.log2(np.maximum(count, 1)))
            for size in np.unique(octave[count > 0]).tolist():
                which = np.flatnonzero((octave == size) & (count > 0))
                most = int(count[which].max())
                at_once = max(_MOST_WORK // (_USUAL_CHANGES * max(lot.shape) * most), 1)
                for some in np.array_split(which, -(-len(which) // at_once)):
                    yield self._piece(lot, group, some, most)

    def _piece(self, lot: Lot, group: int, which: Index, most: int) -> Piece:
        bodies = lot.bodies[which]
        corner, limit = lot.corner[which], np.array(lot.shape)
        low = np.clip(self._low[bodies, group] - corner, 0, limit - 1)
        high = np.clip(self._high[bodies, group] - corner, low, limit - 1)
        h, w = (int(size) for size in (high - low).max(axis=0) + 1)
        first = np.minimum(low, limit - (h, w)).astype(np.intp)
        number = np.arange(most)
        count = self._count[bodies, group][:, None]
        take = self._begin[bodies, group][:, None] + np.minimum(number, count - 1)
        places, values = self._places[take].transpose(2, 0, 1), self._values[take].transpose(2, 0, 1)
        values[3:] *= number < count
        pixel = places[:2] - (corner + first).T[::-1, :, None].astype(np.int32)
        return Piece(
            group=group,
            which=which,
            corner=first.T,
            nodes=placed(self._kernels, pixel, places[2:4], values[:2], (h, w)),
            dx=values[3],
            dy=values[4],
            edge=places[4],
            share=values[2],
            weight=values[5],
        )


def draw(edges: Edges, lot: Lot, pieces: tuple[Piece, ...], walled: Mask) -> Float32:
    """Shares (m, GROUPS, h, w) of a lot's windows; ``walled`` (n,): what is left of a silhouette is walls."""
    out = np.zeros((len(lot), GROUPS, *lot.shape), dtype=np.float32)
    for piece in pieces:
        piece.windows(out)[piece.which, piece.group, *piece.corner] = shares(edges.kernels, piece.nodes, piece.dy)
    walls = np.flatnonzero(walled[lot.bodies])
    out[walls, WALL] = out[walls, HULL] - out[walls, TOP] - out[walls, CAP]
    return out


@dataclass(frozen=True, slots=True, eq=False)
class Sweeps:
    """What all edges sweep as bodies change."""

    edges: Edges
    moves: Array  # (n, changes, 10) each change as a mixture of shifts in x and y and what `Outlines.speeds` tells
    swept: Float32  # (e, 2, changes) at the start and end of each edge, per unit of each change

    def __post_init__(self) -> None:
        read_only(self)


def sweeps_of(solids: Solids, outlines: Outlines, edges: Edges, moves: Array) -> Sweeps:
    body = solids.rings.body
    own = moves.astype(np.float32).transpose(2, 0, 1)  # (10, n, changes)
    run_x, run_y = edges.run.astype(np.float32).T[:, :, None]
    shifted = own[0][body] * run_y - own[1][body] * run_x
    swept = np.stack([shifted, shifted], axis=1)
    across = outlines.speeds[..., 0] * run_y[:, None] - outlines.speeds[..., 1] * run_x[:, None]
    for speed, mixed in zip(across.transpose(2, 0, 1), own[2:], strict=True):  # (e, 2), (n, changes)
        swept += speed[:, :, None] * mixed[body][:, None]
    return Sweeps(edges, moves, swept)


def changes(sweeps: Sweeps, pieces: tuple[Piece, ...], *, blur: bool) -> Iterator[tuple[Piece, Index, Float32]]:
    """How a lot's shares change: of which piece, which changes (c,), and these (k, c, h, w).

    ``blur``: by the blur as well, which comes last.
    """
    made, count = sweeps.edges.kernels, sweeps.moves.shape[1]
    for piece in pieces:
        once, slope = sampled(made, piece.nodes)
        ends = sweeps.swept[piece.edge]  # (k, t, 2, changes)
        flux = ends[:, :, 0] + piece.share[:, :, None] * (ends[:, :, 1] - ends[:, :, 0])
        flux *= piece.weight[:, :, None]
        some = np.flatnonzero(flux.any(axis=(0, 1)))
        if len(some):
            yield piece, some, moved(once, piece.nodes.shape, flux[:, :, some])
        if blur:
            wider = blurred(once, slope, piece.nodes.shape, piece.dx, piece.dy, made.sigma_px)
            yield piece, np.array([count]), wider[:, None]
