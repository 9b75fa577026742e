"""What a thermal camera wrote down."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from overlay.arrays import Array as Array


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Temperatures as the instrument gave them, one value a pixel and page.

    Parameters
    ----------
    temperature_c : (pages, rows, cols) float64, finite, in °C
    times_s : (pages,) float64 or None
        Seconds from the first page, strictly increasing; None for a stack without times.
    source
        The file it came from, for messages and reports.
    """

    temperature_c: Array
    times_s: Array | None
    source: Path

    def __post_init__(self) -> None:
        object.__setattr__(self, "temperature_c", _read_only(self.temperature_c))
        if self.times_s is not None:
            object.__setattr__(self, "times_s", _read_only(self.times_s))

    @property
    def pages(self) -> int:
        return int(self.temperature_c.shape[0])

    @property
    def shape_px(self) -> tuple[int, int]:
        """(rows, cols)."""
        return int(self.temperature_c.shape[1]), int(self.temperature_c.shape[2])


@dataclass(frozen=True, slots=True)
class Emissivity:
    """Emissivity of one surface, with standard uncertainty and where it comes from.

    ``declared``: the user's own tables say it, rather than what is usual for its kind.
    """

    value: float
    u: float
    source: str
    declared: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class EmissivityMap:
    """Emissivity of every pixel, from frames of the unpowered board; nan where none was found."""

    value: Array  # (rows, cols), in the capture's pixels
    u: Array  # (rows, cols)
    source: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "value", _read_only(self.value))
        object.__setattr__(self, "u", _read_only(self.u))


def _read_only(values: Array) -> Array:
    """A copy that nobody writes into: ``frozen=True`` stops at an array's door."""
    own = np.array(values, dtype=np.float64)
    own.flags.writeable = False
    return own
