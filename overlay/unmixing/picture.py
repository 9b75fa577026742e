"""What the frame would be for given unknowns, and how each of them would change it.

Every derivative is that of the picture as it is drawn here, to what its tests call rounding: a change of shares counts
with the radiance that the pixel itself is given, and what lies on a face moves with it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array, read_only
from overlay.unmixing import priors
from overlay.unmixing.board import BoardField
from overlay.unmixing.draw import CAP_CHANGE, CHANGES, DX, DY, Window
from overlay.unmixing.rings import CAP, GROUPS, HULL, LEAD_X, LEAD_Y, PAD, TOP, WALL
from overlay.unmixing.solids import Outlines, Solids
from overlay.unmixing.state import Layout, State

BOW_AT_ENDS = -2.0 / 3.0
"""⅓ − s² at s = ±1: a parabola about its own mean."""


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """What stays the same from round to round: pixels (rows, cols) and surfaces."""

    bodies: Solids
    field: BoardField
    layout: Layout
    observed: Array  # leaving radiance
    reflected: float  # radiance
    board_metal_ratio: float  # emissivity of metal over that of the board

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """The frame as the unknowns would have it, with what it takes to change them."""

    model: Array  # (rows, cols)
    added: Array  # (rows, cols) what all but the bare board contributes to it
    board_share: Array  # (rows, cols) how much of a pixel's signal is the bare board's
    windows: list[Window]
    columns: list[Array]  # by body (k, h, w): derivatives by its own columns
    averages: list[Array]  # by body: weights of its knots in the mean of its visible top face

    def __post_init__(self) -> None:
        read_only(self)

    def without_changes(self) -> Picture:
        """The picture alone, once the equations of what would change it are laid out."""
        return replace(self, windows=[window.without_changes() for window in self.windows], columns=[])


@dataclass(frozen=True, slots=True, eq=False)
class _Surfaces:
    """Radiances of one body's surfaces at the pixels of its window (h, w), and how they follow the body."""

    basis: Array  # (knots, h, w) share of each knot in the radiance of the top face
    average: Array  # (knots,) share of each knot in the mean of the visible top face
    here: Array  # radiance of the top face
    bow: Array  # parabola of an unresolved face, 0 without
    rise: float  # mean of the face above the board beneath
    caps: float  # radiance that caps mirror …
    flat: float  # … and that pads and leads mirror
    here_moves: Array  # (2, h, w) change of ``here`` per px of shift in x and y
    bow_moves: Array  # (3, h, w) likewise of ``bow``, and per unit of the cap share


def picture_of(mixture: Mixture, state: State, outlines: Outlines, windows: list[Window], *, geometry: bool) -> Picture:
    """Everything where the windows were drawn; with ``geometry`` also how it changes as it moves and grows."""
    bodies = mixture.bodies
    board = mixture.field.picture(state.board)
    under = board_beneath(mixture, state)
    mirrors = _mirrors(mixture, state, under)
    surfaces = [
        _surfaces(mixture, state, outlines, i, window, (float(under[i]), *mirrors[i]))
        for i, window in enumerate(windows)
    ]
    covered, added = np.zeros(board.shape), np.zeros(board.shape)
    for i, (window, surface) in enumerate(zip(windows, surfaces, strict=True)):
        share, bare = _weights(mixture, state, i), 1.0 - mixture.board_metal_ratio
        ratio, shape = bodies.metal_ratio[i], window.share
        covered[window.slices] += (share @ shape.reshape(GROUPS, -1)).reshape(shape.shape[1:])
        leads = state.leads[i, 0] * shape[LEAD_X] + state.leads[i, 1] * shape[LEAD_Y]
        glow = shape[TOP] + ratio * shape[CAP] + state.walls[i] * shape[WALL]
        added[window.slices] += (
            glow * surface.here
            + state.bows[i] * surface.rise * _bowed(surface, shape, ratio)
            + surface.caps * (1.0 - ratio) * shape[CAP]
            + surface.flat * bare * (shape[PAD] + leads)
        )
    board_share = np.clip(1.0 - covered, 0.0, 1.0)
    # where bodies hide the board altogether, more of them hides no more
    shown = np.where(covered < 1.0, board, 0.0)
    columns = [
        _columns(mixture, state, i, window, surface, shown[window.slices], geometry=geometry)
        for i, (window, surface) in enumerate(zip(windows, surfaces, strict=True))
    ]
    return Picture(
        board_share * board + added, added, board_share, windows, columns, [item.average for item in surfaces]
    )


