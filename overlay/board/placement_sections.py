"""A sheet cut into sections: headings, the rows below each, and the prose around them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from overlay.board.placement_aligned import (
    Token,
    column_spans,
    heading_tokens,
    matched,
    sliced,
    tokens_of,
)
from overlay.board.placement_headings import Column, column_of, heading_score
from overlay.board.placement_marks import is_unassigned, looks_like_refdes
from overlay.board.placement_numbers import looks_numeric, parse_angle
from overlay.board.placement_sides import Stated, side_of_name, side_of_word, stated_side
from overlay.board.placement_split import DELIMITERS, cells_of, fitted
from overlay.board.placement_text import Line, Sheet
from overlay.board.placement_units import Unit, unit_of_word

_COMMENT = re.compile(r"^\s*(?:#+|\*+|//+|;+|%+|'+|--(?!\d))\s*")
_RULER = re.compile(r"^[\s\-=_+|:*#!~.]*$")


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


def _is_sound(cells: Sequence[str], columns: Sequence[Column]) -> bool:
    """Whether a row holds numbers, angles and sides where its headings ask for them."""
    for cell, column in zip(cells, columns, strict=False):
        if _is_coordinate(column) and cell and not looks_numeric(cell):
            return False
        if column.rank("rotation") == 0 and cell and not _fits_angle(cell):
            return False
        if column.rank("side") == 0 and cell and side_of_word(cell) is None and not cell.isdigit():
            return False
    return has_place(cells, columns)


def _fits_angle(cell: str) -> bool:
    return parse_angle(cell, "point") is not None or parse_angle(cell, "comma") is not None


def best_cut(sheet: Sheet) -> Cut | None:
    """The way of cutting a sheet that understands most rows; None where no line is a heading."""
    if sheet.lines and sheet.lines[0].cells is not None:
        cut = _cut(sheet, "cells")
        return cut if cut.sections else None
    containers: tuple[str, ...] = (*DELIMITERS, "\t+", "aligned")
    first = next((line for line in sheet.lines if line.text.strip()), None)
    stated = re.fullmatch(r'\s*"?sep=(.)"?\s*', first.text) if first else None
    if stated is not None:
        containers = (stated.group(1), *(each for each in containers if each != stated.group(1)))
    used = [each for each in containers if each == "aligned" or _divides(each, sheet)]
    cuts = [cut for cut in (_cut(sheet, container) for container in used) if cut.sections]
    return max(cuts, key=lambda cut: cut.worth) if cuts else None


def _divides(container: str, sheet: Sheet) -> bool:
    """Whether a delimiter stands often enough in some line to make a table."""
    return any(line.text.count(container[0]) >= 2 for line in sheet.lines)


def _may_be_heading(text: str) -> bool:
    lowered = text.casefold()
    axes = ("x" in lowered and "y" in lowered) or ("х" in lowered and "у" in lowered)
    return len(text) <= 2000 and (axes or re.search(r"坐标|座標|pos|loc|coord|cent", lowered) is not None)


def _cut(sheet: Sheet, container: str) -> Cut:
    cut = Cut(container)
    in_force: SideInForce | None = None
    named = side_of_name(f"x {sheet.name}") if sheet.name else None
    if named is not None:
        in_force = SideInForce(named, 1, sheet.name)
    aligned: list[tuple[Line, SideInForce | None]] = []
    heads: tuple[Token, ...] = ()
    index = 0
    while index < len(sheet.lines):
        line = sheet.lines[index]
        index += 1
        if not line.text.strip():
            continue
        heading, used = _heading(sheet.lines, index - 1, container)
        if heading is not None:
            names = [column.name for column, _ in heading]
            if (
                cut.sections
                and names == [column.name for column in cut.sections[-1].columns]
                and container != "aligned"
            ):
                index += used - 1
                continue
            _close(cut, heads, aligned)
            heads = tuple(token for _, token in heading)
            aligned = []
            cut.sections.append(Section(line.number, tuple(column for column, _ in heading)))
            index += used - 1
            continue
        section = cut.sections[-1] if cut.sections else None
        comment = _is_comment(line, container)
        if section is not None and not comment and not (container != "aligned" and _RULER.match(line.text)):
            if container == "aligned":
                if _RULER.match(line.text) or _may_be_row(line.text) or _unit_tokens(line.text):
                    aligned.append((line, in_force))
                    continue
            else:
                row, used = _row(sheet.lines, index - 1, section, container)
                if row is not None:
                    section.rows.append(RawRow(line.number, line.text, row or None, in_force))
                    index += used - 1
                    continue
                cells = _cells(line, container, None)
                if not section.rows and _units_row(section, cells, line.number):
                    continue
                if sum(looks_numeric(cell) for cell in cells) >= 2 and len(cells) >= len(section.columns) - 2:
                    cut.lost.append(line)
                    continue
        cut.prose.append(line)
        said = stated_side(line.text)
        if said is not None:
            in_force = None if said == "both" else SideInForce(said, line.number, line.text.strip())
    _close(cut, heads, aligned)
    return cut


def _is_comment(line: Line, container: str) -> bool:
    first = line.text.lstrip()[:1]
    if line.cells is not None or first == container:
        return first == "#"
    # the job line of an extracted table, beside its A! heading and S! rows
    return _COMMENT.match(line.text) is not None or (container == "!" and line.text.startswith("J!"))


def _cells(line: Line, container: str, count: int | None) -> list[str]:
    return list(line.cells) if line.cells is not None else cells_of(line.text, container, count)


def _heading(lines: Sequence[Line], index: int, container: str) -> tuple[list[tuple[Column, Token]] | None, int]:
    """The heading that starts at a line, and how many lines it takes; None where none does."""
    line = lines[index]
    group = "\n".join(each.text for each in lines[index : index + 6]) if line.text.count('"') % 2 else line.text
    if not _may_be_heading(group) and not (
        index + 1 < len(lines) and _may_be_heading(lines[index + 1].text) and not any(map(str.isdigit, line.text))
    ):
        return None, 1
    bare = _COMMENT.sub(lambda match: " " * len(match.group()), line.text)
    if container == "aligned":
        words = heading_tokens(bare)
        return (None if words is None else [(column_of(word.text), word) for word in words]), 1
    nowhere = Token("", 0, 0)
    for used in range(1, 7 if line.cells is None and line.text.count('"') % 2 else 2):
        text = " ".join([bare, *(each.text for each in lines[index + 1 : index + used])])
        cells = list(line.cells) if line.cells is not None else cells_of(text, container)
        columns = [column_of(cell) for cell in cells]
        while columns and not columns[-1].name:
            columns.pop()
        # numbers in a heading are a row of a list of headings, not a heading
        if heading_score(columns) >= 3 and not sum(looks_numeric(cell) for cell in cells) > 1:
            return [(column, nowhere) for column in columns], used
    below = lines[index + 1] if index + 1 < len(lines) else None
    if below is not None and below.text.strip():
        upper = list(line.cells) if line.cells is not None else cells_of(bare, container)
        lower = _cells(below, container, None)
        if len(lower) >= 4 and abs(len(upper) - len(lower)) <= 2 and not any(map(looks_numeric, (*upper, *lower))):
            columns = [
                column_of(f"{upper[at] if at < len(upper) else ''} {lower[at] if at < len(lower) else ''}".strip())
                for at in range(max(len(upper), len(lower)))
            ]
            alone = heading_score([column_of(cell) for cell in lower])
            if heading_score(columns) >= 3 and heading_score(columns) > alone:
                return [(column, nowhere) for column in columns], 2
    return None, 1


def _row(lines: Sequence[Line], index: int, section: Section, container: str) -> tuple[tuple[str, ...] | None, int]:
    """Cells of the row that starts at a line and how many lines it takes.

    No cells for a row that cannot be brought to the columns, None for a line that is no row.
    """
    line, count = lines[index], len(section.columns)
    cells = _cells(line, container, count)
    used = 1
    if line.cells is None and len(cells) < count and line.text.count('"') % 2:
        for more in range(2, 7):
            joined = "\n".join(each.text for each in lines[index : index + more])
            if joined.count('"') % 2 == 0:
                whole = [" ".join(cell.split()) for cell in cells_of(joined, container, count)]
                if len(whole) == count and has_place(whole, section.columns):
                    cells, used = whole, more
                break
    fit = fitted(cells, section.columns, container, lambda some: _is_sound(some, section.columns))
    if fit is not None and has_place(fit, section.columns):
        return tuple(fit), used
    names = [cell for cell, column in zip(cells, section.columns, strict=False) if column.rank("refdes") is not None]
    names = names or cells[:1]
    filled = sum(bool(cell.strip()) for cell in cells)
    if any(looks_like_refdes(name) for name in names):
        # a row all the same: what is wrong with it is told later
        return (() if fit is None else tuple(fit)), used
    if filled >= max(3, count - 2) and len(cells) >= count and names[0] and line.cells is None:
        return (() if fit is None else tuple(fit)), used
    if filled >= 3 and any(name and is_unassigned(name) for name in names) and len(cells) >= count - 1:
        return tuple((*cells, *[""] * count)[:count]), used
    return None, 1


def _units_row(section: Section, cells: Sequence[str], line: int) -> bool:
    """Take a row such as ``,,mil,mil,deg,`` under a heading as its units."""
    found = {}
    for index, cell in enumerate(cells[: len(section.columns)]):
        unit = unit_of_word(cell.strip(" ()[]{}.\"'"))
        if unit is not None:
            found[index] = unit
    coordinates = [index for index, column in enumerate(section.columns) if _is_coordinate(column)]
    if sum(index in found for index in coordinates) < 2:
        return False
    section.units, section.units_line = found, line
    return True


def _is_coordinate(column: Column) -> bool:
    return column.rank("x") is not None or column.rank("y") is not None


def _may_be_row(text: str) -> bool:
    words = tokens_of(text)
    numbers = sum(looks_numeric(word.text) for word in words)
    paired = any(word.text.startswith("(") and " " in word.text for word in words)
    named = looks_like_refdes(words[0].text.strip('"'))
    return (len(words) >= 2 and named) or (len(words) >= 3 and (numbers >= 2 or paired))


def _unit_tokens(text: str) -> bool:
    words = tokens_of(text)
    return len(words) >= 2 and sum(unit_of_word(word.text.strip("()[]{}")) is not None for word in words) >= 2


def _close(cut: Cut, heads: Sequence[Token], aligned: Sequence[tuple[Line, SideInForce | None]]) -> None:
    """Cut the aligned lines below a heading into cells, now that all of them are known."""
    if cut.container != "aligned" or not cut.sections:
        return
    section = cut.sections[-1]
    ruler: tuple[Token, ...] | None = None
    rows: list[tuple[Line, SideInForce | None, tuple[Token, ...]]] = []
    for line, in_force in aligned:
        words = tokens_of(line.text)
        if _RULER.match(line.text):
            ruler = words if not rows and len(words) == len(heads) else ruler
        elif not rows and _unit_tokens(line.text) and not any(looks_numeric(word.text) for word in words):
            _aligned_units(section, heads, words, line.number)
        else:
            rows.append((line, in_force, words))
    named = [words for _, _, words in rows if any(looks_like_refdes(word.text.strip('"')) for word in words)]
    spans = column_spans(heads, named or [words for _, _, words in rows], ruler)
    for line, in_force, words in rows:
        cells = None if spans is None else sliced(words, spans)
        if cells is None or not has_place(cells, section.columns):
            blank = cells is not None and any(
                not cell for cell, column in zip(cells, section.columns, strict=True) if _is_coordinate(column)
            )
            other = None if blank else matched(words, section.columns)
            cells = other if other is not None and has_place(other, section.columns) else cells
        if cells is not None and has_place(cells, section.columns):
            section.rows.append(RawRow(line.number, line.text, tuple(cells), in_force))
        elif looks_like_refdes(words[0].text.strip('"')):
            section.rows.append(RawRow(line.number, line.text, None if cells is None else tuple(cells), in_force))
        elif sum(looks_numeric(word.text) for word in words) >= 3:
            cut.lost.append(line)
        else:
            cut.prose.append(line)


def _aligned_units(section: Section, heads: Sequence[Token], words: Sequence[Token], line: int) -> None:
    """A line of units under aligned headings: by number where there are as many, else by place."""
    found: dict[int, Unit] = {}
    for word in words:
        unit = unit_of_word(word.text.strip("()[]{}"))
        if unit is None:
            continue
        near = min(
            range(len(heads)), key=lambda index: abs(heads[index].start + heads[index].end - word.start - word.end)
        )
        found[near] = unit
    section.units, section.units_line = found, line
