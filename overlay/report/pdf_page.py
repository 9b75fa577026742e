"""Pages, paragraphs and tables of a PDF in the look that all reports share."""

from __future__ import annotations

import io
import itertools
import textwrap
from collections.abc import Iterable, Sequence
from functools import cache
from typing import Any

from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, CondPageBreak, Frame, PageTemplate, Paragraph, Spacer, Table, TableStyle

from overlay.report.palette import FAINT, INK
from overlay.report.pdf_fonts import BOLD, REGULAR, draw_text, fitted, markup, printable, register_fonts, runs, width_mm

WIDTH_MM, HEIGHT_MM = 210.0, 297.0  # ISO 216, A4
MARGIN_MM = 12.0  # what every office printer can print on (common practice)
INNER_MM = WIDTH_MM - 2 * MARGIN_MM  # between the margins
PAGE_MM = HEIGHT_MM - 14.0 - MARGIN_MM  # height of a page's contents
_CELL_PT, _FOOT_PT = 6.6, 6.5  # the smallest that is still read in print
_ABOVE_HEADING_PT = 14.0  # a line and a half of text
_LEAST_LEFT_MM = 60.0  # of a page, for a section to begin on it


def build_pdf(story: Sequence[Any], title: str) -> bytes:
    """Lay a story out on numbered A4 pages."""
    register_fonts()
    rl_config.useA85 = 0  # pictures as they are: text of them would be a quarter larger, and slow to make
    stream = io.BytesIO()
    document = BaseDocTemplate(
        stream,
        pagesize=A4,
        leftMargin=MARGIN_MM * mm,
        rightMargin=MARGIN_MM * mm,
        topMargin=MARGIN_MM * mm,
        bottomMargin=16 * mm,
        title=title,
        author="board-overlay",
        invariant=1,
    )

    box = Frame(MARGIN_MM * mm, 14 * mm, INNER_MM * mm, PAGE_MM * mm, 0, 0, 0, 0, id="page")
    document.addPageTemplates([PageTemplate(id="page", frames=[box])])
    document.build(list(story), canvasmaker=lambda *arguments, **options: _Numbered(title, *arguments, **options))
    return stream.getvalue()


