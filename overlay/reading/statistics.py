"""Peak and mean of the radiance over a top face.

The peak is that of the surface itself: noise raises the hottest pixel, blur lowers it. Large faces are smoothed
over 3 × 3 pixels, smaller ones less, and what the maximum of the remaining noise adds on the average is taken off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, read_only
from overlay.frames.smoothing import gaussian, weighted
from overlay.view.overlaps import Weights
from overlay.view.tops import DIRECT_FROM_PX, LARGE_FROM_PX

_BOX = np.full((3, 3), 1.0 / 9.0)  # mean of three by three pixels
# Of a pixel and its four sides: half the weight in the middle.
_CROSS = np.array([[0.0, 1.0, 0.0], [1.0, 4.0, 1.0], [0.0, 1.0, 0.0]]) / 8.0
_DOT = np.array([[1.0]])  # the pixel itself
# Pixels that together count as one independent draw of the smoothed noise: from simulated noise, sizes 4 to 40 px.
_PIXELS_PER_DRAW = {9: 1.8, 5: 1.2, 1: 1.0}
# A pixel takes part in the contest for the maximum if its own smooth value is this near the top, in noise sigmas.
_CONTEST_SIGMAS = 2.0
_CONTEST_SMOOTHING_PX = 2.0  # standard deviation of the smoothing that ranks pixels for that contest
PIXEL_PX2 = 1.0 / 12.0  # variance of a pixel's own square along either axis
BEND_SIGMAS = 2.0  # a bend within the noise is none
_SLOPE_SIGMAS, _PLANE_REACH_PX = 3.0, 3  # a slope within the noise is none; fitted over 7 × 7 pixels
LEAST_WEIGHT = 0.5  # a pixel belongs to a face if half of it lies within


@dataclass(frozen=True, slots=True, eq=False)
class Smoothed:
    """A frame's radiance (rows, cols) with the smoothings that faces of different sizes are read from."""

    raw: Array
    cross: Array
    box: Array
    trend: Array
    noise: float  # standard deviation of one raw pixel, in radiance
    blur_px2: float  # variance of optics and pixel along either axis

    def __post_init__(self) -> None:
        read_only(self)

    def for_side(self, short_px: float) -> tuple[Array, Array]:
        """(map to read, kernel it was smoothed with) for a face of this short side."""
        if short_px >= LARGE_FROM_PX:
            return self.box, _BOX
        if short_px >= DIRECT_FROM_PX:
            return self.cross, _CROSS
        return self.raw, _DOT


@dataclass(frozen=True, slots=True)
class Peak:
    """The highest radiance of a face and its mean; radiances as leaving the board."""

    leaving: float  # at the peak: noise's share taken off, blur's put back, followed to the rim where it lies there
    noise: float  # standard uncertainty of it from noise
    mean: float
    mean_noise: float
    at_px: tuple[float, float]  # (x, y)
    pixel: tuple[int, int]  # (row, col) of the pixel it was found in
    lowered: float  # what blur and smoothing had taken off a pointed summit, as put back
    rim: float  # by how much it was followed from the region's rim to the face's; 0 inside


def smoothed(radiance: Array, noise: float, sigma_px: float = 0.0) -> Smoothed:
    """Smooth a frame's radiance once for all faces; ``sigma_px`` is the standard deviation of the optics' blur."""
    return Smoothed(
        raw=radiance,
        cross=weighted(radiance, _CROSS),
        box=weighted(radiance, _BOX),
        trend=gaussian(radiance, _CONTEST_SMOOTHING_PX),
        noise=noise,
        blur_px2=sigma_px**2 + PIXEL_PX2,
    )


def expected_maximum(draws: Array | float) -> Array:
    """Mean of the largest of so many standard normal draws (real numbers ≥ 1, any shape).

    Blom's approximation of normal order statistics, Statistical Estimates and Transformed Beta-Variables, 1958
    (from memory); 0.02 off at worst, for few draws.
    """
    from scipy.special import ndtri

    draws = np.maximum(draws, 1.0)
    return np.asarray(ndtri((draws - 0.375) / (draws + 0.25)))


