"""A row of a CSV table filled in by hand: every other byte of the file stays as it is."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from typing import Literal

from overlay.tables import DELIMITERS, decode_text

Row = tuple[int, int, list[str]]  # first and last physical line (from 0), cells


def filled(data: bytes, file: str, known: Sequence[str], line: int | None, cells: Mapping[str, str]) -> bytes:
    """The table with some cells of one row written.

    Parameters
    ----------
    data
        The file as it is; empty for a table that is begun here.
    known
        Headings the table may have, in the order in which a new one gets them.
    line
        Line (from 1) at which the row begins; None adds a row at the end.
    cells
        What to write, by heading. A heading the table lacks is added to its first row.

    Raises
    ------
    InputError
        Where the file is not text.
    """
    encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    decode_text(data, file)  # says what is wrong with it
    text = data.decode(encoding)
    end = "\r\n" if "\r\n" in text else "\n"
    delimiter = _delimiter(text, known)
    rows = _rows(text, delimiter)
    if not rows:
        columns = [name for name in known if name in cells]
        begun = _line(columns, ",") + end + _line([cells[name] for name in columns], ",") + end
        head = text if not text or text.endswith(("\n", "\r")) else text + end
        return (head + begun).encode("utf-16" if encoding == "utf-16" else "utf-8")
    lines = re.split(r"(?<=\n)|(?<=\r)(?!\n)", text)
    if lines and not lines[-1]:
        lines.pop()
    first, last, heading = rows[0]
    names = [_normal(cell) for cell in heading]
    missing = [name for name in known if name in cells and name not in names]
    changed: dict[int, tuple[int, str]] = {}
    if missing:
        # trailing blanks of a heading row would swallow the new names
        changed[first] = (last, lines[first].rstrip("\r\n") + delimiter + delimiter.join(missing) + _end(lines[last]))
        names += missing
    if line is not None:
        begin, finish, old = next(row for row in rows[1:] if row[0] == line - 1)
        new = [*old, *[""] * (len(names) - len(old))]
        for name, value in cells.items():
            new[names.index(name)] = value
        changed[begin] = (finish, _line(new, delimiter) + _end(lines[finish]))
    parts: list[str] = []
    index = 0
    while index < len(lines):
        if index in changed:
            finish, replacement = changed[index]
            parts.append(replacement)
            index = finish + 1
        else:
            parts.append(lines[index])
            index += 1
    if line is None:
        if parts and not parts[-1].endswith(("\n", "\r")):
            parts.append(end)
        parts.append(_line([cells.get(name, "") for name in names], delimiter) + end)
    bom = data[:3] == b"\xef\xbb\xbf"
    return "".join(parts).encode("utf-16" if encoding == "utf-16" else "utf-8-sig" if bom else "utf-8")


def _rows(text: str, delimiter: str) -> list[Row]:
    """Rows that are neither blank nor comments, with the physical lines they stand on."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    kept = "\n".join("" if line.lstrip().startswith("#") else line for line in plain.split("\n"))
    reader = csv.reader(io.StringIO(kept), delimiter=delimiter, skipinitialspace=True)
    rows: list[Row] = []
    start = 0
    for cells in reader:
        if any(cell.strip() for cell in cells):
            rows.append((start, reader.line_num - 1, cells))
        start = reader.line_num
    return rows


def _delimiter(text: str, known: Sequence[str]) -> str:
    heading = next((line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")), "")
    return max(DELIMITERS, key=lambda one: sum(_normal(cell.strip(' "')) in known for cell in heading.split(one)))


def _line(cells: Sequence[str], delimiter: str) -> str:
    text = io.StringIO()
    # a row that began with a bare # would be a comment
    comment = cells[0].lstrip().startswith("#")
    quoting: Literal[0, 1] = csv.QUOTE_ALL if comment else csv.QUOTE_MINIMAL
    csv.writer(text, delimiter=delimiter, lineterminator="\n", quoting=quoting).writerow(cells)
    return text.getvalue()[:-1]


def _end(line: str) -> str:
    return line[len(line.rstrip("\r\n")) :]


def _normal(heading: str) -> str:
    return heading.strip().lower().replace(" ", "_")
