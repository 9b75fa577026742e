"""Pictures of all that may stand in windows, and how to make them pictures at right angles to each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, Mask
from overlay.registration.refine_pictures import Single
from overlay.registration.refine_pixels import Windows, in_blocks

_PIVOT = 1e-6  # of a picture's square that the others do not explain, below which it says nothing new


@dataclass(frozen=True, slots=True)
class Block:
    """Windows of like size, from number ``first`` to before ``last``: as rows of ``pixels``, of ``pictures`` each."""

    first: int
    last: int
    pixels: int
    pictures: int

    @property
    def windows(self) -> slice:
        """Which of the windows they are."""
        return slice(self.first, self.last)


class Canvas:
    """Room for so many pictures (n,) in each of n windows, empty at first.

    Pictures of one block are an array (windows, pictures, pixels); all blocks stand in one flat array, so that one call
    draws in all of them.
    """

    def __init__(self, windows: Windows, pictures: Index) -> None:
        self.blocks = [
            Block(first, last, int(windows.count[last - 1]), int(pictures[first:last].max()))
            for first, last in in_blocks(windows.count)
        ]
        home, step, size = np.empty_like(windows.count), np.empty_like(windows.count), 0
        for block in self.blocks:
            each = block.pictures * block.pixels
            home[block.windows] = size + each * np.arange(block.last - block.first)
            step[block.windows] = block.pixels
            size += each * (block.last - block.first)
        self._flat = np.zeros(size)
        self._window, self._step = windows.window, step
        self._home = (home - windows.first)[windows.window] + np.arange(len(windows.window))

    def draw(self, pixels: Index | slice, number: Index, picture: Array | Single | float) -> None:
        """Draw those pixels (m,), among all windows', of picture ``number`` (n,) of their windows."""
        self._flat[self._home[pixels] + (number * self._step)[self._window[pixels]]] = picture

    def draw_each(self, pixels: Index, number: Index, picture: Single) -> None:
        """Draw those pixels (m,), each of the picture ``number`` (m,) of its window."""
        self._flat[self._home[pixels] + number * self._step[self._window[pixels]]] = picture

    def drawn(self) -> list[Array]:
        """What has been drawn, block by block: (windows, pictures, pixels)."""
        shapes = [(block.last - block.first, block.pictures, block.pixels) for block in self.blocks]
        ends = np.cumsum([0, *(n * k * c for n, k, c in shapes)])
        return [self._flat[a:b].reshape(shape) for a, b, shape in zip(ends, ends[1:], shapes, strict=False)]

    def mixes(self) -> tuple[Array, Mask]:
        """How each window's pictures (n, k) are mixed into some of unit length at right angles to each other (n, k, k).

        And which of them (n, k) say anything new: what a picture adds to those before it is well above rounding. Worked
        out from the pictures' own products, all windows at once; what says nothing new is mixed from nothing.
        """
        most = max(block.pictures for block in self.blocks)
        products = np.zeros((self.blocks[-1].last, most, most))
        for block, pictures in zip(self.blocks, self.drawn(), strict=True):
            products[block.windows, : block.pictures, : block.pictures] = pictures @ pictures.transpose(0, 2, 1)
        return _mixed(products)


def _mixed(products: Array) -> tuple[Array, Mask]:
    """How rows (n, k) with those products (n, k, k) are mixed into rows at right angles, and which say anything new.

    Cholesky's way (Golub and Van Loan, Matrix Computations, from memory), but rows that say nothing new are left out.
    """
    n, count = products.shape[:2]
    lower, mix, new = np.zeros_like(products), np.zeros_like(products), np.zeros((n, count), dtype=bool)
    for k in range(count):
        before = lower[:, k, None, :k]
        left = products[:, k:, k] - (lower[:, k:, :k] @ before.transpose(0, 2, 1))[:, :, 0]
        new[:, k] = left[:, 0] > _PIVOT
        scale = np.where(new[:, k], 1.0 / np.sqrt(np.maximum(left[:, 0], _PIVOT)), 0.0)[:, None]
        lower[:, k:, k] = left * scale
        mix[:, k, :k] = -(before @ mix[:, :k, :k])[:, 0] * scale
        mix[:, k, k] = scale[:, 0]
    return mix, new
