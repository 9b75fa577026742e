"""The pixels by which parts are judged, all windows of a frame at once.

Windows are of any size and shape. Their pixels stand one after the other in flat arrays, so that one call serves them
all. Which pixels count is told row by row: a row runs into a body's box and out of it again, once.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, read_only, runs
from overlay.registration.refine_pictures import BLUR_PX, Sighted

MARGIN_PX = 3.0
"""Of board around a part that belongs to its window."""
_RIM_PX = 4.0  # inside a large body only its rim is looked at
_ENOUGH_PIXELS = 400  # windows of many more are thinned out
_LIKE_SIZE = 1.8  # ratio of pixels up to which windows are filled up to each other's
_IN_A_BLOCK = 10_000  # pixels, at most: their pictures stay in the processor's cache
_FAR_PX = 1e6  # beyond any frame
_LEVEL = 1e-12  # of a row along a body's side, which it never meets


@dataclass(frozen=True, slots=True, eq=False)
class Strips:
    """Pixels side by side in the rows of n windows, window after window: s strips."""

    window: Index  # (s,)
    row: Index  # (s,) from the window's pixel
    first: Index  # (s,) column from there
    count: Index  # (s,) of pixels
    begins: Index  # (n,) each window's first strip
    number: Index  # (n,) of strips in each

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def pixels(self) -> Index:
        """How many there are in each window (n,)."""
        return np.bincount(self.window, weights=self.count, minlength=len(self.number)).astype(np.intp)

    def at(self, windows: Index) -> Strips:
        """Those of some windows, in that order."""
        which, number = runs(self.begins[windows], self.number[windows]), self.number[windows]
        return _strips(
            np.repeat(np.arange(len(windows)), number), self.row[which], self.first[which], self.count[which], number
        )


def _strips(window: Index, row: Index, first: Index, count: Index, number: Index) -> Strips:
    return Strips(window, row, first, count, np.cumsum(number) - number, number)


@dataclass(frozen=True, slots=True, eq=False)
class Windows:
    """The pixels by which n targets are judged, window after window, smaller ones first: m in all."""

    target: Index  # (n,) whose window each is
    own: Sighted
    pixel: Index  # (n, 2) nearest each target's place
    count: Index  # (n,) pixels in each window
    window: Index  # (m,) that each pixel belongs to
    at: Index  # (m, 2) from ``pixel``
    beside_px: Array  # (m, 2) the same from the target's place
    strips: Strips  # of the same pixels, and of those that have been thinned out
    kept: Index | None  # for each pixel of the strips its number among the m, −1 for none; None: all are kept

    def __post_init__(self) -> None:
        read_only(self)

    def __len__(self) -> int:
        return len(self.count)

    @property
    def first(self) -> Index:
        """Where each window's pixels (n,) begin."""
        return np.cumsum(self.count) - self.count


def reach_of(own: Sighted) -> Index:
    """How far from the target's pixel (n,) windows reach, along either axis."""
    return np.ceil(own.radius_px + MARGIN_PX).astype(np.intp)


