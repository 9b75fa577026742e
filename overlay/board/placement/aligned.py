"""Rows of aligned columns: places of words, rulers, blank cells, values with blanks."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from overlay.board.placement.headings import Column, column_of
from overlay.board.placement.marks import looks_like_package, looks_like_refdes, looks_like_value
from overlay.board.placement.numbers import looks_numeric, parse_angle
from overlay.board.placement.sides import flag, side_of_word

_TOKEN = re.compile(r'"[^"]*"(?=\s|$)|\(\s*[-+\d.,]+[\s,;]+[-+\d.,]+\s*\)|\S+')


@dataclass(frozen=True, slots=True)
class Token:
    """A word of a line and the columns of text it covers (end is exclusive)."""

    text: str
    start: int
    end: int


def tokens_of(text: str) -> tuple[Token, ...]:
    """Words with their places, tabs expanded; quoted text and ``(x y)`` pairs are one word."""
    return tuple(Token(match.group(), match.start(), match.end()) for match in _TOKEN.finditer(text.expandtabs(8)))


def _wants_number(column: Column) -> bool:
    return column.rank("x") is not None or column.rank("y") is not None


def _wants_angle(column: Column) -> bool:
    return column.rank("rotation") == 0


def _fits(text: str, column: Column) -> bool:
    """Whether a word can stand in a column."""
    if _wants_number(column):
        return looks_numeric(text)
    if _wants_angle(column):
        return parse_angle(text, "point") is not None or parse_angle(text, "comma") is not None
    return True


def tells_side(column: Column) -> bool:
    """Whether a column holds sides or marks of a side."""
    return bool({"side", "mirror", "topflag"} & {role for role, rank in column.roles if rank == 0})


def _may_be_side(text: str, column: Column) -> bool:
    if not tells_side(column):
        return True
    return side_of_word(text) is not None or flag(text) is not None or text.isdigit() or text.casefold() == "layer"


def _is_likely(text: str, column: Column) -> bool:
    """Whether a text has the look of what its column is named for."""
    if column.rank("package") is not None:
        return looks_like_package(text)
    return column.rank("value") is not None and looks_like_value(text)


Spans = tuple[tuple[int, int], ...]


def column_spans(
    heads: Sequence[Token], rows: Sequence[Sequence[Token]], ruler: Sequence[Token] | None
) -> Spans | None:
    """Where each column's text lies, by a ruler or by the blanks all rows share; None for rows not aligned."""
    if ruler is not None and len(ruler) == len(heads):
        spans = tuple((word.start, word.end) for word in ruler)
        if rows and sum(sliced(row, spans) is not None for row in rows) >= 0.5 * len(rows):
            return spans
    if not rows:
        return None
    columns = [column_of(head.text) for head in heads]
    cover = _cover(rows)
    best: Spans | None = None
    most = 0
    for share in (0.0, 0.03, 0.12):
        spans_found = _assigned(_runs(cover, share * len(rows)), heads, columns, rows)
        if spans_found is None:
            continue
        clean = sum(sliced(row, spans_found) is not None for row in rows)
        if clean > most:
            best, most = spans_found, clean
    return best if most * 2 >= len(rows) else None


def blank_parted(rows: Sequence[Sequence[Token]]) -> Spans:
    """Where text lies that is parted by places blank in every row."""
    return tuple(_runs(_cover(rows), 0.0))


def _cover(rows: Sequence[Sequence[Token]]) -> list[int]:
    """How many rows have text at each place of a line."""
    cover = [0] * (max(row[-1].end for row in rows) + 1)
    for row in rows:
        for word in row:
            for place in range(word.start, word.end):
                cover[place] += 1
    return cover


def _runs(cover: Sequence[int], allowed: float) -> list[tuple[int, int]]:
    runs, start = [], None
    for place, count in enumerate([*cover, 0]):
        if count > allowed and start is None:
            start = place
        elif count <= allowed and start is not None:
            runs.append((start, place))
            start = None
    return runs


