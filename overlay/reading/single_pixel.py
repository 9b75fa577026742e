"""A face of a few pixels on its own: one pixel, unmixed from the metal and the board it shares it with.

The second opinion to the joint solution, and what is left where that has no answer. One part at a time it cannot
know pads and neighbours: below some three pixels its uncertainty says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, read_only
from overlay.reading.statistics import BEND_SIGMAS, expected_maximum
from overlay.view.emission import METAL_EMISSIVITY
from overlay.view.shares import blurred, drawn_finer, window_around
from overlay.view.tops import Top

# A pixel competes for the peak if its fill is this close to the best: in one less filled, errors grow.
_FILL_SLACK = 0.02
# Standard uncertainty of the unfilled share, from blur (15 % of its width), pads and walls.
_UNFILLED_U = 0.25
_WELL_FILLED = 0.9  # both neighbours so full of the face: only then a bend of the signal is the face's own


@dataclass(frozen=True, slots=True, eq=False)
class Fill:
    """Shares of blurred pixels in a window of the frame, (window rows, window cols) each."""

    own: Array  # that come from the face
    caps: Array  # that come from its metal ends
    row: int  # first row and column of the window
    col: int

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True)
class Little:
    """Radiance of a small face as one pixel tells it."""

    leaving: float
    fill: float  # share of the pixel's signal that comes from the face
    fill_u: float  # uncertainty of ``leaving`` from the fill, in radiance
    noise: float
    lowered: float  # what blur had taken off a pointed summit, as put back
    tilt: float  # slopes along both axes, per px: towards a corner the face may be hotter
    position_u: float  # from the place of the face
    at_px: tuple[float, float]
    pixel: tuple[int, int]


def fills_of(tops: Sequence[Top], shape_px: tuple[int, int], sigmas_px: Sequence[float]) -> list[tuple[Fill, ...]]:
    """Each face's fill of the pixels around it, for each of some blurs (standard deviations, the widest last).

    Metal ends are worked out for the first blur only.
    """
    pad = int(np.ceil(3.0 * sigmas_px[-1])) + 1
    counts = [1 + len(top.ends) for top in tops]
    regions = [region for top in tops for region in (top.seen, *top.ends)]
    drawn = drawn_finer(regions, shape_px)
    result, k = [], 0
    for count in counts:
        face, ends = drawn[k], drawn[k + 1 : k + count]
        k += count
        window = window_around([face, *ends], pad, shape_px)
        result.append(
            tuple(
                Fill(
                    blurred([face], window, sigma),
                    blurred([] if number else ends, window, sigma),
                    window[0],
                    window[2],
                )
                for number, sigma in enumerate(sigmas_px)
            )
        )
    return result


def read_little(
    radiance: Array,
    noise: float,
    around: float,
    mirrored: float,
    emissivity: float,
    fill: Fill,
    place_u_px: float,
    blur_px2: float,
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
    blur_px2
        Variance of optics and pixel along either axis.
    """
    own, caps, row0, col0 = fill.own, fill.caps, fill.row, fill.col
    if not own.size or own.max() <= 0.02:
        return None
    window = radiance[row0 : row0 + own.shape[0], col0 : col0 + own.shape[1]]
    ratio = METAL_EMISSIVITY / emissivity  # metal ends have the part's temperature, and send out less of it
    gain = own + ratio * caps
    unmixed = (window - caps * (1.0 - ratio) * mirrored - (1.0 - own - caps) * around) / np.maximum(gain, 1e-3)
    contest = own >= own.max() - _FILL_SLACK
    competing = np.where(contest, unmixed, -np.inf)
    row, col = np.unravel_index(int(np.argmax(competing)), own.shape)
    share, pixel_noise = float(own[row, col]), noise / float(gain[row, col])
    leaving = float(unmixed[row, col]) - pixel_noise * expected_maximum(float(contest.sum()))
    lowered = 0.5 * blur_px2 * _bend(unmixed, own, int(row), int(col), pixel_noise)
    leaving += lowered
    contrast = abs(leaving - around)
    moved = _change(gain, int(row), int(col), place_u_px)
    return Little(
        leaving=leaving,
        fill=share,
        fill_u=contrast * _UNFILLED_U * (1.0 - share) / float(gain[row, col]),
        noise=pixel_noise,
        lowered=lowered,
        tilt=_tilt(unmixed, own, int(row), int(col), pixel_noise),
        position_u=contrast * moved / float(gain[row, col]),
        at_px=(float(col + col0), float(row + row0)),
        pixel=(int(row + row0), int(col + col0)),
    )


def _bend(values: Array, fill: Array, row: int, col: int, noise: float) -> float:
    """By how much values bend down at a pixel, per px² and summed over both axes; 0 within the noise."""
    bend = 0.0
    for dr, dc in ((0, 1), (1, 0)):
        inside = 0 < row < values.shape[0] - 1 and 0 < col < values.shape[1] - 1
        if inside and min(fill[row - dr, col - dc], fill[row + dr, col + dc]) >= _WELL_FILLED:
            bend += float(2.0 * values[row, col] - values[row - dr, col - dc] - values[row + dr, col + dc])
    return bend if bend > BEND_SIGMAS * np.sqrt(12.0) * noise else 0.0


def _tilt(values: Array, fill: Array, row: int, col: int, noise: float) -> float:
    """Sum of the slopes along both axes at a pixel, per px; 0 within the noise."""
    tilt = 0.0
    for dr, dc in ((0, 1), (1, 0)):
        inside = 0 < row < values.shape[0] - 1 and 0 < col < values.shape[1] - 1
        if inside and min(fill[row - dr, col - dc], fill[row + dr, col + dc]) >= _WELL_FILLED:
            slope = abs(float(values[row + dr, col + dc] - values[row - dr, col - dc])) / 2.0
            tilt += slope if slope > BEND_SIGMAS * np.sqrt(0.5) * noise else 0.0
    return tilt


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
