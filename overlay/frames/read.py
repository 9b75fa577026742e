"""Frames from files: the format is told by a file's first bytes, never by its name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from overlay.errors import input_error
from overlay.frames.false_colour import PictureTemperatures, temperatures_from_picture
from overlay.frames.flaws import PLATEAU_PX, Flaws, filled, find_flaws
from overlay.frames.frame import Array, ColourScale, Frame
from overlay.frames.matrix import matrix_from_text
from overlay.frames.npy import pixels_from_npy
from overlay.frames.png import pixels_from_png
from overlay.frames.size import check_size
from overlay.frames.tiff import pixels_from_tiff
from overlay.tables import read_bytes

# Colder than any climate chamber, hotter than any solder or component survives: outside lies no board.
COLDEST_C, HOTTEST_C = -60.0, 1500.0
# Solder melts and laminate chars long before a whole board is this hot: such a frame is in other units.
COLDEST_PIXEL_AT_MOST_C = 200.0

Pixels = NDArray[np.generic]
_READERS: tuple[tuple[tuple[bytes, ...], Callable[[bytes, str], Pixels]], ...] = (
    ((b"\x93NUMPY",), pixels_from_npy),
    ((b"\x89PNG\r\n\x1a\n",), pixels_from_png),
    ((b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"), pixels_from_tiff),
)
# Scale and offset; exact by definition.
_TO_CELSIUS = {"°C": (1.0, 0.0), "K": (1.0, -273.15), "°F": (5.0 / 9.0, -160.0 / 9.0)}
_COLOURS = "it holds the colours of a picture, not temperatures"
_EXPORT = "export the temperatures as CSV, .npy, 16-bit grey PNG or TIFF, or give its scale_bar and scale_c"
_REFUSED: tuple[tuple[tuple[bytes, ...], str], ...] = (
    ((b"\xff\xd8\xff",), f"is a JPEG picture: {_COLOURS}"),
    ((b"GIF87a", b"GIF89a"), f"is a GIF picture: {_COLOURS}"),
    ((b"RIFF",), f"is a RIFF file (a WebP picture or a film): {_COLOURS}"),
    ((b"PK\x03\x04", b"PK\x05\x06"), "is a ZIP archive or a workbook"),
    ((b"\x1f\x8b", b"BZh", b"\xfd7zXZ", b"7z\xbc\xaf"), "is a compressed file"),
    ((b"%PDF",), "is a PDF document"),
    ((b"\x89HDF",), "is an HDF5 file"),
)


def read_frame(
    path: Path,
    file: str,
    *,
    scale: float = 1.0,
    offset: float = 0.0,
    times_s: Sequence[float] | None = None,
    period_s: float | None = None,
    colour_scale: tuple[Sequence[float], Sequence[float]] | None = None,
) -> Frame:
    """Read one frame, or a stack of pages, of temperatures in °C.

    Parameters
    ----------
    path, file
        Where it lies, and its name for messages.
    scale, offset
        °C = value × scale + offset, for integer images.
    times_s, period_s
        When the pages were taken, or the time between them; at most one of the two.
    colour_scale
        For a picture in false colour: the middles of its scale bar's ends (x0, y0, x1, y1), and their temperatures.

    Raises
    ------
    InputError
        If the file is no readable frame, has the wrong shape or size, holds values that are not finite or
        no plausible temperatures, or if the times do not fit its pages.
    """
    data = read_bytes(path, file)
    if colour_scale is not None:
        return _frame_of_picture(temperatures_from_picture(data, file, *colour_scale), path, file)
    pixels, unit, notes = _pixels(data, file)
    if unit is not None and (scale, offset) == (1.0, 0.0):
        scale, offset = _TO_CELSIUS[unit]
        notes = notes if unit == "°C" else (*notes, f"{file} states its temperatures in {unit}: they were converted")
    frame = frame_of(pixels, file, scale=scale, offset=offset, times_s=times_s, period_s=period_s)
    return replace(frame, source=path, notes=(*notes, *frame.notes))


def frame_of(
    pixels: Pixels,
    file: str,
    *,
    scale: float = 1.0,
    offset: float = 0.0,
    times_s: Sequence[float] | None = None,
    period_s: float | None = None,
) -> Frame:
    """A frame from an array (rows, cols) or (pages, rows, cols), refused and mended as one from a file is."""
    temperature_c = _temperatures(_pages(np.asarray(pixels), file), file, scale, offset)
    flaws = find_flaws(temperature_c)
    return Frame(
        filled(temperature_c, flaws.left_out),
        _times(len(temperature_c), file, times_s, period_s),
        Path(file),
        flaws.saturated if flaws.saturated.any() else None,
        flaws.left_out if flaws.left_out.any() else None,
        _words(flaws, temperature_c, file),
    )


def _frame_of_picture(picture: PictureTemperatures, path: Path, file: str) -> Frame:
    known = np.isfinite(picture.temperature_c)
    flaws = Flaws(picture.saturated if picture.saturated.sum() >= PLATEAU_PX else np.zeros_like(known), ~known)
    temperature_c = filled(picture.temperature_c[None], flaws.left_out)
    costs = (
        f"{file} was read by its colours: {picture.noise_c:.1f} K standard uncertainty a pixel and "
        f"{picture.scale_u_c:.1f} K of the scale as a whole; {flaws.left_out.mean():.0%} of it is not on the scale bar "
        "and was left out"
    )
    return Frame(
        temperature_c,
        None,
        path,
        flaws.saturated if flaws.saturated.any() else None,
        flaws.left_out,
        (costs, *_words(Flaws(flaws.saturated, np.zeros_like(known)), temperature_c, file)),
        ColourScale(picture.noise_c, picture.scale_u_c),
    )


def _words(flaws: Flaws, temperature_c: Array, file: str) -> tuple[str, ...]:
    words = []
    if flaws.saturated.any():
        end_c = float(np.where(flaws.left_out, -np.inf, temperature_c).max())
        words.append(
            f"{int(flaws.saturated.sum())} pixels of {file} stand at {end_c:.1f} °C, the end of the instrument's "
            "range: what lies under them is at least that hot; take the frame again with a wider range"
        )
    if flaws.left_out.any():
        words.append(
            f"{int(flaws.left_out.sum())} pixels of {file} were left out: dead pixels or burnt-in marks, "
            f"the first at {_place(flaws.left_out[None])}"
        )
    return tuple(words)


def _pixels(data: bytes, file: str) -> tuple[Pixels, str | None, tuple[str, ...]]:
    """The values of a file, the unit that it states for them, and how it was understood."""
    if not data:
        raise input_error(file, None, "is empty", "give the file that holds the frame")
    for starts, reader in _READERS:
        if data.startswith(starts):
            return reader(data, file), None, ()
    for starts, what in _REFUSED:
        if data.startswith(starts):
            raise input_error(file, None, what, _EXPORT)
    matrix = matrix_from_text(data, file)
    return matrix.values, matrix.unit, matrix.notes


def _pages(pixels: Pixels, file: str) -> Pixels:
    """The pixels as (pages, rows, cols)."""
    if pixels.ndim == 3 and pixels.shape[2] in (3, 4) and min(pixels.shape[:2]) >= 8:
        what = f"has the shape {pixels.shape}: a picture in false colour, not temperatures"
        raise input_error(file, None, what, _EXPORT)
    if pixels.ndim not in (2, 3):
        what = f"has {pixels.ndim} dimension{'s' * (pixels.ndim != 1)}"
        raise input_error(file, None, what, "a frame has rows and columns, a stack pages, rows and columns")
    pages = pixels if pixels.ndim == 3 else pixels[None]
    check_size(file, *pages.shape)
    return pages


def _temperatures(pages: Pixels, file: str, scale: float, offset: float) -> Array:
    with np.errstate(invalid="ignore"):  # what is no number is refused in a moment
        values: Array = pages.astype(np.float64)
    _refuse_not_finite(values, file)
    if not (np.isfinite(scale) and np.isfinite(offset) and scale != 0.0):
        what = f"frame_scale = {scale:g} and frame_offset = {offset:g} give no temperatures"
        raise input_error(file, None, what, "frame_scale must be a number other than 0, frame_offset a number")
    if scale != 1.0 or offset != 0.0:
        with np.errstate(over="ignore"):
            values = values * scale + offset
    low, high = float(values.min()), float(values.max())
    outside = (values < COLDEST_C) | (values > HOTTEST_C)
    count = int(outside.sum())
    if count:
        place = _place(outside)
        if count > 0.01 * values.size:
            what = f"values run from {low:g} to {high:g} °C: this looks like raw sensor counts, not temperatures"
            remedy = "set frame_scale and frame_offset so that °C = value × frame_scale + frame_offset"
        else:
            what = f"{count} of {values.size} values lie outside {COLDEST_C:g}…{HOTTEST_C:g} °C, the first at {place}"
            remedy = "replace dead pixels, or set frame_scale and frame_offset if these are raw sensor counts"
        raise input_error(file, None, what, remedy, value=f"{values[outside][0]:g}")
    if low > COLDEST_PIXEL_AT_MOST_C:
        what = f"values run from {low:g} to {high:g}: no board is that hot all over, this looks like kelvin or counts"
        raise input_error(file, None, what, "set frame_offset = -273.15 for kelvin, or frame_scale for counts")
    return values


def _refuse_not_finite(values: Array, file: str) -> None:
    bad = ~np.isfinite(values)
    if bad.any():
        what = f"{int(bad.sum())} of {values.size} values are not finite numbers, the first at {_place(bad)}"
        raise input_error(file, None, what, "fill dead pixels with the mean of their neighbours, or export again")


def _place(mask: NDArray[np.bool_]) -> str:
    page, row, col = np.unravel_index(int(np.argmax(mask)), mask.shape)
    on_page = f" of page {page + 1}" if mask.shape[0] > 1 else ""
    return f"pixel ({col}, {row}){on_page}"


def _times(pages: int, file: str, times_s: Sequence[float] | None, period_s: float | None) -> Array | None:
    if times_s is not None and period_s is not None:
        raise input_error(file, None, "has both frame_times_s and frame_period_s", "give one of them")
    if period_s is not None:
        if not (np.isfinite(period_s) and period_s > 0.0):
            raise input_error(file, None, f"frame_period_s = {period_s:g} is no time", "give the seconds between pages")
        return np.arange(pages, dtype=np.float64) * period_s
    if times_s is None:
        return None
    times: Array = np.asarray(times_s, dtype=np.float64).reshape(-1)
    if times.size != pages:
        what = f"holds {pages} page{'s' * (pages != 1)}, but frame_times_s lists {times.size}"
        raise input_error(file, None, what, "give one time for each page")
    if not np.all(np.isfinite(times)) or np.any(np.diff(times) <= 0.0):
        raise input_error(file, None, "frame_times_s does not ascend", "list the pages' times in seconds, ascending")
    return np.asarray(times - times[0], dtype=np.float64)
