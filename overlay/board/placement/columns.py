"""Which columns of a section are taken: designator, coordinates, rotation, side, package, value, part number."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from overlay.board.placement.cut import RawRow, Section
from overlay.board.placement.headings import KINDS, NO_DESIGNATORS, PIN_HEADINGS, Column, Role, key_of
from overlay.board.placement.marks import is_unassigned, looks_like_package, looks_like_refdes, looks_like_value
from overlay.board.placement.numbers import Figure, looks_numeric, parse_angle, parse_figure
from overlay.board.placement.sides import is_flag, side_of_word
from overlay.board.placement.units import Unit


@dataclass(frozen=True, slots=True)
class Pair:
    """Two columns that hold a place, or one (``y`` equal to ``x``) that holds both numbers."""

    x: int
    y: int
    kind: str
    unit_x: Unit | None
    unit_y: Unit | None


@dataclass(frozen=True, slots=True)
class Choice:
    """Indices of the columns taken; None where a section has no such column."""

    refdes: int | None
    pair: Pair | None
    rivals: tuple[Pair, ...]  # other pairs of the same kind: they must agree
    only_pads: bool
    rotation: int | None
    sides: tuple[int, ...]
    flags: tuple[int, ...]  # yes means bottom
    top_flags: tuple[int, ...]  # yes means top
    package: int | None
    value: int | None
    part: int | None


_PINS_SHARE = 0.6  # different names among the rows of pins: two-pin parts alone make it a half
_NEARLY_ALL = 0.9  # of a column's cells; an odd one may be an oversight


def choose_columns(section: Section, prefer: Unit | None) -> Choice:
    """Choose by headings, and by what stands in the columns where a heading can mean several things.

    Parameters
    ----------
    section
        Heading and rows.
    prefer
        Unit stated elsewhere in the file: of two pairs that differ only in unit, the one in this unit is taken.
    """
    columns, rows = section.columns, [row for row in section.rows if row.cells is not None]
    refdes = _refdes_column(columns, rows)
    pairs = _pairs(section)
    best = next((kind for kind in KINDS if any(pair.kind == kind for pair in pairs)), None)
    same = [pair for pair in pairs if pair.kind == best and _has_numbers(pair, rows)]
    same = same or [pair for pair in pairs if pair.kind == best]
    combined = _combined(columns, rows, refdes) if not same else None
    pair = combined or (min(same, key=lambda each: _preference(each, prefer)) if same else None)
    rotation = _by_rank(columns, "rotation", {refdes}, lambda index: _share(rows, index, _is_angle))
    taken = {refdes, rotation} | ({pair.x, pair.y} if pair else set())
    part = _text_column(columns, rows, "part", taken)
    package = _text_column(columns, rows, "package", taken)
    value = _text_column(columns, rows, "value", taken)
    if package is None:  # some write the package under *Description* or *Comment*
        package = _looks_like_packages(columns, rows, taken | {value if _other_value(columns, value) else None})
        value = _text_column(columns, rows, "value", taken | {package})
    return Choice(
        refdes,
        pair,
        tuple(each for each in same if each != pair),
        best is None and combined is None and bool(pairs),
        rotation,
        tuple(
            index
            for index, column in enumerate(columns)
            if column.rank("side") is not None and index not in taken and any(_cells(rows, index))
        ),
        _flag_columns(columns, rows, "mirror"),
        _flag_columns(columns, rows, "topflag"),
        package,
        value,
        part,
    )


def _cells(rows: Sequence[RawRow], index: int) -> list[str]:
    return [row.cells[index] for row in rows if row.cells is not None and index < len(row.cells)]


def _share(rows: Sequence[RawRow], index: int, test: object) -> float:
    filled = [cell for cell in _cells(rows, index) if cell.strip()]
    assert callable(test)
    return sum(bool(test(cell)) for cell in filled) / len(filled) if filled else 0.0


def _is_angle(cell: str) -> bool:
    return parse_angle(cell, "point") is not None or parse_angle(cell, "comma") is not None


def lists_pins(section: Section, refdes: int) -> bool:
    """Whether a table has a row for each pin: a column of pins, and designators that repeat."""
    pins = any(key_of(column.name) in PIN_HEADINGS for column in section.columns)
    names = [row.cells[refdes] for row in section.rows if row.cells is not None]
    return pins and len(set(names)) <= _PINS_SHARE * len(names)


def _refdes_column(columns: Sequence[Column], rows: Sequence[RawRow]) -> int | None:
    """The column of designators.

    A heading that can mean nothing else wins, then one that means it as a rule; a heading such as *Part* or *Name*,
    or an unknown one, has to hold designators, or at least words that differ from row to row.
    """
    worth = {}
    for index, column in enumerate(columns):
        if {"x", "y", "rotation"} & {role for role, rank in column.roles if rank == 0 and role != "refdes"}:
            continue
        filled = [cell.strip().casefold() for cell in _cells(rows, index) if cell.strip()]
        likeness = _share(rows, index, lambda cell: looks_like_refdes(cell) or is_unassigned(cell))
        distinct = len(set(filled)) / len(filled) if filled else 0.0
        strong = column.rank("refdes")
        named_otherwise = column.rank("package") is not None or column.rank("value") is not None
        named_otherwise = named_otherwise or key_of(column.name) in NO_DESIGNATORS
        if strong is None and (likeness < 0.5 or distinct < 0.5 or named_otherwise):
            continue
        # tuned on the invented tables of the tests: the heading counts about as much as the look of the cells
        of_heading = 0.0 if strong is None else 0.5 if strong else 2.0
        of_heading = of_heading or (0.1 if column.rank("refdes?") is not None else 0.0)
        if filled or strong is not None:
            worth[index] = likeness * distinct + (of_heading if filled else 0.0)
    if worth:
        return max(worth, key=lambda index: (worth[index], -index))
    weak = [i for i, column in enumerate(columns) if column.rank("refdes?") is not None]
    return next((i for i in weak if not rows or _holds_names(_cells(rows, i))), None)


def _holds_names(cells: Sequence[str]) -> bool:
    """Whether words of any kind name parts: nearly all differ, and they are neither packages nor numbers."""
    filled = [cell.strip() for cell in cells if cell.strip()]
    if not filled or len(set(filled)) < _NEARLY_ALL * len(filled):
        return False
    if sum(map(looks_like_value, filled)) > 0.5 * len(filled):
        return False
    other = sum(looks_like_package(cell) or looks_numeric(cell) for cell in filled)
    return other < (1 - _NEARLY_ALL) * len(filled) + 1


def _pairs(section: Section) -> list[Pair]:
    found: list[Pair] = []
    for kind in ("centre", "pos", "ref", "pad"):
        xs = [i for i, column in enumerate(section.columns) if column.rank("x") is not None and column.kind == kind]
        ys = [i for i, column in enumerate(section.columns) if column.rank("y") is not None and column.kind == kind]
        for x, y in zip(xs, _partners(section, xs, ys), strict=False):
            found.append(Pair(x, y, kind, _unit(section, x), _unit(section, y)))
    return found


def _partners(section: Section, xs: Sequence[int], ys: Sequence[int]) -> list[int]:
    """The y column of each x column: the first left in the same unit, else the first left."""
    left, found = list(ys), []
    for x in xs:
        same = [y for y in left if _unit(section, y) == _unit(section, x)]
        chosen = (same or left)[:1]
        found += chosen
        left = [y for y in left if y not in chosen]
    return found


def _unit(section: Section, index: int) -> Unit | None:
    return section.columns[index].unit or section.units.get(index)


def _has_numbers(pair: Pair, rows: Sequence[RawRow]) -> bool:
    return _share(rows, pair.x, looks_numeric) > 0 and _share(rows, pair.y, looks_numeric) > 0


def _preference(pair: Pair, prefer: Unit | None) -> tuple[bool, bool, bool, int]:
    """In the unit stated for the file, else in a known unit, else millimetres, else the first."""
    named = pair.unit_x.name if pair.unit_x is not None else None
    return (prefer is None or named != prefer.name, named is None, named != "mm", pair.x)


def _combined(columns: Sequence[Column], rows: Sequence[RawRow], refdes: int | None) -> Pair | None:
    for index, column in enumerate(columns):
        if column.rank("xy") is not None and index != refdes and _share(rows, index, split_pair) > 0.5:
            return Pair(index, index, "pos", column.unit, column.unit)
    return None


def split_pair(cell: str) -> tuple[str, str] | None:
    """The two numbers of a cell such as ``(1200 350)`` or ``12.7, 25.4``; None where it does not hold two."""
    inner = cell.strip().removeprefix("(").removesuffix(")").strip()
    for separator in (";", ", ", "/", None, ","):
        parts = [part.strip() for part in inner.split(separator)]
        if len(parts) == 2 and all(looks_numeric(part) for part in parts):
            return parts[0], parts[1]
    return None


def _by_rank(columns: Sequence[Column], role: Role, taken: set[int | None], share: object) -> int | None:
    assert callable(share)
    found = [
        (rank, -share(index), index)
        for index, column in enumerate(columns)
        if (rank := column.rank(role)) is not None and index not in taken
    ]
    sure = [item for item in found if item[0] == 0 or -item[1] > 0.5]
    return min(sure)[2] if sure else None


_MOUNTING = {"smd", "smt", "tht", "pth", "th", "npth", "other", "yes", "no", "true", "false", ""}


def _text_column(columns: Sequence[Column], rows: Sequence[RawRow], role: Role, taken: set[int | None]) -> int | None:
    """The best-ranked column of a role that is not blank throughout, nor tells only how parts are mounted."""
    found = []
    for index, column in enumerate(columns):
        rank = column.rank(role)
        if rank is None or index in taken:
            continue
        cells = {cell.strip().casefold() for cell in _cells(rows, index)}
        if cells - (_MOUNTING if role == "part" else {""}):
            found.append((rank, index))
    return min(found)[1] if found else None


def _other_value(columns: Sequence[Column], value: int | None) -> bool:
    """Whether the value stands under *Value* itself, where no package is looked for."""
    return value is not None and columns[value].rank("value") == 0


def _looks_like_packages(columns: Sequence[Column], rows: Sequence[RawRow], taken: set[int | None]) -> int | None:
    for index, column in enumerate(columns):
        likely = (column.rank("value") is not None or not column.known) and index not in taken
        if likely and _share(rows, index, looks_like_package) >= 0.6:
            return index
    return None


def _flag_columns(columns: Sequence[Column], rows: Sequence[RawRow], role: Role) -> tuple[int, ...]:
    """Columns of flags; one under such a heading that holds anything else is none."""
    return tuple(
        index
        for index, column in enumerate(columns)
        if column.rank(role) is not None and all(is_flag(cell) or side_of_word(cell) for cell in _cells(rows, index))
    )


def disagreement_mm(cells: Sequence[str], pair: Pair, rival: Pair) -> float:
    """How far apart two pairs of the same kind place one part; 0 where that cannot be told."""
    distance = 0.0
    for mine, theirs, unit, other in (
        (pair.x, rival.x, pair.unit_x, rival.unit_x),
        (pair.y, rival.y, pair.unit_y, rival.unit_y),
    ):
        a, b = _figure(cells[mine]), _figure(cells[theirs])
        if a is None or b is None:
            return 0.0
        a_mm, b_mm = (a.unit or unit), (b.unit or other)
        if a_mm is None or b_mm is None or a_mm.mm is None or b_mm.mm is None:
            return 0.0
        rounding = _last_digit(cells[mine]) * a_mm.mm + _last_digit(cells[theirs]) * b_mm.mm
        apart = abs(a.value * a_mm.mm - b.value * b_mm.mm)
        distance = max(distance, apart if apart > 0.02 + rounding else 0.0)
    return distance


def differ_without_unit(section: Section, pair: Pair, rival: Pair) -> bool:
    """Whether two pairs hold different numbers and nothing in their columns tells the unit of either."""
    if pair.unit_x is not None or rival.unit_x is not None:
        return False
    for row in section.rows:
        if row.cells is None:
            continue
        for mine, theirs in ((row.cells[pair.x], row.cells[rival.x]), (row.cells[pair.y], row.cells[rival.y])):
            a, b = _figure(mine), _figure(theirs)
            if a is None or b is None or a.unit is not None or b.unit is not None:
                continue
            if abs(a.value - b.value) > _last_digit(mine) + _last_digit(theirs):
                return True
    return False


def _figure(text: str) -> Figure | None:
    return parse_figure(text, "point") or parse_figure(text, "comma")


def _last_digit(text: str) -> float:
    """What one step of a number's last digit is worth."""
    digits = re.match(r"[^.,]*(?:[.,](\d*))?", text.strip())
    return 10.0 ** -len(digits.group(1) or "") if digits is not None else 1.0


def coordinate_texts(sections: Sequence[tuple[Section, Choice]]) -> list[str]:
    """All cells that hold coordinates or angles, from which the style of the numbers is told."""
    texts: list[str] = []
    for section, choice in sections:
        for row in section.rows:
            if row.cells is None or choice.pair is None:
                continue
            if choice.pair.x == choice.pair.y:
                texts += split_pair(row.cells[choice.pair.x]) or ()
            else:
                texts += [row.cells[choice.pair.x], row.cells[choice.pair.y]]
            if choice.rotation is not None:
                texts.append(row.cells[choice.rotation])
    return texts
