"""Smoothings of a whole frame; beyond its edge the frame goes on as it ends there.

The vision library's filters: equal to scipy's but for the last binary digits of what they are given, which may be of
32 bits, in a fifth of the time.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array

Values = NDArray[np.floating]

_REACH_SIGMAS = 4.0  # a Gaussian is cut off there: 6e-5 of it lie beyond


def gaussian(values: Values, sigma_px: float) -> Array:
    """A map (rows, cols) smoothed by a Gaussian of that standard deviation; as it is for none."""
    import cv2

    reach = int(_REACH_SIGMAS * sigma_px + 0.5)
    if sigma_px <= 0.0 or reach < 1:
        return np.asarray(values)
    line = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma_px) ** 2)
    line /= line.sum()
    return np.asarray(cv2.sepFilter2D(values, -1, line, line, borderType=cv2.BORDER_REPLICATE))


def weighted(values: Values, kernel: Array) -> Array:
    """A map (rows, cols) with each pixel replaced by the sum of those around it times a small symmetric kernel."""
    import cv2

    return np.asarray(cv2.filter2D(values, -1, kernel, borderType=cv2.BORDER_REPLICATE))


def blocks(values: Values, side: int) -> Array:
    """Means over squares of ``side`` pixels, (rows // side, cols // side)."""
    total = sum(values[i::side, j::side] for i in range(side) for j in range(side))
    return np.asarray(total / side**2)
