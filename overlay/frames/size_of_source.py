"""A lens's wide skirt: what a small source loses to pixels far from it (size-of-source effect).

The blur that readings undo is the narrow one. Beyond it every lens spreads a few per cent of its light over many
pixels, so that a hot square of some pixels shows less of its rise than a large one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from overlay.arrays import Array, read_only
from overlay.errors import Problem, raise_errors
from overlay.frames.optics import fill_fraction
from overlay.tables import read_table

# Of a correction by a measured curve so much stays uncertain: the curve is that of squares on an even background.
MEASURED_U = 0.25
# Without a curve nothing is corrected: the lens may lose all that an ideal one does, or nothing (a rectangle's width
# about its middle: the fitted blur takes up part of it).
UNMEASURED_U = 1.0 / math.sqrt(12.0)


@dataclass(frozen=True, slots=True, eq=False)
class SizeOfSource:
    """Share of its rise that a square source shows at its middle, by its side; ``source`` says whose curve it is."""

    side_px: Array  # (k,) ascending
    share: Array  # (k,)
    source: str
    measured: bool

    def __post_init__(self) -> None:
        read_only(self)

    def at(self, side_px: Array) -> Array:
        """Share for sides (n,): linear between the curve's points, beyond them what is lost falls with the side."""
        side = np.maximum(np.asarray(side_px, dtype=np.float64), float(self.side_px[0]))
        last = float(self.side_px[-1])
        beyond = 1.0 - (1.0 - float(self.share[-1])) * last / np.maximum(side, last)
        return np.where(side > last, beyond, np.interp(side, self.side_px, self.share))

    def beyond_the_blur(self, sides_px: Array, sigma_px: float) -> Array:
        """What is left of the rise (n,) of faces with sides (n, 2) once the narrow blur has been undone; at most 1."""
        width, height = np.maximum(np.asarray(sides_px, dtype=np.float64), float(self.side_px[0])).T
        blur = fill_fraction(width, height, 0.0, 0.0, sigma_px)
        return np.minimum(self.at(np.sqrt(width * height)) / np.maximum(blur, 1e-6), 1.0)


# Diffraction at f/1.0 and 10 µm through pixels of 12 µm, worked out from the Airy pattern: even ideal optics lose this
# much. In line with: at 3 × 3 px hot spots read much too low (Budzier & Gerlach, J. Sens. Sens. Syst. 10 (2021) 179),
# and at least 10 × 10 px should be filled (Pušnik & Geršak, Sensors 21 (2021) 607).
PUBLISHED = SizeOfSource(
    np.array([1.0, 2.0, 3.0, 4.0, 5.0, 10.0]),
    np.array([0.460, 0.830, 0.892, 0.922, 0.938, 0.969]),
    "ideal optics at f/1.0",
    measured=False,
)


def read_size_of_source(path: Path, file: str) -> SizeOfSource:
    """Read a measured curve: columns ``side_px`` and ``share``, two rows or more, sides ascending.

    Raises
    ------
    InputError
        With every row that cannot be used.
    """
    table = read_table(path, file, ("side_px", "share"), required=("side_px", "share"))
    problems: list[Problem] = []
    points: list[tuple[float, float]] = []
    for row in table.rows:
        side = row.number("side_px", problems, low=0.1, high=1e4, required=True)
        share = row.number("share", problems, low=0.01, high=1.05, required=True)
        if side is not None and share is not None:
            if points and side <= points[-1][0]:
                problems.append(row.problem("side_px", "does not ascend", "sort the rows by side, each once"))
            points.append((side, min(share, 1.0)))
    if len(points) < 2 and not problems:
        remedy = "add at least two rows: side_px and the share of the rise that a square of that side shows"
        problems.append(Problem("error", file, table.heading_line, "is no curve", remedy))
    raise_errors(problems)
    sides, shares = np.array(points).T
    return SizeOfSource(sides, shares, file, measured=True)
