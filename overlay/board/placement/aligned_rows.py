"""Rows of aligned columns brought to the cells of their headings, once all lines below a heading are known."""

from __future__ import annotations

from collections.abc import Sequence

from overlay.board.placement.aligned import (
    Spans,
    Token,
    column_spans,
    matched,
    single_spaced,
    sliced,
    tells_side,
    tokens_of,
)
from overlay.board.placement.cut import RULER, Cut, RawRow, Section, SideInForce, has_place, is_coordinate, is_sound
from overlay.board.placement.headings import Column
from overlay.board.placement.marks import looks_like_refdes
from overlay.board.placement.numbers import looks_numeric
from overlay.board.placement.sides import flag, side_of_word
from overlay.board.placement.text import Line
from overlay.board.placement.units import Unit, unit_of_word


def may_be_row(text: str) -> bool:
    words = tokens_of(text)
    numbers = sum(looks_numeric(word.text) for word in words)
    paired = any(word.text.startswith("(") and " " in word.text for word in words)
    named = looks_like_refdes(words[0].text.strip('"'))
    return (len(words) >= 2 and named) or (len(words) >= 3 and (numbers >= 2 or paired))


def has_units(text: str) -> bool:
    words = tokens_of(text)
    return len(words) >= 2 and sum(unit_of_word(word.text.strip("()[]{}")) is not None for word in words) >= 2


def close_aligned(cut: Cut, heads: Sequence[Token], aligned: Sequence[tuple[Line, SideInForce | None]]) -> None:
    """Cut the aligned lines below a heading into cells, now that all of them are known."""
    if cut.container != "aligned" or not cut.sections:
        return
    section = cut.sections[-1]
    ruler: tuple[Token, ...] | None = None
    rows: list[tuple[Line, SideInForce | None, tuple[Token, ...]]] = []
    for line, in_force in aligned:
        words = tokens_of(line.text)
        if RULER.match(line.text):
            ruler = words if not rows and len(words) == len(heads) else ruler
        elif not rows and has_units(line.text) and not any(looks_numeric(word.text) for word in words):
            _aligned_units(section, heads, words, line.number)
        else:
            rows.append((line, in_force, words))
    named = [words for _, _, words in rows if any(looks_like_refdes(word.text.strip('"')) for word in words)]
    table = named or [words for _, _, words in rows]
    dense = single_spaced([heads, *table])
    spans = None
    if not dense:
        whole = [words for _, _, words in rows if words in named or _is_numeric(words)]
        spans = column_spans(heads, whole, ruler) or column_spans(heads, table, ruler)
    for line, in_force, words in rows:
        cells = _cells_by_place(words, spans, section.columns, dense)
        if cells is not None and has_place(cells, section.columns):
            section.rows.append(RawRow(line.number, line.text, tuple(cells), in_force))
        elif looks_like_refdes(words[0].text.strip('"')) or (_is_numeric(words) and words in named):
            section.rows.append(RawRow(line.number, line.text, None if cells is None else tuple(cells), in_force))
        elif _is_numeric(words):
            cut.lost.append(line)
        else:
            cut.prose.append(line)


def _is_numeric(words: Sequence[Token]) -> bool:
    return sum(looks_numeric(word.text) for word in words) >= 3


def _cells_by_place(
    words: Sequence[Token], spans: Spans | None, columns: Sequence[Column], dense: bool
) -> list[str] | None:
    """Cells of an aligned row by the places of its words; by what can stand where if those make no sense."""
    cells = None if spans is None else sliced(words, spans)
    if cells is not None:
        if any(not cell for cell, column in zip(cells, columns, strict=True) if is_coordinate(column)):
            return cells  # a blank coordinate is not to be filled from the next column
        flags = [cell for cell, column in zip(cells, columns, strict=True) if tells_side(column)]
        if is_sound(cells, columns) and all(side_of_word(cell) or flag(cell) is not None for cell in flags):
            return cells
    other = matched(words, columns, dense)
    return other if other is not None and has_place(other, columns) else cells


def _aligned_units(section: Section, heads: Sequence[Token], words: Sequence[Token], line: int) -> None:
    """A line of units under aligned headings: by number where there are as many, else by place."""
    found: dict[int, Unit] = {}
    for word in words:
        unit = unit_of_word(word.text.strip("()[]{}"))
        if unit is None:
            continue
        near = min(
            range(len(heads)), key=lambda index: abs(heads[index].start + heads[index].end - word.start - word.end)
        )
        found[near] = unit
    section.units, section.units_line = found, line
