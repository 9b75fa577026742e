"""A face of a few pixels on its own: one pixel, unmixed from the metal and the board it shares it with.

The second opinion to the joint solution, and what is left where that has no answer. One part at a time it cannot
know pads and neighbours: below some three pixels its uncertainty says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.frames.frame import Array
from overlay.reading.emission import END_EMISSIVITY
from overlay.reading.regions import pixel_weights_of
from overlay.reading.statistics import expected_maximum
from overlay.reading.tops import Top

# A pixel competes for the peak if its fill is this close to the best: in one less filled, errors grow.
_FILL_SLACK = 0.02
# Standard uncertainty of the unfilled share, from blur (15 % of its width), pads and walls.
_UNFILLED_U = 0.25


@dataclass(frozen=True, slots=True)
class Little:
    """Radiance of a small face as one pixel tells it."""

    leaving: float
    fill: float  # share of the pixel's signal that comes from the face
    fill_u: float  # uncertainty of ``leaving`` from the fill, in radiance
    noise: float
    position_u: float  # from the place of the face
    at_px: tuple[float, float]
    pixel: tuple[int, int]


def fills_of(tops: Sequence[Top], shape_px: tuple[int, int], sigma_px: float) -> list[tuple[Array, Array, int, int]]:
    """For each face the blurred shares of (face, metal ends) in a window, and that window's first row and column."""
    from scipy.ndimage import gaussian_filter

    rows, cols = shape_px
    pad = int(np.ceil(3.0 * sigma_px)) + 1
    faces = pixel_weights_of([top.seen for top in tops], shape_px)
    ends = [pixel_weights_of(list(top.ends), shape_px) for top in tops]
    result = []
    for face, metal in zip(faces, ends, strict=True):
        top, bottom, left, right = face.window
        first_row, first_col = max(top - pad, 0), max(left - pad, 0)
        size = (max(min(bottom + pad, rows) - first_row, 0), max(min(right + pad, cols) - first_col, 0))
        own, caps = np.zeros(size), np.zeros(size)
        own[face.rows - first_row, face.cols - first_col] = face.weight
        for end in metal:
            r, c = end.rows - first_row, end.cols - first_col
            here = (r >= 0) & (r < size[0]) & (c >= 0) & (c < size[1])
            caps[r[here], c[here]] += end.weight[here]
        if sigma_px > 0.0 and own.size:
            own = gaussian_filter(own, sigma_px, mode="nearest")
            caps = gaussian_filter(caps, sigma_px, mode="nearest") if metal else caps
        result.append((own, caps, first_row, first_col))
    return result


def read_little(
    radiance: Array,
    noise: float,
    around: float,
    mirrored: float,
    emissivity: float,
    fill: tuple[Array, Array, int, int],
    place_u_px: float,
) -> Little | None:
    """Unmix the best filled pixel of a small face; None where the face fills nothing.

    Parameters
    ----------
    radiance : (rows, cols) leaving the board
    around, mirrored
        Radiance that leaves the board around the part, and that of what metal mirrors.
    fill
        As from `fills_of`.
    place_u_px
        Standard uncertainty of the face's place along either axis.
    """
    own, caps, row0, col0 = fill
    if not own.size or own.max() <= 0.02:
        return None
    window = radiance[row0 : row0 + own.shape[0], col0 : col0 + own.shape[1]]
    ratio = END_EMISSIVITY / emissivity  # metal ends have the part's temperature, and send out less of it
    gain = own + ratio * caps
    unmixed = (window - caps * (1.0 - ratio) * mirrored - (1.0 - own - caps) * around) / np.maximum(gain, 1e-3)
    contest = own >= own.max() - _FILL_SLACK
    competing = np.where(contest, unmixed, -np.inf)
    row, col = np.unravel_index(int(np.argmax(competing)), own.shape)
    share, pixel_noise = float(own[row, col]), noise / float(gain[row, col])
    leaving = float(unmixed[row, col]) - pixel_noise * expected_maximum(float(contest.sum()))
    contrast = abs(leaving - around)
    moved = _change(gain, int(row), int(col), place_u_px)
    return Little(
        leaving=leaving,
        fill=share,
        fill_u=contrast * _UNFILLED_U * (1.0 - share) / float(gain[row, col]),
        noise=pixel_noise,
        position_u=contrast * moved / float(gain[row, col]),
        at_px=(float(col + col0), float(row + row0)),
        pixel=(int(row + row0), int(col + col0)),
    )


def _change(fill: Array, row: int, col: int, distance: float) -> float:
    """Root mean square change of a share when the face moves by a distance along x or y (independent moves)."""
    total = 0.0
    for dr, dc in ((0, 1), (1, 0)):
        change = []
        for sign in (-1, 1):
            r, c = row + sign * dr, col + sign * dc
            inside = 0 <= r < fill.shape[0] and 0 <= c < fill.shape[1]
            change.append((float(fill[r, c]) if inside else 0.0) - float(fill[row, col]))
        # parabola through the three shares: slope and bend both count
        slope, bend = 0.5 * (change[1] - change[0]), change[0] + change[1]
        total += (slope * distance) ** 2 + 0.5 * (bend * distance**2 / 2.0) ** 2
    return float(np.sqrt(total))
