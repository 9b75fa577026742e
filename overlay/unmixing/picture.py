"""What the frame would be for given unknowns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Index, read_only
from overlay.unmixing import priors
from overlay.unmixing.board import BoardField
from overlay.unmixing.masks import Float32
from overlay.unmixing.rings import CAP, LEAD_X, LEAD_Y, PAD, TOP, WALL
from overlay.unmixing.solids import Outlines, Solids
from overlay.unmixing.state import Layout, State
from overlay.unmixing.windows import Lot

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
class Surfaces:
    """Radiances of the surfaces of a lot's bodies at the pixels of their windows, and how they follow the bodies.

    By body and pixel (m, h, w), or by body and the same for all its pixels (m, 1, 1).
    """

    share: Float32  # (m, GROUPS, h, w)
    along: Float32  # (m, a, h, w) shares of each row of knots along a top face in its radiance …
    across: Float32  # (m, b, h, w) … and of each across it: every knot has the product of two
    average: Array  # (m, knots) share of each knot in the mean of the visible top face
    here: Float32  # radiance of the top face
    bow: Float32  # parabola of an unresolved face, 0 without …
    bow_at_ends: Float32  # … and what it is there
    rise: Float32  # mean of the face above the board beneath
    caps: Float32  # radiance that caps mirror …
    flat: Float32  # … and that pads and leads mirror
    axes: Float32  # (m, 2, 2) how a place on the top face changes with its pixel's column and row
    slopes: Float32  # (m, 2, h, w) change of ``here``, or of ``bow`` where there is but one knot, with that place
    bow_by_cap: Float32  # change of ``bow`` per unit of the cap share
    ratio: Float32  # emissivity of metal over that of the top face
    walls: Float32  # walls between board (0) and top face (1)
    bows: Float32
    leads: Float32  # (m, 2, 1, 1) bare share of the leads

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def glow(self) -> Float32:
        """How much of a pixel's signal goes with the top face."""
        share = self.share
        return np.asarray(share[:, TOP] + self.ratio * share[:, CAP] + self.walls * share[:, WALL])

    @property
    def bowed(self) -> Float32:
        return np.asarray(self.bow * self.share[:, TOP] + self.bow_at_ends * self.ratio * self.share[:, CAP])

    @property
    def bare_leads(self) -> Float32:
        return np.asarray(self.leads[:, 0] * self.share[:, LEAD_X] + self.leads[:, 1] * self.share[:, LEAD_Y])


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """The frame as the unknowns would have it, with what it takes to change them."""

    model: Array  # (rows, cols)
    added: Array  # (rows, cols) what all but the bare board contributes to it
    board_share: Array  # (rows, cols) how much of a pixel's signal is the bare board's
    shown: Array  # (rows, cols) the board where it is not hidden altogether
    lots: tuple[Lot, ...]
    surfaces: tuple[Surfaces, ...]  # by lot

    def __post_init__(self) -> None:
        read_only(self)


def picture_of(
    mixture: Mixture, state: State, outlines: Outlines, lots: tuple[Lot, ...], shares: list[Float32]
) -> Picture:
    """Everything where the windows were drawn."""
    board = mixture.field.picture(state.board)
    under = board_beneath(mixture, state)
    mirrors = _mirrors(mixture, state, under)
    surfaces = tuple(
        _surfaces(mixture, state, outlines, lot, share, under, mirrors) for lot, share in zip(lots, shares, strict=True)
    )
    bare = 1.0 - mixture.board_metal_ratio
    hidden, radiance = [], []
    for on in surfaces:
        share, metal = on.share, bare * (on.share[:, PAD] + on.bare_leads)
        hidden.append((share[:, TOP] + share[:, CAP] + on.walls * share[:, WALL] + metal).ravel())
        mirrored = on.caps * (1.0 - on.ratio) * share[:, CAP] + on.flat * metal
        radiance.append((on.glow * on.here + on.bows * on.rise * on.bowed + mirrored).ravel())
    pixels = np.concatenate([lot.pixels.ravel() for lot in lots])
    covered, added = (
        np.asarray(np.bincount(pixels, np.concatenate(part), board.size), dtype=np.float64)
        for part in (hidden, radiance)
    )
    board_share = np.clip(1.0 - covered, 0.0, 1.0).reshape(board.shape)
    # where bodies hide the board altogether, more of them hides no more
    shown = np.where(board_share > 0.0, board, 0.0)
    contributed = added.reshape(board.shape)
    return Picture(board_share * board + contributed, contributed, board_share, shown, lots, surfaces)


def board_beneath(mixture: Mixture, state: State) -> Array:
    """Radiance (n,) of the board beneath the middle of each body."""
    knots, weights = mixture.field.at(mixture.bodies.center_mm[:, :2])
    return np.asarray((state.board[knots] * weights).sum(axis=1))


def _mirrors(mixture: Mixture, state: State, under: Array) -> Array:
    """Radiance (n, 2) that caps, and pads or leads, mirror."""
    around = priors.MIRRORED_BOARD * (under[:, None] - mixture.reflected)
    return np.asarray(mixture.reflected + around + state.mirrored)


