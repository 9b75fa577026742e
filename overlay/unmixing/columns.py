"""How each unknown of a body would change the picture in its window.

Every derivative is that of the picture as it is drawn, to what its tests call rounding: a change of shares counts with
the radiance that the pixel itself is given, and what lies on a face moves with it.
"""

from __future__ import annotations

import numpy as np

from overlay.arrays import Index, Mask
from overlay.unmixing import priors
from overlay.unmixing.draw import Sweeps, changes
from overlay.unmixing.edges import Piece
from overlay.unmixing.masks import Float32
from overlay.unmixing.picture import Mixture, Picture, Surfaces
from overlay.unmixing.rings import CAP, HULL, LEAD_X, LEAD_Y, PAD, TOP, WALL
from overlay.unmixing.state import GEOMETRY, RADIANCES
from overlay.unmixing.windows import Lot


def columns_of(mixture: Mixture, picture: Picture, number: int, kept: Mask, sweeps: Sweeps | None) -> Float32:
    """Derivatives of a lot's windows by its bodies' columns, as `unknowns_of` lays them out: (m, kept, h, w).

    ``kept`` (columns,) are those that some body of the lot has; without ``sweeps`` those of geometry are zero.
    """
    lot, on = picture.lots[number], picture.surfaces[number]
    bare = 1.0 - mixture.board_metal_ratio
    knots = on.average.shape[1]
    beneath = lot.of(picture.shown).astype(np.float32)
    out = np.zeros((len(lot), int(kept.sum()), *lot.shape), dtype=np.float32)
    place = np.where(kept, np.cumsum(kept) - 1, -1)
    glow, bow = on.glow, on.bows * on.bowed
    faces = out[:, :knots].reshape(len(lot), on.along.shape[1], on.across.shape[1], *lot.shape)
    np.multiply((glow[:, None] * on.along)[:, :, None], on.across[:, None], out=faces)
    if knots == 1:  # more are never bowed
        out[:, 0] += bow
    caps, flats = (1.0 - on.ratio) * on.share[:, CAP], bare * (on.share[:, PAD] + on.bare_leads)
    away = bare * (on.flat - beneath)
    by_wall = on.here - beneath
    leads = away * on.share[:, LEAD_X], away * on.share[:, LEAD_Y]
    radiances: tuple[Float32, ...] = caps, flats, *leads, on.rise * on.bowed, by_wall * on.share[:, WALL]
    for at, column in zip(place[knots : knots + RADIANCES], radiances, strict=True):
        if at >= 0:
            out[:, at] = column
    out[:, -1] = priors.MIRRORED_BOARD * (caps + flats) - bow
    if sweeps is not None:
        pieces = sweeps.edges.pieces[number]
        _add_geometry(
            out, place[knots + RADIANCES : -1], sweeps, pieces, lot, on, _contrasts(mixture, lot, on, beneath)
        )
    return out


def _add_geometry(
    out: Float32,
    place: Index,
    sweeps: Sweeps,
    pieces: tuple[Piece, ...],
    lot: Lot,
    on: Surfaces,
    contrast: dict[int, Float32],
) -> None:
    """Add derivatives by place, size, metal, blur and pose to ``out``; ``place``: where each of these columns is."""
    column = np.concatenate([place[:6], place[GEOMETRY:], place[6:7]])  # as `changes` counts them
    for piece, some, change in changes(sweeps, pieces, blur=bool(place[6] >= 0)):
        change *= piece.windows(contrast[piece.group])[piece.which, *piece.corner][:, None]
        piece.windows(out)[piece.which[:, None], column[some], *piece.corner[:, :, None]] += change
    bend = on.bows * on.rise * on.share[:, TOP]
    risen = (on.glow if on.average.shape[1] > 1 else bend)[:, None] * on.slopes
    # what lies on a face moves with it
    slid = (-on.axes.transpose(0, 2, 1) @ risen.reshape(len(lot), 2, -1)).reshape(risen.shape)
    out[:, place[:2]] += slid
    if place[4] >= 0:
        out[:, place[4]] += bend * on.bow_by_cap
    pose = place[GEOMETRY:]
    if len(pose) and pose[0] >= 0:
        by_pose = sweeps.moves[lot.bodies, 6:, :2].astype(np.float32)
        out[:, pose] += (by_pose @ slid.reshape(len(lot), 2, -1)).reshape(len(lot), len(pose), *lot.shape)


def _contrasts(mixture: Mixture, lot: Lot, on: Surfaces, beneath: Float32) -> dict[int, Float32]:
    """What a pixel's radiance gains (m, h, w) where a kind of ring takes it from the board."""
    bare = 1.0 - mixture.board_metal_ratio
    bend = on.bows * on.rise
    wall = on.walls * (on.here - beneath)
    # what grows on a silhouette takes from its walls
    taken = beneath + wall * mixture.bodies.walled[lot.bodies][:, None, None]
    metal = bare * (on.flat - beneath)
    return {
        TOP: on.here + bend * on.bow - taken,
        CAP: on.ratio * (on.here + bend * on.bow_at_ends) + on.caps * (1.0 - on.ratio) - taken,
        HULL: wall,
        WALL: wall,
        PAD: metal,
        LEAD_X: on.leads[:, 0] * metal,
        LEAD_Y: on.leads[:, 1] * metal,
    }
