"""The unknowns of the unmixing: their values, and their places in the vector that is solved for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.unmixing.board import BoardField
from overlay.unmixing.draw import BY_POSE
from overlay.unmixing.solids import Solids

if TYPE_CHECKING:
    from scipy.sparse import csr_array


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


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Each body's own columns before they are shared out: body i has ``first[i]`` … ``first[i + 1]`` of them.

    Before them stand the board's knots. ``used`` says which of a body's drawn columns they are.

    ``spread`` (all columns, unknowns) says what every column means in terms of the unknowns.
    """

    first: Index
    used: list[Index]
    spread: csr_array

    def __post_init__(self) -> None:
        read_only(self)


BENEATH = -2
"""Target of the column that follows the board beneath a body: spread over the board's knots there."""


def columns_of(bodies: Solids, layout: Layout, field: BoardField, by_pose: Array, *, geometry: bool) -> Columns:
    """Lay out the columns: board knots, then by body its knots, metal, walls, board beneath and (with ``geometry``)
    changes.

    ``by_pose`` (n, 8, p): `Solids.moved_by_pose` by the pose's unknowns; only the steering ones count.
    """
    from scipy.sparse import csr_array

    knots = layout.board.stop
    rows: list[Index] = [np.arange(knots)]
    targets: list[Index] = [np.arange(knots)]
    values: list[Array] = [np.ones(knots)]
    first, used = [knots], []
    poses = np.arange(layout.pose.start, layout.pose.stop)
    beneath, share = field.at(bodies.center_mm[:, :2])
    for i in range(len(bodies)):
        own = _targets(bodies, layout, i, geometry=geometry)
        posed = _posed(bodies, layout, i) if geometry else np.zeros(0, dtype=np.intp)
        kept = np.union1d(np.flatnonzero(own != NOT_THERE), posed).astype(np.intp)
        place = first[-1] + np.arange(len(kept))
        plain = own[kept] >= 0
        rows += [place[plain], np.repeat(place[own[kept] == BENEATH], 4)]
        targets += [own[kept][plain], beneath[i]]
        values += [np.ones(int(plain.sum())), share[i]]
        if len(posed):
            rows.append(np.repeat(place[np.searchsorted(kept, posed)], len(poses)))
            targets.append(np.tile(poses, len(posed)))
            values.append(by_pose[i, : len(posed)].ravel())
        used.append(kept)
        first.append(first[-1] + len(kept))
    shape = (first[-1], layout.count)
    data = np.concatenate(values)
    spread = csr_array((data, (np.concatenate(rows), np.concatenate(targets))), shape=shape)
    return Columns(np.array(first, dtype=np.intp), used, spread)


_BEFORE_GEOMETRY = 7  # columns of a body between its knots and its changes, as `_targets` lays them out
NOT_THERE = -1
"""Target of a column that a body has no unknown for."""


def _targets(bodies: Solids, layout: Layout, i: int, *, geometry: bool) -> Index:
    """The unknown that each drawn column of a body stands for."""
    own = list(range(layout.top.start + layout.tops[i], layout.top.start + layout.tops[i + 1]))
    own += [*layout.mirrored[i], *layout.leads[i], layout.bows[i], layout.walls[i], BENEATH]
    if geometry:
        own += [*layout.shift[i], *layout.grown[i]]
        code = int(bodies.code[i])
        shaped = code >= 0 and bodies.whole[i]
        own += [layout.caps.start + code, layout.pads.start + code] if shaped else [NOT_THERE, NOT_THERE]
        own += [NOT_THERE] * 4  # only the pose skews bodies and lets them lean
        own += [layout.blur if bodies.steers[i] else NOT_THERE]
    return np.array(own, dtype=np.intp)


def _posed(bodies: Solids, layout: Layout, i: int) -> Index:
    """The drawn columns of a body by which the pose moves it, in the order of `BY_POSE`."""
    if not bodies.steers[i]:
        return np.zeros(0, dtype=np.intp)
    shift = int(layout.tops[i + 1] - layout.tops[i]) + _BEFORE_GEOMETRY
    drawn = BY_POSE if bodies.deformed[i] else BY_POSE[:2]
    return shift + np.array(drawn, dtype=np.intp)
