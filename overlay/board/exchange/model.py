"""What an interchange file tells of a board: places, edge, and the packages' outlines with their heights."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from overlay.board.model import Side

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

    from overlay.errors import Problem

# millimetres of each unit a user may name: 25.4 mm to the inch (exact by definition), 1000 mil to the inch
MM_OF_UNIT = {"mm": 1.0, "um": 1e-3, "mil": 0.0254, "inch": 25.4}


@dataclass(frozen=True, slots=True)
class DrawnPackage:
    """The box round a package's outline, at rotation 0 seen from its own top.

    ``center_mm`` is where the middle of the box lies from the point by which the package is placed;
    ``height_mm`` is None where the file gives none.
    """

    length_mm: float
    width_mm: float
    center_mm: tuple[float, float]
    height_mm: float | None
    where: str  # the place in the file, in words


@dataclass(frozen=True, slots=True)
class ExchangedPart:
    """One part as the file has it: millimetres, degrees as written."""

    refdes: str
    xy_mm: tuple[float, float]
    rotation_deg: float
    side: Side
    line: int
    package: str = ""
    value: str = ""
    part_number: str = ""
    fitted: bool = True
    drawn: DrawnPackage | None = None
    height_mm: float | None = None  # of this part, where it is not that of its package


@dataclass(frozen=True, slots=True, eq=False)
class Exchange:
    """A board as one interchange file tells it; ``edge`` is None where the file has none."""

    source: str  # the format and what was chosen of it, in words
    units: str
    units_from: str
    parts: tuple[ExchangedPart, ...]
    edge: Polygon | MultiPolygon | None
    problems: tuple[Problem, ...] = ()
    edge_problems: tuple[Problem, ...] = ()  # why an edge that is there cannot be used
