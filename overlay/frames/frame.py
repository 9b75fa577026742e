"""What a thermal camera wrote down."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from overlay.arrays import Array as Array
from overlay.arrays import Mask, read_only


@dataclass(frozen=True, slots=True)
class ColourScale:
    """Standard uncertainties of temperatures that were read from the colours of a picture."""

    noise_c: float  # of one pixel
    common_u_c: float  # of all together: where the scale's ends are


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Temperatures as the instrument gave them, one value a pixel and page.

    Parameters
    ----------
    temperature_c : (pages, rows, cols), finite, in °C
        float64; float32 where there are several pages, since a long record would fill the memory.
    times_s : (pages,) float64 or None
        Seconds from the first page, strictly increasing; None for a stack without times.
    source
        The file it came from, for messages and reports.
    saturated : (rows, cols) bool or None
        Pixels at the end of the instrument's range, on any page: the surface is at least that hot.
    left_out : (rows, cols) bool or None
        Dead pixels and burnt-in marks: they say nothing, and hold what lies around them.
    notes
        How the file was understood, and what of it was left out: sentences for the user.
    """

    temperature_c: Array
    times_s: Array | None
    source: Path
    saturated: Mask | None = None
    left_out: Mask | None = None
    notes: tuple[str, ...] = ()
    colour_scale: ColourScale | None = None  # what it costs that temperatures were read from colours

    def __post_init__(self) -> None:
        read_only(self)

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
    common_u: float = 0.0  # the part of u that all surfaces of one source share


@dataclass(frozen=True, slots=True, eq=False)
class EmissivityMap:
    """Emissivity of every pixel, from frames of the unpowered board; nan where none was found."""

    value: Array  # (rows, cols), in the capture's pixels
    u: Array  # (rows, cols)
    source: str
    common_share: float = 0.0  # of ε: the part of u that is one draw for all pixels, the stage's temperature

    def __post_init__(self) -> None:
        read_only(self)