def _assigned(
    runs: Sequence[tuple[int, int]], heads: Sequence[Token], columns: Sequence[Column], rows: Sequence[Sequence[Token]]
) -> Spans | None:
    """Runs of text given to headings in order, at the least distance; a number column takes one run of numbers."""
    if not runs or len(runs) > 4 * len(heads) + 8:
        return None
    words = [
        [word.text for row in rows for word in row if word.start < end and word.end > start] for start, end in runs
    ]

    # a few hundred words tell whether a run is one of numbers
    samples = [each[:: max(1, len(each) // 200)] for each in words]

    @cache
    def misfit(run: int, head: int) -> float:
        start, end = runs[run]
        gap = max(0, start - heads[head].end + 1, heads[head].start - end + 1)
        bad = sum(not _fits(word, columns[head]) for word in samples[run])
        odd = sum(not _may_be_side(word, columns[head]) for word in samples[run])
        worst = 1000.0 if bad > 0.1 * len(samples[run]) else 60.0 if odd > 0.5 * len(samples[run]) else 0.0
        return gap + worst

    if len(runs) == len(heads) and all(misfit(index, index) < 1000.0 for index in range(len(runs))):
        return tuple(runs)  # as many as headings, each what its heading wants: wherever the headings stand

    @cache
    def least(run: int, head: int) -> tuple[float, tuple[tuple[int, int], ...]]:
        if head == len(heads):
            return (0.0, ()) if run == len(runs) else (1e9, ())
        must = _wants_number(columns[head]) or _wants_angle(columns[head])
        named = not must and columns[head].rank("refdes") is not None
        must = must or named
        cost, rest = least(run, head + 1)
        options = [(cost + (400.0 if must else 2.0), ((-1, -1), *rest))]
        total = 0.0
        for last in range(run, min(len(runs), run + 6)):
            total += misfit(last, head)
            if last > run:  # a blank within a column: names have one now and then, numbers and angles never
                total += 2.0 if named else 500.0 if must else 3.0
            cost, rest = least(last + 1, head + 1)
            options.append((cost + total, ((run, last), *rest)))
        return min(options, key=lambda option: option[0])

    cost, chosen = least(0, 0)
    if cost >= 400.0:
        return None
    return tuple((-1, -1) if a < 0 else (runs[a][0], runs[b][1]) for a, b in chosen)


def sliced(row: Sequence[Token], spans: Spans) -> list[str] | None:
    """Cells of a row by the spans; None where a word lies in two columns or in none."""
    cells: list[list[str]] = [[] for _ in spans]
    for word in row:
        inside = [index for index, (start, end) in enumerate(spans) if word.start < end and word.end > start]
        if len(inside) != 1:
            return None
        cells[inside[0]].append(word.text)
    return [" ".join(words).strip('"').strip() for words in cells]


def single_spaced(rows: Sequence[Sequence[Token]]) -> bool:
    """Whether one blank parts words throughout: then places mean nothing, and no cell between others is blank."""
    wide = sum(any(b.start - a.end > 1 for a, b in itertools.pairwise(row)) for row in rows)
    return wide <= 0.03 * len(rows)


_Bounds = tuple[tuple[int, int], ...]


_LONGEST_NAME = 3  # words of a designator, such as "Test point 4"
_USUAL_DEG = 15.0  # parts lie at multiples of it as a rule, common practice; places are no multiples of it as a rule


def matched(row: Sequence[Token], columns: Sequence[Column], dense: bool) -> list[str] | None:
    """Cells of a row that is not aligned, by what can stand in each column; None unless one way is the right one.

    Text columns take any number of words (``dense``: at least one, but at the end of the row), the others one.
    Ways that differ only in text count as one. A designator that does not look like one may be of several words,
    such as ``Logo 1``: of several ways the one is right that leaves the part at a usual angle, the tidiest of them.
    """
    ways = _ways(row, columns, dense, 1)
    named = _name_column(columns)
    if ways and (named is None or any(looks_like_refdes(cells[named]) for _, cells in ways)):
        return ways[0][1] if len(ways) == 1 else None
    ways = _ways(row, columns, dense, _LONGEST_NAME)
    if len(ways) == 1:
        return ways[0][1]
    usual = [(untidy, cells) for untidy, cells in ways if _at_usual_angle(cells, columns)]
    least = min((untidy for untidy, _ in usual), default=0.0)
    tidiest = [cells for untidy, cells in usual if untidy == least]
    return tidiest[0] if len(tidiest) == 1 else None


def _name_column(columns: Sequence[Column]) -> int | None:
    """The column of designators by its heading: one that means it, else the first that may mean it."""
    for role in ("refdes", "refdes?"):
        for index, column in enumerate(columns):
            if column.rank(role) is not None:
                return index
    return None


def _at_usual_angle(cells: Sequence[str], columns: Sequence[Column]) -> bool:
    for cell, column in zip(cells, columns, strict=True):
        if _wants_angle(column):
            angle = parse_angle(cell, "point") or parse_angle(cell, "comma")
            return angle is not None and angle.degrees % _USUAL_DEG == 0.0
    return False


def _ways(
    row: Sequence[Token], columns: Sequence[Column], dense: bool, longest_name: int
) -> list[tuple[float, list[str]]]:
    """Every way of dividing a row's words into cells that differs in more than text, with its untidiness."""
    words = [word.text.strip('"') for word in row]
    if len(words) > 40 or len(words) < len(columns) - 2:
        return []
    named = _name_column(columns)
    if (
        dense
        and len(words) == len(columns)
        and all(map(_fits, words, columns))
        and all(map(_may_be_side, words, columns))
        and (named is None or looks_like_refdes(words[named]) or _at_usual_angle(words, columns))
    ):
        return [(0.0, words)]
    needed = [_wants_number(column) or _wants_angle(column) or index == named for index, column in enumerate(columns)]

    def meaning(text: str, column: Column) -> str | None:
        """What a way says in a column where a difference counts; None where the text may not stand there."""
        if _wants_number(column) or _wants_angle(column):
            return text if _fits(text, column) else None
        if column.rank("refdes") is not None or (named is not None and column is columns[named]):
            return text
        if tells_side(column):
            if looks_numeric(text.split(" ")[0]) and " " in text:
                return None
            if column.rank("side") is not None:
                return side_of_word(text) or ("no side" if flag(text) is not None else None)
            return str(flag(text)) if flag(text) is not None or not text else None
        return ""

    @cache
    def ways(word: int, index: int) -> tuple[tuple[float, tuple[str, ...], _Bounds], ...]:
        """(untidiness, meanings, bounds of each column), the tidiest of each different way; at most a few."""
        if index == len(columns):
            return ((0, (), ()),) if word == len(words) else ()
        found: dict[tuple[str, ...], tuple[float, tuple[str, ...], _Bounds]] = {}
        column = columns[index]
        least = word + 1 if needed[index] or (dense and word < len(words)) else word
        most = word + 1 if needed[index] else min(len(words), word + 8)
        if index == named and word < len(words) and not looks_like_refdes(words[word]):
            most = min(len(words), word + longest_name)
        if tells_side(column) and word < len(words) and flag(words[word]) is not None:
            least = word + 1  # a word that can be the mark is the mark
        for end in range(least, most + 1):
            said = meaning(" ".join(words[word:end]), column) if end <= len(words) else None
            if said is None:
                continue
            text = " ".join(words[word:end])
            odd = abs(end - word - 1) - 0.5 * _is_likely(text, column)
            for untidy, rest, bounds in ways(end, index + 1):
                whole = (untidy + odd, (said, *rest), ((word, end), *bounds))
                if whole[1] not in found or found[whole[1]][0] > whole[0]:
                    found[whole[1]] = whole
        return tuple(sorted(found.values())[:3])

    return [(untidy, [" ".join(words[start:end]) for start, end in bounds]) for untidy, _, bounds in ways(0, 0)]
