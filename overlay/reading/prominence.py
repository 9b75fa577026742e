"""Maxima of a map and by how much each stands out.

The prominence of a maximum is its height above the highest saddle that leads to higher ground (topographic
prominence; as persistence of 0-dimensional features in computational topology). Every pixel runs uphill to its
maximum; the saddle between two basins is the highest pass along their common border; basins are then joined over
ever lower passes, the lower maximum of each pair losing its independence there.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array

Index = NDArray[np.intp]


class Maxima(NamedTuple):
    """Local maxima, the highest first. The highest of each connected area stands out from the area's lowest value."""

    row: Index
    col: Index
    value: Array
    prominence: Array


def maxima_of(values: Array) -> Maxima:
    """All local maxima (8 neighbours) of a map of shape (rows, cols); nan pixels are no part of it.

    A plateau counts once. Time grows as n·log n with the number of pixels.
    """
    rows, cols = values.shape
    padded = np.full((rows + 2, cols + 2), -np.inf)
    padded[1:-1, 1:-1] = np.where(np.isfinite(values), values, -np.inf)
    width = cols + 2
    flat = padded.ravel()
    # Uphill: to the highest of nine; ties go to the larger pixel number, so that plateaus have one summit.
    still = np.zeros((rows + 2, cols), dtype=np.intp)
    highest, step = _higher((padded[:, :-2], padded[:, 1:-1], padded[:, 2:]), (still - 1, still, still + 1))
    along = tuple(step[i : rows + i] + (i - 1) * width for i in range(3))
    _, step = _higher((highest[:-2], highest[1:-1], highest[2:]), along)
    summit = np.arange(flat.size, dtype=np.intp)
    summit.reshape(padded.shape)[1:-1, 1:-1] += step
    while True:  # each round doubles the distance walked
        further = summit[summit]
        if np.array_equal(further, summit):
            break
        summit = further
    known = np.isfinite(flat)
    tops = np.flatnonzero(known & (summit == np.arange(flat.size)))
    tops = tops[np.lexsort((tops, flat[tops]))[::-1]]
    label = np.full(flat.size, -1, dtype=np.intp)
    label[tops] = np.arange(len(tops))
    basin = np.where(known, label[summit], -1)
    pairs, heights = _passes(flat, basin, width)
    prominence = _join(flat[tops], pairs, heights, _floors(len(tops), basin, flat))
    return Maxima(tops // width - 1, tops % width - 1, flat[tops], prominence)


def _higher(values: tuple[Array, ...], steps: tuple[Index, ...]) -> tuple[Array, Index]:
    """The highest of several maps, pixel by pixel, and the step that belongs to it; ties go to the later one."""
    highest, step = values[0].copy(), steps[0].copy()
    for value, own in zip(values[1:], steps[1:], strict=True):
        np.copyto(step, own, where=value >= highest)
        np.maximum(highest, value, out=highest)
    return highest, step


def _passes(flat: Array, basin: Index, width: int) -> tuple[Index, Array]:
    """Pairs of neighbouring basins (n, 2), the higher summit first, with their highest pass (n,), highest first.

    ``flat`` and ``basin`` are maps with a border of one pixel that is of no basin, row by row of ``width`` pixels.
    """
    lows, highs, heights = [], [], []
    for ahead in (1, width - 1, width, width + 1):  # half of the neighbours: each pair of pixels once
        a, b = basin[:-ahead], basin[ahead:]
        border = np.flatnonzero((a != b) & (np.minimum(a, b) >= 0))
        a, b = a[border], b[border]
        lows.append(np.minimum(a, b))
        highs.append(np.maximum(a, b))
        heights.append(np.minimum(flat[border], flat[border + ahead]))
    first, second, height = np.concatenate(lows), np.concatenate(highs), np.concatenate(heights)
    if not len(first):
        return np.zeros((0, 2), dtype=np.intp), height
    count = int(second.max()) + 1
    pair = first * count + second
    order = np.argsort(pair)
    pair = pair[order]
    begins = np.flatnonzero(np.concatenate([[True], pair[1:] != pair[:-1]]))
    height = np.maximum.reduceat(height[order], begins)
    falling = np.argsort(-height, kind="stable")
    return np.column_stack(np.divmod(pair[begins][falling], count)), height[falling]


def _floors(count: int, basin: Index, flat: Array) -> Array:
    """Lowest value of each basin."""
    lowest = np.full(count, np.inf)
    inside = basin >= 0
    np.minimum.at(lowest, basin[inside], flat[inside])
    return lowest


def _join(summits: Array, pairs: Index, heights: Array, floor: Array) -> Array:
    """Prominences, by joining basins over ever lower passes (union–find; labels ascend with falling summits)."""
    parent = list(range(len(summits)))
    lowest = floor.tolist()
    height_of = summits.tolist()
    prominence = [float("nan")] * len(summits)

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for (one, other), height in zip(pairs.tolist(), heights.tolist(), strict=True):
        a, b = root(one), root(other)
        if a == b:
            continue
        high, low = (a, b) if a < b else (b, a)
        prominence[low] = height_of[low] - height
        parent[low] = high
        lowest[high] = min(lowest[high], lowest[low])
    for i, value in enumerate(prominence):
        if np.isnan(value):
            prominence[i] = height_of[i] - lowest[i]
    return np.array(prominence)
