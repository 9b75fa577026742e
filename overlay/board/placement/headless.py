"""Placement tables without any heading: columns told by what stands in them, where that leaves no doubt."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from overlay.board.placement.aligned import blank_parted, sliced, tokens_of
from overlay.board.placement.contents import (
    NEARLY_ALL,
    column_named,
    column_roles,
    is_angle,
    is_round_angle,
    may_be_name,
    place_columns,
    share,
)
from overlay.board.placement.cut import RULER, Cut, RawRow, Section, SideInForce
from overlay.board.placement.headings import Column
from overlay.board.placement.marks import looks_like_package, looks_like_refdes, looks_like_value
from overlay.board.placement.numbers import looks_numeric
from overlay.board.placement.sides import side_of_word, stated_side
from overlay.board.placement.split import cells_of
from overlay.board.placement.text import Line, Sheet
from overlay.board.placement.units import stated_unit

_FEWEST_ROWS = 3  # fewer lines are a table only where their names look like designators


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a table without a heading cannot be read, and its first line."""

    line: int
    doubt: str


_Cells = list[str]


def cut_without_heading(sheet: Sheet) -> Cut | Doubt | None:
    """Cut a sheet that has no heading; a doubt where it looks like a placement, None where it does not."""
    container, rows = _rows(sheet)
    if not rows:
        return None
    first = rows[0][0].number
    above = [line for line in sheet.lines if line.number < first and line.text.strip()]
    if above and _is_heading(_cells(above[-1], container), rows[0][1]):
        return Doubt(above[-1].number, f"the words above the rows are not understood ({above[-1].text.strip()[:60]!r})")
    table = (_in_columns(rows) or _blank_separated(rows)) if container == "aligned" else _delimited(rows)
    if isinstance(table, str):
        return Doubt(first, table)
    columns, cells_by_line = table
    cut, section, in_force = Cut(container), Section(first, columns), None
    for line in sheet.lines:
        if line.number in cells_by_line:
            section.rows.append(RawRow(line.number, line.text, tuple(cells_by_line[line.number]), in_force))
            continue
        if not line.text.strip() or RULER.match(line.text):
            continue
        said = stated_side(line.text)
        if said is not None:
            in_force = None if said == "both" else SideInForce(said, line.number, line.text.strip())
        if (
            said is None and stated_unit(line.text) is None and line.number > first and _holds_numbers(line, container)
        ) or (line.number > first and looks_like_refdes(tokens_of(line.text)[0].text.strip('",;'))):
            cut.lost.append(line)
        else:
            cut.prose.append(line)
    cut.sections.append(section)
    return cut


def _holds_numbers(line: Line, container: str) -> bool:
    return sum(map(looks_numeric, _cells(line, container))) >= 2


def _rows(sheet: Sheet) -> tuple[str, list[tuple[Line, _Cells]]]:
    """The way of cutting that finds most rows, and those; a delimiter wins over blanks."""
    best: tuple[str, list[tuple[Line, _Cells]]] = ("", [])
    in_cells = bool(sheet.lines) and sheet.lines[0].cells is not None
    for container in ("cells",) if in_cells else ("\t", ";", ",", "|", "!", "aligned"):
        rows = [(line, cells) for line in sheet.lines if _is_row(cells := _cells(line, container))]
        widths = {len(cells) for _, cells in rows}
        if container != "aligned" and len(widths) > 3:
            continue  # commas within a text
        if len(rows) > len(best[1]):
            best = container, rows
    container, rows = best
    named = [row for row in rows if any(looks_like_refdes(cell) for cell in row[1][:3])]
    return (container, rows) if len(named) > 0 or len(rows) >= _FEWEST_ROWS else ("", [])


def _cells(line: Line, container: str) -> _Cells:
    if line.cells is not None:
        return list(line.cells)
    if container == "aligned":
        return [word.text.strip('"') for word in tokens_of(line.text)]
    return cells_of(line.text, container)


def _is_row(cells: Sequence[str]) -> bool:
    """A name, two numbers for its place, and one thing more."""
    filled = [cell for cell in cells if cell]
    numbers = sum(map(looks_numeric, filled))
    named = any(may_be_name(cell) for cell in filled)
    return len(filled) >= 4 and numbers >= 2 and named and filled[0] not in ("#", "##", "*", ";", "%", "//")


def _is_heading(above: Sequence[str], row: Sequence[str]) -> bool:
    """Whether a line is one of words, as many as the row below it has cells."""
    filled = [cell for cell in above if cell]
    words = all(re.fullmatch(r"[^\W\d][^\d]*", cell) for cell in filled)
    return len(filled) >= 4 and abs(len(above) - len(row)) <= 1 and words


def _delimited(rows: Sequence[tuple[Line, _Cells]]) -> tuple[tuple[Column, ...], dict[int, _Cells]] | str:
    width = max(len(cells) for _, cells in rows)
    while width > 1 and not any(len(cells) >= width and cells[width - 1].strip() for _, cells in rows):
        width -= 1
    full = {line.number: [*cells, *[""] * width][:width] for line, cells in rows}
    roles = column_roles(list(full.values()))
    if isinstance(roles, str):
        return roles
    return tuple(column_named(roles.get(i, f"column {i + 1}")) for i in range(width)), full