def peak_of(maps: Smoothed, inner: Weights, short_px: float, margin_px: float) -> Peak | None:
    """Peak and mean over the pixels of a face's inner region; None where not one pixel lies within."""
    within = inner.weight >= LEAST_WEIGHT
    if not within.any():
        return None
    rows, cols = inner.rows[within], inner.cols[within]
    read, kernel = maps.for_side(short_px)
    noise = maps.noise * float(np.sqrt(np.sum(kernel**2)))
    values, trend = read[rows, cols], maps.trend[rows, cols]
    best = int(np.argmax(values))
    row, col = int(rows[best]), int(cols[best])
    contest = int(np.count_nonzero(trend >= trend.max() - _CONTEST_SIGMAS * noise))
    draws = contest / _PIXELS_PER_DRAW[int(np.count_nonzero(kernel))]
    lowered = _lowered(read, rows, cols, row, col, kernel, maps.blur_px2, noise)
    rim = _beyond_the_rim(maps.raw, rows, cols, row, col, maps.noise) * margin_px
    x, y = _summit(read, rows, cols, row, col)
    return Peak(
        leaving=float(values[best]) - noise * float(expected_maximum(draws)) + lowered + rim,
        noise=noise,
        mean=inner.mean(maps.raw),
        mean_noise=maps.noise / float(np.sqrt(max(inner.area_px, 1.0))),
        at_px=(x, y),
        pixel=(row, col),
        lowered=lowered,
        rim=rim,
    )


def _summit(values: Array, rows: Index, cols: Index, row: int, col: int) -> tuple[float, float]:
    """Place of the maximum between pixels: a parabola through three values along x and along y, within the region."""
    place = [float(col), float(row)]
    for axis, (dr, dc) in enumerate(((0, 1), (1, 0))):
        before, after = (row - dr, col - dc), (row + dr, col + dc)
        if _within(rows, cols, *before) and _within(rows, cols, *after):
            a, b, c = values[before], values[row, col], values[after]
            bend = a - 2.0 * b + c
            if bend < 0.0:
                place[axis] += float(np.clip(0.5 * (a - c) / bend, -0.5, 0.5))
    return place[0], place[1]


def _lowered(
    values: Array, rows: Index, cols: Index, row: int, col: int, kernel: Array, blur_px2: float, noise: float
) -> float:
    """What blur takes off a summit: half its variance times the bend, to first order (as a heat kernel's).

    The bend is that of the map as read, axis by axis where the face reaches far enough; none counts within the noise.
    """
    offsets = np.array([-1.0, 0.0, 1.0])
    spread = blur_px2 + (float(kernel.sum(axis=0) @ offsets**2) if len(kernel) == 3 else 0.0)
    step = 2 if np.count_nonzero(kernel) == kernel.size > 1 else 1
    bend = 0.0
    for dr, dc in ((0, step), (step, 0)):
        if _within(rows, cols, row - dr, col - dc) and _within(rows, cols, row + dr, col + dc):
            bend += float(2.0 * values[row, col] - values[row - dr, col - dc] - values[row + dr, col + dc]) / step**2
    # standard deviation of the bend, neighbours taken as independent
    return 0.5 * spread * bend if bend > BEND_SIGMAS * np.sqrt(12.0) / step**2 * noise else 0.0


def _beyond_the_rim(raw: Array, rows: Index, cols: Index, row: int, col: int, noise: float) -> float:
    """Slope per pixel with which values rise towards a rim that the maximum lies on; 0 off the rim, or in the noise.

    From a plane through the raw pixels around: the maximum itself was chosen for its noise. Towards a corner the
    slopes along both axes count.
    """
    near = (np.abs(rows - row) <= _PLANE_REACH_PX) & (np.abs(cols - col) <= _PLANE_REACH_PX)
    slope = 0.0
    offsets = np.column_stack([rows[near], cols[near]]).astype(np.float64)
    offsets -= offsets.mean(axis=0)
    moments = offsets.T @ offsets
    if np.linalg.det(moments) < 1.0:  # a single row or column of pixels
        return 0.0
    inverse = np.linalg.inv(moments)
    slopes = inverse @ (offsets.T @ raw[rows[near], cols[near]])
    for axis, (dr, dc) in enumerate(((1, 0), (0, 1))):
        sign = 1 if slopes[axis] > 0.0 else -1
        certain = abs(slopes[axis]) > _SLOPE_SIGMAS * noise * np.sqrt(inverse[axis, axis])
        if certain and not _within(rows, cols, row + sign * dr, col + sign * dc):
            slope += abs(float(slopes[axis]))
    return slope


def _within(rows: Index, cols: Index, row: int, col: int) -> bool:
    return bool(np.any((rows == row) & (cols == col)))
