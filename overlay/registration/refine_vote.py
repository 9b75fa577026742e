"""Parts' displacements: found together at first, one by one in the end."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array
from overlay.registration.evidence import Evidence
from overlay.registration.refine_contour import nothing
from overlay.registration.refine_windows import Gains
from overlay.registration.targets import Targets

CAP = 25.0
"""No single part says more than this in a vote."""
SIGNIFICANT = 8.0  # of log-likelihood: noise alone does not reach it
CLEAR = 2.0
"""Gain that makes a peak, and by how much it must top any other."""
_FLOOR_PX = 0.25  # what a part's own placement and drawing may be off
_APART_PX = 2.0  # peaks nearer than this are one, widened by blur


def vote(targets: Targets, gains: Gains, width_mm: float) -> Evidence:
    """Each part's displacement as it and its neighbours within about ``width_mm`` agree on it."""
    if not len(targets):
        return nothing()
    capped = np.minimum(gains.values, CAP).reshape(len(targets), -1)
    useful = capped.max(axis=1) > SIGNIFICANT / 2.0
    if not useful.any():
        return nothing()
    place = targets.center_mm[useful, :2]
    far2 = ((place[:, None] - place[None]) ** 2).sum(axis=2)
    shared = np.exp(-0.5 * far2 / width_mm**2) @ capped[useful]
    count = gains.values.shape[1]
    index, off, height, curvature = _peaks(shared.reshape(-1, count, count), gains)
    which = np.flatnonzero(useful)[index]
    crowd = np.exp(-0.5 * far2 / width_mm**2).sum(axis=1)[index]
    good = height > 2.0 * SIGNIFICANT
    # a vote is shared by all that took part in it
    spread = np.sqrt(np.maximum(1.0 / np.maximum(curvature, 1e-3), 0.25) * crowd)
    return _sighted(targets, gains, which[good], off[good], np.minimum(spread, 4.0)[good, None].repeat(2, axis=1))


def peaks(targets: Targets, gains: Gains) -> Evidence:
    """Places of the parts that have one clear peak of their own, not at the edge of what was looked at."""
    index, off, height, _ = _peaks(gains.values, gains)
    values = gains.values[index].copy()
    steps = gains.offsets()
    best = np.rint(off / gains.stride) * gains.stride
    near = (np.abs(steps[None, :, None] - best[:, 1, None, None]) < _APART_PX) & (
        np.abs(steps[None, None, :] - best[:, 0, None, None]) < _APART_PX
    )
    next_best = np.where(near, 0.0, values).max(axis=(1, 2), initial=0.0)
    good = (height > SIGNIFICANT) & (height > next_best + CLEAR) & targets.steady[index]
    index, off = index[good], off[good]
    count = gains.values.shape[1]
    column = np.rint(off[:, 0] / gains.stride).astype(int) + count // 2
    row = np.rint(off[:, 1] / gains.stride).astype(int) + count // 2
    v = gains.values
    middle = v[index, row, column]
    bend_x = 2.0 * middle - v[index, row, column - 1] - v[index, row, column + 1]
    bend_y = 2.0 * middle - v[index, row - 1, column] - v[index, row + 1, column]
    spread = np.sqrt(1.0 / np.maximum(np.column_stack([bend_x, bend_y]), 1e-2) + _FLOOR_PX**2)
    return _sighted(targets, gains, index, off, spread)


def best_offsets(gains: Gains) -> tuple[Array, Array]:
    """Each part's best displacement (n, 2) in px and its gain (n,), wherever it is."""
    count = gains.values.shape[1]
    flat = gains.values.reshape(len(gains.values), count * count)
    best = np.argmax(flat, axis=1)
    steps = gains.offsets()
    return np.column_stack([steps[best % count], steps[best // count]]), flat.max(axis=1, initial=0.0)


def _peaks(maps: Array, gains: Gains) -> tuple[NDArray[np.intp], Array, Array, Array]:
    """Indices of maps whose largest value is not at the edge; its place (m, 2), height, and mean curvature."""
    count = maps.shape[1]
    best = np.argmax(maps.reshape(len(maps), count * count), axis=1)
    row, column = best // count, best % count
    index = np.flatnonzero((row > 0) & (row < count - 1) & (column > 0) & (column < count - 1))
    row, column = row[index], column[index]
    middle = maps[index, row, column]
    left, right = maps[index, row, column - 1], maps[index, row, column + 1]
    up, down = maps[index, row - 1, column], maps[index, row + 1, column]
    bend_x, bend_y = np.maximum(2 * middle - left - right, 1e-9), np.maximum(2 * middle - up - down, 1e-9)
    fine = np.column_stack([(right - left) / (2 * bend_x), (down - up) / (2 * bend_y)]).clip(-0.5, 0.5)
    steps = gains.offsets()
    off = np.column_stack([steps[column], steps[row]]) + fine * gains.stride
    return index, off, middle, (bend_x + bend_y) / 2.0 / gains.stride**2


def _sighted(targets: Targets, gains: Gains, index: NDArray[np.intp], off: Array, u_px: Array) -> Evidence:
    at = gains.predicted_px[index] + off
    m = len(index)
    return Evidence(
        xyz_mm=np.repeat(targets.center_mm[index], 2, axis=0),
        along=np.tile(np.eye(2), (m, 1)),
        at=at.ravel(),
        u_px=u_px.ravel(),
        outline=np.zeros(2 * m, dtype=bool),
        source=np.repeat(np.arange(m), 2),
    )
