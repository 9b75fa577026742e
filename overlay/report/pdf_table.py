"""Tables of a PDF in the look that all reports share."""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph

from overlay.report.palette import INK
from overlay.report.pdf_fonts import REGULAR, color_of, printable, runs, width_mm
from overlay.report.pdf_page import PAGE_MM, paragraph

_CELL_PT = 6.6  # the smallest that is still read in print
_LONGEST_CELL = 1200  # characters: a third of a page in the narrowest column
_PAD_MM = 1.1  # left and right of a cell
_ABOVE_PT, _BELOW_PT = 1.4, 1.6  # of a cell's text
_LEADING, _LOOSE = 1.2, 1.35  # from line to line, in sizes: of plain text; of prose, and of letters beyond ASCII
_LINE_PT, _HEAD_LINE_PT, _LINE = 0.2, 0.6, "#d8d8d4"  # below each row; below the headings, in ink
_ENDLESS_PT = 1e5  # room downwards that nothing fills
_LEAST_ROWS = 3  # of a table that goes on on the next page
_LONG_HEADING = 7  # letters; longer ones may take two lines
_KEPT = 0.35  # of the room that a column of numbers has to spare
_WIDEST_CELL_MM = 46.0  # what a column that is not broken into lines may grow to


def table(
    headings: Sequence[str],
    rows: Iterable[Sequence[str]],
    widths_mm: Sequence[float],
    *,
    right: Sequence[int] = (),
    wrap: Sequence[int] = (),
    shades: Sequence[tuple[int, int, str, str]] = (),
    size: float = _CELL_PT,
) -> Flowable:
    """A table whose heading row repeats on every page, and of whose cells nothing is lost.

    ``widths_mm`` are usual widths: columns that need more take it from those that need less. What still does not fit
    is broken into lines, and into rows where it would fill a page. The columns ``wrap`` hold prose, which is broken
    gladly. ``shades`` are (row, column, fill, ink) of single cells, rows counting from 0 below the heading.
    """
    pieces, firsts = _in_pieces(rows)
    widths = _shared_widths(headings, pieces, widths_mm, wrap, size)
    columns = _Columns(tuple(width * mm for width in widths), tuple(right), size)
    looks: dict[int, dict[int, tuple[str, str]]] = {}
    for at, column, fill, ink in shades:
        looks.setdefault(firsts[at], {})[column] = fill, ink
    head = [paragraph(text, size, bold=True, right=index in right) for index, text in enumerate(headings)]
    return _Table(columns, head, [columns.row(row, looks.get(at, {})) for at, row in enumerate(pieces)])


@dataclass(frozen=True, slots=True)
class _Row:
    """Cells from left to right, each a line of text or a paragraph that was laid out."""

    cells: tuple[str | Paragraph, ...]
    height_pt: float
    shades: Mapping[int, tuple[str, str]]  # fill and ink by column