class _Numbered(Canvas):  # type: ignore[misc]  # the library has no types
    """A canvas that writes the foot of each page once it knows how many there are."""

    def __init__(self, title: str, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self._title = title
        self._held: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802 - the library's name
        self._held.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for number, page in enumerate(self._held, start=1):
            self.__dict__.update(page)
            words = f"{number} of {len(self._held)}"
            self.setFillColor(HexColor(FAINT))
            draw_text(self, fitted(self._title, 150.0, _FOOT_PT), MARGIN_MM, 9.0, _FOOT_PT)
            draw_text(self, words, WIDTH_MM - MARGIN_MM - width_mm(words, _FOOT_PT), 9.0, _FOOT_PT)
            super().showPage()
        super().save()


def height_mm(flowables: Sequence[Any]) -> float:
    """What flowables take of a page, one below the other."""
    return float(sum(one.wrap(INNER_MM * mm, 1e5)[1] + one.getSpaceBefore() for one in flowables) / mm)


@cache
def style(size: float, *, bold: bool = False, color: str = INK, before: float = 0.0, right: bool = False) -> Any:
    """A paragraph style of the page's font."""
    register_fonts()
    return ParagraphStyle(
        f"{size}{bold}{color}{before}{right}",
        fontName=BOLD if bold else REGULAR,
        fontSize=size,
        leading=size * 1.35,
        textColor=HexColor(color),
        spaceBefore=before,
        **({"alignment": TA_RIGHT} if right else {}),
    )


def paragraph(text: str, size: float = 8.0, **options: Any) -> Paragraph:
    """A paragraph of plain text."""
    bold = options.get("bold", False)
    look = style(size, **options)
    drawn = runs(text, bold=bold)
    if len(drawn) != 1 or drawn[0][0] != look.fontName:
        return Paragraph(markup(text, bold=bold), look)
    # what the library would make of text without markup, without its parser
    return Paragraph(drawn[0][1], look, frags=[_pattern(look).clone(text=drawn[0][1])])


@cache
def _pattern(look: Any) -> Any:
    """The one piece that a paragraph of plain text consists of, in that style."""
    return Paragraph("x", look).frags[0]


def labelled(label: str, text: str, size: float = 8.0) -> Paragraph:
    """A paragraph of plain text behind a label in bold."""
    register_fonts()
    words = f'<font name="{BOLD}">{markup(label, bold=True)}.</font> {markup(text)}'
    return Paragraph(words, style(size, before=1))


def section(text: str, least_mm: float = _LEAST_LEFT_MM) -> list[Any]:
    """The beginning of a section: on the page that is begun where a good part of it is left, else on a new one."""
    return [CondPageBreak(least_mm * mm), heading(text), Spacer(1, 1.5 * mm)]


def heading(text: str) -> Paragraph:
    """The heading of a section; its room above vanishes at the top of a page."""
    return paragraph(text, 12.0, bold=True, before=_ABOVE_HEADING_PT)


_LONGEST_CELL = 1200  # characters: a third of a page in the narrowest column
_PAD_MM = 1.1  # left and right of a cell
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
) -> Table:
    """A table whose heading row repeats on every page, and of whose cells nothing is lost.

    ``widths_mm`` are usual widths: columns that need more take it from those that need less. What still does not fit
    is broken into lines, and into rows where it would fill a page. The columns ``wrap`` hold prose, which is broken
    gladly. ``shades`` are (row, column, fill, ink) of single cells, rows counting from 0 below the heading.
    """
    register_fonts()
    pieces, firsts = _in_pieces(rows)
    widths = _shared_widths(headings, pieces, widths_mm, wrap, size)
    cells: list[list[Any]] = [
        [paragraph(text, size, bold=True, right=index in right) for index, text in enumerate(headings)]
    ]
    inks = {(firsts[row], column): ink for row, column, _, ink in shades}
    for number, row in enumerate(pieces):
        cells.append(
            [
                printable(text)
                if width_mm(text, size) <= widths[index] - 2 * _PAD_MM and printable(text).isascii()
                else paragraph(text, size, right=index in right, color=inks.get((number, index), INK))
                for index, text in enumerate(row)
            ]
        )
    commands: list[Any] = [
        ("FONT", (0, 0), (-1, -1), REGULAR, size),
        ("TEXTCOLOR", (0, 0), (-1, -1), HexColor(INK)),
        ("LINEBELOW", (0, 0), (-1, 0), 0.6, HexColor(INK)),
        ("LINEBELOW", (0, 1), (-1, -1), 0.2, HexColor("#d8d8d4")),
        ("VALIGN", (0, 1), (-1, -1), "TOP"),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("TOPPADDING", (0, 0), (-1, -1), 1.4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
        ("LEFTPADDING", (0, 0), (-1, -1), _PAD_MM * mm),
        ("RIGHTPADDING", (0, 0), (-1, -1), _PAD_MM * mm),
    ]
    commands += [("ALIGN", (index, 0), (index, -1), "RIGHT") for index in right]
    for row_index, column, fill, ink in shades:
        at = (column, firsts[row_index] + 1)
        commands += [("BACKGROUND", at, at, HexColor(fill)), ("TEXTCOLOR", at, at, HexColor(ink))]
    return _Table(cells, [width * mm for width in widths], repeatRows=1, style=TableStyle(commands), hAlign="LEFT")


_LEAST_ROWS = 3  # of a table that goes on on the next page


class _Table(Table):  # type: ignore[misc]
    """A table that leaves no single row to the next page."""

    def split(self, width: float, height: float) -> list[Any]:
        parts = super().split(width, height)
        if len(parts) != 2:
            return list(parts)
        here, there = (len(part._cellvalues) - 1 for part in parts)
        if there >= _LEAST_ROWS or here < 2 * _LEAST_ROWS:
            return list(parts)
        moved = self._rowHeights[here + 1 - (_LEAST_ROWS - there) : here + 1]
        used = sum(self._rowHeights[: here + 1])
        return list(super().split(width, used - sum(moved) + 0.5))


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
