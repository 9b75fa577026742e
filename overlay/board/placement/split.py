"""Rows cut at a delimiter: quotes, quotes inside quotes, unescaped inch marks, delimiters inside text."""

from __future__ import annotations

import csv
import itertools
import re
from collections.abc import Callable, Sequence

from overlay.board.placement.headings import Column

DELIMITERS = ("\t", ";", ",", "|", "!", "^", "~")
DELIMITER_NAMES = {
    "\t": "tab",
    "\t+": "runs of tabs",
    ";": "semicolon",
    ",": "comma",
    "|": "bar",
    "!": "exclamation mark",
    "^": "caret",
    "~": "tilde",
    "aligned": "blanks (aligned columns)",
}


def cells_of(text: str, delimiter: str, count: int | None = None) -> list[str]:
    """Cells of one line, without blanks around them.

    Read in turn with quotes by the book, with quotes that end only before a delimiter, and without regard
    to quotes; the first reading of ``count`` cells is taken (without ``count``, the first that is possible).
    """
    if delimiter == "\t+":
        return [_unquoted(cell) for cell in re.split(r"\t+", text.strip())]
    if '"' not in text:
        return [cell.strip() for cell in text.split(delimiter)]
    cells = _quoted_cells(text, delimiter, count)
    # a table that was quoted twice: every word keeps its own quotes
    return [_unquoted(cell) if cell[:1] == cell[-1:] == '"' else cell for cell in cells]


def _quoted_cells(text: str, delimiter: str, count: int | None) -> list[str]:
    first: list[str] | None = None
    for reading in (_by_the_book, _tolerant, _plain):
        cells = reading(text, delimiter)
        if cells is None:
            continue
        if count is None or len(_without_empty_end(cells, count)) == count:
            return cells
        first = first or cells
    return first or []


def _plain(text: str, delimiter: str) -> list[str]:
    return [_unquoted(cell) for cell in text.split(delimiter)]


def _unquoted(cell: str) -> str:
    cell = cell.strip()
    if len(cell) >= 2 and cell[0] == cell[-1] == '"':
        return cell[1:-1].replace('""', '"').strip()
    return cell


def _without_empty_end(cells: list[str], count: int) -> list[str]:
    end = len(cells)
    while end > count and not cells[end - 1].strip():
        end -= 1
    return cells[:end]


def _by_the_book(text: str, delimiter: str) -> list[str] | None:
    try:
        rows = list(csv.reader([text], delimiter=delimiter, skipinitialspace=True, strict=True))
    except csv.Error:
        return None
    # a quote left inside an unquoted cell is an inch mark to this reader; that is right only where it stands alone
    return [cell.strip() for cell in rows[0]] if len(rows) == 1 else None


def _tolerant(text: str, delimiter: str) -> list[str]:
    """A quote opens only at the start of a cell and closes only before a delimiter or the end."""
    cells, position = [], 0
    closing = re.compile(r'"\s*(?:' + re.escape(delimiter) + r"|$)")
    while position <= len(text):
        opening = re.compile(r'[^\S\t]*"').match(text, position)
        match = closing.search(text, opening.end()) if opening else None
        if opening and match:
            # an even run of quotes before a delimiter is an escaped quote inside the text, not its end
            while match and _quotes_before(text, match.start(), opening.end()) % 2 == 1:
                match = closing.search(text, match.start() + 1)
        if opening and match:
            cells.append(text[opening.end() : match.start()].replace('""', '"').strip())
            if not match.group().endswith(delimiter):
                return cells
            position = match.end()
            continue
        end = text.find(delimiter, position)
        if end < 0:
            cells.append(text[position:].strip())
            return cells
        cells.append(text[position:end].strip())
        position = end + 1
    return cells


def _quotes_before(text: str, end: int, start: int) -> int:
    count = 0
    while end - count - 1 >= start and text[end - count - 1] == '"':
        count += 1
    return count


def fitted(
    cells: Sequence[str], columns: Sequence[Column], delimiter: str, fits: Callable[[Sequence[str]], bool]
) -> list[str] | None:
    """Cells brought to the number of columns, None where that can be done in no way or in several.

    Missing cells at the end are blank. Extra ones come from a delimiter inside an unquoted text: each text
    column is tried as the one that holds it, and only a single possibility counts.
    """
    count = len(columns)
    cells = _without_empty_end(list(cells), count)
    if len(cells) <= count:
        return cells + [""] * (count - len(cells))
    extra = len(cells) - count
    found: list[list[str]] = []
    for index, column in enumerate(columns):
        if {"x", "y", "rotation", "refdes", "side", "mirror"} & {role for role, rank in column.roles if rank == 0}:
            continue  # no free text stands there
        glue = delimiter if delimiter != "\t+" else " "
        joined = glue.join(cells[index : index + extra + 1])
        candidate = [*cells[:index], joined, *cells[index + extra + 1 :]]
        if fits(candidate) and candidate not in found:
            found.append(candidate)
    if not found and extra == 1 and fits(cells[:count]) and not _decimal_comma(cells, fits):
        return cells[:count]  # one cell more than headings: the one beyond the last heading has no name
    return found[0] if len(found) == 1 else None


def _decimal_comma(cells: Sequence[str], fits: Callable[[Sequence[str]], bool]) -> bool:
    """Whether the cell too many may come from a decimal comma in a number."""
    return any(
        a.lstrip("+-").isdigit() and b.isdigit() and fits([*cells[:index], f"{a},{b}", *cells[index + 2 :]])
        for index, (a, b) in enumerate(itertools.pairwise(cells))
    )
