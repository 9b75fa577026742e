"""Frames as arrays in NumPy's ``.npy`` format."""

from __future__ import annotations

import math
import os
from typing import Any, BinaryIO, Literal

import numpy as np
from numpy.lib import format as npy_format
from numpy.typing import NDArray

from overlay.errors import input_error
from overlay.frames.size import MOST_VALUES

_REMEDY = "save it with numpy.save as a plain array of numbers, (rows, cols) or (pages, rows, cols)"


def pixels_from_npy(stream: BinaryIO, file: str) -> NDArray[np.generic]:
    """The array in a ``.npy`` file: integers or floats, any shape; nothing pickled is ever unpacked.

    Several pages come as 32-bit floats, which hold what a camera gives in half the memory.

    Raises
    ------
    InputError
        If the header is damaged, the values are no real numbers, or fewer or more of them are there than it says.
    """
    try:
        version = npy_format.read_magic(stream)
        read: Any = {1: npy_format.read_array_header_1_0, 2: npy_format.read_array_header_2_0}[version[0]]
        shape, columns_first, dtype = read(stream)
    except Exception as error:  # the header is a Python literal: damaged, it can raise almost anything
        raise input_error(file, None, f"has a damaged .npy header ({_first_line(error)})", _REMEDY) from None
    if dtype.kind not in "iuf" or dtype.itemsize > 8:
        raise input_error(file, None, f"holds values of type {dtype}, not plain numbers", _REMEDY)
    count = math.prod(shape)
    if any(side < 0 for side in shape) or count > MOST_VALUES:
        what = f"says that it holds {' × '.join(map(str, shape))} values"
        raise input_error(file, None, what, f"at most {MOST_VALUES // 1_000_000} million can be read")
    start = stream.tell()
    present = stream.seek(0, os.SEEK_END) - start
    if present != count * dtype.itemsize:
        what = f"holds {present} bytes of values where its header announces {count * dtype.itemsize}"
        raise input_error(file, None, what, "it was cut off or damaged: save it again")
    stream.seek(start)
    if len(shape) != 3 or columns_first:
        order: Literal["F", "C"] = "F" if columns_first else "C"
        return np.frombuffer(stream.read(), dtype).reshape(shape, order=order)
    values = np.empty(shape, np.float32)
    with np.errstate(over="ignore"):  # what is beyond 32 bits is no temperature, and refused as such
        for page in values:
            page[:] = np.frombuffer(stream.read(page.size * dtype.itemsize), dtype).reshape(page.shape)
    return values


def _first_line(error: BaseException) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0][:120]