def board_beneath(mixture: Mixture, state: State) -> Array:
    """Radiance (n,) of the board beneath the middle of each body."""
    knots, weights = mixture.field.at(mixture.bodies.center_mm[:, :2])
    return np.asarray((state.board[knots] * weights).sum(axis=1))


def _mirrors(mixture: Mixture, state: State, under: Array) -> Array:
    """Radiance (n, 2) that caps, and pads or leads, mirror."""
    around = priors.MIRRORED_BOARD * (under[:, None] - mixture.reflected)
    return np.asarray(mixture.reflected + around + state.mirrored)


def _weights(mixture: Mixture, state: State, i: int) -> Array:
    """How much of the board each kind of ring of a body hides, (GROUPS,)."""
    bare = 1.0 - mixture.board_metal_ratio
    out = np.zeros(GROUPS)
    out[[TOP, CAP]] = 1.0
    out[WALL] = state.walls[i]
    out[[PAD, LEAD_X, LEAD_Y]] = bare, bare * state.leads[i, 0], bare * state.leads[i, 1]
    return out


def _bowed(surface: _Surfaces, share: Array, ratio: float) -> Array:
    return np.asarray(surface.bow * share[TOP] + (BOW_AT_ENDS * ratio * share[CAP] if surface.bow.any() else 0.0))


def _surfaces(
    mixture: Mixture, state: State, outlines: Outlines, i: int, window: Window, around: tuple[float, float, float]
) -> _Surfaces:
    """``around``: radiance of the board beneath, and what caps, and pads or leads, mirror."""
    bodies, layout = mixture.bodies, mixture.layout
    value = state.tops[layout.tops[i] : layout.tops[i + 1]]
    shape = window.share.shape[1:]
    flat_face = len(value) == 1
    bow, bow_moves, here_moves = np.zeros(shape), np.zeros((3, *shape)), np.zeros((2, *shape))
    basis, average = np.ones((1, *shape)), np.ones(1)
    if not flat_face or bodies.bowed[i]:
        place, moves = _place(bodies, i, window, outlines, state)
    if bodies.bowed[i]:
        bow, bow_moves = _bow(bodies, i, place, moves)
    if not flat_face:
        basis, slopes = _basis(bodies, i, place)
        average = (basis * window.share[TOP]).sum(axis=(1, 2))
        average = average / average.sum() if average.sum() > 0 else np.full(len(value), 1.0 / len(value))
        slope = np.tensordot(value, slopes, (0, 1))  # (2, h, w) along the face's own axes
        here_moves = np.asarray((slope[:, None] * moves[:, :2]).sum(axis=0))
    here = (value @ basis.reshape(len(value), -1)).reshape(shape)
    rise = float(average @ value) - around[0]
    return _Surfaces(basis, average, here, bow, rise, around[1], around[2], here_moves, bow_moves)


def _columns(
    mixture: Mixture, state: State, i: int, window: Window, surface: _Surfaces, beneath: Array, *, geometry: bool
) -> Array:
    """Derivatives (k, h, w) by a body's own columns, in the order of `columns_of`."""
    share, ratio = window.share, mixture.bodies.metal_ratio[i]
    bare = 1.0 - mixture.board_metal_ratio
    bow = _bowed(surface, share, ratio)
    glow = share[TOP] + ratio * share[CAP] + state.walls[i] * share[WALL]
    leads = state.leads[i, 0] * share[LEAD_X] + state.leads[i, 1] * share[LEAD_Y]
    caps, flats = (1.0 - ratio) * share[CAP], bare * (share[PAD] + leads)
    away = bare * (surface.flat - beneath)
    return np.concatenate(
        [
            glow * surface.basis + state.bows[i] * bow * surface.average[:, None, None],
            [
                caps,
                flats,
                away * share[LEAD_X],
                away * share[LEAD_Y],
                surface.rise * bow,
                (surface.here - beneath) * share[WALL],
                priors.MIRRORED_BOARD * (caps + flats) - state.bows[i] * bow,
            ],
            *([_geometry(mixture, state, i, window, surface, beneath)] if geometry else []),
        ]
    )


