"""Frames as 16-bit grey PNG."""

from __future__ import annotations

import io
import warnings

import numpy as np
from numpy.typing import NDArray

from overlay.errors import input_error
from overlay.frames.size import check_size, check_unpacking

_REMEDY = "export the temperatures as 16-bit grey PNG, TIFF, .npy or CSV"
_WRONG_MODES = {
    "1": "is a PNG of one bit a pixel",
    "L": "is an 8-bit grey PNG: a picture of brightness with 256 steps, not temperatures",
    "LA": "is a grey PNG with transparency: a picture, not temperatures",
    "P": "is a PNG with a palette: a picture in false colour, not temperatures",
    "PA": "is a PNG with a palette: a picture in false colour, not temperatures",
    "RGB": "is a colour PNG: a picture in false colour, not temperatures",
    "RGBA": "is a colour PNG: a picture in false colour, not temperatures",
}


def pixels_from_png(data: bytes, file: str) -> NDArray[np.generic]:
    """The values of a 16-bit grey PNG, (rows, cols).

    Raises
    ------
    InputError
        If it is any other kind of PNG, animated, too large, or damaged.
    """
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # size is judged below
            image = Image.open(io.BytesIO(data), formats=["PNG"])
        mode, (cols, rows), pages = image.mode, image.size, getattr(image, "n_frames", 1)
    except Exception as error:  # a decoder fed with damaged bytes can raise anything
        raise input_error(file, None, f"is a damaged PNG ({type(error).__name__})", _REMEDY) from None
    if mode in _WRONG_MODES:
        raise input_error(file, None, _WRONG_MODES[mode], _REMEDY)
    if mode not in ("I", "I;16", "I;16B", "I;16L", "I;16N"):
        raise input_error(file, None, f"is a PNG of an unknown kind ({mode})", _REMEDY)
    if pages != 1:
        raise input_error(file, None, f"is an animated PNG of {pages} pictures", "save the stack as TIFF or .npy")
    check_size(file, 1, rows, cols)
    check_unpacking(file, len(data), 2 * rows * cols)
    try:
        return np.array(image, dtype=np.int32)
    except Exception as error:
        raise input_error(file, None, f"is a damaged PNG ({type(error).__name__})", "export it again") from None