def _surfaces(
    mixture: Mixture, state: State, outlines: Outlines, lot: Lot, share: Float32, under: Array, mirrors: Array
) -> Surfaces:
    """``under`` (n,): radiance of the board beneath; ``mirrors`` (n, 2): what caps, and pads or leads, mirror."""
    bodies, layout, b = mixture.bodies, mixture.layout, lot.bodies
    m = len(b)
    along, across = bodies.knots[b[0]].tolist()
    knots = along * across
    value = state.tops[layout.tops[b][:, None] + np.arange(knots)]
    place, axes, bare = _place(bodies, lot, outlines, state)
    bow, slopes = _bow(bodies, b, place)
    if knots == 1:
        hats, average = (np.ones((m, 1, 1, 1), dtype=np.float32),) * 2, np.ones((m, 1))
        here = _each(value[:, 0])
    else:
        along_it, across_it = (_hats(place[:, axis], count) for axis, count in ((0, along), (1, across)))
        hats = along_it[0], across_it[0]
        average = _averages(*hats, share[:, TOP])
        grid = value.reshape(m, along, across).astype(np.float32)
        here, slopes = _surface(grid, along_it, across_it)
        slopes *= np.abs(place) < 1.0
    return Surfaces(
        share=share,
        along=hats[0],
        across=hats[1],
        average=average,
        here=here,
        bow=bow,
        bow_at_ends=_each(BOW_AT_ENDS * bodies.bowed[b]),
        rise=_each((average * value).sum(axis=1) - under[b]),
        caps=_each(mirrors[b, 0]),
        flat=_each(mirrors[b, 1]),
        axes=axes,
        slopes=slopes,
        bow_by_cap=_each((bodies.code[b] >= 0) * 2.0 / bare) * place[:, 0] * slopes[:, 0],
        ratio=_each(bodies.metal_ratio[b]),
        walls=_each(state.walls[b]),
        bows=_each(state.bows[b]),
        leads=state.leads[b].astype(np.float32)[:, :, None, None],
    )


def _each(values: NDArray[np.floating]) -> Float32:
    """One value a body (m,), to be held against pixels: (m, 1, 1)."""
    return np.asarray(values.astype(np.float32)[:, None, None])


def _averages(along: Float32, across: Float32, top: Float32) -> Array:
    """Weights (m, knots) of knots in the mean of what is seen of a top face; even ones where nothing is."""
    (m, a), b = along.shape[:2], across.shape[1]
    knots = a * b
    weighted = (along * top[:, None]).reshape(m, a, -1)
    average = (weighted @ across.reshape(m, b, -1).transpose(0, 2, 1)).reshape(m, knots).astype(np.float64)
    total = average.sum(axis=1, keepdims=True)
    return np.where(total > 0.0, average / np.where(total > 0.0, total, 1.0), 1.0 / knots)


def _place(bodies: Solids, lot: Lot, outlines: Outlines, state: State) -> tuple[Float32, Float32, Array]:
    """Where the pixels of windows lie on a top face without its ends (m, 2, h, w): −1…1, beyond it its nearest place.

    And how that changes with the pixel (m, 2, 2), and the share (m,) of its length that is without ends.
    """
    b, (h, w) = lot.bodies, lot.shape
    x = lot.corner[:, 1:] + np.arange(w) - outlines.center[b, :1]
    y = lot.corner[:, :1] + np.arange(h) - outlines.center[b, 1:]
    bare = 1.0 - 2.0 * state.cap_of(bodies)[b]
    axes = bodies.to_face[b] / np.column_stack([bare, np.ones(len(b))])[:, :, None]
    on_x = (axes[:, :, :1] * x[:, None]).astype(np.float32)
    on_y = (axes[:, :, 1:] * y[:, None]).astype(np.float32)
    place = on_x[:, :, None, :] + on_y[:, :, :, None]
    return np.clip(place, -1.0, 1.0, out=place), axes.astype(np.float32), bare


def _bow(bodies: Solids, b: Index, place: Float32) -> tuple[Float32, Float32]:
    """A parabola about its own mean, along a chip, in both directions of other bodies; and its slopes along both axes.

    (m, h, w) and (m, 2, h, w); zero, of one pixel's size, where no body ``b`` of the lot is bowed.
    """
    if not bodies.bowed[b].any():
        return np.zeros((len(b), 1, 1), dtype=np.float32), np.zeros((len(b), 2, 1, 1), dtype=np.float32)
    bent = np.where((bodies.code[b] >= 0)[:, None], [1.0, 0.0], [0.5, 0.5]) * bodies.bowed[b][:, None]
    slopes = -2.0 * bent.astype(np.float32)[:, :, None, None] * place
    bow = _each(bodies.bowed[b] / 3.0) + 0.5 * (slopes * place).sum(axis=1)
    slopes *= np.abs(place) < 1.0  # beyond the face it is as at its nearest place
    return bow, slopes


def _surface(grid: Float32, along: tuple[Float32, Float32], across: tuple[Float32, Float32]) -> tuple[Float32, Float32]:
    """Radiance (m, h, w) of top faces by knots (m, a, b) and hats along both axes, and its slopes (m, 2, h, w)."""
    m, _, b = grid.shape
    shape = along[0].shape
    lines, risen = ((grid @ part.reshape(m, b, -1)).reshape(shape) for part in across)
    here = (along[0] * lines).sum(axis=1)
    return here, np.stack([(along[1] * lines).sum(axis=1), (along[0] * risen).sum(axis=1)], axis=1)


def _hats(place: Float32, count: int) -> tuple[Float32, Float32]:
    """Hat functions (m, count, h, w) of places −1…1 along one axis of a top face, and their slopes."""
    steps = np.float32(0.5 * (count - 1))
    off = ((place + 1.0) * steps)[:, None] - np.arange(count, dtype=np.float32)[:, None, None]
    hats = np.maximum(1.0 - np.abs(off), 0.0)
    return hats, -np.sign(off) * steps * (hats > 0.0)