def _geometry(mixture: Mixture, state: State, i: int, window: Window, surface: _Surfaces, beneath: Array) -> Array:
    """Derivatives (CHANGES, h, w) by place, size, metal and blur."""
    shape = beneath.shape
    bodies, ratio, bare = mixture.bodies, mixture.bodies.metal_ratio[i], 1.0 - mixture.board_metal_ratio
    bend = state.bows[i] * surface.rise
    end = BOW_AT_ENDS if surface.bow.any() else 0.0
    wall = state.walls[i] * (surface.here - beneath)
    over = wall if bodies.walled[i] else 0.0  # what grows on a silhouette takes from its walls
    metal = bare * (surface.flat - beneath)
    contrast = {
        TOP: surface.here + bend * surface.bow - beneath - over,
        CAP: ratio * (surface.here + bend * end) + surface.caps * (1.0 - ratio) - beneath - over,
        HULL: wall,
        WALL: wall,
        PAD: metal,
        LEAD_X: state.leads[i, 0] * metal,
        LEAD_Y: state.leads[i, 1] * metal,
    }
    change = np.zeros((CHANGES, *shape))
    for group, moved in zip(window.groups, window.change, strict=True):
        change += contrast[group] * moved
    share = window.share
    glow = share[TOP] + ratio * share[CAP] + state.walls[i] * share[WALL]
    change[[DX, DY]] += glow * surface.here_moves + bend * share[TOP] * surface.bow_moves[:2]
    change[CAP_CHANGE] += bend * share[TOP] * surface.bow_moves[2]
    return change


def _place(bodies: Solids, i: int, window: Window, outlines: Outlines, state: State) -> tuple[Array, Array]:
    """Where a window's pixels lie on a top face without its ends (2, h, w): −1…1, beyond it its nearest place.

    And how that changes with the body's shift in x and y and with the cap share, (2, 3, h, w).
    """
    h, w = window.share.shape[1:]
    x = np.arange(window.left, window.left + w) - outlines.center[i, 0]
    y = np.arange(window.top, window.top + h)[:, None] - outlines.center[i, 1]
    code = int(bodies.code[i])
    bare = np.array([1.0 - 2.0 * float(state.caps[code]) if code >= 0 else 1.0, 1.0])
    axes = bodies.to_face[i] / bare[:, None]
    place = axes[:, 0, None, None] * x + axes[:, 1, None, None] * y
    inside = np.abs(place) < 1.0
    moves = np.zeros((2, 3, h, w))
    moves[:, :2] = -axes[:, :, None, None] * inside[:, None]
    moves[0, 2] = (2.0 / bare[0] if code >= 0 else 0.0) * place[0] * inside[0]
    return np.clip(place, -1.0, 1.0), moves


def _bow(bodies: Solids, i: int, place: Array, moves: Array) -> tuple[Array, Array]:
    """A parabola (h, w) about its own mean, along a chip, in both directions of other bodies; and how it moves."""
    if bodies.code[i] >= 0:
        return 1.0 / 3.0 - place[0] ** 2, -2.0 * place[0] * moves[0]
    return 1.0 / 3.0 - 0.5 * (place**2).sum(axis=0), -(place[:, None] * moves).sum(axis=0)


def _basis(bodies: Solids, i: int, place: Array) -> tuple[Array, Array]:
    """Hat functions (knots, h, w) of a top face at given places, and their slopes along its axes (2, knots, h, w)."""
    hats, slopes = [], []
    for axis in (0, 1):
        count = int(bodies.knots[i, axis])
        off = (place[axis] + 1.0) / 2.0 * (count - 1) - np.arange(count)[:, None, None]
        hats.append(np.maximum(1.0 - np.abs(off), 0.0))
        slopes.append(np.where(np.abs(off) < 1.0, -np.sign(off), 0.0) * 0.5 * (count - 1))
    shape = place.shape[1:]
    basis = (hats[0][:, None] * hats[1][None]).reshape(-1, *shape)
    along = (slopes[0][:, None] * hats[1][None]).reshape(-1, *shape)
    across = (hats[0][:, None] * slopes[1][None]).reshape(-1, *shape)
    return basis, np.stack([along, across])
