"""Each body's shares of the pixels of its window, and how they change as the body moves and grows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.unmixing.edges import Edges, Piece
from overlay.unmixing.masks import Float32, blurred, moved, sampled, shares
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
