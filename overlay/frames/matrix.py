"""Frames as text: a matrix of numbers, delimiter and decimal sign found from the text itself."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, read_only
from overlay.errors import Problem, input_error, raise_errors
from overlay.frames.text_layout import TextLayout, layout_of
from overlay.tables import parse_number

_SHOWN = 12  # problems named one by one
_NOT_NUMBERS = re.compile(r"[^0-9eE+\-.,;\t \n]")
_CLEAN = "write only numbers, and start lines of remarks with #"
_DELIMITER_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", " ": "blank"}


@dataclass(frozen=True, slots=True, eq=False)
class TextMatrix:
    """The numbers of a text matrix (rows, cols), the unit that the file states for them, and how it was understood."""

    values: Array
    unit: str | None  # °C, K or °F
    notes: tuple[str, ...]

    def __post_init__(self) -> None:
        read_only(self)


def matrix_from_text(data: bytes, file: str) -> TextMatrix:
    """The numbers of a text matrix, (rows, cols).

    Cells are parted by tabs, semicolons, commas or blanks; numbers may have a decimal comma where commas do not
    part cells. Lines that start with ``#`` are remarks; so are lines of words before the matrix. Row and column
    numbers and units behind numbers are taken off.

    Raises
    ------
    InputError
        With line and column of every cell that is no number (the first dozen), of rows of unequal length, and
        where the text could be understood in two ways.
    """
    lines = layout_of(_text(data, file), file)
    values = _values(lines, file)
    _refuse_split_decimals(values, lines, file)
    return TextMatrix(values, lines.unit, lines.notes)


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


def _values(lines: TextLayout, file: str) -> Array:
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


def _cell_problem(file: str, number: int, column: int, cell: str, lines: TextLayout) -> Problem:
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


def _refuse_split_decimals(values: Array, lines: TextLayout, file: str) -> None:
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
