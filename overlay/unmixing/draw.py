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
    flux: Float32  # (t, changes) per unit of each change
    some: tuple[Index, ...]  # by piece: which changes have its nodes sweep anything

    def __post_init__(self) -> None:
        read_only(self)


def sweeps_of(solids: Solids, outlines: Outlines, edges: Edges, moves: Array) -> Sweeps:
    body = solids.rings.body
    own = moves.astype(np.float32).transpose(2, 0, 1)  # (10, n, changes)
    run_x, run_y = edges.run.astype(np.float32).T[:, :, None]
    shifted = own[0][body] * run_y - own[1][body] * run_x
    swept = np.stack([shifted, shifted])  # by start and end of each edge
    across = outlines.speeds[..., 0] * run_y[:, None] - outlines.speeds[..., 1] * run_x[:, None]
    for speed, mixed in zip(across.transpose(2, 1, 0), own[2:], strict=True):  # (2, e), (n, changes)
        swept += speed[:, :, None] * mixed[body]
    flux, further = swept[0][edges.edge], (swept[1] - swept[0])[edges.edge]
    further *= edges.share[:, None]
    flux += further
    flux *= edges.weight[:, None]
    starts = [piece.nodes_at.start for pieces in edges.pieces for piece in pieces]
    sweeping = np.logical_or.reduceat(flux != 0.0, starts, axis=0)
    return Sweeps(edges, moves, flux, tuple(np.flatnonzero(some) for some in sweeping))


def changes(sweeps: Sweeps, pieces: tuple[Piece, ...], *, blur: bool) -> Iterator[tuple[Piece, Index, Float32]]:
    """How a lot's shares change: of which piece, which changes (c,), and these (k, c, h, w).

    ``blur``: by the blur as well, which comes last.
    """
    count = sweeps.moves.shape[1]
    for piece in pieces:
        some = sweeps.some[piece.number]
        flux = sweeps.flux[piece.nodes_at].reshape(*piece.dx.shape, -1)[:, :, some]
        which = np.append(some, count) if blur else some
        if len(which):
            run = (piece.dx, piece.dy) if blur else None
            yield piece, which, changed(sweeps.edges.kernels, piece.nodes, flux, run)
