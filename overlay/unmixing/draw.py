"""Each body's shares of the pixels of its window, and how they change as the body moves and grows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.unmixing.edges import Edges, Piece
from overlay.unmixing.masks import Float32, changed, shares
from overlay.unmixing.rings import CAP, GROUPS, HULL, TOP, WALL
from overlay.unmixing.solids import Outlines, Solids
from overlay.unmixing.windows import Lot


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
    """What all nodes sweep as bodies change."""

    edges: Edges
    moves: Array  # (n, changes, 10) each change as a mixture of shifts in x and y and what `Outlines.speeds` tells
    flux: Float32  # (changes, t) per unit of each change
    some: tuple[Index, ...]  # by piece: which changes have its nodes sweep anything

    def __post_init__(self) -> None:
        read_only(self)


def sweeps_of(solids: Solids, outlines: Outlines, edges: Edges, moves: Array) -> Sweeps:
    body = solids.rings.body
    run_x, run_y = edges.run.astype(np.float32).T
    speeds_x, speeds_y = outlines.speeds.transpose(3, 2, 1, 0)  # (8, 2, e)
    shifted = np.broadcast_to(np.stack([run_y, -run_x])[:, None], (2, *speeds_x.shape[1:]))
    across = np.concatenate([shifted, speeds_x * run_y - speeds_y * run_x])  # (10, 2, e)
    swept = np.zeros((2, moves.shape[1], len(body)), dtype=np.float32)  # by start and end of each edge
    for change, kind in np.argwhere(moves.any(axis=0)):
        swept[:, change] += moves[:, change, kind].astype(np.float32)[body] * across[kind]
    flux, further = swept[0][:, edges.edge], (swept[1] - swept[0])[:, edges.edge]
    further *= edges.share
    flux += further
    flux *= edges.weight
    starts = [piece.nodes_at.start for pieces in edges.pieces for piece in pieces]
    sweeping = np.logical_or.reduceat(flux != 0.0, starts, axis=1)
    return Sweeps(edges, moves, flux, tuple(np.flatnonzero(some) for some in sweeping.T))


def changes(sweeps: Sweeps, pieces: tuple[Piece, ...], *, blur: bool) -> Iterator[tuple[Piece, Index, Float32]]:
    """How a lot's shares change: of which piece, which changes (c,), and these (k, c, h, w).

    ``blur``: by the blur as well, which comes last.
    """
    count = sweeps.moves.shape[1]
    for piece in pieces:
        some = sweeps.some[piece.number]
        flux = sweeps.flux[some, piece.nodes_at].reshape(-1, *piece.dx.shape).transpose(1, 0, 2)
        which = np.append(some, count) if blur else some
        if len(which):
            run = (piece.dx, piece.dy) if blur else None
            yield piece, which, changed(sweeps.edges.kernels, piece.nodes, flux, run)
