"""Other bodies that can be seen in the windows by which parts are judged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, read_only, runs
from overlay.registration.refine_pictures import Sighted, Single, bodies
from overlay.registration.refine_pixels import Windows, crossed, reach_of

_FADE = 2.5  # standard deviations of blur beyond which a neighbour is not seen
_VISIBLE = 0.15  # a neighbour's picture that reaches no higher in a window is left out
_FLAT = 1e-9  # of a body seen from its edge, which is as high as any
_NEIGHBOUR_PX = 5.5  # between two bodies' circles, from which on neither is seen in the other's window


@dataclass(frozen=True, slots=True, eq=False)
class Neighbours:
    """Pictures of other bodies and of their metal in n windows: m values."""

    count: Index  # (n,) pictures in each window
    pixel: Index  # (m,) among the pixels of all windows
    number: Index  # (m,) of the picture in its window
    picture: Single  # (m,)

    def __post_init__(self) -> None:
        read_only(self)


def neighbours_in(windows: Windows, others: Sighted, among: Index) -> Neighbours:
    """The others that can be seen in each window; ``among`` (n,) tells which of them is the part itself."""
    of, other = _pairs(windows, others, among)
    pixel, pair = _in_reach(windows, of, others, other)
    x, y = others.inside(other[pair], windows.at[pixel] + (windows.pixel[of] - others.place_px[other])[pair])
    both = bodies(others, other[pair], x.astype(np.float32), y.astype(np.float32))
    shown = np.zeros((len(of), 2), dtype=bool)
    for index, picture in enumerate(both):
        shown[pair[np.abs(picture) > _VISIBLE], index] = True
    count = np.bincount(of, weights=shown.sum(axis=1), minlength=len(windows)).astype(np.intp)
    # numbered anew in each window; pairs stand window by window
    number = np.cumsum(shown).reshape(shown.shape) - 1 - (np.cumsum(count) - count)[of][:, None]
    drawn = [np.flatnonzero(shown[pair, index]) for index in (0, 1)]
    return Neighbours(
        count,
        np.concatenate([pixel[one] for one in drawn]),
        np.concatenate([number[pair[one], index] for index, one in enumerate(drawn)]),
        np.concatenate([picture[one] for picture, one in zip(both, drawn, strict=True)]),
    )


def _pairs(windows: Windows, others: Sighted, among: Index) -> tuple[Index, Index]:
    """Windows and others that may be seen in them, window by window."""
    own = windows.own
    apart2 = sum((own.place_px[:, None, axis] - others.place_px[:, axis]) ** 2 for axis in (0, 1))
    near = np.asarray(apart2 < (own.radius_px[:, None] + (others.radius_px + _NEIGHBOUR_PX)) ** 2)
    near[np.flatnonzero(among >= 0), among[among >= 0]] = False
    of, other = np.nonzero(near)
    # the window's square, as it lies to the other's own axes, must reach it
    away, square = others.inside(other, windows.pixel[of] - others.place_px[other]), reach_of(own)[of]
    reach, across = others.outer + _FADE, np.abs(others.across)
    reached = np.ones(len(of), dtype=bool)
    for axis in (0, 1):
        widest = reach[:, axis][other] + (across[:, axis, 0] + across[:, axis, 1])[other] * square
        reached &= np.abs(away[axis]) < widest
    return of[reached], other[reached]


def _in_reach(windows: Windows, of: Index, others: Sighted, other: Index) -> tuple[Index, Index]:
    """Pixels of windows ``of`` (p,) that lie in reach of ``other`` (p,): numbers of the pixels, and of their pairs."""
    strips, outer = windows.strips, others.outer + _FADE
    aside = windows.pixel[of] - others.place_px[other]
    first, number = _strips_beside(windows, of, aside[:, 1], others.across[other], outer[other])
    strip, pair = runs(first, number), np.repeat(np.arange(len(of)), number)
    aside_x, aside_y = (one[pair] for one in aside.T)
    which = other[pair]
    left, right = crossed(others.across[which], strips.row[strip] + aside_y, outer[which])
    begins, count = strips.first[strip], strips.count[strip]
    first = np.maximum(np.floor(left - aside_x).astype(np.intp) + 1, begins)
    count = np.minimum(np.ceil(right - aside_x).astype(np.intp), begins + count) - first
    met = np.flatnonzero(count > 0)
    strip, pair, count = strip[met], pair[met], count[met]
    pixel = runs((np.cumsum(strips.count) - strips.count)[strip] + (first - begins)[met], count)
    pair = np.repeat(pair, count)
    if windows.kept is None:
        return pixel, pair
    pixel = windows.kept[pixel]
    return pixel[pixel >= 0], pair[pixel >= 0]


def _strips_beside(windows: Windows, of: Index, below_px: Array, across: Array, half: Array) -> tuple[Index, Index]:
    """Of each pair's window the strips in those rows that the other reaches: the first (p,), and how many.

    ``below_px`` (p,) is how far the window's pixel lies below the other's place, ``half`` (p, 2) how far that reaches.
    """
    a, b, c, d = across.reshape(-1, 4).T
    high = (np.abs(c) * half[:, 0] + np.abs(a) * half[:, 1]) / np.maximum(np.abs(a * d - b * c), _FLAT)
    farthest = int(reach_of(windows.own).max(initial=0)) + 1
    top, bottom = (np.clip(end - below_px, -farthest, farthest) for end in (-high, high))
    # strips stand window by window and row by row
    place = windows.strips.window * (2.0 * farthest + 2.0) + windows.strips.row
    first = np.searchsorted(place, of * (2.0 * farthest + 2.0) + top, side="left")
    last = np.searchsorted(place, of * (2.0 * farthest + 2.0) + bottom, side="right")
    return first, last - first
