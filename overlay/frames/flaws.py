"""What an instrument cannot say: pixels at the end of its range, dead ones, and marks burnt into the picture.

All are told from the values alone. A lens blurs everything that lies before it, so that no real thing, however small,
stands in the frame without a trace in the pixels beside it; a dead pixel or a burnt-in mark does. And a surface that
goes on rising has ever fewer pixels the hotter they are; where the range ends, they pile up at one value.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, Mask
from overlay.frames.groups import groups, grown, medians
from overlay.uncertainty import MAD_TO_SIGMA

# A plateau has at least so many equal highest pixels, so many of them touching; a single hottest one is none.
PLATEAU_PX, _TOUCHING_PX = 6, 4
# … and holds more than so many times the pixels of each of the two next values: a dome whose values are rounded has
# about as many at each, and what it could lie above the highest is then no more than so many steps of the rounding.
_PILED_UP = 3
# Where values scatter by less than this share of the step they are rounded to, even tops are of one value too, and
# their edges must tell.
_ROUNDED_SHARE = 0.5
_LOOKED_AT = 5  # groups of equal pixels, the largest
# A face of one temperature ends in a blurred edge, which falls slowly at first: its first step down is a small share
# of its second. A plateau is cut off in the middle of a slope. Gaussian blur of 0.7 to 3 px gives 0.02 to 0.3 and 0.4
# to 2 (worked out for this module).
_FIRST_STEP_SHARE = 0.35
_MOST_OF_FRAME = 0.5  # an even frame is no plateau

# A pixel is odd where it differs from its neighbours by more than this: less does little harm.
_ODD_K = 5.0
# Share of its contrast that a real thing leaves in the pixels touching it. A point in the middle of a pixel, behind
# optics of 0.7 px (full width at half maximum), which no thermal lens reaches, leaves 0.05. Two dead pixels side by
# side cannot be told from a real part that lies across them; they are let be.
_TRACE = 0.03
_SLOPED_TRACE = 0.2  # across a slope that bends the other direction may tell less
_UNEVEN = 1.0  # times the contrast: where what lies beside differs by more, nothing can be said
_MARK_PX = 3  # touching pixels of one value, at least, make a mark
_MARK_VALUES = 6  # pixels of one value in all, at least
_MARK_TRACE = 0.06  # as above; the ground of a mark is less even than the ring around one pixel
_SHARP_SHARE = 0.8  # of all pixels of a value that is neither the coldest nor the hottest
_OFTEN = 20  # times the usual number of pixels of one value

_BAND_ROWS = 512  # rows looked at together: 8 MB of a 2000-column frame
_NEAR = [(row, col) for row in range(5) for col in range(5)]  # pixels of a square around one, from its first corner
_REACH_PX = 4  # of what a group is held against: what touches it, what lies two from there, and what touches that
_BESIDE = [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)]  # the eight neighbours (row, column)


@dataclass(frozen=True, slots=True, eq=False)
class Flaws:
    """Pixels (rows, cols) that say less than they seem to."""

    saturated: Mask  # at the end of the range: the surface is at least that hot
    left_out: Mask  # dead, or overwritten by a mark: they say nothing


def find_flaws(pages: Array) -> Flaws:
    """Find plateaus, dead pixels and burnt-in marks of a stack (pages, rows, cols) in °C.

    Dead pixels and marks are the same on every page: the first is looked at. A pixel is saturated where it is on any
    page.
    """
    left_out = _marks(pages[0]) | _dead(pages[0])
    return Flaws(_plateau(pages, ~left_out), left_out)


def filled(page: Array, holes: Mask) -> Array:
    """A page with the pixels of ``holes`` replaced by what the nearest others show, layer by layer inwards."""
    own = np.where(holes, np.nan, page)
    for _ in range(max(page.shape)):
        missing = np.isnan(own)
        if not missing.any():
            break
        beside = _neighbours(own)
        count = np.isfinite(beside).sum(axis=0)
        here = missing & (count > 0)
        own[here] = np.nansum(beside[:, here], axis=0) / count[here]
    return own


def _neighbours(page: Array) -> Array:
    """The eight neighbours of every pixel, (8, rows, cols); nan beyond the frame."""
    rows, cols = page.shape
    wide = np.pad(page, 1, constant_values=np.nan)
    return np.stack([wide[1 + y : 1 + y + rows, 1 + x : 1 + x + cols] for y, x in _BESIDE])


def _plateau(pages: Array, speaking: Mask) -> Mask:
    """Where pixels that speak pile up at the highest value, on any page; nowhere if they do not."""
    none = np.zeros_like(speaking)
    if not speaking.any():
        return none
    top = max(float(page.max(where=speaking, initial=-np.inf)) for page in pages)
    counts_of_pages = [np.count_nonzero((page == top) & speaking) for page in pages]
    page = pages[int(np.argmax(counts_of_pages))]
    if not PLATEAU_PX <= max(counts_of_pages) <= _MOST_OF_FRAME * page.size:
        return none
    values, counts = np.unique(page[speaking], return_counts=True)
    at_top = (page == top) & speaking
    numbers, count = groups(at_top)
    sizes = np.bincount(numbers.ravel(), minlength=count + 1)[1:]
    if counts[-1] <= _PILED_UP * counts[-3:-1].max(initial=0) or sizes.max(initial=0) < _TOUCHING_PX or len(values) < 2:
        return none
    bends = np.abs(page[:, 2:] - 2.0 * page[:, 1:-1] + page[:, :-2])
    scatter = MAD_TO_SIGMA * float(np.median(bends)) / math.sqrt(6.0)
    rounded = scatter < _ROUNDED_SHARE * float(np.median(np.diff(values)))
    largest = np.argsort(-sizes, kind="stable")[:_LOOKED_AT] + 1
    if rounded and all(_ends_gently(page, numbers == group, (page < top) & speaking) for group in largest):
        return none
    saturated = none
    for one in pages:
        saturated |= one == top
    return saturated & speaking


def _ends_gently(page: Array, group: Mask, below: Mask) -> bool:
    """Whether a group of pixels is the even top of something blurred rather than a slope cut off."""
    first = grown(group) & below
    second = grown(group | first) & below & ~first
    if not first.any() or not second.any():
        return True
    to_first = float(page[group].max() - np.median(page[first]))
    to_second = float(np.median(page[first]) - np.median(page[second]))
    return to_first < _FIRST_STEP_SHARE * to_second


def _dead(page: Array) -> Mask:
    """Single pixels that differ from all around them while rows or columns run on as if they were not there."""
    dead = np.zeros(page.shape, dtype=bool)
    # in bands: the largest frames would not fit into memory several times
    for first in range(0, len(page), _BAND_ROWS):
        band = page[first : first + _BAND_ROWS]
        contrast = np.full(band.shape, np.inf)  # at the frame's edges left to be looked at
        np.abs(band[:, 2:-2] - (band[:, 1:-3] + band[:, 3:-1]) / 2.0, out=contrast[:, 2:-2])
        rows, cols = np.nonzero(contrast > _ODD_K)
        rows += first
        along, across = _traces(page, rows, cols), _traces(page.T, cols, rows)
        odd = (np.minimum(along, across) < _TRACE) & (np.maximum(along, across) < _SLOPED_TRACE)
        for row, col in zip(rows[odd], cols[odd], strict=True):
            around = page[max(row - 1, 0) : row + 2, max(col - 1, 0) : col + 2]
            off = np.abs(around - page[row, col]) > _ODD_K
            dead[row, col] = np.count_nonzero(off) == around.size - 1
    return dead


def _traces(page: Array, rows: Index, cols: Index) -> Array:
    """How far the pixels beside some (n,) stand off those beyond them along their row, as a share of their contrast.

    Means of both sides are taken, so that a slope drops out; at the frame's edges one side counts. Infinite where a
    pixel is not odd, or where its row is uneven.
    """
    before, left, right, after = (page[rows, place[cols]] for place in _beside(page.shape[1]))
    beside, beyond = (left + right) / 2.0, (before + after) / 2.0
    uneven = np.maximum(np.abs(left - right), np.abs(before - after))
    contrast = np.abs(page[rows, cols] - beside)
    told = (contrast > _ODD_K) & (uneven < _UNEVEN * contrast)
    return np.where(told, np.abs(beside - beyond) / np.maximum(contrast, _ODD_K), np.inf)


def _beside(count: int) -> tuple[Index, Index, Index, Index]:
    """For each of a row's pixels (count,) the one two before it, one before, one after and two after; at the edges of
    the frame those of the other side."""
    before, left, right, after = (np.clip(np.arange(count) + step, 0, count - 1) for step in (-2, -1, 1, 2))
    left[:2], before[:2] = right[:2], after[:2]
    right[-2:], after[-2:] = left[-2:], before[-2:]
    return before, left, right, after


def _marks(page: Array) -> Mask:
    """Lines, text and logos of one value, with sharp edges."""
    found = np.zeros(page.shape, dtype=bool)
    values, counts = np.unique(page, return_counts=True)
    if len(values) < 3:
        return found
    chosen = (counts > _OFTEN * np.median(counts)) & (counts >= _MARK_VALUES)
    chosen[[0, -1]] = counts[[0, -1]] >= _MARK_VALUES
    for value in values[chosen][:_MARK_VALUES]:
        # what has an inside at the hottest value is a plateau
        mask = (page == value) & ~found
        sharp = sharp_marks(page, mask, solid=bool(value != values[-1]))
        # where values are rounded, one of the scene's own is common too, and here and there between sharp edges
        if value in (values[0], values[-1]) or sharp.sum() > _SHARP_SHARE * mask.sum():
            found |= sharp
    return found


def sharp_marks(page: Array, mask: Mask, *, solid: bool) -> Mask:
    """Those groups of a mask that stand in the page with sharp edges; only thin ones unless ``solid``."""
    found = np.zeros_like(mask)
    at = np.divmod(np.flatnonzero(mask), mask.shape[1])
    odd = _most_apart(page, at) > _ODD_K
    # most pixels of a value are the scene's own: where nothing near them is odd, no edge is sharp
    if not odd.any() or len(odd) > _MOST_OF_FRAME * mask.size:
        return found
    numbers, count = groups(mask, corners=True)
    group = numbers[at]
    wanted = (np.bincount(group, minlength=count + 1) >= _MARK_PX) & (np.bincount(group, odd, count + 1) > 0)
    if not solid:
        wanted[group[~_touched(~mask, beyond=True)[at]]] = False
    if not wanted.any():
        return found
    rows, cols = (
        slice(max(place.min() - _REACH_PX, 0), place.max() + _REACH_PX + 1)
        for place in (at[0][wanted[group]], at[1][wanted[group]])
    )
    near, of_mask, of_group = page[rows, cols], mask[rows, cols], numbers[rows, cols]
    ground, inside = ~_touched(of_mask), wanted[of_group]
    beside = _touched(inside) & ~of_mask
    contrast = _median_off(near, ground, inside, of_group[inside], count)
    trace = _median_off(near, ground, beside, _highest_beside(of_group, beside), count)
    with np.errstate(invalid="ignore"):  # nan: nothing to compare with
        sharp = wanted & (contrast > _ODD_K) & (trace < _MARK_TRACE * contrast)
    found[at] = sharp[group]
    return found


def _touched(mask: Mask, *, beyond: bool = False) -> Mask:
    """A mask and the pixels that touch it; ``beyond``: what lies beyond the frame is of it, too."""
    wide = np.pad(mask, 1, constant_values=beyond)
    rows = wide[:-2] | wide[1:-1] | wide[2:]
    return np.asarray(rows[:, :-2] | rows[:, 1:-1] | rows[:, 2:])


def _most_apart(page: Array, at: tuple[Index, Index]) -> Array:
    """By how much, at most, pixels (n,) differ from those near them."""
    rows, cols = (
        [np.clip(place + step, 0, side - 1) for step in range(-2, 3)]
        for place, side in zip(at, page.shape, strict=True)
    )
    own = page[at]
    most = np.zeros(len(own))
    for row in rows:
        for col in cols:
            np.maximum(most, np.abs(page[row, col] - own), out=most)
    return most


def _median_off(page: Array, ground: Mask, chosen: Mask, group: Index, count: int) -> Array:
    """Median over each group (count + 1,) of how far its pixels stand off the ground near them; nan for none.

    ``group`` (n,) are the groups of the ``chosen`` pixels (rows, cols).
    """
    rows, cols = np.nonzero(chosen)
    wide, known = np.pad(np.where(ground, page, 0.0), 2), np.pad(ground, 2)
    total, number = np.zeros(len(group)), np.zeros(len(group))
    for row, col in _NEAR:
        total += wide[rows + row, cols + col]
        number += known[rows + row, cols + col]
    told = number > 0
    off = np.abs(page[rows, cols][told] - total[told] / number[told])
    return medians(off, group[told], count)


def _highest_beside(groups: Index, chosen: Mask) -> Index:
    """The highest number among the groups that touch each of the chosen pixels."""
    wide = np.pad(groups, 1)
    rows, cols = np.nonzero(chosen)
    return np.asarray(np.max([wide[rows + row, cols + col] for row in range(3) for col in range(3)], axis=0))
