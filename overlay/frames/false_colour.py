"""Temperatures from a picture in false colour, by the scale bar that is drawn in it.

The colours along the bar are a curve through colour space, and each place of it a temperature. A pixel has the
temperature of the nearest point of that curve; what lies off it (crosshair, text, logo, the frame of the screen) says
nothing and is left out.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Mask, read_only
from overlay.errors import InputError, input_error
from overlay.frames.flaws import sharp_marks
from overlay.frames.size import check_size

# A bar shorter than this tells steps of several kelvins.
_SHORTEST_BAR_PX = 32
# Colour levels (of 255) that the curve must be long; a bar of one colour is none.
_LEAST_CURVE = 64.0
# Luma is kept better than chroma by lossy compression, whose chroma planes have half the resolution (JFIF, 4:2:0, from
# memory): chroma differences count half.
_CHROMA_WEIGHT = 0.5
_TO_YCC = np.array([[0.299, 0.587, 0.114], [-0.168736, -0.331264, 0.5], [0.5, -0.418688, -0.081312]])  # ITU-T T.871
# Further from the bar's curve than so many levels a colour is not on it: four times the scatter of JPEG at quality 75,
# eight times that at 90 (measured on pictures of our own).
_OFF_LEVELS = 12.0
_MARK_LEVELS = 30.0  # so far off, it is a mark rather than a colour that the compression has bent
_SAME_LEVELS = 0.5  # less than one step of any channel
# Share of the picture that must lie on the bar's curve; a bar that does not belong to it covers far less.
_LEAST_ON_BAR = 0.4
# Two places of the bar this far apart in temperature must not have the same colour.
_APART_SHARE = 0.12
_MOST_REPEATED = 0.25  # of the bar: what is read there is a guess
_JUMP_SHARE = 0.25  # of the extent of the colours, from one pixel of the bar to the next
_STUCK_SHARE = 0.05  # of the bar at one end without any change: it ends before the place that was given
# The outermost pixels of the bar are mixed with its rim by drawing, compression and a hand that points at them.
_END_INSET_PX = 1.5
_END_U_PX = 0.5  # how well the middle of the bar's end is known
_WRITTEN_U_C = 0.1 / np.sqrt(12.0)  # the scale's ends are written with one decimal
_CHUNK = 8192  # pixels compared with the curve at once


@dataclass(frozen=True, slots=True, eq=False)
class PictureTemperatures:
    """What a picture's colours say, (rows, cols)."""

    temperature_c: Array  # nan where the colour is not on the bar
    saturated: Mask  # at the bar's hot end: as hot as that, or hotter
    noise_c: float  # standard uncertainty of one pixel, from its colour's resolution and the compression's noise
    scale_u_c: float  # standard uncertainty common to all, from the bar's ends

    def __post_init__(self) -> None:
        read_only(self)


def temperatures_from_picture(
    data: bytes, file: str, scale_bar: Sequence[float], scale_c: Sequence[float]
) -> PictureTemperatures:
    """Read a PNG or JPEG picture in false colour or grey.

    Parameters
    ----------
    scale_bar
        Middles of the bar's two ends (x0, y0, x1, y1), in pixels of the picture.
    scale_c
        Temperatures written at them, in the same order.

    Raises
    ------
    InputError
        If it is no such picture, the bar lies outside, is too short or does not change, its colours repeat, or the
        picture's colours are not on it.
    """
    colours, lossy = _colours(data, file)
    curve = _curve(colours, scale_bar, file)
    where, off = _nearest(colours.reshape(-1, 3), curve)
    where, off = where.reshape(colours.shape[:2]), off.reshape(colours.shape[:2])
    on_bar = off <= _OFF_LEVELS
    if on_bar.mean() < _LEAST_ON_BAR:
        what = f"only {on_bar.mean():.0%} of its colours lie on the scale bar: the bar does not belong to this picture"
        raise input_error(file, None, what, "correct scale_bar: the middles of the bar's two ends, in pixels")
    scatter = float(np.median(off[on_bar]))
    span_c = float(scale_c[1] - scale_c[0])
    temperature_c = scale_c[0] + span_c * where
    steps = len(curve.place)
    marks = _marks(temperature_c, abs(span_c), lossy)
    # a picture's compression carries a mark's colour into the pixels around it
    marks = _grown(marks | (off > _MARK_LEVELS), 2 if lossy else 0)
    lost = marks | ~on_bar | _of_the_bar(colours, scale_bar)
    hot_end = where >= curve.place[-1] - 1e-6 if span_c > 0.0 else where <= curve.place[0] + 1e-6
    levels_per_k = float(np.linalg.norm(np.diff(curve.colour, axis=0), axis=1).sum()) / abs(span_c)
    step_u_c = abs(span_c) / steps / np.sqrt(12.0)
    length = float(np.hypot(scale_bar[2] - scale_bar[0], scale_bar[3] - scale_bar[1]))
    ends_u_c = float(np.hypot(abs(span_c) * _END_U_PX / length, _WRITTEN_U_C))
    return PictureTemperatures(
        np.where(lost, np.nan, temperature_c),
        hot_end & ~lost,
        float(np.hypot(scatter / levels_per_k, step_u_c)),
        # an even part has one colour, and all of it the same error of rounding
        float(np.hypot(ends_u_c, step_u_c)),
    )


