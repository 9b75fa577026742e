"""CSV and XLSX tables whose cells remember where they stood."""

from __future__ import annotations

import csv
import difflib
import hashlib
import io
import math
import os
import re
import stat
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from overlay.errors import InputError, Problem, input_error, raise_errors
from overlay.files import note_input, note_problem
from overlay.workbooks import SUFFIXES, is_workbook, workbook_sheets

DELIMITERS = (",", ";", "\t")
# The largest frame allowed (overlay.frames.size) as text, sixteen characters a value; nothing else comes near.
MOST_BYTES = 1_000_000_000
_NUMBER = re.compile(
    r"[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d+)?", re.IGNORECASE
)  # one way only to match: linear in the digits


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its line in the file (counting from 1) and its cells by heading."""

    file: str
    line: int
    cells: dict[str, str]
    decimal_comma: bool

    def text(self, column: str) -> str:
        """The cell without blanks around it; empty where the column or the cell is missing."""
        return self.cells.get(column, "").strip()

    def number(
        self,
        column: str,
        problems: list[Problem],
        *,
        low: float = -math.inf,
        high: float = math.inf,
        required: bool = False,
    ) -> float | None:
        """The cell as a finite number within ``low`` … ``high``, None where it is blank.

        What cannot be used is added to ``problems`` and None is returned.
        """
        text = self.text(column)
        if not text:
            if required:
                problems.append(self.problem(column, "is empty", "write a number"))
            return None
        value = parse_number(text, decimal_comma=self.decimal_comma)
        if value is None:
            problems.append(self.problem(column, "is not a number", "write a plain number such as 12.5"))
            return None
        if not low <= value <= high:
            span = f"{low:g} to {high:g}" if math.isfinite(high) else f"{low:g} or more"
            problems.append(self.problem(column, f"is out of range ({span})", "correct the value or its unit"))
            return None
        return value

    def problem(self, column: str, what: str, remedy: str) -> Problem:
        """An error at this row's cell."""
        text = self.text(column)
        shown = f"{column} {text!r} {what}" if text else f"{column} {what}"
        return Problem("error", self.file, self.line, shown, remedy, column, text)


@dataclass(frozen=True, slots=True)
class Table:
    """A table with its headings in lower case."""

    file: str
    headings: tuple[str, ...]
    heading_line: int
    rows: tuple[Row, ...]


def parse_number(text: str, *, decimal_comma: bool = False) -> float | None:
    """Read a plain finite number; None for anything else (``nan``, ``1_000``, units).

    >>> parse_number(" -.5 "), parse_number("12,5", decimal_comma=True), parse_number("1_0")
    (-0.5, 12.5, None)
    """
    text = text.strip().replace("\N{MINUS SIGN}", "-")
    if decimal_comma and text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    if not _NUMBER.fullmatch(text):
        return None
    value = float(text)
    return value if math.isfinite(value) else None


def read_bytes(path: Path, file: str) -> bytes:
    """The bytes of a regular file; an `InputError` that names the file as the user wrote it."""
    with _named(file):
        _check_regular(path, file)
        data = path.read_bytes()
    note_input(file, hashlib.sha256(data).hexdigest())
    return data


@contextmanager
def opened(path: Path, file: str) -> Iterator[BinaryIO]:
    """A regular file to be read piece by piece, for what would fill the memory as a whole.

    Its digest is noted beforehand; raises as `read_bytes`, and also where the file changes meanwhile.
    """
    with _named(file):
        _check_regular(path, file)
        with path.open("rb") as stream:
            before = os.fstat(stream.fileno())
            note_input(file, hashlib.file_digest(stream, "sha256").hexdigest())
            stream.seek(0)
            yield stream
            after = os.fstat(stream.fileno())
    if (before.st_mtime_ns, before.st_size) != (after.st_mtime_ns, after.st_size):
        raise input_error(file, None, "changed while it was read", "wait until it is written, and try again")


@contextmanager
def _named(file: str) -> Iterator[None]:
    """What the system has against a file, with the file's name as the user wrote it."""
    try:
        yield
    except InputError:
        raise
    except FileNotFoundError:
        raise input_error(file, None, "no such file", "correct the name or put the file there") from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise input_error(file, None, f"cannot be read ({reason})", "check the file and its permissions") from None


def _check_regular(path: Path, file: str) -> None:
    try:
        status = path.stat()
    except ValueError as error:  # a name that no file can have
        raise input_error(file, None, f"cannot be a file's name ({error})", "correct the name") from None
    if not stat.S_ISREG(status.st_mode):  # a device never ends, a pipe waits for ever
        raise input_error(file, None, "is no regular file", "name the file itself")
    if status.st_size > MOST_BYTES:
        what = f"is {status.st_size / 1e6:.0f} MB large"
        raise input_error(file, None, what, f"give at most {MOST_BYTES / 1e6:.0f} MB")


