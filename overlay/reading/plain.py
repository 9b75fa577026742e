"""The plain way of reading, and what no reading may leave: the floor under the clever ones.

Plain: the hottest pixels that a face fills nearly by itself, as they are. Bounds: of what a pixel shows, a face that
fills a known share of it can have sent no more than is left when all else in it was as cold as the coldest thing
around, and no less than when all else was as hot as the hottest. Neither knows of any model of metal, walls or
neighbours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Mask
from overlay.reading import tuned
from overlay.reading.single_pixel import Fill
from overlay.view.tops import Top


@dataclass(frozen=True, slots=True)
class Plain:
    """What the pixels themselves say of one face, in radiance leaving the board."""

    leaving: float | None  # None where too few pixels show the face by itself
    u: float
    at_px: tuple[float, float]
    pixel: tuple[int, int]
    low: float  # no less …
    high: float  # … and no more can the face send
    shown: float  # what its best filled pixels show
    kelvin: float  # radiance of one kelvin of the face


@dataclass(frozen=True, slots=True, eq=False)
class Around:
    """What lies around one face, as radiances: the board beneath, what metal mirrors, and the frame's coldest."""

    beneath: float
    mirrored: float
    coldest: float


def plain_of(
    radiance: Array, noise: float, top: Top, fills: tuple[Fill, Fill], around: Around, place_u_px: float, kelvin: float
) -> Plain | None:
    """Read one face plainly; None where it fills next to nothing of any pixel.

    Parameters
    ----------
    radiance : (rows, cols) leaving the board
    noise
        Standard deviation of one pixel's.
    fills
        Shares of the pixels that come from the face with the blur as it is, and with one that is wider.
    place_u_px
        Standard uncertainty of the face's place along either axis.
    kelvin
        Radiance of one kelvin of the face.
    """
    fill, wide = fills
    own = fill.own
    if not own.size or wide.own.max() <= tuned.LEAST_FILL:
        return None
    window = radiance[fill.row : fill.row + own.shape[0], fill.col : fill.col + own.shape[1]]
    widest = radiance[wide.row : wide.row + wide.own.shape[0], wide.col : wide.col + wide.own.shape[1]]
    low, high, shown = _bounds(widest, wide, around, place_u_px, bool(top.ends))
    slack = tuned.SLACK_K * kelvin + tuned.NOISE_SIGMAS * noise / max(float(wide.own.max()), tuned.LEAST_FILL)
    low, high = max(low, around.coldest) - slack, high + slack
    value, (row, col) = _two_hottest(window, own >= tuned.FILLED)
    there = (float(col + fill.col), float(row + fill.row))
    pixel = (row + fill.row, col + fill.col)
    if np.count_nonzero(own >= tuned.FILLED) < tuned.LEAST_FILLED:
        return Plain(None, math.inf, there, pixel, low, high, shown, kelvin)
    unfilled = (1.0 - float(own[row, col])) * abs(value - around.beneath)
    u = math.hypot(noise, unfilled, _moved(window, own, value, place_u_px), tuned.LEAST_PLAIN_U_K * kelvin)
    return Plain(value, u, there, pixel, low, high, shown, kelvin)


def _two_hottest(window: Array, chosen: Mask) -> tuple[float, tuple[int, int]]:
    """Mean of the two highest of the chosen pixels, and the place of the highest; nan where none is."""
    values = np.where(chosen, window, -np.inf)
    row, col = (int(k) for k in np.unravel_index(int(np.argmax(values)), window.shape))
    count = min(int(np.count_nonzero(chosen)), 2)
    if not count:
        return math.nan, (row, col)
    return float(np.partition(values.ravel(), -count)[-count:].mean()), (row, col)


def _moved(window: Array, own: Array, value: float, place_u_px: float) -> float:
    """Root mean square change of the plain value when the face lies elsewhere (independent moves along both axes)."""
    from scipy.ndimage import shift

    total = 0.0
    for move in ((place_u_px, 0.0), (-place_u_px, 0.0), (0.0, place_u_px), (0.0, -place_u_px)):
        there, _ = _two_hottest(window, shift(own, move, order=1, mode="constant") >= tuned.FILLED)
        total += 0.0 if math.isnan(there) else (there - value) ** 2 / 2.0
    return math.sqrt(total)


def _bounds(window: Array, wide: Fill, around: Around, place_u_px: float, ends: bool) -> tuple[float, float, float]:
    """Least and most a face can send, and what its best filled pixels show."""
    from scipy.ndimage import maximum_filter

    own = wide.own
    best = float(min(own.max(), 1.0))
    span = 2 * round(tuned.REACH_SIGMAS * place_u_px) + 1
    near = own >= tuned.BEST_FILLED * best
    reached = maximum_filter(near, size=span) if span > 1 else near
    coldest, hottest = float(window.min()), float(window.max())
    if ends or best < tuned.FILLED:  # metal at its ends or feet mirrors the room, whatever a mixed pixel shows of it
        coldest = min(coldest, around.mirrored)
    most, least = float(window[reached].max()), float(window[reached].min())
    high = coldest + (most - coldest) / best
    low = hottest - (hottest - least) / best
    return low, high, float(window[near].max())


def within(value: float, u: float, plain: Plain) -> tuple[float, float]:
    """A value and its standard uncertainty, given that it lies within the bounds: mean and width of what is left.

    A normal distribution cut off at both bounds (Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 1,
    13.10.1, from memory). Far outside them nothing is known but that it lies between the bound and what is shown.
    """
    from scipy.special import ndtr

    low, high = min(plain.low, plain.shown), max(plain.high, plain.shown)
    if u <= 0.0 or not math.isfinite(value):
        return value, u
    a, b = (low - value) / u, (high - value) / u
    if a > tuned.FAR_SIGMAS or b < -tuned.FAR_SIGMAS:
        bound = low if a > 0 else high
        return 0.5 * (bound + plain.shown), abs(bound - plain.shown) / math.sqrt(12.0)
    mass = max(float(ndtr(b) - ndtr(a)), 1e-12)
    at_a, at_b = (math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi) for z in (a, b))
    mean = (at_a - at_b) / mass
    variance = 1.0 + (a * at_a - b * at_b) / mass - mean**2
    return value + u * mean, u * math.sqrt(max(variance, 1e-6))