@dataclass(frozen=True, slots=True)
class _Columns:
    """Widths with their padding, which columns stand to the right, and the size of their letters."""

    widths_pt: tuple[float, ...]
    right: tuple[int, ...]
    size_pt: float

    def row(self, texts: Sequence[str], shades: Mapping[int, tuple[str, str]]) -> _Row:
        """A row of texts, laid out."""
        cells, height = [], 0.0
        for index, text in enumerate(texts):
            cell, own = self._cell(text, index, shades[index][1] if index in shades else INK)
            cells.append(cell)
            height = max(height, own)
        return _Row(tuple(cells), height + _ABOVE_PT + _BELOW_PT, shades)

    def _cell(self, text: str, index: int, ink: str) -> tuple[str | Paragraph, float]:
        """A cell laid out, and its height."""
        room_mm = self.widths_pt[index] / mm - 2 * _PAD_MM
        shown = printable(text)
        one_line = width_mm(text, self.size_pt) <= room_mm and "\n" not in text and "\t" not in text
        if one_line and (shown.isascii() or runs(text) == [(REGULAR, shown)]):
            return shown, (_LEADING if shown.isascii() else _LOOSE) * self.size_pt
        prose = paragraph(text, self.size_pt, right=index in self.right, color=ink)
        return prose, prose.wrap(room_mm * mm, _ENDLESS_PT)[1]

    def head_pt(self, head: Sequence[Paragraph]) -> float:
        """Height of the headings, laid out."""
        rooms = (width - 2 * _PAD_MM * mm for width in self.widths_pt)
        return (
            _ABOVE_PT
            + _BELOW_PT
            + max(float(one.wrap(room, _ENDLESS_PT)[1]) for one, room in zip(head, rooms, strict=True))
        )

    def beginning(self, canvas: Any) -> Any:
        """A text to which cells are added, in the look of most of them."""
        text = canvas.beginText()
        text.setFont(REGULAR, self.size_pt, self.size_pt * _LOOSE)
        text.setFillColor(color_of(INK))
        return text

    def written(self, text: Any, row: _Row, index: int, left_pt: float, top_pt: float) -> Any:
        """The text with a cell added whose upper left corner is at that place; another where that could not hold it."""
        cell = row.cells[index]
        left, right = left_pt + _PAD_MM * mm, left_pt + self.widths_pt[index] - _PAD_MM * mm
        if isinstance(cell, str):
            lines = [(0.0, cell)]
        elif cell.blPara.kind == 0:  # of one font: spare room and words of each line
            lines = [(min(spare, 0.0), " ".join(words)) for spare, words, *_ in cell.blPara.lines]
        else:
            canvas = text._canvas
            canvas.drawText(text)
            cell.drawOn(canvas, left, top_pt - cell.height)
            return self.beginning(canvas)
        if index in row.shades:
            text.setFillColor(color_of(row.shades[index][1]))
        y = top_pt - self.size_pt
        for spare, line in lines:
            width = width_mm(line, self.size_pt) * mm if index in self.right else 0.0
            text.setTextOrigin(right - width if index in self.right else left, y)
            gaps = line.count(" ") + line.count("\N{NO-BREAK SPACE}")
            squeezed = gaps > 0 and spare < -1e-8
            if squeezed:
                text.setWordSpace(spare / gaps)
            text.textLine(line)
            if squeezed:
                text.setWordSpace(0)
            y -= self.size_pt * _LOOSE
        if index in row.shades:
            text.setFillColor(color_of(INK))
        return text


class _Table(Flowable):  # type: ignore[misc]  # the library has no types
    """Rows below their headings. Faster than the library's own, which keeps a style for every cell."""

    def __init__(
        self, columns: _Columns, head: Sequence[Paragraph], rows: Sequence[_Row], *, begun: bool = False
    ) -> None:
        super().__init__()
        self._begun = begun
        self._columns, self._head, self._rows = columns, head, rows
        self._heights_pt = [columns.head_pt(head), *(row.height_pt for row in rows)]
        self.width, self.height = sum(columns.widths_pt), sum(self._heights_pt)

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return self.width, self.height

    def split(self, _width: float, height: float) -> list[Any]:
        """Two tables, the first of which fits the height; it leaves no single row to the next page."""
        ends = itertools.accumulate(self._heights_pt)
        here = sum(end <= height for end in ends) - 1
        there = len(self._rows) - here
        # what goes on on the next page does not begin on this one, at whose foot the first part left a little room
        least = _LEAST_ROWS if self._begun and height < 0.5 * PAGE_MM * mm else 1
        if here < least or there == 0:
            return [self] if there == 0 else []
        if there < _LEAST_ROWS and here >= 2 * _LEAST_ROWS:
            here -= _LEAST_ROWS - there
        first = _Table(self._columns, self._head, self._rows[:here])
        return [first, _Table(self._columns, self._head, self._rows[here:], begun=True)]

    def draw(self) -> None:
        canvas = self.canv
        lefts = list(itertools.accumulate(self._columns.widths_pt, initial=0.0))
        tops = list(itertools.accumulate((-height for height in self._heights_pt), initial=self.height))
        canvas.saveState()
        for row, top in zip(self._rows, tops[1:], strict=False):
            for column, (fill, _) in row.shades.items():
                canvas.setFillColor(color_of(fill))
                canvas.rect(lefts[column], top, self._columns.widths_pt[column], -row.height_pt, stroke=0, fill=1)
        for cell, left in zip(self._head, lefts, strict=False):
            cell.drawOn(canvas, left + _PAD_MM * mm, tops[1] + _BELOW_PT)
        text = self._columns.beginning(canvas)
        for row, top in zip(self._rows, tops[1:], strict=False):
            for index in range(len(row.cells)):
                text = self._columns.written(text, row, index, lefts[index], top - _ABOVE_PT)
        canvas.drawText(text)
        self._draw_lines(tops[1:])
        canvas.restoreState()

    def _draw_lines(self, ys: Sequence[float]) -> None:
        canvas = self.canv
        canvas.setLineCap(1)
        canvas.setLineJoin(1)
        for heights, color, width in ((ys[:1], INK, _HEAD_LINE_PT), (ys[1:], _LINE, _LINE_PT)):
            canvas.setStrokeColor(color_of(color))
            canvas.setLineWidth(width)
            canvas.lines([(0.0, y, self.width, y) for y in heights])


