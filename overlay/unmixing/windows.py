"""Windows of the frame, each round one body, in lots of one size: what is done with one is done with a whole lot.

They are laid a little wider than bodies need, so that these may move in them from round to round.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Index, read_only
from overlay.unmixing.masks import Real
from overlay.unmixing.solids import Outlines, Solids

_REACH_SIGMAS = 3.4  # a Gaussian's tail beyond holds less than a thousandth
_ROOM_PX = 0.8  # on either side, for bodies to move about in before all windows are laid anew …
_OVER_PX = 0.4  # … and how far their reach may go beyond


@dataclass(frozen=True, slots=True, eq=False)
class Lot:
    """Bodies whose windows have one size, and whose top faces have equally many knots: m of them."""

    bodies: Index  # (m,)
    corner: Index  # (m, 2) first row and column
    shape: tuple[int, int]
    pixels: Index  # (m, h·w) in the frame, which is counted row after row

    def __post_init__(self) -> None:
        read_only(self)

    def __len__(self) -> int:
        return len(self.bodies)

    def of(self, picture: NDArray[Real]) -> NDArray[Real]:
        """What a picture (rows, cols) holds in each window, (m, h, w)."""
        return picture.ravel()[self.pixels].reshape(-1, *self.shape)


def lots_of(solids: Solids, outlines: Outlines, sigma_px: float, shape_px: tuple[int, int]) -> tuple[Lot, ...]:
    """Lay a window inside the frame round every body."""
    limit = np.array(shape_px)
    low, high = _needed(solids, outlines, sigma_px, limit)
    size = np.minimum(_step(np.ceil(high - low + 1.0 + 2.0 * _ROOM_PX)), limit)
    corner = np.clip(np.rint((low + high + 1.0 - size) / 2.0).astype(np.intp), 0, limit - size)
    keys = np.concatenate([size, solids.knots], axis=1)
    classes, member = np.unique(keys, axis=0, return_inverse=True)
    lots = []
    for number, (h, w, *_) in enumerate(classes.tolist()):
        bodies = np.flatnonzero(member.ravel() == number)
        inside = (np.arange(h)[:, None] * limit[1] + np.arange(w)).ravel()
        pixels = (corner[bodies] @ np.array([limit[1], 1]))[:, None] + inside
        lots.append(Lot(bodies, corner[bodies], (h, w), pixels))
    return tuple(lots)


def still_fit(
    lots: tuple[Lot, ...], solids: Solids, outlines: Outlines, sigma_px: float, shape_px: tuple[int, int]
) -> bool:
    """Whether all bodies lie in the windows that were laid for them."""
    low, high = _needed(solids, outlines, sigma_px, np.array(shape_px))
    for lot in lots:
        last = lot.corner + np.array(lot.shape) - 1
        if np.any(low[lot.bodies] < lot.corner - _OVER_PX) or np.any(high[lot.bodies] > last + _OVER_PX):
            return False
    return True


def _needed(solids: Solids, outlines: Outlines, sigma_px: float, limit: Index) -> tuple[Array, Array]:
    """First and last row and column (n, 2) that each body reaches, within the frame."""
    n = len(solids)
    reach = _REACH_SIGMAS * math.hypot(max(sigma_px, 0.2), 0.29) + 0.5
    low, high = np.full((n, 2), np.inf), np.full((n, 2), -np.inf)
    np.minimum.at(low, solids.rings.body, outlines.start[:, ::-1])
    np.maximum.at(high, solids.rings.body, outlines.start[:, ::-1])
    low = np.clip(low - reach, 0, limit - 1)
    return low, np.clip(high + reach, low, limit - 1)


def _step(size: Array) -> Index:
    """Round sizes up to a few classes, an eighth of an octave apart and even."""
    octave = np.exp2(np.floor(np.log2(np.maximum(size, 1))) - 3.0)
    step = np.maximum(octave, 2.0)
    return np.asarray(np.ceil(size / step) * step, dtype=np.intp)
