"""Values between pixels."""

from __future__ import annotations

import numpy as np

from overlay.frames.frame import Array


def bilinear(values: Array, place: Array) -> Array:
    """Bilinear samples at places (…, 2) of (x, y); nan outside. Numpy, so that coordinates stay exact."""
    rows, cols = values.shape
    x, y = place[..., 0], place[..., 1]
    inside = (x >= 0.0) & (x <= cols - 1.0) & (y >= 0.0) & (y <= rows - 1.0)
    x, y = np.where(inside, x, 0.0), np.where(inside, y, 0.0)
    left = np.minimum(x.astype(np.intp), max(cols - 2, 0))
    top = np.minimum(y.astype(np.intp), max(rows - 2, 0))
    fx, fy = x - left, y - top
    right, bottom = np.minimum(left + 1, cols - 1), np.minimum(top + 1, rows - 1)
    total: Array = np.zeros(x.shape)
    for row, weight_y in ((top, 1.0 - fy), (bottom, fy)):
        for col, weight_x in ((left, 1.0 - fx), (right, fx)):
            weight = weight_x * weight_y
            total += np.where(weight > 0.0, weight * values[row, col], 0.0)  # a nan of no weight does no harm
    result: Array = np.where(inside, total, np.nan)
    return result


def nearest(values: Array, place: Array) -> Array:
    """Values of the pixels nearest to places (…, 2) of (x, y); nan outside."""
    rows, cols = values.shape
    at = np.rint(np.where(np.isfinite(place), place, -1.0))
    inside = ((at >= 0.0) & (at < np.array([cols, rows]))).all(axis=-1)
    x, y = (np.where(inside, at[..., axis], 0.0).astype(np.intp) for axis in (0, 1))
    return np.where(inside, values[y, x], np.nan)