def _in_pieces(rows: Iterable[Sequence[str]]) -> tuple[list[list[str]], list[int]]:
    """Rows, none of whose cells is taller than a page, and where each of the given rows begins among them."""
    pieces: list[list[str]] = []
    firsts = []
    for row in rows:
        firsts.append(len(pieces))
        cells = [textwrap.wrap(text, _LONGEST_CELL) if len(text) > _LONGEST_CELL else [text] for text in row]
        pieces += [list(piece) for piece in itertools.zip_longest(*cells, fillvalue="")]
    return pieces, firsts


def _shared_widths(
    headings: Sequence[str], rows: Sequence[Sequence[str]], usual_mm: Sequence[float], wrap: Sequence[int], size: float
) -> list[float]:
    """Widths of the same sum as the usual ones: columns with room to spare give to those that need more."""
    needed, wished = [], []
    for index, title in enumerate(headings):
        words = [word for row in rows for word in (row[index].split() if index in wrap else [row[index]])]
        widest = max((width_mm(word, size) for word in words), default=0.0)
        widest = min(widest, usual_mm[index]) if index in wrap else widest
        lines = title.split() if len(title) > _LONG_HEADING else [title]
        title_mm = max((width_mm(line, size, bold=True) for line in lines), default=0.0)
        needed.append(max(min(widest, _WIDEST_CELL_MM), title_mm) + 2 * _PAD_MM + 0.1)
        whole = max((width_mm(row[index], size) for row in rows), default=0.0) if index in wrap else 0.0
        wished.append(max(needed[-1], whole + 2 * _PAD_MM + 0.1))
    usual = list(usual_mm)
    # prose keeps half of its usual width: narrower columns of it become towers
    least = [max(need, 0.5 * usual[index]) if index in wrap else need for index, need in enumerate(needed)]
    widths = _moved(usual, needed, least)
    # what numbers and names do not need makes prose shorter, but for a share that keeps columns apart
    loose = [
        width if index in wrap else least[index] + _KEPT * max(width - least[index], 0.0)
        for index, width in enumerate(widths)
    ]
    return _moved(widths, [wish if index in wrap else 0.0 for index, wish in enumerate(wished)], loose)


def _moved(widths: Sequence[float], needed: Sequence[float], least: Sequence[float]) -> list[float]:
    """Widths of the same sum, in which those with more than the least give to those with less than they need."""
    lack = [max(need - width, 0.0) for need, width in zip(needed, widths, strict=True)]
    spare = [max(width - low, 0.0) if not short else 0.0 for low, width, short in zip(least, widths, lack, strict=True)]
    given = min(sum(lack), sum(spare))
    if given <= 0.0:
        return list(widths)
    return [
        width + short * given / sum(lack) - extra * given / sum(spare)
        for width, short, extra in zip(widths, lack, spare, strict=True)
    ]
