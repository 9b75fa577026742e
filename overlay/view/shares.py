"""Shares of blurred pixels: what part of a pixel's signal comes from a region.

Drawn on a finer grid, blurred there and averaged over each pixel: a blur narrower than a pixel cannot be drawn on
the pixels themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array
from overlay.frames.smoothing import blocks, gaussian
from overlay.view.overlaps import Blocks
from overlay.view.regions import Geometries, pixel_blocks_of

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

# Sub-pixels a side: for a map of the whole frame, and for shares of single small parts.
ROUGH, FINE = 2, 4
_MOST_BY_MATRIX = 48
"""Pixels a side up to which two products of matrices are quicker than filters, which begin anew for each map."""


def painted(
    regions: Sequence[Polygon | MultiPolygon] | Geometries,
    values: Array,
    shape_px: tuple[int, int],
    sigma_px: float,
    finer: int = ROUGH,
) -> Array:
    """Sum of regions, each times its values, as blurred pixels see it: (k, rows, cols) for values of shape (n, k).

    Regions are polygons in px; ``sigma_px`` is the standard deviation of the optics' blur.
    """
    drawn = drawn_finer(regions, shape_px, finer)
    planes = np.zeros((values.shape[1], *shape_px))
    for plane, own in zip(planes, values.T, strict=True):
        if own.any():
            plane[:] = blocks(gaussian(drawn.painted(own), sigma_px * finer), finer)
    return planes


def drawn_finer(
    regions: Sequence[Polygon | MultiPolygon] | Geometries, shape_px: tuple[int, int], finer: int = FINE
) -> Blocks:
    """Exact overlaps with the pixels of the finer grid."""
    import shapely

    shapes = np.empty(len(regions), dtype=object)
    shapes[:] = regions
    shapes = shapely.transform(shapes, lambda xy: (xy + 0.5) * finer - 0.5)
    return pixel_blocks_of(shapes, (shape_px[0] * finer, shape_px[1] * finer))


def as_seen(fine: NDArray[np.float32], sigma_px: float, finer: int = FINE) -> Array:
    """Maps on the finer grid (n, rows × finer, cols × finer), blurred and averaged over pixels: (n, rows, cols)."""
    rows, cols = fine.shape[1] // finer, fine.shape[2] // finer
    if max(rows, cols) > _MOST_BY_MATRIX:
        return np.stack([blocks(gaussian(one, sigma_px * finer), finer) for one in fine])
    seen = _blur_matrix(rows, sigma_px, finer) @ fine @ _blur_matrix(cols, sigma_px, finer).T
    return seen.astype(np.float64)


@lru_cache(maxsize=256)  # windows of a frame's small parts have few sizes
def _blur_matrix(side_px: int, sigma_px: float, finer: int) -> NDArray[np.float32]:
    """What a line of the finer grid becomes, (side, side × finer): the same blur and mean as of a whole map."""
    from scipy.ndimage import gaussian_filter1d

    line = np.eye(side_px * finer)
    if sigma_px > 0.0:
        line = gaussian_filter1d(line, sigma_px * finer, axis=0, mode="nearest")
    matrix: NDArray[np.float32] = line.reshape(side_px, finer, side_px * finer).mean(axis=1).astype(np.float32)
    matrix.flags.writeable = False
    return matrix
