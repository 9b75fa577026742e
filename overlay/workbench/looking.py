"""Two captures held against each other, and places of the board under pixels, for whoever looks closely."""

from __future__ import annotations

import base64
from typing import Any

import numpy as np

from overlay.arrays import Array
from overlay.errors import input_error
from overlay.job.settings import CaptureSettings
from overlay.registration.model import Registration
from overlay.registration.project import board_from_pixels, pixels_from_board
from overlay.report.numbers import numbers


def places_json(fitted: Registration | None, pixels: Array) -> dict[str, Any]:
    """Places of the board's surface under pixels (n, 2); None for each that is none, or without a registration."""
    if fitted is None:
        return {"board_mm": [None] * len(pixels)}
    with np.errstate(all="ignore"):
        found = board_from_pixels(fitted, pixels)
    return {"board_mm": [numbers(place, 3) if np.isfinite(place).all() else None for place in found]}


def on_the_grid_of(other_c: Array, one: Registration, other: Registration) -> Array:
    """Temperatures of another frame where the board's surface lies in this one's pixels; nan where it did not see."""
    from scipy.ndimage import map_coordinates

    rows, cols = one.shape_px
    y, x = np.mgrid[0:rows, 0:cols]
    with np.errstate(all="ignore"):
        board_mm = board_from_pixels(one, np.column_stack([x.ravel(), y.ravel()]).astype(np.float64))
        uv_px = pixels_from_board(other, np.column_stack([board_mm, np.zeros(len(board_mm))]))
    uv_px = np.where(np.isfinite(uv_px), uv_px, -1e6)
    seen = map_coordinates(other_c, uv_px[:, ::-1].T, order=1, cval=np.nan)
    return np.asarray(seen, dtype=np.float64).reshape(rows, cols)


def difference(
    one: tuple[CaptureSettings, Array, Registration | None],
    other: tuple[CaptureSettings, Array, Registration | None],
    *,
    rises: bool,
) -> tuple[Array, str]:
    """A capture less another one, in kelvin on the first one's pixels, and in words how it was come by.

    ``rises``: of what each lies above its own ambient. Captures that are both registered are brought over each other
    on the board's surface; others pixel by pixel.

    Raises
    ------
    InputError
        Where they show different sides, or are of different sizes and not both registered.
    """
    (mine, mine_c, mine_fit), (theirs, theirs_c, theirs_fit) = one, other
    if mine.side != theirs.side:
        what = f"shows the {mine.side} side, “{theirs.name}” the {theirs.side} side"
        raise input_error(mine.name, None, what, "choose a capture of the same side")
    if mine_fit is not None and theirs_fit is not None:
        theirs_c = on_the_grid_of(theirs_c, mine_fit, theirs_fit)
        how = "brought over each other on the board’s surface; tall bodies may show edges"
    elif mine_c.shape == theirs_c.shape:
        how = "pixel by pixel, because not both are registered"
    else:
        what = f"and “{theirs.name}” have different numbers of pixels and are not both registered"
        raise input_error(mine.name, None, what, "register both")
    lift = mine.ambient_c - theirs.ambient_c if rises else 0.0
    of = "rises above each ambient" if rises else "apparent temperatures"
    return mine_c - theirs_c - lift, f"“{mine.name}” less “{theirs.name}”, {of}; {how}"


def difference_json(values: Array, words: str) -> dict[str, Any]:
    """A difference for the page: 32-bit floats, little end first, row by row, in base64."""
    finite = values[np.isfinite(values)]
    largest = float(np.percentile(np.abs(finite), 99.9)) if finite.size else 1.0
    return {
        "values": base64.b64encode(np.asarray(values, dtype="<f4").tobytes()).decode(),
        "largest_k": round(max(largest, 0.1), 1),
        "words": words,
    }
