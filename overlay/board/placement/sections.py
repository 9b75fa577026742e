"""A sheet cut into sections: headings, the rows below each, and the prose around them."""

from __future__ import annotations

import re
from collections.abc import Sequence

from overlay.board.placement.aligned import Token, tokens_of
from overlay.board.placement.aligned_headings import heading_tokens
from overlay.board.placement.aligned_rows import close_aligned, has_units, may_be_row
from overlay.board.placement.cut import RULER, Cut, RawRow, Section, SideInForce, has_place, is_coordinate, is_sound
from overlay.board.placement.headings import Column, column_of, heading_score
from overlay.board.placement.marks import is_unassigned, looks_like_refdes
from overlay.board.placement.numbers import looks_numeric
from overlay.board.placement.sides import side_of_name, stated_side
from overlay.board.placement.split import DELIMITERS, cells_of, fitted
from overlay.board.placement.text import Line, Sheet
from overlay.board.placement.units import unit_of_word

_COMMENT = re.compile(r"^\s*(?:#+|\*+|//+|;+|%+|'+|--(?!\d))\s*")


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
    elsewhere = False  # below the heading of another table, such as a parts list
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
            close_aligned(cut, heads, aligned)
            heads = tuple(token for _, token in heading)
            aligned = []
            elsewhere = False
            cut.sections.append(Section(line.number, tuple(column for column, _ in heading)))
            index += used - 1
            continue
        section = cut.sections[-1] if cut.sections else None
        if section is not None and container != "aligned" and _begins_other_table(_cells(line, container, None)):
            elsewhere = True
            cut.others.append(line)
        comment = elsewhere or _is_comment(line, container)
        if section is not None and not comment and not (container != "aligned" and RULER.match(line.text)):
            if container != "aligned":
                used = _taken(cut, section, sheet.lines, index - 1, in_force)
                if used:
                    index += used - 1
                    continue
            elif RULER.match(line.text) or may_be_row(line.text) or has_units(line.text):
                aligned.append((line, in_force))
                continue
        if section is not None and not elsewhere and comment and _is_commented_row(line, container):
            cut.lost.append(line)
            continue
        cut.prose.append(line)
        said = stated_side(line.text)
        if said is not None:
            in_force = None if said == "both" else SideInForce(said, line.number, line.text.strip())
    close_aligned(cut, heads, aligned)
    return cut


def _taken(cut: Cut, section: Section, lines: Sequence[Line], index: int, in_force: SideInForce | None) -> int:
    """Take a row of the section, its units, or a row that is lost; how many lines that were, 0 for none of them."""
    line = lines[index]
    row, used = _row(lines, index, section, cut.container)
    if row is not None:
        section.rows.append(RawRow(line.number, line.text, row or None, in_force))
        return used
    cells = _cells(line, cut.container, None)
    if not section.rows and _units_row(section, cells, line.number):
        return 1
    if sum(looks_numeric(cell) for cell in cells) >= 2 and len(cells) > 2:
        cut.lost.append(line)
        return 1
    return 0


def _begins_other_table(cells: Sequence[str]) -> bool:
    """Whether a row is the heading of a table that holds designators but no places."""
    filled = [cell for cell in cells if cell]
    columns = [column_of(cell) for cell in filled]
    named = any(column.rank("refdes") is not None for column in columns)
    data = any(looks_numeric(cell) or looks_like_refdes(cell) for cell in filled)
    return len(filled) >= 3 and named and 2 * sum(column.known for column in columns) > len(columns) and not data


def _is_comment(line: Line, container: str) -> bool:
    first = line.text.lstrip()[:1]
    if line.cells is not None or first == container:
        return first == "#"
    # the job line of an extracted table, beside its A! heading and S! rows
    return _COMMENT.match(line.text) is not None or (container == "!" and line.text.startswith("J!"))


def _is_commented_row(line: Line, container: str) -> bool:
    """Whether a comment below a heading has a place and an angle: a row taken out, or a part called ``#1``."""
    cells = [word.text for word in tokens_of(line.text)] if container == "aligned" else _cells(line, container, None)
    return not line.text.startswith("J!") and sum(map(looks_numeric, cells)) >= 3


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
        words = heading_tokens(bare, [each.text for each in lines[index + 1 : index + 12]])
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
    if (
        line.cells is None
        and 1 < len(cells) < count
        and index + 1 < len(lines)
        and not has_place(cells, section.columns)
    ):
        # a text that breaks off within a cell, without quotes round it: the next line completes the row to the cell
        whole = cells_of(f"{line.text} {lines[index + 1].text}", container, count)
        if len(whole) == count > len(cells) and is_sound(whole, section.columns):
            cells, used = whole, 2
    fit = fitted(cells, section.columns, container, lambda some: is_sound(some, section.columns))
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
    coordinates = [index for index, column in enumerate(section.columns) if is_coordinate(column)]
    if sum(index in found for index in coordinates) < 2:
        return False
    section.units, section.units_line = found, line
    return True
