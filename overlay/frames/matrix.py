"""Frames as text: a matrix of numbers, delimiter and decimal sign found from the text itself."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from overlay.errors import Problem, input_error, raise_errors
from overlay.frames.frame import Array
from overlay.tables import parse_number

_SHOWN = 12  # problems named one by one
_NOT_NUMBERS = re.compile(r"[^0-9eE+\-.,;\t \n]")
_CLEAN = "write only numbers, and start lines of remarks with #"
_DELIMITER_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", " ": "blank"}


@dataclass(frozen=True, slots=True)
class _Lines:
    """Cells by line, comments and blank lines left out; ``numbers`` are lines of the file, from 1."""

    numbers: tuple[int, ...]
    cells: tuple[tuple[str, ...], ...]
    delimiter: str
    decimal_comma: bool


def pixels_from_text(data: bytes, file: str) -> Array:
    """The numbers of a text matrix, (rows, cols).

    Cells are parted by tabs, semicolons, commas or blanks; numbers may have a decimal comma where commas do not
    part cells. Lines that start with ``#`` are remarks. Row and column numbers are passed over where the corner
    cell is blank or a word, so that nothing else can be meant.

    Raises
    ------
    InputError
        With line and column of every cell that is no number (the first dozen), of rows of unequal length, and
        where the text could be understood in two ways.
    """
    lines = _split(_text(data, file), file)
    lines = _without_numbering(lines, file)
    values = _values(lines, file)
    _refuse_split_decimals(values, lines, file)
    return values


def _text(data: bytes, file: str) -> str:
    # a degree sign in a remark is no reason to refuse the numbers: any other 8-bit text will do
    encodings = ["utf-16"] if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ["utf-8-sig", "latin-1"]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if sum(character < " " and character not in "\t\n\r\f\v\x1a" for character in text[:4096]) == 0:
            return text.replace("\r\n", "\n").replace("\r", "\n").replace("\N{MINUS SIGN}", "-").rstrip("\x1a")
    what = "is neither a text matrix nor .npy, PNG or TIFF"
    raise input_error(file, None, what, "export the temperatures in one of these formats")


def _split(text: str, file: str) -> _Lines:
    numbered = [
        (number, line)
        for number, line in enumerate(text.split("\n"), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not numbered:
        raise input_error(file, None, "holds no numbers", "give a matrix of temperatures")
    body = [line for _, line in numbered]
    # the delimiter is the one that most lines have; among equals the one that cannot be a decimal sign
    counts = {delimiter: sum(delimiter in line.strip(" ") for line in body) for delimiter in "\t;,"}
    delimiter = max(counts, key=lambda key: (counts[key], -"\t;,".index(key)))
    if counts[delimiter] == 0 or (delimiter == "," and all(_is_blank_parted(line) for line in body[:50])):
        delimiter = " "
    if delimiter == " ":
        cells = [tuple(line.split()) for line in body]
    elif any('"' in line for line in body):
        try:
            cells = [tuple(next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])) for line in body]
        except csv.Error as error:
            raise input_error(file, None, f"cannot be split into cells ({error})", "check its quotes") from None
    else:
        cells = [tuple(line.split(delimiter)) for line in body]
    if all(len(row) > 1 and not row[-1].strip() for row in cells):
        cells = [row[:-1] for row in cells]  # every line ends with a delimiter
    decimal_comma = any("," in cell for row in cells for cell in row)
    return _Lines(tuple(number for number, _ in numbered), tuple(cells), delimiter, decimal_comma)


def _is_blank_parted(line: str) -> bool:
    """Whether a line reads as numbers with decimal commas and blanks between them."""
    cells = line.split()
    return len(cells) > 1 and all(re.fullmatch(r"[+-]?\d+(,\d+)?([eE][+-]?\d+)?", cell) for cell in cells)


def _without_numbering(lines: _Lines, file: str) -> _Lines:
    """Take off row and column numbers where they are sure; refuse where they are likely."""
    first = lines.cells[0]
    if len(first) < 3 or len(lines.cells) < 3:
        return lines
    column = [row[0] for row in lines.cells]
    corner = first[0].strip()
    is_word = not corner or parse_number(corner, decimal_comma=True) is None
    if is_word and _counts(first[1:]) and _counts(column[1:]):
        kept = tuple(row[1:] for row in lines.cells[1:])
        return _Lines(lines.numbers[1:], kept, lines.delimiter, lines.decimal_comma)
    if _counts(first) and not _ascends_by_one(lines.cells[1]):
        what = "the first row counts 0, 1, 2 …: these look like column numbers, not temperatures"
        raise input_error(file, lines.numbers[0], what, "remove that row, or put # before it")
    if _counts(column) and not _ascends_by_one([row[1] if len(row) > 1 else "" for row in lines.cells]):
        what = "the first column counts 0, 1, 2 …: these look like row numbers, not temperatures"
        raise input_error(file, lines.numbers[0], what, "remove that column")
    return lines


def _counts(cells: Sequence[str]) -> bool:
    """Whether cells are 0, 1, 2 … or 1, 2, 3 …"""
    return cells[0].strip().strip('"') in ("0", "1") and _ascends_by_one(cells)


def _ascends_by_one(cells: Sequence[str]) -> bool:
    values = [parse_number(cell.strip().strip('"'), decimal_comma=True) for cell in cells]
    return bool(values) and all(a is not None and b is not None and b - a == 1.0 for a, b in pairwise(values))


def _values(lines: _Lines, file: str) -> Array:
    width, _ = Counter(len(row) for row in lines.cells).most_common(1)[0]
    joined = "\n".join(lines.delimiter.join(row) for row in lines.cells)
    if not _NOT_NUMBERS.search(joined) and not (lines.decimal_comma and "." in joined):
        try:  # only signs of numbers are left: float() can then take nothing that is none
            values: Array = np.array(
                [[float(cell.replace(",", ".")) for cell in row] for row in lines.cells if len(row) == width]
            )
            if len(values) == len(lines.cells) and np.isfinite(values).all():
                return values
        except ValueError:
            pass  # the slow way says where
    problems: list[Problem] = []
    slow: list[list[float]] = []
    for number, row in zip(lines.numbers, lines.cells, strict=True):
        if len(row) != width:
            what = f"has {len(row)} cell{'s' * (len(row) != 1)} where most rows have {width}"
            remedy = "make all rows equally long, and start lines of remarks with #"
            problems.append(Problem("error", file, number, what, remedy))
            continue
        numbers = [parse_number(cell, decimal_comma=lines.decimal_comma) for cell in row]
        slow.append([np.nan if value is None else value for value in numbers])
        for column, (cell, value) in enumerate(zip(row, numbers, strict=True), start=1):
            if value is None or (lines.decimal_comma and "." in cell):
                problems.append(_cell_problem(file, number, column, cell.strip(), lines))
    raise_errors(_shortened(problems, file))
    return np.array(slow, dtype=np.float64)


def _cell_problem(file: str, number: int, column: int, cell: str, lines: _Lines) -> Problem:
    if not cell:
        return Problem("error", file, number, f"column {column} is blank", "fill in the temperature", str(column), cell)
    shown = cell if len(cell) <= 30 else cell[:27] + "…"
    if lines.decimal_comma and "." in cell:
        remedy = "other cells have a decimal comma: use one decimal sign, and none for thousands"
    elif cell.lower() in ("nan", "inf", "-inf", "+inf", "-nan"):
        remedy = "fill dead pixels with the mean of their neighbours"
    else:
        remedy = _CLEAN
    what = f"column {column}: {shown!r} is not a number (cells are parted by {_DELIMITER_NAMES[lines.delimiter]}s)"
    return Problem("error", file, number, what, remedy, str(column), shown)


def _shortened(problems: list[Problem], file: str) -> list[Problem]:
    if len(problems) <= _SHOWN:
        return problems
    rest = f"{len(problems) - _SHOWN} more such cells or rows follow"
    return [*problems[:_SHOWN], Problem("error", file, None, rest, "mend the first ones and try again")]


def _refuse_split_decimals(values: Array, lines: _Lines, file: str) -> None:
    """Refuse ``23,4,23,5``: decimal commas between commas, which read as twice the columns.

    Then whole numbers and decimals take turns: neighbours differ far more than every other cell does.
    """
    rows, cols = values.shape
    if lines.delimiter != "," or cols % 2 or cols < 4 or rows < 2 or np.any(values != np.round(values)):
        return
    padded = any(re.fullmatch(r"0\d+", cell.strip()) for row in lines.cells for cell in row)
    beside = np.abs(values[:, 1:] - values[:, :-1]).mean()
    whole = np.abs(values[:, 2::2] - values[:, :-2:2]).mean()
    if padded or (beside > 3.0 * whole and beside > 3.0):
        what = "decimal commas and commas between cells cannot be told apart"
        raise input_error(file, lines.numbers[0], what, "part the cells by semicolons or tabs, or use decimal points")
