"""How a text matrix is laid out: headings, delimiter, decimal sign, units, and numbers of rows and columns.

Whatever is not a temperature is taken off only where nothing else can be meant, and every step is told in a note.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from overlay.errors import input_error
from overlay.frames.size import LARGEST_SIDE_PX
from overlay.tables import parse_number

# Lines before the matrix that may be a heading; a file with more is no export of a frame.
_MOST_HEADINGS = 200
# Share of a line's cells that must be numbers for it to be a row of the matrix. A bad cell is named, not passed over.
_NUMERIC_SHARE = 0.5

_UNITS = {"c": "°C", "k": "K", "f": "°F"}
_SUFFIX = re.compile(r"\s*(?:°\s*|º\s*|deg\.?\s*)?([CKF])\s*$|\s*([℃℉])\s*$", re.IGNORECASE)
# A unit stated for the whole: its name, or a sign that does not stand behind a number ("reflected 23 °C" is none).
_NAMED = re.compile(r"\b(kelvin|fahrenheit|celsius)\b", re.IGNORECASE)
_SIGN = re.compile(
    r"(?<![\d.,])(?<![\d.,]\s)(?:°|º|deg\.?\s?)\s?([CF])\b|(?<![\d.,])(?<![\d.,]\s)([℃℉])", re.IGNORECASE
)
_BRACKET = re.compile(r"[\[(]\s*(?:°|º)?\s*([CKF])\s*[\])]")
_STATED = re.compile(r"\b(?:units?|einheit|unité|unidad)\b\W*(?:°|º)?\s*([CKF])\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class TextLayout:
    """Cells by line; ``numbers`` are lines of the file, from 1."""

    numbers: tuple[int, ...]
    cells: tuple[tuple[str, ...], ...]
    delimiter: str
    decimal_comma: bool
    unit: str | None = None  # °C, K or °F, where the file states one
    notes: tuple[str, ...] = ()


def layout_of(text: str, file: str) -> TextLayout:
    """Split a text into the cells of its matrix.

    Raises
    ------
    InputError
        Where there are no numbers, quotes do not match, or the file states two units.
    """
    lines = list(enumerate(text.split("\n"), start=1))
    remarks = [line for _, line in lines if line.lstrip().startswith("#")]
    numbered = [(number, line) for number, line in lines if line.strip() and not line.lstrip().startswith("#")]
    if not numbered:
        raise input_error(file, None, "holds no numbers", "give a matrix of temperatures")
    _refuse_too_large(numbered, file)
    delimiter = _delimiter_of([line for _, line in numbered])
    cells = [_split(line, delimiter, number, file) for number, line in numbered]
    first = _first_row(cells)
    headings = [numbered[index][1].strip() for index in range(first)]
    body = cells[first:]
    if sum(not row[-1].strip() for row in body if len(row) > 1) > 0.5 * len(body):  # lines end with a delimiter
        body = [row[:-1] if len(row) > 1 and not row[-1].strip() else row for row in body]
    decimal_comma = any("," in cell for row in body for cell in row)
    found = TextLayout(tuple(number for number, _ in numbered[first:]), tuple(body), delimiter, decimal_comma)
    if headings:
        note = f"{_lines_of(headings)} before the matrix in {file} passed over: “{_shown(headings[0])}”"
        found = replace(found, notes=(note,))
    found = _without_numbering(found, file)
    return _without_units(found, [*remarks, *headings], file)


def _refuse_too_large(lines: Sequence[tuple[int, str]], file: str) -> None:
    """Count rows and columns before they are cut into cells, which takes a hundred times their memory."""
    remedy = f"a frame has at most {LARGEST_SIDE_PX} pixels a side; crop it"
    if len(lines) > LARGEST_SIDE_PX + _MOST_HEADINGS:
        raise input_error(file, None, f"holds {len(lines):,} rows", remedy)
    for number, line in lines:
        columns = max(line.count(sign) for sign in ("\t", ";", ",", " "))
        # blanks may stand in runs, commas within numbers
        if columns > 2 * LARGEST_SIDE_PX and len(line.replace(",", " ").split()) > 2 * LARGEST_SIDE_PX:
            raise input_error(file, number, f"holds some {columns:,} cells in one row", remedy)


def _delimiter_of(body: Sequence[str]) -> str:
    """The delimiter that most lines have; among several the one that cannot be a decimal sign."""
    common = [sign for sign in "\t;," if 2 * sum(sign in line.strip(" ") for line in body) > len(body)]
    if common and common[0] != ",":
        return common[0]
    return "," if common and 2 * sum(map(_is_blank_parted, body)) <= len(body) else " "


def _is_blank_parted(line: str) -> bool:
    """Whether a line reads as numbers with decimal commas and blanks between them."""
    cells = line.split()
    return len(cells) > 1 and all(re.fullmatch(r"[+-]?\d+(,\d+)?([eE][+-]?\d+)?", cell) for cell in cells)


def _split(line: str, delimiter: str, number: int, file: str) -> tuple[str, ...]:
    if delimiter == " ":
        return tuple(line.split())
    if '"' not in line:
        return tuple(line.split(delimiter))
    try:
        return tuple(next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), []))
    except csv.Error as error:
        raise input_error(file, number, f"cannot be split into cells ({error})", "check its quotes") from None


def _first_row(cells: Sequence[Sequence[str]]) -> int:
    """Index of the first line of the matrix: the lines before it hold words, and hardly a number."""
    width = Counter(len([cell for cell in row if cell.strip()]) for row in cells).most_common(1)[0][0]
    for index, row in enumerate(cells[:_MOST_HEADINGS]):
        filled = [cell for cell in row if cell.strip()]
        numeric = [cell for cell in filled if _number(cell) is not None]
        worded = any(re.search(r"[^\W\d_]{2,}|[\[(]", cell) for cell in filled)
        # a row of the matrix that lacks cells or holds a wrong one is named by its line, not taken for a heading
        if not worded or (len(filled) >= width - 1 and len(numeric) > _NUMERIC_SHARE * len(filled)):
            return index
    return 0


def _number(cell: str) -> float | None:
    text = cell.strip().strip('"')
    return parse_number(_SUFFIX.sub("", text), decimal_comma=True)


def _without_numbering(found: TextLayout, file: str) -> TextLayout:
    """Take off row and column numbers: they count by one from 0 or 1, which no temperatures do."""
    notes = list(found.notes)
    cells, numbers = found.cells, found.numbers
    if len(cells) > 2 and len(cells[0]) > 2:
        corner = cells[0][0].strip()
        words = not corner or _number(corner) is None
        counted = cells[0][1:] if words or (len(cells[0]) == len(cells[1]) and _counts(cells[0][1:])) else cells[0]
        if _counts(counted) and not _ascends_by_one(cells[1][-len(counted) :]):
            notes.append(f"the first row of {file} counts its columns and was taken off")
            cells, numbers = cells[1:], numbers[1:]
    column = [row[0] for row in cells]
    wide = Counter(len(row) for row in cells).most_common(1)[0][0]
    second = [row[1] if len(row) > 1 else "" for row in cells]
    if len(cells) > 2 and wide > 2 and _counts(column) and not _ascends_by_one(second):
        notes.append(f"the first column of {file} counts its rows and was taken off")
        cells = tuple(row[1:] for row in cells)
    return replace(found, cells=cells, numbers=numbers, notes=tuple(notes))


def _counts(cells: Sequence[str]) -> bool:
    """Whether cells are 0, 1, 2 … or 1, 2, 3 …"""
    return len(cells) > 1 and _number(cells[0]) in (0.0, 1.0) and _ascends_by_one(cells)


def _ascends_by_one(cells: Sequence[str]) -> bool:
    values = [_number(cell) for cell in cells]
    return bool(values) and all(a is not None and b is not None and b - a == 1.0 for a, b in pairwise(values))


def _without_units(found: TextLayout, words: Sequence[str], file: str) -> TextLayout:
    """Take units off the cells, and find what unit the file states."""
    units = _stated_units(words)
    cells = found.cells
    with_unit = [row for row in cells for cell in row[:1] if _SUFFIX.search(cell.strip())]
    if with_unit:
        ends = {_unit_of(match) for row in cells for cell in row if (match := _SUFFIX.search(cell.strip())) is not None}
        units |= ends
        cells = tuple(tuple(_SUFFIX.sub("", cell.strip()) for cell in row) for row in cells)
    if len(units) > 1:
        remedy = "state one unit only, or convert the values and take the others out"
        raise input_error(file, None, f"states its temperatures in {' and in '.join(sorted(units))}", remedy)
    unit = next(iter(units), None)
    notes = found.notes
    if with_unit:
        notes = (*notes, f"units in the cells of {file} were taken off ({unit})")
    return replace(found, cells=cells, unit=unit, notes=notes)


def _stated_units(words: Sequence[str]) -> set[str]:
    found: set[str] = set()
    for line in words:
        for match in _STATED.finditer(line):
            return {_UNITS[match[1].lower()]}
        found |= {_UNITS[match[1][0].lower()] for match in _NAMED.finditer(line)}
        found |= {_unit_of(match) for match in _SIGN.finditer(line)}
        found |= {_UNITS[match[1].lower()] for match in _BRACKET.finditer(line)}
    return found


def _unit_of(match: re.Match[str]) -> str:
    letter = match[1] or {"℃": "c", "℉": "f"}[match[2]]
    return _UNITS[letter.lower()]


def _lines_of(headings: Sequence[str]) -> str:
    return "one line" if len(headings) == 1 else f"{len(headings)} lines"


def _shown(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"
