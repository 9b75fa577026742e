"""The unknowns of the unmixing: their values, and their places in the vector that is solved for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.unmixing.solids import Solids
from overlay.unmixing.windows import Lot


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """Values of all unknowns. Radiances in W/m², places in px, sizes in mm."""

    board: Array  # (knots,)
    tops: Array  # (all knots of all top faces,)
    mirrored: Array  # (n, 2) what caps, and pads or leads, mirror over the frame's reflected radiance
    leads: Array  # (n, 2) bare share of the leads along x and along y
    bows: Array  # (n,) fall from the middle to the ends of a top face, over its rise above the board
    walls: Array  # (n,) walls between board (0) and top face (1)
    shift_px: Array  # (n, 2)
    grown_mm: Array  # (n, 2)
    caps: Array  # (codes,) share of the length of one end cap
    pads: Array  # (codes,) factor on the pads' nominal length
    sigma_px: float
    pose: Array  # (p,) in prior standard deviations, about the registration that was given

    def __post_init__(self) -> None:
        read_only(self)

    def cap_of(self, bodies: Solids) -> Array:
        """Cap share (n,) by body; zero where there are no caps."""
        return np.where(bodies.code >= 0, np.append(self.caps, 0.0)[bodies.code], 0.0)

    def pad_of(self, bodies: Solids) -> Array:
        """Pad factor (n,) by body."""
        return np.where(bodies.code >= 0, np.append(self.pads, 0.0)[bodies.code], 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Where each unknown stands. −1: the body has no such unknown.

    Local unknowns come first, those shared by many bodies (from ``local`` on) last.
    """

    tops: Index  # (n + 1,) first knot of each top face, counted from 0
    board: slice
    top: slice
    mirrored: Index  # (n, 2)
    leads: Index  # (n, 2)
    bows: Index  # (n,)
    walls: Index  # (n,)
    shift: Index  # (n, 2)
    grown: Index  # (n, 2)
    local: int
    caps: slice
    pads: slice
    blur: int
    pose: slice
    count: int

    def __post_init__(self) -> None:
        read_only(self)


def layout_of(bodies: Solids, knots: int, pose: int) -> Layout:
    """Number all unknowns of a frame."""
    n = len(bodies)
    tops = np.concatenate([[0], np.cumsum(bodies.knots.prod(axis=1))]).astype(np.intp)
    place = knots + int(tops[-1])

    def number(wanted: Mask) -> Index:
        nonlocal place
        out = np.full(wanted.shape, -1, dtype=np.intp)
        out[wanted] = place + np.arange(int(wanted.sum()))
        place += int(wanted.sum())
        return out

    mirrored = number(np.stack([bodies.code >= 0, bodies.pads | bodies.has_leads.any(axis=1)], axis=1))
    leads = number(bodies.has_leads)
    bows = number(bodies.bowed)
    walls = number(bodies.own_wall)
    shift = number(np.ones((n, 2), dtype=bool))
    grown = number(bodies.resized & np.stack([np.ones(n, dtype=bool), ~bodies.round], axis=1))
    local = place
    caps = slice(place, place + bodies.codes)
    pads = slice(caps.stop, caps.stop + bodies.codes)
    blur = pads.stop
    return Layout(
        tops=tops,
        board=slice(0, knots),
        top=slice(knots, knots + int(tops[-1])),
        mirrored=mirrored,
        leads=leads,
        bows=bows,
        walls=walls,
        shift=shift,
        grown=grown,
        local=local,
        caps=caps,
        pads=pads,
        blur=blur,
        pose=slice(blur + 1, blur + 1 + pose),
        count=blur + 1 + pose,
    )


BENEATH, NOT_THERE = -2, -1
"""Instead of an unknown: a column that follows the board beneath a body, and one that a body has no unknown for."""
RADIANCES, GEOMETRY = 6, 7
"""Columns after a body's knots: what caps, and pads or leads, mirror, leads along x and y, bow, wall; then shift in x
and y, length, width, cap share, pad factor, blur. The pose's come next, and what follows the board beneath last."""


def unknowns_of(bodies: Solids, layout: Layout, lot: Lot) -> Index:
    """The unknown (m, columns) that each drawn column of a lot's bodies stands for."""
    b = lot.bodies
    m, knots = len(b), int(bodies.knots[b[0]].prod())
    shaped = (bodies.code[b] >= 0) & bodies.whole[b]
    pose = np.arange(layout.pose.start, layout.pose.stop)
    return np.column_stack(
        [
            layout.top.start + layout.tops[b][:, None] + np.arange(knots),
            layout.mirrored[b],
            layout.leads[b],
            layout.bows[b],
            layout.walls[b],
            layout.shift[b],
            layout.grown[b],
            np.where(shaped, layout.caps.start + bodies.code[b], NOT_THERE),
            np.where(shaped, layout.pads.start + bodies.code[b], NOT_THERE),
            np.where(bodies.steers[b], layout.blur, NOT_THERE),
            np.where(bodies.steers[b][:, None], pose, NOT_THERE),
            np.full(m, BENEATH),
        ]
    ).astype(np.intp)


def moves_of(bodies: Solids, layout: Layout, pose_factor: Array) -> Array:
    """Every change (n, 6 + p, 10) of a body as a mixture of shifts in x and y and what `Outlines.speeds` tells.

    Changes are shift in x and y, length, width, cap share and pad factor, then the unknowns of the pose; what a body
    has no unknown for is zero.
    """
    n = len(bodies)
    shaped = (bodies.code >= 0) & bodies.whole
    has = np.column_stack([layout.shift >= 0, layout.grown >= 0, shaped, shaped])
    by_pose = (bodies.moved_by_pose @ pose_factor).transpose(0, 2, 1) * bodies.steers[:, None, None]
    by_pose[:, :, 2:] *= bodies.deformed[:, None, None]  # the smallest bodies only shift
    out = np.zeros((n, 6 + by_pose.shape[1], 10))
    out[:, np.arange(6), np.arange(6)] = has
    out[:, 6:, [0, 1, 2, 3, 6, 7, 8, 9]] = by_pose
    return out
