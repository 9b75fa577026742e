"""From rows of cells to placed parts: units, sides and angles, each row's problems with its line."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from overlay.board.model import Body, Side
from overlay.board.placement.columns import Choice, disagreement_mm, split_pair
from overlay.board.placement.cut import RawRow, Section
from overlay.board.placement.fitting import flag_says_fitted, says_unfitted
from overlay.board.placement.headings import key_of
from overlay.board.placement.marks import is_mechanical, is_unassigned
from overlay.board.placement.numbers import Angle, Style, parse_angle, parse_figure
from overlay.board.placement.sides import flag, side_of_word
from overlay.board.placement.text import shown
from overlay.board.placement.units import Unit
from overlay.errors import Problem


@dataclass(frozen=True, slots=True)
class Placed:
    """A part as its row says it: millimetres and degrees as written, before bottom conventions are undone."""

    refdes: str
    x_mm: float
    y_mm: float
    rotation_deg: float
    side: Side
    package: str
    value: str
    part_number: str
    mechanical: bool
    line: int
    fitted: bool = True
    body: Body | None = None  # as the file draws it …
    body_center_mm: tuple[float, float] = (0.0, 0.0)  # … and its middle, in the package's own frame


@dataclass(frozen=True, slots=True)
class SideSources:
    """What tells sides where no column does."""

    of_name: Side | None  # the file's name
    told: Side | None  # the job's placement_side, for a file that states none
    lettered: bool  # angles are written with letters: R90, MR90
    legend: Mapping[str, Side]


@dataclass(slots=True)
class RowReader:
    """Reads the rows of one section. ``unit`` is that of cells without a suffix, None where only suffixes tell."""

    file: str
    section: Section
    choice: Choice
    style: Style
    unit: Unit | None
    side_sources: SideSources
    problems: list[Problem] = field(default_factory=list)
    sided_by: dict[str, int] = field(default_factory=dict)
    sideless: list[int] = field(default_factory=list)
    contradicted: bool = False

    def read(self) -> list[Placed]:
        """Every part that can be read; the rest are problems."""
        return [part for row in self.section.rows if (part := self._part(row)) is not None]

    def _say(self, row: RawRow, what: str, remedy: str, column: int | None = None, *, error: bool = True) -> None:
        name = None if column is None else self.section.columns[column].name
        value = None if column is None or row.cells is None else row.cells[column]
        self.problems.append(Problem("error" if error else "warning", self.file, row.line, what, remedy, name, value))

    def _cell(self, row: RawRow, index: int | None) -> str:
        return "" if index is None or row.cells is None else row.cells[index].strip()

    def _part(self, row: RawRow) -> Placed | None:
        choice = self.choice
        if row.cells is None:
            what = f"the row cannot be divided into the {len(self.section.columns)} columns of the heading"
            remedy = f"put quotes around cells that hold the delimiter, blanks between columns ({shown(row.text)})"
            self._say(row, what, remedy)
            return None
        refdes = self._cell(row, choice.refdes)
        if is_unassigned(refdes):
            what = (
                f"reference designator {refdes!r} is not assigned" if refdes else "the row has no reference designator"
            )
            self._say(row, f"{what}, the row is left out", "annotate the part to have it read", error=False)
            return None
        package, value = self._cell(row, choice.package), self._cell(row, choice.value)
        mechanical = is_mechanical(refdes, package, value)
        if self._unplaced(row):
            self._say(row, f"{refdes} has no coordinates, it is left out", "place it to have it read", error=False)
            return None
        place = self._place(row, refdes)
        angle = self._angle(row, refdes, mechanical)
        side = self._side(row, refdes, angle)
        if place is None or angle is None or side is None:
            return None
        part_number = self._cell(row, choice.part) or value
        return Placed(
            refdes,
            place[0],
            place[1],
            angle.degrees,
            side,
            package,
            value,
            part_number,
            mechanical,
            row.line,
            fitted=self._fitted(row),
        )

    def _unplaced(self, row: RawRow) -> bool:
        """Whether a whole row gives its part neither X nor Y, as for parts that wait beside the board."""
        pair = self.choice.pair
        if pair is None or row.cells is None or pair.x == pair.y:
            return False
        rest = [cell for index, cell in enumerate(row.cells) if index not in (pair.x, pair.y, self.choice.refdes)]
        blank = not row.cells[pair.x].strip(" -") and not row.cells[pair.y].strip(" -")
        return blank and any(cell.strip() for cell in rest)

    def _fitted(self, row: RawRow) -> bool:
        """Unless a column of its own or a remark says that the board does not carry the part."""
        texts = []
        for column, cell in zip(self.section.columns, row.cells or (), strict=False):
            told = flag_says_fitted(key_of(column.name), cell)
            if told is not None:
                return told
            if {"value", "package", "part"} & {role for role, _ in column.roles}:
                texts.append(cell)
        return not says_unfitted(texts)

    def _place(self, row: RawRow, refdes: str) -> tuple[float, float] | None:
        pair = self.choice.pair
        if pair is None or row.cells is None:
            return None
        if pair.x == pair.y:
            texts = split_pair(row.cells[pair.x])
            if texts is None:
                self._say(row, f"{refdes} has no readable position", "write it as (x y)", pair.x)
                return None
            x, y = (self._length(row, refdes, text, pair.x) for text in texts)
        else:
            x, y = (self._length(row, refdes, row.cells[index].strip(), index) for index in (pair.x, pair.y))
        if x is None or y is None:
            return None
        for rival in self.choice.rivals:
            apart = disagreement_mm(row.cells, pair, rival)
            if apart > 0.0:
                names = [self.section.columns[index].name for index in (pair.x, rival.x)]
                what = f"{refdes}: the columns {names[0]!r} and {names[1]!r} place it {apart:.2f} mm apart"
                self._say(row, what, "correct the row or remove one pair of columns", pair.x)
                return None
        return x, y

    def _length(self, row: RawRow, refdes: str, text: str, column: int) -> float | None:
        name = self.section.columns[column].name
        if not text:
            self._say(row, f"{refdes} has no {name}", "write its coordinate, or remove the row", column)
            return None
        figure = parse_figure(text, self.style)
        if figure is None:
            self._say(row, f"{refdes}: {name} {text!r} is not a number", "write a number such as 12.5", column)
            return None
        unit = figure.unit or self.unit
        if unit is None and figure.value == 0.0:
            return 0.0
        if unit is None or unit.mm is None:
            what = f"{refdes}: {name} {text!r} carries no unit, unlike other cells of that column"
            self._say(row, what, "write the unit behind the number", column)
            return None
        if figure.unit is not None and self.unit is not None and figure.unit.name != self.unit.name:
            what = f"{refdes}: {name} {text!r} is in {figure.unit.name}, but the file states {self.unit.name}"
            self._say(row, what, "correct one of them", column)
            return None
        value = figure.value * unit.mm
        if not math.isfinite(value) or abs(value) > 1e5:
            self._say(
                row, f"{refdes}: {name} {text!r} lies more than 100 m away", "correct the value or its unit", column
            )
            return None
        return value

    def _angle(self, row: RawRow, refdes: str, mechanical: bool) -> Angle | None:
        column = self.choice.rotation
        if column is None:
            return Angle(0.0) if mechanical else None  # the missing column is reported once, for the section
        text = self._cell(row, column)
        if not text and mechanical:
            return Angle(0.0)
        name = self.section.columns[column].name
        if not text:
            self._say(row, f"{refdes} has no {name}", "write its angle in degrees", column)
            return None
        angle = parse_angle(text, self.style)
        if angle is None:
            other = parse_angle(text, "point" if self.style == "comma" else "comma")
            angle = other
        if angle is None:
            self._say(row, f"{refdes}: {name} {text!r} is not an angle", "write degrees such as 90", column)
            return None
        heading = self.section.columns[column]
        degrees = math.degrees(angle.degrees) if heading.radians else angle.degrees
        degrees = -degrees if heading.clockwise else degrees
        if abs(degrees) > 360.0 + 1e-6:
            what = f"{refdes}: {name} {text!r} is no angle between -360° and 360°"
            self._say(row, what, "write degrees, not tenths or thousandths of them", column)
            return None
        return Angle(degrees, angle.mirrored, angle.lettered, angle.side)

    def _side(self, row: RawRow, refdes: str, angle: Angle | None) -> Side | None:
        found: dict[str, Side] = {}
        unread = None
        for index in self.choice.sides:
            text = self._cell(row, index)
            side = self.side_sources.legend.get(text.casefold()) or self._word(text, index)
            if side is not None:
                found[f"column {self.section.columns[index].name!r}"] = side
            elif text:
                unread = index
        for indices, yes, no in ((self.choice.flags, "bottom", "top"), (self.choice.top_flags, "top", "bottom")):
            for index in indices:
                answer = flag(self._cell(row, index))
                if answer is not None or (not found and self._blank_means_no(index)):
                    found[f"column {self.section.columns[index].name!r}"] = _side(yes if answer else no)
        if angle is not None and (angle.mirrored or angle.side):
            found["letter at the angle"] = "bottom" if angle.mirrored or angle.side == "bottom" else "top"
        if len(set(found.values())) > 1:
            said = ", ".join(f"{where} says {side}" for where, side in found.items())
            self._say(row, f"{refdes}: the sides contradict each other ({said})", "correct the row")
            return None
        if found:
            where, side = next(iter(found.items()))
            self._check_stated(row, where, side)
            self.sided_by[where] = self.sided_by.get(where, 0) + 1
            return side
        if unread is not None:
            text = self._cell(row, unread)
            what = f"{refdes}: {self.section.columns[unread].name} {text!r} names no side"
            self._say(row, what, "write top or bottom", unread)
            return None
        return self._side_elsewhere(row, refdes)

    def _word(self, text: str, index: int) -> Side | None:
        if text:
            return side_of_word(text)
        cells = {self._cell(row, index).casefold() for row in self.section.rows if row.cells is not None} - {""}
        # a column of marks for mirrored parts alone: blank is the top
        return "top" if cells and cells <= {"m", "mirror", "mirrored"} else None

    def _blank_means_no(self, index: int) -> bool:
        """Blanks are a no unless the column writes its noes out."""
        return all(flag(self._cell(row, index)) is not False for row in self.section.rows)

    def _side_elsewhere(self, row: RawRow, refdes: str) -> Side | None:
        side: Side | None = None
        where = ""
        sources = self.side_sources
        if sources.lettered:
            side, where = "top", "letters at the angles"
        elif row.side is not None and row.side.side != "both":
            side, where = row.side.side, f"line {row.side.line} {shown(row.side.text)}"
        elif sources.of_name is not None and not self.choice.sides:
            side, where = sources.of_name, "name of the file"
        elif sources.told is not None:
            side, where = sources.told, "placement_side"
        elif self.choice.sides:
            names = self.section.columns[self.choice.sides[0]].name
            self._say(row, f"{refdes} has no {names}", "write top or bottom", self.choice.sides[0])
            return None
        if side is None:
            self.sideless.append(row.line)
            return None
        self.sided_by[where] = self.sided_by.get(where, 0) + 1
        return side

    def _check_stated(self, row: RawRow, where: str, side: Side) -> None:
        stated = row.side
        if stated is None or stated.side in ("both", side) or self.contradicted:
            return
        self.contradicted = True
        what = f"{where} says {side}, but line {stated.line} states {stated.side}"
        self._say(row, what, "check which of the two is right; the column was taken", error=False)


def _side(word: str) -> Side:
    return "bottom" if word == "bottom" else "top"