def _blank_separated(rows: Sequence[tuple[Line, _Cells]]) -> tuple[tuple[Column, ...], dict[int, _Cells]] | str:
    """Rows parted by blanks, with any number of words for texts: numbers stand at one distance from an end."""
    at = _offset([cells for _, cells in rows])
    if at is None:
        return "its columns of X, Y and rotation stand at no fixed place in the rows"
    parted = {}
    for line, cells in rows:
        start = _start_of(cells, at)
        if 0 < start <= len(cells) - 3 and _is_triple(cells[start : start + 3]):
            parted[line.number] = (cells[:start], cells[start : start + 3], cells[start + 3 :])
    triples = [triple for _, triple, _ in parted.values()]
    places = place_columns([[triple[i] for triple in triples] for i in range(3)], -1)
    if isinstance(places, str):
        return places
    if places != (0, 1, 2):
        return "which of its columns of numbers are X, Y and rotation cannot be told"
    after = [words for _, _, words in parted.values()]
    mirrored = [words for words in after if words[:1] in (["m"], ["M"])]
    marked = bool(mirrored) and all(len(words) > 1 for words in mirrored)  # a mark stands before other words
    sided_first = all(words and side_of_word(words[0]) for words in after) and not marked
    sided_last = not sided_first and not marked and all(words and side_of_word(words[-1]) for words in after)
    found: dict[int, _Cells] = {}
    for number, (before, triple, words) in parted.items():
        mirror = words[0] if marked and words[:1] in (["m"], ["M"]) else ""
        side = words[0] if sided_first else words[-1] if sided_last else ""
        words = words[1:] if mirror or sided_first else words[:-1] if sided_last else words
        texts = [*before[1:], *words]
        value, package = (" ".join(texts[:-1]), texts[-1]) if texts else ("", "")
        found[number] = [before[0], *triple, mirror, side, value, package]
    if not any(row[6] for row in found.values()):
        alone = [row[7] for row in found.values() if row[7]]
        if share(alone, looks_like_value) > share(alone, looks_like_package):  # values without packages
            found = {number: [*row[:6], row[7], ""] for number, row in found.items()}
    value_first = _value_first([row[6:] for row in found.values() if row[6] and row[7]])
    if not value_first:
        found = {number: [*row[:6], *_package_first(f"{row[6]} {row[7]}".split())] for number, row in found.items()}
    names = (
        "Designator",
        "X",
        "Y",
        "Rotation",
        "Mirror" if marked else "",
        "Side" if sided_first or sided_last else "",
    )
    return tuple(column_named(name) for name in (*names, "Value", "Footprint")), found


def _in_columns(rows: Sequence[tuple[Line, _Cells]]) -> tuple[tuple[Column, ...], dict[int, _Cells]] | None:
    """Rows whose columns of text are parted by places that are blank in all rows; None where they are not."""
    tokens = [tokens_of(line.text) for line, _ in rows]
    spans = blank_parted(tokens)
    if len(spans) > 1 and spans[1][0] - spans[0][1] == 1:
        rare = sum(any(word.start == spans[1][0] for word in words) for words in tokens)
        if 2 * rare < len(tokens):  # a blank within some of the names
            spans = ((spans[0][0], spans[1][1]), *spans[2:])
    if len(spans) < 4:
        return None
    cells = {}
    for (line, _), words in zip(rows, tokens, strict=True):
        row = sliced(words, spans)
        if row is None:
            return None
        cells[line.number] = row
    roles = column_roles(list(cells.values()))
    if isinstance(roles, str):
        return None
    texts = [[row[index] for row in cells.values()] for index in range(len(spans))]
    worded = [column for column in texts if share(column, looks_numeric) < 0.5]
    if len(worded) == 2 and share(worded[1], lambda text: " " in text) > 0.5:
        return None  # one column of texts beside the names, of several words: two that no blank place parts
    return tuple(column_named(roles.get(i, f"column {i + 1}")) for i in range(len(spans))), cells


def _package_first(words: Sequence[str]) -> tuple[str, str]:
    """Value and package of texts that begin with the package."""
    return " ".join(words[1:]), words[0] if words else ""


def _value_first(texts: Sequence[Sequence[str]]) -> bool:
    """Whether the package is the last word, as is the custom, rather than the first with the value behind it."""
    first = [words[0].split()[0] for words in texts]
    last = [words[1] for words in texts]
    return share(first, looks_like_package) <= share(last, looks_like_package)


def _offset(rows: Sequence[_Cells]) -> int | None:
    """Where X stands in nearly all rows, counted from the start (or from the end: negative)."""
    best, most, enough = None, 0, 0
    for at in (1, 2, 3, -3, -4, -5, -6):
        good = count = 0
        for cells in rows:
            start = at if at >= 0 else len(cells) + at
            fits = 0 < start <= len(cells) - 3 and _is_triple(cells[start : start + 3])
            # where several places would do, the one with usual angles is right
            good += 2 + is_round_angle(cells[start + 2]) if fits else 0
            count += fits
        if good > most:
            best, most, enough = at, good, count
    return best if enough >= NEARLY_ALL * len(rows) else None


def _start_of(cells: _Cells, at: int) -> int:
    """Where X stands in a row: where it does in the others, unless only another place leaves a usual angle."""
    start = at if at >= 0 else len(cells) + at
    usual = [i for i in range(1, len(cells) - 2) if _is_triple(cells[i : i + 3]) and is_round_angle(cells[i + 2])]
    return usual[0] if len(usual) == 1 else start


def _is_triple(cells: Sequence[str]) -> bool:
    return looks_numeric(cells[0]) and looks_numeric(cells[1]) and is_angle(cells[2])