def windows_around(own: Sighted, target: Index) -> Windows:
    """Which pixels count: those on each part or near it, of a large body only the rim; no window where none does."""
    pixel = np.rint(own.place_px).astype(np.intp)
    strips = _strips_of(own, pixel - own.place_px)
    # of very many, every so many-th
    every = 1 + strips.pixels // _ENOUGH_PIXELS
    count = -(-strips.pixels // every)
    order = np.argsort(count, kind="stable")
    order = order[count[order] > 0]  # seen from its edge, a part has no pixel
    strips, own, pixel, count, every = strips.at(order), own.at(order), pixel[order], count[order], every[order]
    column, row = runs(strips.first, strips.count), np.repeat(strips.row, strips.count)
    window = np.repeat(np.arange(len(own)), strips.pixels)
    kept = None
    if every.max(initial=1) > 1:
        chosen = np.flatnonzero(runs(0, strips.pixels) % every[window] == 0)
        kept = np.full(len(window), -1)
        kept[chosen] = np.arange(len(chosen))
        column, row, window = column[chosen], row[chosen], window[chosen]
    at = np.column_stack([column, row])
    beside = at + (pixel - own.place_px)[window]
    return Windows(target[order], own, pixel, count, window, at, beside, strips, kept)


def _strips_of(own: Sighted, aside_px: Array) -> Strips:
    """Rows of pixels, of which the middle one lies ``aside_px`` (n, 2) from each target's place."""
    reach = reach_of(own)
    side = 2 * reach + 1
    window, row = np.repeat(np.arange(len(own)), side), runs(-reach, side)
    down = row + aside_px[window, 1]
    aside, reach = aside_px[window, 0], reach[window]
    left, right = _crossed_shape(own, window, down, own.outer + MARGIN_PX / BLUR_PX)
    first = np.maximum(np.floor(left - aside).astype(np.intp) + 1, -reach)
    last = np.minimum(np.ceil(right - aside).astype(np.intp) - 1, reach)
    left, right = _crossed_shape(own, window, down, own.half - _RIM_PX / BLUR_PX)
    inner_first, inner_last = np.ceil(left - aside).astype(np.intp), np.floor(right - aside).astype(np.intp)
    none = inner_first > inner_last
    inner_first[none], inner_last[none] = last[none] + 1, last[none]
    # before what lies inside the rim, and behind it
    firsts = np.column_stack([first, np.maximum(inner_last + 1, first)]).ravel()
    count = np.column_stack([np.minimum(inner_first - 1, last), last]).ravel() - firsts + 1
    some = np.flatnonzero(count > 0)
    window = np.repeat(window, 2)[some]
    return _strips(window, np.repeat(row, 2)[some], firsts[some], count[some], np.bincount(window, minlength=len(own)))


def _crossed_shape(own: Sighted, which: Index, down_px: Array, half: Array) -> tuple[Array, Array]:
    """As `crossed`, of targets' own shapes with half extents (n, 2)."""
    left, right = crossed(own.across[which], down_px, half[which])
    disc = np.flatnonzero(own.round[which])
    if len(disc):
        a, b, c, d = own.across[which[disc]].reshape(-1, 4).T
        radius, down = half[which[disc], 0], down_px[disc]
        square = a * a + c * c
        middle = -(a * b + c * d) * down / square
        inside = middle**2 - ((b * b + d * d) * down**2 - radius**2) / square
        far = np.where((inside > 0.0) & (radius > 0.0), np.sqrt(np.maximum(inside, 0.0)), -_FAR_PX)
        left[disc], right[disc] = middle - far, middle + far
    return left, right


def crossed(across: Array, down_px: Array, half: Array) -> tuple[Array, Array]:
    """Where rows so many px (r,) below a box's place run into it and out of it, in px (r,) to the right of the place.

    ``across`` (r, 2, 2) is as in `Sighted`, ``half`` (r, 2) are the box's half extents. A row that misses the box runs
    out of it before it runs in.
    """
    ends = []
    for axis in (0, 1):
        slope = across[:, axis, 0]
        slope = np.where(np.abs(slope) < _LEVEL, _LEVEL, slope)
        middle, far = -across[:, axis, 1] / slope * down_px, half[:, axis] / np.abs(slope)
        ends.append((middle - far, middle + far))
    (left, right), (other_left, other_right) = ends
    return np.clip(np.maximum(left, other_left), -_FAR_PX, _FAR_PX), np.clip(
        np.minimum(right, other_right), -_FAR_PX, _FAR_PX
    )


def in_blocks(count: Index) -> Iterator[tuple[int, int]]:
    """Windows with so many pixels, smaller ones first, in blocks of like size: first, and one beyond the last."""
    first = 0
    while first < len(count):
        last = int(np.searchsorted(count, _LIKE_SIZE * max(int(count[first]), 1), side="right"))
        # the last is the largest, and the others are filled up to it
        filled = count[first:last] * np.arange(1, last - first + 1)
        last = first + max(1, int(np.searchsorted(filled, _IN_A_BLOCK, side="right")))
        yield first, last
        first = last