def _colours(data: bytes, file: str) -> tuple[Array, bool]:
    """Luma and weighted chroma of every pixel (rows, cols, 3), in levels, and whether the compression loses some."""
    pixels, lossy = picture_rgb(data, file)
    return pixels @ (_TO_YCC.T * np.array([1.0, _CHROMA_WEIGHT, _CHROMA_WEIGHT])), lossy


def picture_rgb(data: bytes, file: str) -> tuple[NDArray[np.uint8], bool]:
    """A picture's colours (rows, cols, 3), and whether its compression loses some.

    Raises
    ------
    InputError
        Where the file is no picture, or one that holds temperatures or counts.
    """
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # size is judged here
            image = Image.open(io.BytesIO(data), formats=["PNG", "JPEG"])
            cols, rows = image.size
            check_size(file, 1, rows, cols)
            if image.mode.startswith("I") or image.mode == "F":
                what = "holds temperatures or counts, not colours"
                raise input_error(file, None, what, "take out scale_bar and scale_c")
            pixels = np.asarray(image.convert("RGB"))
    except InputError:
        raise
    except Exception as error:  # a decoder fed with damaged bytes can raise anything
        what = f"is no PNG or JPEG picture that can be read ({type(error).__name__})"
        raise input_error(file, None, what, "export it again, or take out scale_bar and scale_c") from None
    return pixels, image.format == "JPEG"


@dataclass(frozen=True, slots=True, eq=False)
class _Curve:
    """The colours along the bar, each once: (n, 3) in levels, and the places (n,) of their middles, 0…1."""

    colour: Array
    place: Array

    def __post_init__(self) -> None:
        read_only(self)


def _curve(colours: Array, scale_bar: Sequence[float], file: str) -> _Curve:
    rows, cols = colours.shape[:2]
    x0, y0, x1, y1 = scale_bar
    if not (min(x0, x1) >= -0.5 and min(y0, y1) >= -0.5 and max(x0, x1) < cols and max(y0, y1) < rows):
        what = f"scale_bar = [{x0:g}, {y0:g}, {x1:g}, {y1:g}] does not lie within the picture of {cols} × {rows} pixels"
        raise input_error(file, None, what, "give the middles of the bar's two ends, (0, 0) is the top left pixel")
    length = float(np.hypot(x1 - x0, y1 - y0))
    if length < _SHORTEST_BAR_PX:
        what = f"its scale bar is {length:.0f} pixels long"
        raise input_error(file, None, what, f"a bar of {_SHORTEST_BAR_PX} pixels or more is needed; check scale_bar")
    inset = _END_INSET_PX / length
    along = np.linspace(inset, 1.0 - inset, round(length - 2.0 * _END_INSET_PX) + 1)
    sampled = np.median([_along_bar(colours, scale_bar, along, by) for by in (-1.0, 0.0, 1.0)], axis=0)
    _refuse_no_scale(sampled, file)
    # a palette of few colours repeats each: all of a run have the temperature of its middle
    new = np.concatenate([[True], np.linalg.norm(np.diff(sampled, axis=0), axis=1) > _SAME_LEVELS])
    run = np.cumsum(new) - 1
    count = np.bincount(run)
    colour = np.stack([np.bincount(run, sampled[:, k]) / count for k in range(3)], axis=1)
    return _Curve(colour, np.bincount(run, along) / count)


def _along_bar(colours: Array, scale_bar: Sequence[float], along: Array, by_px: float) -> Array:
    """Colours on a line beside the bar's own, ``by_px`` to one side, (n, 3)."""
    from scipy.ndimage import map_coordinates

    x0, y0, x1, y1 = scale_bar
    across = by_px / float(np.hypot(x1 - x0, y1 - y0))
    x = x0 + (x1 - x0) * along - (y1 - y0) * across
    y = y0 + (y1 - y0) * along + (x1 - x0) * across
    return np.stack([map_coordinates(colours[..., k], [y, x], order=1, mode="nearest") for k in range(3)], axis=-1)


