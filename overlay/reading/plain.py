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

from overlay.arrays import Array, Index, Mask, read_only
from overlay.reading import tuned
from overlay.reading.single_pixel import Fills


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
    """What lies around faces, as radiances: the board beneath each (n,), what metal mirrors, the frame's coldest."""

    beneath: Array
    mirrored: float
    coldest: float

    def __post_init__(self) -> None:
        read_only(self)


def plain_of(
    radiance: Array, noise: float, fills: Fills, ends: Mask, around: Around, place_u_px: Array, kelvin: Array
) -> list[Plain | None]:
    """Read faces plainly; None where one fills next to nothing of any pixel.

    Parameters
    ----------
    radiance : (rows, cols) leaving the board
    noise
        Standard deviation of one pixel's.
    fills
        Shares of the pixels that come from each face with the blur as it is, and with one that is wider.
    ends : (n,)
        Whether a face has metal ends.
    place_u_px : (n,)
        Standard uncertainty of each face's place along either axis.
    kelvin : (n,)
        Radiance of one kelvin of each face.
    """
    window, most = fills.windows_of(radiance), fills.wide.max(axis=(1, 2))
    low, high, shown = _bounds(window, fills, around, place_u_px, ends)
    slack = tuned.SLACK_K * kelvin + tuned.NOISE_SIGMAS * noise / np.maximum(most, tuned.LEAST_FILL)
    low, high = np.maximum(low, around.coldest) - slack, high + slack
    filled = fills.own >= tuned.FILLED
    value, at = _two_hottest(window, filled)
    unfilled = (1.0 - fills.own.reshape(len(at), -1)[np.arange(len(at)), at]) * np.abs(value - around.beneath)
    u = np.full(len(at), math.inf)
    told = np.flatnonzero(filled.sum(axis=(1, 2)) >= tuned.LEAST_FILLED)
    moved = _moved(window[told], fills.own[told], value[told], place_u_px[told])
    u[told] = np.sqrt(noise**2 + unfilled[told] ** 2 + moved**2 + (tuned.LEAST_PLAIN_U_K * kelvin[told]) ** 2)
    row, col = np.divmod(at, window.shape[2])
    columns = (value, u, row + fills.top, col + fills.left, low, high, shown, kelvin)
    return [
        Plain(leaving if math.isfinite(own_u) else None, own_u, (float(x), float(y)), (y, x), *rest)
        if fill > tuned.LEAST_FILL
        else None
        for fill, leaving, own_u, y, x, *rest in zip(most, *(column.tolist() for column in columns), strict=True)
    ]


def _two_hottest(window: Array, chosen: Mask) -> tuple[Array, Index]:
    """Mean of the two highest of each window's chosen pixels (n,), and the number of the highest; nan for none."""
    values = np.where(chosen, window, -np.inf).reshape(len(window), window.shape[1] * window.shape[2])
    which, at = np.arange(len(values)), values.argmax(axis=1)
    first = values[which, at]
    values[which, at] = -np.inf
    second = values.max(axis=1, initial=-np.inf)
    mean = np.where(np.isfinite(second), 0.5 * (first + second), first)
    return np.where(np.isfinite(first), mean, np.nan), at


def _moved(window: Array, own: Array, value: Array, place_u_px: Array) -> Array:
    """Root mean square change of plain values when faces lie elsewhere (independent moves along both axes)."""
    total = np.zeros(len(value))
    for move in (place_u_px, -place_u_px):
        across = _shifted(own.swapaxes(1, 2), move).swapaxes(1, 2)
        for elsewhere in (_shifted(own, move), across):
            there, _ = _two_hottest(window, elsewhere >= tuned.FILLED)
            total += np.nan_to_num((there - value) ** 2 / 2.0)
    return np.asarray(np.sqrt(total))


def _shifted(shares: Array, distance: Array) -> Array:
    """Maps (n, rows, cols) moved along their rows' axis by a distance (n,) each, interpolated; zero beyond them."""
    rows = shares.shape[1]
    whole = np.floor(distance).astype(np.intp)
    part = (distance - whole)[:, None, None]
    result = np.zeros_like(shares)
    for step in np.unique(whole):
        which = np.flatnonzero(whole == step)
        # a row comes from the one ``step`` before it, and in part from the one before that, where both are there
        first, beyond = max(step + 1, 0), min(rows + step, rows)
        if first < beyond:
            near = shares[which, first - step : beyond - step]
            far = shares[which, first - step - 1 : beyond - step - 1]
            result[which, first:beyond] = near + part[which] * (far - near)
        if 0 <= step < rows:
            still = which[part[which, 0, 0] == 0.0]
            result[still, step] = shares[still, 0]
    return result


def _bounds(window: Array, fills: Fills, around: Around, place_u_px: Array, ends: Mask) -> tuple[Array, Array, Array]:
    """Least and most that faces can send, and what their best filled pixels show, (n,) each."""
    own, beside = fills.wide, fills.near
    best = np.minimum(own.max(axis=(1, 2)), 1.0)
    near = own >= tuned.BEST_FILLED * best[:, None, None]
    reached = beside & _widened(near, np.rint(tuned.REACH_SIGMAS * place_u_px).astype(np.intp))
    coldest = np.where(beside, window, np.inf).min(axis=(1, 2))
    hottest = np.where(beside, window, -np.inf).max(axis=(1, 2))
    # metal at its ends or feet mirrors the room, whatever a mixed pixel shows of it
    mixed = ends | (best < tuned.FILLED)
    coldest = np.where(mixed, np.minimum(coldest, around.mirrored), coldest)
    most = np.where(reached, window, -np.inf).max(axis=(1, 2))
    least = np.where(reached, window, np.inf).min(axis=(1, 2))
    with np.errstate(divide="ignore", invalid="ignore"):  # what fills nothing has no bounds, and is not asked for them
        high = coldest + (most - coldest) / best
        low = hottest - (hottest - least) / best
    return low, high, np.where(near, window, -np.inf).max(axis=(1, 2))


def _widened(chosen: Mask, reach: Index) -> Mask:
    """Pixels within so many pixels (n,) of the chosen ones, corners included."""
    wide = chosen.copy()
    for step in range(int(reach.max(initial=0))):
        further = np.flatnonzero(reach > step)
        own = np.pad(wide[further], ((0, 0), (1, 1), (1, 1)))
        own = own[:, :-2] | own[:, 1:-1] | own[:, 2:]
        wide[further] = own[:, :, :-2] | own[:, :, 1:-1] | own[:, :, 2:]
    return wide


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
