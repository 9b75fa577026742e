"""Each body's shares of the pixels of its window, and how they change as the body moves and grows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.unmixing.masks import Float32, Kernels, Nodes, blurred, edge_nodes, kernels, moved, sampled, shares
from overlay.unmixing.rings import CAP, GROUPS, HULL, TOP, WALL
from overlay.unmixing.solids import Outlines, Solids
from overlay.unmixing.windows import Lot

_MOST_WORK = 500_000  # numbers in the largest temporary array: 2 MB, about what a processor's cache holds


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """All edges as nodes, sorted by body and kind of ring, each ring running so that its area counts positive."""

    nodes: Nodes
    begin: Index  # (n, GROUPS) first node of a body's rings of one kind …
    count: Index  # (n, GROUPS) … and how many there are
    run: Array  # (e, 2) from each edge's start to its end
    kernels: Kernels

    def __post_init__(self) -> None:
        read_only(self)


def edges_of(solids: Solids, outlines: Outlines, sigma_px: float, lots: tuple[Lot, ...]) -> Edges:
    """Edges ready to be drawn in windows."""
    nodes = edge_nodes(outlines.start, outlines.end, sigma_px)
    sense = outlines.sense[nodes.edge]
    nodes = Nodes(nodes.x, nodes.y, nodes.dx * sense, nodes.dy * sense, nodes.edge, nodes.share, nodes.weight)
    owner = (solids.rings.body * GROUPS + solids.rings.group)[nodes.edge]
    count = np.bincount(owner, minlength=len(solids) * GROUPS)
    begin = np.cumsum(count) - count
    run = (outlines.end - outlines.start) * outlines.sense[:, None]
    widest = max((max(lot.shape) for lot in lots), default=1)
    shape = len(solids), GROUPS
    return Edges(nodes, begin.reshape(shape), count.reshape(shape), run, kernels(sigma_px, widest))


def draw(edges: Edges, lot: Lot, walled: Mask) -> Float32:
    """Shares (m, GROUPS, h, w) of a lot's windows; ``walled`` (n,): what is left of a silhouette is walls."""
    out = np.zeros((len(lot), GROUPS, *lot.shape), dtype=np.float32)
    for group in range(GROUPS):
        for piece in _pieces(edges, lot, group, max(lot.shape)):
            columns = sampled(edges.kernels, piece.x, lot.shape[1], whole=True)
            rows = sampled(edges.kernels, piece.y, lot.shape[0], whole=False)
            out[piece.which, group] = shares(columns, rows, piece.dy)
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
    own = moves[solids.rings.body]  # (e, changes, 10)
    run_x, run_y = edges.run[:, :1], edges.run[:, 1:]
    across = outlines.speeds[..., 0] * run_y[:, None] - outlines.speeds[..., 1] * run_x[:, None]  # (e, 2, 8)
    shifted = own[:, :, 0] * run_y - own[:, :, 1] * run_x
    return Sweeps(edges, moves, (across @ own[:, :, 2:].transpose(0, 2, 1) + shifted[:, None]).astype(np.float32))


def changes(sweeps: Sweeps, lot: Lot, *, blur: bool) -> Iterator[tuple[int, Index, Index, Float32]]:
    """How a lot's shares change: kind of ring, which of the lot (k,), which changes (c,), and these (k, c, h, w).

    ``blur``: by the blur as well, which comes last.
    """
    h, w = lot.shape
    edges, count = sweeps.edges, sweeps.moves.shape[1]
    for group in range(GROUPS):
        for piece in _pieces(edges, lot, group, count * h):
            columns = sampled(edges.kernels, piece.x, w, whole=False)
            rows = sampled(edges.kernels, piece.y, h, whole=False)
            ends = sweeps.swept[piece.edge]  # (k, t, 2, changes)
            flux = ends[:, :, 0] + piece.share[:, :, None] * (ends[:, :, 1] - ends[:, :, 0])
            flux *= piece.weight[:, :, None]
            some = np.flatnonzero(flux.any(axis=(0, 1)))
            if len(some):
                yield group, piece.which, some, moved(columns, rows, flux[:, :, some])
            if blur:
                wider = blurred(columns, rows, piece.dx, piece.dy, edges.kernels.sigma_px)
                yield group, piece.which, np.array([count]), wider[:, None]


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """Rings of one kind of some bodies of a lot, all with t nodes: those that a body lacks have no weight."""

    which: Index  # (k,) of the lot
    x: Array  # (k, t) from the window's first column …
    y: Array  # … and row
    dx: Float32
    dy: Float32
    edge: Index
    share: Float32
    weight: Float32


def _pieces(edges: Edges, lot: Lot, group: int, work: int) -> Iterator[_Piece]:
    """Bodies with about equally many nodes, in pieces that a cache holds; ``work``: numbers for each node."""
    count = edges.count[lot.bodies, group]
    octave = np.floor(4.0 * np.log2(np.maximum(count, 1)))
    for size in np.unique(octave[count > 0]):
        which = np.flatnonzero((octave == size) & (count > 0))
        most = int(count[which].max())
        at_once = max(_MOST_WORK // (work * most), 1)
        for some in np.array_split(which, -(-len(which) // at_once)):
            yield _piece(edges, lot, group, some, most)


def _piece(edges: Edges, lot: Lot, group: int, which: Index, most: int) -> _Piece:
    bodies, nodes = lot.bodies[which], edges.nodes
    number = np.arange(most)
    count = edges.count[bodies, group][:, None]
    take = edges.begin[bodies, group][:, None] + np.minimum(number, count - 1)
    real = (number < count).astype(np.float32)
    top, left = lot.corner[which].T
    return _Piece(
        which=which,
        x=nodes.x[take] - left[:, None],
        y=nodes.y[take] - top[:, None],
        dx=nodes.dx[take].astype(np.float32) * real,
        dy=nodes.dy[take].astype(np.float32) * real,
        edge=nodes.edge[take],
        share=nodes.share[take].astype(np.float32),
        weight=nodes.weight[take].astype(np.float32) * real,
    )
