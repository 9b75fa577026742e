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

_STEPS = ((-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1))  # the eight neighbours (row, column)
_FORWARD = ((0, 1), (1, -1), (1, 0), (1, 1))  # half of them: each pair of pixels once


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
    known = np.isfinite(padded)
    width = cols + 2
    flat = padded.ravel()
    number = np.arange(flat.size, dtype=np.intp).reshape(padded.shape)
    # Uphill: to the highest neighbour; ties go to the larger pixel number, so that plateaus have one summit.
    best, best_value = number.copy(), padded.copy()
    inner = (slice(1, -1), slice(1, -1))
    for dr, dc in _STEPS:
        there = (slice(1 + dr, rows + 1 + dr), slice(1 + dc, cols + 1 + dc))
        higher = (padded[there] > best_value[inner]) | (
            (padded[there] == best_value[inner]) & (number[there] > best[inner])
        )
        best[inner] = np.where(higher, number[there], best[inner])
        best_value[inner] = np.where(higher, padded[there], best_value[inner])
    summit = best.ravel()
    while True:  # each round doubles the distance walked
        further = summit[summit]
        if np.array_equal(further, summit):
            break
        summit = further
    basin = summit.reshape(padded.shape)
    tops = np.unique(basin[known])
    order = np.lexsort((tops, flat[tops]))[::-1]
    tops = tops[order]
    label = np.full(flat.size, -1, dtype=np.intp)
    label[tops] = np.arange(len(tops))
    basin = np.where(known, label[basin], -1)
    pairs, heights = _passes(padded, basin)
    floor = _floors(len(tops), basin, padded)
    prominence = _join(flat[tops], pairs, heights, floor)
    return Maxima(tops // width - 1, tops % width - 1, flat[tops], prominence)


def _passes(padded: Array, basin: Index) -> tuple[Index, Array]:
    """Pairs of neighbouring basins (n, 2), the higher summit first, with their highest pass (n,), highest first."""
    rows, cols = padded.shape
    lows, highs, heights = [], [], []
    for dr, dc in _FORWARD:
        here = (slice(0, rows - dr), slice(max(0, -dc), cols - max(0, dc)))
        there = (slice(dr, rows), slice(max(0, dc), cols - max(0, -dc)))
        a, b = basin[here], basin[there]
        border = (a != b) & (a >= 0) & (b >= 0)
        lows.append(np.minimum(a[border], b[border]))
        highs.append(np.maximum(a[border], b[border]))
        heights.append(np.minimum(padded[here][border], padded[there][border]))
    first, second, height = np.concatenate(lows), np.concatenate(highs), np.concatenate(heights)
    order = np.lexsort((-height, second, first))
    first, second, height = first[order], second[order], height[order]
    fresh = np.ones(len(first), dtype=bool)
    fresh[1:] = (first[1:] != first[:-1]) | (second[1:] != second[:-1])
    first, second, height = first[fresh], second[fresh], height[fresh]
    order = np.argsort(-height, kind="stable")
    return np.column_stack([first[order], second[order]]), height[order]


def _floors(count: int, basin: Index, padded: Array) -> Array:
    """Lowest value of each basin."""
    lowest = np.full(count, np.inf)
    inside = basin >= 0
    np.minimum.at(lowest, basin[inside], padded[inside])
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
