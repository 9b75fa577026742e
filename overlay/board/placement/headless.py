"""Placement tables without any heading: columns told by what stands in them, where that leaves no doubt."""

from __future__ import annotations

from collections.abc import Sequence

from overlay.board.placement.aligned import tokens_of
from overlay.board.placement.cut import Cut, RawRow, Section, SideInForce
from overlay.board.placement.headings import Column, column_of
from overlay.board.placement.marks import looks_like_package, looks_like_refdes
from overlay.board.placement.numbers import looks_numeric, parse_angle, parse_figure
from overlay.board.placement.sides import side_of_word, stated_side
from overlay.board.placement.split import cells_of
from overlay.board.placement.text import Line, Sheet
from overlay.errors import Problem

_ASK = "put a heading row above the parts, such as Designator,X,Y,Rotation,Side,Footprint,Value"


def section_without_heading(sheet: Sheet, file: str, problems: list[Problem]) -> Cut | None:
    """Cut a sheet that has no heading, None where it holds nothing like a placement.

    A table that looks like one but whose columns stay in doubt is an error that asks for a heading.
    """
    best: tuple[str, list[tuple[Line, list[str]]]] = ("", [])
    for container in (
        ("cells",) if sheet.lines and sheet.lines[0].cells is not None else ("\t", ";", ",", "|", "!", "aligned")
    ):
        rows = [(line, cells) for line in sheet.lines if _is_row(cells := _cells(line, container))]
        if len(rows) > len(best[1]):
            best = container, rows
    container, rows = best
    if not rows:
        return None
    first = rows[0][0].number
    columns = _columns([cells for _, cells in rows])
    if isinstance(columns, str):
        problems.append(Problem("error", file, first, f"there is no heading row, and {columns}", _ASK))
        return None
    cut, section, in_force = Cut(container), Section(first, columns), None
    taken = {line.number: cells for line, cells in rows}
    for line in sheet.lines:
        if line.number in taken:
            cells = [*taken[line.number], *[""] * len(columns)][: len(columns)]
            section.rows.append(RawRow(line.number, line.text, tuple(cells), in_force))
        elif line.text.strip():
            said = stated_side(line.text)
            if said is not None:
                in_force = None if said == "both" else SideInForce(said, line.number, line.text.strip())
            words = tokens_of(line.text)
            if looks_like_refdes(words[0].text.strip('",;')) and len(_cells(line, container)) >= 3:
                section.rows.append(RawRow(line.number, line.text, None, in_force))
            else:
                cut.prose.append(line)
    cut.sections.append(section)
    return cut


def _cells(line: Line, container: str) -> list[str]:
    if line.cells is not None:
        return list(line.cells)
    if container == "aligned":
        return [word.text.strip('"') for word in tokens_of(line.text)]
    return cells_of(line.text, container)


def _is_row(cells: Sequence[str]) -> bool:
    named = any(looks_like_refdes(cell) for cell in cells[:3])
    return named and len(cells) >= 4 and sum(looks_numeric(cell) for cell in cells) >= 2


def _columns(rows: Sequence[Sequence[str]]) -> tuple[Column, ...] | str:
    """What each column holds, or the doubt in words."""
    width = min(len(row) for row in rows)
    by_place = [[row[index].strip() for row in rows] for index in range(width)]
    names = [
        i for i, cells in enumerate(by_place) if all(map(looks_like_refdes, cells)) and len(set(cells)) == len(cells)
    ]
    if not names:
        return "no column holds reference designators throughout"
    lettered = [i for i, cells in enumerate(by_place) if all(map(_is_lettered, cells))]
    numbers = [i for i, cells in enumerate(by_place) if all(map(looks_numeric, cells))]
    suffixed = [i for i in numbers if all(_has_unit(cell) for cell in by_place[i])]
    turned = lettered or ([i for i in numbers if i not in suffixed] if len(suffixed) == 2 else [])
    if not turned and len(numbers) == 3:
        turned = [i for i in numbers if all(map(_is_round_angle, by_place[i]))]
        if len(turned) == 1 and numbers.index(turned[0]) == 1:
            turned = []
    places = suffixed if len(suffixed) == 2 else [i for i in numbers if i not in turned]
    if len(turned) != 1 or len(places) != 2:
        return f"which of the {len(numbers)} columns of numbers are X, Y and rotation cannot be told"
    roles = {names[0]: "Designator", places[0]: "X", places[1]: "Y", turned[0]: "Rotation"}
    sides = [i for i, cells in enumerate(by_place) if i not in roles and all(map(side_of_word, cells))]
    marks = [i for i, cells in enumerate(by_place) if {cell.casefold() for cell in cells} == {"", "m"}]
    if len(sides) == 1:
        roles[sides[0]] = "Side"
    elif not sides and len(marks) == 1:
        roles[marks[0]] = "Mirror"
    rest = [i for i in range(width) if i not in roles]
    packages = [i for i in rest if sum(map(looks_like_package, by_place[i])) >= 0.6 * len(rows)]
    if len(packages) == 1:
        roles[packages[0]] = "Footprint"
        rest.remove(packages[0])
        if len(rest) == 1:
            roles[rest[0]] = "Value"
    meaning = {"Designator": "refdes", "X": "x", "Y": "y", "Rotation": "rotation", "Side": "side", "Mirror": "mirror"}
    return tuple(_column(roles.get(i, f"column {i + 1}"), meaning) for i in range(width))


def _column(name: str, meaning: dict[str, str]) -> Column:
    known = column_of(name)
    return known if name in meaning or name in ("Footprint", "Value") else Column(name)


def _is_lettered(cell: str) -> bool:
    angle = parse_angle(cell, "point")
    return angle is not None and angle.lettered


def _has_unit(cell: str) -> bool:
    figure = parse_figure(cell, "point") or parse_figure(cell, "comma")
    return figure is not None and figure.unit is not None


def _is_round_angle(cell: str) -> bool:
    """Multiples of 15° within a turn, as rotations are and places on a board rarely all are."""
    figure = parse_figure(cell, "point") or parse_figure(cell, "comma")
    return figure is not None and figure.unit is None and abs(figure.value) <= 360 and figure.value % 15 == 0
