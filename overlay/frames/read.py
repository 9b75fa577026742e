"""Frames from files: the format is told by a file's first bytes, never by its name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO, cast

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
from overlay.tables import opened

# Colder than any climate chamber, hotter than any solder or component survives: outside lies no board.
COLDEST_C, HOTTEST_C = -60.0, 1500.0
# Solder melts and laminate chars long before a whole board is this hot: such a frame is in other units.
COLDEST_PIXEL_AT_MOST_C = 200.0

Pixels = NDArray[np.generic]
# These may hold many pages, and are read page by page.
_READERS: tuple[tuple[tuple[bytes, ...], Callable[[BinaryIO, str], Pixels]], ...] = (
    ((b"\x93NUMPY",), pixels_from_npy),
    ((b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"), pixels_from_tiff),
)
_PNG = b"\x89PNG\r\n\x1a\n"
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
    with opened(path, file) as stream:
        if colour_scale is not None:
            return _frame_of_picture(temperatures_from_picture(stream.read(), file, *colour_scale), path, file)
        pixels, unit, notes = _pixels(stream, file)
    if unit is not None and (scale, offset) == (1.0, 0.0):
        scale, offset = _TO_CELSIUS[unit]
        notes = notes if unit == "°C" else (*notes, f"{file} states its temperatures in {unit}: they were converted")
    temperature_c = _temperatures(_pages(pixels, file), file, scale, offset, owned=True)
    frame = _frame(temperature_c, file, _times(len(temperature_c), file, times_s, period_s))
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
    return _frame(temperature_c, file, _times(len(temperature_c), file, times_s, period_s))


def _frame(temperature_c: Array, file: str, times_s: Array | None) -> Frame:
    """A frame of pages that are its own to mend."""
    flaws = find_flaws(temperature_c)
    if flaws.left_out.any():
        for page in temperature_c:
            page[:] = filled(page, flaws.left_out)
    return Frame(
        temperature_c,
        times_s,
        Path(file),
        flaws.saturated if flaws.saturated.any() else None,
        flaws.left_out if flaws.left_out.any() else None,
        _words(flaws, temperature_c, file),
    )


def _frame_of_picture(picture: PictureTemperatures, path: Path, file: str) -> Frame:
    known = np.isfinite(picture.temperature_c)
    flaws = Flaws(picture.saturated if picture.saturated.sum() >= PLATEAU_PX else np.zeros_like(known), ~known)
    temperature_c = filled(picture.temperature_c, flaws.left_out)[None]
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
        end_c = max(float(page[~flaws.left_out].max()) for page in temperature_c)
        words.append(
            f"{int(flaws.saturated.sum())} pixels of {file} stand at {end_c:.1f} °C, the end of the instrument's "
            "range: what lies under them is at least that hot; take the frame again with a wider range"
        )
    if flaws.left_out.any():
        words.append(
            f"{int(flaws.left_out.sum())} pixels of {file} were left out: dead pixels or burnt-in marks, "
            f"the first at {_Odd().and_of(flaws.left_out, temperature_c[0], 0).place(1)}"
        )
    return tuple(words)


def _pixels(stream: BinaryIO, file: str) -> tuple[Pixels, str | None, tuple[str, ...]]:
    """The values of a file, the unit that it states for them, and how it was understood."""
    head = stream.read(16)
    stream.seek(0)
    if not head:
        raise input_error(file, None, "is empty", "give the file that holds the frame")
    for starts, reader in _READERS:
        if head.startswith(starts):
            return reader(stream, file), None, ()
    for starts, what in _REFUSED:
        if head.startswith(starts):
            raise input_error(file, None, what, _EXPORT)
    if head.startswith(_PNG):
        return pixels_from_png(stream.read(), file), None, ()
    matrix = matrix_from_text(stream.read(), file)
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


def _temperatures(pages: Pixels, file: str, scale: float, offset: float, *, owned: bool = False) -> Array:
    """The pages in °C: one of 64-bit floats, several of 32 bits, which may be written over where they are ``owned``."""
    if not (np.isfinite(scale) and np.isfinite(offset) and scale != 0.0):
        what = f"frame_scale = {scale:g} and frame_offset = {offset:g} give no temperatures"
        raise input_error(file, None, what, "frame_scale must be a number other than 0, frame_offset a number")
    kind = np.float64 if len(pages) == 1 else np.float32
    result = pages if owned and pages.dtype == kind and pages.flags.writeable else np.empty(pages.shape, kind)
    broken, outside, low, high = _Odd(), _Odd(), np.inf, -np.inf
    for number, page in enumerate(pages):
        with np.errstate(invalid="ignore", over="ignore"):  # what is no number is refused in a moment
            values = page.astype(np.float64)
            broken = broken.and_of(~np.isfinite(values), values, number)
            values = values * scale + offset
            outside = outside.and_of((values < COLDEST_C) | (values > HOTTEST_C), values, number)
            low, high = min(low, float(values.min())), max(high, float(values.max()))
            result[number] = values
    if broken.count:
        what = f"{broken.count} of {pages.size} values are not finite numbers, the first at {broken.place(len(pages))}"
        raise input_error(file, None, what, "fill dead pixels with the mean of their neighbours, or export again")
    if outside.count:
        if outside.count > 0.01 * pages.size:
            what = f"values run from {low:g} to {high:g} °C: this looks like raw sensor counts, not temperatures"
            remedy = "set frame_scale and frame_offset so that °C = value × frame_scale + frame_offset"
        else:
            place = outside.place(len(pages))
            sane = f"{COLDEST_C:g}…{HOTTEST_C:g} °C"
            what = f"{outside.count} of {pages.size} values lie outside {sane}, the first at {place}"
            remedy = "replace dead pixels, or set frame_scale and frame_offset if these are raw sensor counts"
        raise input_error(file, None, what, remedy, value=f"{outside.value:g}")
    if low > COLDEST_PIXEL_AT_MOST_C:
        what = f"values run from {low:g} to {high:g}: no board is that hot all over, this looks like kelvin or counts"
        raise input_error(file, None, what, "set frame_offset = -273.15 for kelvin, or frame_scale for counts")
    return cast(Array, result)


@dataclass(frozen=True, slots=True)
class _Odd:
    """Pixels of a kind over all pages: how many, and the first of them."""

    count: int = 0
    page: int = 0
    pixel: tuple[int, int] = (0, 0)  # row, column
    value: float = 0.0

    def and_of(self, mask: NDArray[np.bool_], values: Array, page: int) -> _Odd:
        """These and those of one page more."""
        count = int(np.count_nonzero(mask))
        if not count or self.count:
            return replace(self, count=self.count + count) if count else self
        row, col = np.unravel_index(int(np.argmax(mask)), mask.shape)
        return _Odd(count, page, (int(row), int(col)), float(values[row, col]))

    def place(self, pages: int) -> str:
        on_page = f" of page {self.page + 1}" if pages > 1 else ""
        return f"pixel ({self.pixel[1]}, {self.pixel[0]}){on_page}"


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