def decode_text(data: bytes, file: str) -> str:
    """Text of a table of this project's own: UTF-8 or UTF-16, told by BOM; line ends become ``\\n``."""
    encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise input_error(file, line, "is not UTF-8 text", "save the table as CSV in UTF-8") from None
    if "\0" in text:
        raise input_error(file, None, "holds NUL characters, so it is no text", "save the table as CSV in UTF-8")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def read_table(path: Path, file: str, known: Sequence[str], required: Sequence[str] = ()) -> Table:
    """Read a table with a heading row: CSV, or a spreadsheet whatever its name.

    Parameters
    ----------
    path, file
        Where it lies, and its name for messages.
    known, required
        Headings that may and that must be there (matched without regard to case and blanks).

    Raises
    ------
    InputError
        With every problem of the file's form: unknown or repeated headings, missing ones, rows that are too long.
    """
    data = read_bytes(path, file)
    if is_workbook(data) or path.suffix.lower() in SUFFIXES:
        lines, decimal_comma = _workbook_lines(data, file), False
    else:
        text = decode_text(data, file)
        lines, delimiter = _csv_lines(text, file, known)
        decimal_comma = delimiter != ","
        if len(lines) > 1:
            note_line_end(text, file)
            _note_short_row(lines, file)
    if not lines:
        raise input_error(file, None, "has no heading row", f"start it with the headings {', '.join(known)}")
    heading_line, first = lines[0]
    headings = tuple(_normal(cell) for cell in first)
    problems = _heading_problems(file, heading_line, headings, known, required)
    rows = []
    for line, cells in lines[1:]:
        if len(cells) > len(headings) and any(cell.strip() for cell in cells[len(headings) :]):
            what = f"the row has {len(cells)} cells, the heading {len(headings)}"
            problems.append(Problem("error", file, line, what, "put quotes around cells that hold the delimiter"))
            continue
        named = {heading: cell for heading, cell in zip(headings, cells, strict=False) if heading}
        rows.append(Row(file, line, named, decimal_comma))
    raise_errors(problems)
    return Table(file, headings, heading_line, tuple(rows))


def note_line_end(text: str, file: str) -> None:
    """Note a warning where the last row has no line end: a number that lost digits reads like any other."""
    last = text.rpartition("\n")[2].strip()
    if last and not last.startswith("#"):
        _note_cut(file, text.count("\n") + 1, "the last row has no line end")


def _note_short_row(lines: Sequence[tuple[int, list[str]]], file: str) -> None:
    """Note a warning where the last row has fewer cells than all others have."""
    line, cells = lines[-1]
    usual = {len(row) for _, row in lines[:-1]}
    if len(usual) == 1 and len(cells) < min(usual):
        _note_cut(file, line, f"the last row has {len(cells)} cells, all others have {min(usual)}")


def _note_cut(file: str, line: int, what: str) -> None:
    remedy = "compare it with the original, and end the last row with a line end"
    note_problem(Problem("warning", file, line, f"{what}: the file may be cut off there", remedy))


def _normal(heading: str) -> str:
    return heading.strip().lower().replace(" ", "_")


def _heading_problems(
    file: str, line: int, headings: Sequence[str], known: Sequence[str], required: Sequence[str]
) -> list[Problem]:
    problems = []
    for index, heading in enumerate(headings):
        if heading and heading not in known:
            near = difflib.get_close_matches(heading, known, 1)
            remedy = f"did you mean {near[0]!r}?" if near else f"known headings are {', '.join(known)}"
            problems.append(Problem("error", file, line, f"unknown heading {heading!r}", remedy, heading, heading))
        if heading and heading in headings[:index]:
            problems.append(Problem("error", file, line, f"heading {heading!r} stands twice", "keep one of them"))
    for heading in required:
        if heading not in headings:
            problems.append(Problem("error", file, line, f"heading {heading!r} is missing", "add that column"))
    return problems


def _csv_lines(text: str, file: str, known: Sequence[str]) -> tuple[list[tuple[int, list[str]]], str]:
    """Rows that are neither blank nor comments, with their lines, and the delimiter that suits the heading best."""
    heading = next((line for line in text.split("\n") if line.strip() and not line.lstrip().startswith("#")), "")

    def known_cells(delimiter: str) -> int:
        return sum(_normal(cell.strip(' "')) in known for cell in heading.split(delimiter))

    delimiter = max(DELIMITERS, key=known_cells)
    # comment lines are blanked rather than dropped: line numbers stay those of the file
    kept = "\n".join("" if line.lstrip().startswith("#") else line for line in text.split("\n"))
    reader = csv.reader(io.StringIO(kept), delimiter=delimiter, skipinitialspace=True, strict=True)
    lines: list[tuple[int, list[str]]] = []
    start = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                lines.append((start, cells))
            start = reader.line_num + 1
    except csv.Error as error:
        what = f"cannot be split into cells ({error})"
        raise input_error(file, start, what, "check the quotes of that row") from None
    return lines, delimiter


def _workbook_lines(data: bytes, file: str) -> list[tuple[int, list[str]]]:
    """Rows of a workbook's first sheet that are neither blank nor comments."""
    lines = []
    for _, rows in workbook_sheets(data, file, first_only=True):
        for line, cells in enumerate(rows, start=1):
            filled = [cell for cell in cells if cell]
            if filled and not filled[0].startswith("#"):
                lines.append((line, cells))
    return lines


__all__ = ["InputError", "Problem", "Row", "Table", "decode_text", "parse_number", "read_bytes", "read_table"]
