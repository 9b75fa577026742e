"""Shares of blurred pixels: what part of a pixel's signal comes from a region.

Drawn on a finer grid, blurred there and averaged over each pixel: a blur narrower than a pixel cannot be drawn on
the pixels themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array
from overlay.view.regions import Weights, pixel_weights_of

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

# Sub-pixels a side: for a map of the whole frame, and for shares of single small parts.
ROUGH, FINE = 2, 4
_MOST_BY_MATRIX = 240
"""Sub-pixels a side up to which two products of matrices are quicker than filters, which begin anew for each map."""


def painted(
    regions: Sequence[Polygon | MultiPolygon | Array],
    values: Array,
    shape_px: tuple[int, int],
    sigma_px: float,
    finer: int = ROUGH,
) -> Array:
    """Sum of regions, each times its values, as blurred pixels see it: (k, rows, cols) for values of shape (n, k).

    Regions are polygons in px; ``sigma_px`` is the standard deviation of the optics' blur.
    """
    rows, cols = shape_px
    fine = np.zeros((values.shape[1], rows * finer, cols * finer))
    for weights, value in zip(drawn_finer(regions, shape_px, finer), values, strict=True):
        for k in np.flatnonzero(value):
            fine[k, weights.rows, weights.cols] += weights.weight * value[k]
    return np.stack([_seen(plane, sigma_px, finer) for plane in fine])


def drawn_finer(
    regions: Sequence[Polygon | MultiPolygon | Array], shape_px: tuple[int, int], finer: int = FINE
) -> tuple[Weights, ...]:
    """Exact overlaps with the pixels of the finer grid."""
    import shapely

    shapes = np.empty(len(regions), dtype=object)
    for i, region in enumerate(regions):
        shapes[i] = shapely.Polygon(region) if isinstance(region, np.ndarray) else region
    shapes = shapely.transform(shapes, lambda xy: (xy + 0.5) * finer - 0.5)
    return pixel_weights_of(list(shapes), (shape_px[0] * finer, shape_px[1] * finer))


def window_around(
    drawn: Sequence[Weights], pad: int, shape_px: tuple[int, int], finer: int = FINE
) -> tuple[int, int, int, int]:
    """Rows and columns (first, beyond the last, each) of the frame around regions; empty for empty regions."""
    windows = np.array([weights.window for weights in drawn if len(weights.weight)])
    if not len(windows):
        return 0, 0, 0, 0
    top, left = windows[:, 0].min() // finer - pad, windows[:, 2].min() // finer - pad
    bottom, right = -(-windows[:, 1].max() // finer) + pad, -(-windows[:, 3].max() // finer) + pad
    return max(int(top), 0), min(int(bottom), shape_px[0]), max(int(left), 0), min(int(right), shape_px[1])


def blurred(drawn: Sequence[Weights], window: tuple[int, int, int, int], sigma_px: float, finer: int = FINE) -> Array:
    """Shares of the blurred pixels of a window that come from regions, (window rows, window cols)."""
    top, bottom, left, right = window
    fine = np.zeros(((bottom - top) * finer, (right - left) * finer))
    for weights in drawn:
        fine[weights.rows - top * finer, weights.cols - left * finer] += weights.weight
    return _seen(fine, sigma_px, finer) if drawn and fine.size else np.zeros((bottom - top, right - left))


def _seen(fine: Array, sigma_px: float, finer: int) -> Array:
    """A map on the finer grid, blurred and averaged over pixels."""
    from scipy.ndimage import gaussian_filter

    if max(fine.shape) <= _MOST_BY_MATRIX:
        down, across = (_blur_matrix(side, sigma_px, finer) for side in fine.shape)
        return np.asarray(down @ fine @ across.T)
    if sigma_px > 0.0:
        fine = gaussian_filter(fine, sigma_px * finer, mode="nearest")
    rows, cols = fine.shape[0] // finer, fine.shape[1] // finer
    return np.asarray(fine.reshape(rows, finer, cols, finer).mean(axis=(1, 3)))


@lru_cache(maxsize=256)  # windows of a frame's small parts have few sizes
def _blur_matrix(side: int, sigma_px: float, finer: int) -> Array:
    """What a line of the finer grid becomes, (side // finer, side): the same blur and mean as of a whole map."""
    from scipy.ndimage import gaussian_filter1d

    line = np.eye(side)
    if sigma_px > 0.0:
        line = gaussian_filter1d(line, sigma_px * finer, axis=0, mode="nearest")
    matrix = np.asarray(line.reshape(side // finer, finer, side).mean(axis=1))
    matrix.flags.writeable = False
    return matrix
