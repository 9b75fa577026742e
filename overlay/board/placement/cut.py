"""What a sheet is cut into: sections with their headings and rows, and the prose around them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from overlay.board.placement.headings import Column
from overlay.board.placement.numbers import looks_numeric, parse_angle
from overlay.board.placement.sides import Stated, side_of_word
from overlay.board.placement.text import Line
from overlay.board.placement.units import Unit

RULER = re.compile(r"^[\s\-=_+|:*#!~.]*$")


@dataclass(frozen=True, slots=True)
class SideInForce:
    """The side that the last words above a row state, and where."""

    side: Stated
    line: int
    text: str


@dataclass(frozen=True, slots=True)
class RawRow:
    """A row of a section: a cell for each column, None where the line cannot be brought to them."""

    line: int
    text: str
    cells: tuple[str, ...] | None
    side: SideInForce | None


@dataclass(slots=True)
class Section:
    """One heading and the rows below it; ``units`` from a row of units under the heading."""

    line: int
    columns: tuple[Column, ...]
    rows: list[RawRow] = field(default_factory=list)
    units: dict[int, Unit] = field(default_factory=dict)
    units_line: int = 0


@dataclass(slots=True)
class Cut:
    """A sheet cut in one way: by a delimiter, at aligned columns, or in the cells its container tells."""

    container: str
    sections: list[Section] = field(default_factory=list)
    prose: list[Line] = field(default_factory=list)
    lost: list[Line] = field(default_factory=list)  # like rows, but without designator
    others: list[Line] = field(default_factory=list)  # headings of tables without places

    @property
    def worth(self) -> int:
        """Rows understood, less three times those that are not."""
        good = bad = 0
        for section in self.sections:
            for row in section.rows:
                fine = row.cells is not None and has_place(row.cells, section.columns)
                good, bad = good + fine, bad + (not fine)
        return good - 3 * bad - len(self.lost)


def has_place(cells: Sequence[str], columns: Sequence[Column]) -> bool:
    """Whether a row holds numbers in a pair of coordinate columns."""
    xs = [cell for cell, column in zip(cells, columns, strict=False) if column.rank("x") is not None]
    ys = [cell for cell, column in zip(cells, columns, strict=False) if column.rank("y") is not None]
    if any(looks_numeric(x) and looks_numeric(y) for x, y in zip(xs, ys, strict=False)):
        return True
    pairs = [cell for cell, column in zip(cells, columns, strict=False) if column.rank("xy") is not None]
    return not xs and any(re.fullmatch(r"\(?\s*[-+\d.,]+\s*\w*[\s,;/]+[-+\d.,]+\s*\w*\s*\)?", cell) for cell in pairs)


def is_sound(cells: Sequence[str], columns: Sequence[Column]) -> bool:
    """Whether a row holds numbers, angles and sides where its headings ask for them."""
    for cell, column in zip(cells, columns, strict=False):
        if is_coordinate(column) and cell and not looks_numeric(cell):
            return False
        if column.rank("rotation") == 0 and cell and not _fits_angle(cell):
            return False
        if column.rank("side") == 0 and cell and side_of_word(cell) is None and not cell.isdigit():
            return False
    return has_place(cells, columns)


def _fits_angle(cell: str) -> bool:
    return parse_angle(cell, "point") is not None or parse_angle(cell, "comma") is not None


def is_coordinate(column: Column) -> bool:
    return column.rank("x") is not None or column.rank("y") is not None
