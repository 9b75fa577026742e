"""Frames as TIFF: integers or floats, one page or several."""

from __future__ import annotations

import logging
import math
import os
import struct
import zlib
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from overlay.errors import InputError, input_error
from overlay.frames.size import MOST_PAGES, check_size, check_unpacking

_REMEDY = "export the temperatures as grey TIFF of 8 or 16-bit integers or 32-bit floats"
_DEFLATE = (8, 32946)  # the tag Compression, TIFF 6.0 and its supplements
_BOUNDED = (5, 32773)  # LZW and PackBits: each byte unpacks to a bounded number
_GREY = (0, 1)  # PhotometricInterpretation: white is zero, black is zero


def pixels_from_tiff(stream: BinaryIO, file: str) -> NDArray[np.generic]:
    """The values of a grey TIFF, (pages, rows, cols); reduced copies of a page (thumbnails) are passed over.

    Read page by page; several pages come as 32-bit floats, which hold what a camera gives in half the memory.

    Raises
    ------
    InputError
        If it holds colours, pages of different sizes, too much, or is damaged or cut off.
    """
    import tifffile

    logging.getLogger("tifffile").addHandler(logging.NullHandler())  # what is wrong is said by the error
    _check_chain(stream, file)
    stream.seek(0)
    try:
        with tifffile.TiffFile(stream) as tiff:
            return _stack(tiff, stream, file)
    except InputError:
        raise
    except Exception as error:  # a decoder fed with damaged bytes can raise anything
        reason = (str(error).splitlines() or [""])[0][:120] or type(error).__name__
        if "imagecodecs" in reason:
            remedy = "save it without compression, or install the imagecodecs package"
            raise input_error(file, None, "is compressed in a way that cannot be read here", remedy) from None
        raise input_error(file, None, f"is a damaged TIFF ({reason})", _REMEDY) from None


def _check_chain(stream: BinaryIO, file: str) -> None:
    """Follow the page directories; a stack that was cut off would lose its last pages without a word."""

    def number(kind: str, place: int) -> int:
        if place > size:  # of 64 bits, more than a file can be asked for
            raise struct.error
        stream.seek(place)
        return int(struct.unpack(order + kind, stream.read(struct.calcsize(kind)))[0])

    size = stream.seek(0, os.SEEK_END)
    stream.seek(0)
    order = "<" if stream.read(2) == b"II" else ">"
    seen: set[int] = set()
    try:
        big = number("H", 2) == 43
        count_of, offset_of, entry, first = ("Q", "Q", 20, 8) if big else ("H", "I", 12, 4)
        place = number(offset_of, first)
        while place:
            if place in seen:
                raise input_error(file, None, "is a damaged TIFF (its pages follow each other in a circle)", _REMEDY)
            seen.add(place)
            if len(seen) > MOST_PAGES:
                raise input_error(file, None, f"holds more than {MOST_PAGES} pages", "take fewer pages")
            entries = number(count_of, place)
            place = number(offset_of, place + struct.calcsize(count_of) + entries * entry)
    except struct.error:
        what = f"is cut off: the directory of page {max(len(seen), 1)} lies beyond its end"
        raise input_error(file, None, what, "copy or save it again") from None


def _stack(tiff: Any, stream: BinaryIO, file: str) -> NDArray[np.generic]:
    size = stream.seek(0, os.SEEK_END)
    pages = [page for page in (tiff.pages[index] for index in range(len(tiff.pages))) if not page.is_reduced]
    if not pages:
        raise input_error(file, None, "is a TIFF without a page", _REMEDY)
    first = pages[0]
    for number, page in enumerate(pages, start=1):
        _check_page(page, number, size, file)
        if page.shape != first.shape or page.dtype != first.dtype:
            what = f"page {number} is {_shown(page)}, page 1 is {_shown(first)}"
            raise input_error(file, None, what, "give a stack of pages that are alike")
    announced = _announced_pages(tiff)
    if announced is not None and announced > len(pages):
        what = f"announces {announced} pages but has {len(pages)} page directories"
        raise input_error(file, None, what, "save the stack with one directory a page, or as .npy")
    check_size(file, len(pages), *first.shape)
    check_unpacking(file, size, len(pages) * first.shape[0] * first.shape[1] * first.dtype.itemsize)
    values = np.empty((len(pages), *first.shape), first.dtype if len(pages) == 1 else np.float32)
    for number, page in enumerate(pages, start=1):
        _check_unpacked(page, number, stream, file)
        with np.errstate(over="ignore"):  # what is beyond 32 bits is no temperature, and refused as such
            values[number - 1] = page.asarray()
    return values


def _check_unpacked(page: Any, number: int, stream: BinaryIO, file: str) -> None:
    """A packed strip holds what the page needs and no more; the decoder itself would take whatever comes."""
    if page.compression not in _DEFLATE:
        return
    needed = math.prod(page.chunks) * page.dtype.itemsize  # of a strip or a tile, which may reach over the edge
    for offset, count in zip(page.dataoffsets, page.databytecounts, strict=True):
        stream.seek(offset)
        unpacked = zlib.decompressobj().decompress(stream.read(count), needed + 1)
        if len(unpacked) > needed:
            what = f"page {number} unpacks to more values than it has pixels"
            raise input_error(file, None, what, "save it again, without compression")


def _check_page(page: Any, number: int, size: int, file: str) -> None:
    if page.photometric is not None and int(page.photometric) not in _GREY:
        kind = getattr(page.photometric, "name", str(page.photometric)).lower()
        raise input_error(file, None, f"page {number} holds colours ({kind}), not temperatures", _REMEDY)
    if page.samplesperpixel != 1 or len(page.shape) != 2:
        what = f"page {number} holds {page.samplesperpixel} values a pixel: a picture in false colour, not temperatures"
        raise input_error(file, None, what, _REMEDY)
    if page.dtype is None or page.dtype.kind not in "iuf" or page.dtype.itemsize > 8:
        raise input_error(file, None, f"page {number} holds values of type {page.dtype}", _REMEDY)
    check_size(file, 1, *page.shape)
    # missing strips would come back as zeros, which are plausible temperatures
    places = list(zip(page.dataoffsets, page.databytecounts, strict=False))
    if (
        not places
        or len(page.dataoffsets) != len(page.databytecounts)
        or any(offset <= 0 or count <= 0 or offset + count > size for offset, count in places)
    ):
        raise input_error(file, None, f"page {number} is cut off: part of its values is missing", "save it again")
    if page.compression not in (1, *_DEFLATE, *_BOUNDED):
        remedy = "save it without compression"
        raise input_error(file, None, "is compressed in a way that cannot be read here", remedy)
    needed = page.shape[0] * page.shape[1] * page.bitspersample // 8
    if page.compression == 1 and sum(page.databytecounts) < needed:
        raise input_error(file, None, f"page {number} is cut off: part of its values is missing", "save it again")


def _shown(page: Any) -> str:
    return f"{page.shape[0]} × {page.shape[1]} of {page.dtype}"


def _announced_pages(tiff: Any) -> int | None:
    """How many pages the file's description promises, where it has one that says so."""
    if not tiff.is_imagej:
        return None
    images = (tiff.imagej_metadata or {}).get("images", 1)
    return images if isinstance(images, int) else None
