"""Frames as TIFF: integers or floats, one page or several."""

from __future__ import annotations

import io
import logging
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overlay.errors import InputError, input_error
from overlay.frames.size import MOST_PAGES, check_size

_REMEDY = "export the temperatures as grey TIFF of 8 or 16-bit integers or 32-bit floats"
_GREY = (0, 1)  # PhotometricInterpretation: white is zero, black is zero


def pixels_from_tiff(data: bytes, file: str) -> NDArray[np.generic]:
    """The values of a grey TIFF, (pages, rows, cols); reduced copies of a page (thumbnails) are passed over.

    Raises
    ------
    InputError
        If it holds colours, pages of different sizes, too much, or is damaged or cut off.
    """
    import tifffile

    logging.getLogger("tifffile").addHandler(logging.NullHandler())  # what is wrong is said by the error
    try:
        with tifffile.TiffFile(io.BytesIO(data)) as tiff:
            return _stack(tiff, len(data), file)
    except InputError:
        raise
    except Exception as error:  # a decoder fed with damaged bytes can raise anything
        reason = (str(error).splitlines() or [""])[0][:120] or type(error).__name__
        if "imagecodecs" in reason:
            remedy = "save it without compression, or install the imagecodecs package"
            raise input_error(file, None, "is compressed in a way that cannot be read here", remedy) from None
        raise input_error(file, None, f"is a damaged TIFF ({reason})", _REMEDY) from None


def _stack(tiff: Any, size: int, file: str) -> NDArray[np.generic]:
    if len(tiff.pages) > MOST_PAGES:
        raise input_error(file, None, f"holds more than {MOST_PAGES} pages", "take fewer pages")
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
    return np.stack([page.asarray() for page in pages])


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