def _refuse_no_scale(curve: Array, file: str) -> None:
    steps = np.linalg.norm(np.diff(curve, axis=0), axis=1)
    remedy = "correct scale_bar: the middles of the bar's two ends, in pixels"
    if np.linalg.norm(np.ptp(curve, axis=0)) < _LEAST_CURVE:
        raise input_error(file, None, "its colours hardly change along the scale bar", remedy)
    count = len(curve)
    moving = np.flatnonzero(steps > 0.02 * np.linalg.norm(np.ptp(curve, axis=0)) / count * 10.0)
    still = max(int(moving[0]), count - 2 - int(moving[-1])) if len(moving) else count
    if still > _STUCK_SHARE * count:
        raise input_error(
            file, None, f"its colours stand still over {still} pixels at one end of the scale bar", remedy
        )
    if steps.max() > _JUMP_SHARE * np.linalg.norm(np.ptp(curve, axis=0)):
        raise input_error(file, None, "its colours jump along the scale bar: that line is no scale", remedy)
    # the curve against itself: another place far along it with the same colour
    apart = np.linalg.norm(curve[:, None] - curve[None], axis=2)
    index = np.arange(count)
    far = np.abs(index[:, None] - index[None]) > _APART_SHARE * count
    repeated = float(((apart < 0.5 * _OFF_LEVELS) & far).any(axis=1).mean())
    if repeated > _MOST_REPEATED:
        what = f"{repeated:.0%} of the colours along its scale bar occur twice: that line is no scale"
        raise input_error(file, None, what, remedy)


def _nearest(colours: Array, curve: _Curve) -> tuple[Array, Array]:
    """For each colour (n, 3) the place of the nearest point of the curve, 0…1, and its distance in levels."""
    nodes = curve.colour
    start, step = nodes[:-1], np.diff(nodes, axis=0)
    size2 = np.maximum((step**2).sum(axis=1), 1e-9)
    different, which = np.unique(np.round(colours, 3), axis=0, return_inverse=True)
    found, distance = np.empty(len(different)), np.empty(len(different))
    for first in range(0, len(different), _CHUNK):
        some = different[first : first + _CHUNK]
        # the nearest node, then the better of the two segments that meet there
        apart2 = (some**2).sum(axis=1)[:, None] - 2.0 * some @ nodes.T + (nodes**2).sum(axis=1)[None]
        node = apart2.argmin(axis=1)
        best = np.full(len(some), np.inf)
        place = np.zeros(len(some))
        for segment in (np.maximum(node - 1, 0), np.minimum(node, len(step) - 1)):
            share = np.clip(((some - start[segment]) * step[segment]).sum(axis=1) / size2[segment], 0.0, 1.0)
            gap = np.linalg.norm(some - start[segment] - share[:, None] * step[segment], axis=1)
            better = gap < best
            place = np.where(better, segment + share, place)
            best = np.where(better, gap, best)
        found[first : first + _CHUNK] = np.interp(place, np.arange(len(nodes)), curve.place)
        distance[first : first + _CHUNK] = best
    which = which.reshape(-1)
    return found[which], distance[which]


def _marks(temperature_c: Array, span_c: float, lossy: bool) -> Mask:
    """Marks whose colour is on the bar, such as white text over a scale that ends in white."""
    found = np.zeros(temperature_c.shape, dtype=bool)
    for end, hot in ((temperature_c.min(), False), (temperature_c.max(), True)):
        # lossy compression scatters what was one value
        near = np.abs(temperature_c - end) <= (0.06 if lossy else 0.01) * span_c
        found |= sharp_marks(temperature_c, near, solid=not hot)
    return found


def _of_the_bar(colours: Array, scale_bar: Sequence[float]) -> Mask:
    """The bar itself, as wide as its colours reach, and a little around it."""
    x0, y0, x1, y1 = scale_bar
    length = float(np.hypot(x1 - x0, y1 - y0))
    along = np.linspace(0.05, 0.95, 32)
    own = _along_bar(colours, scale_bar, along, 0.0)
    reach = []
    for side in (-1.0, 1.0):
        by = 1.0
        while by < 0.5 * length:
            off = np.linalg.norm(_along_bar(colours, scale_bar, along, side * by) - own, axis=1)
            if np.median(off) > _OFF_LEVELS:
                break
            by += 1.0
        reach.append(by + 1.0)
    y, x = np.mgrid[0 : colours.shape[0], 0 : colours.shape[1]]
    part = ((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / length
    side_px = ((y - y0) * (x1 - x0) - (x - x0) * (y1 - y0)) / length
    mask: Mask = (part > -3.0) & (part < length + 3.0) & (side_px > -reach[0]) & (side_px < reach[1])
    return mask


def _grown(mask: Mask, by: int) -> Mask:
    from scipy.ndimage import binary_dilation

    return binary_dilation(mask, iterations=by) if by and mask.any() else mask
