"""Pages, paragraphs and tables of a PDF in the look that all reports share."""

from __future__ import annotations

import io
import itertools
import textwrap
from collections.abc import Iterable, Sequence
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import BaseDocTemplate, CondPageBreak, Frame, PageTemplate, Paragraph, Spacer, Table, TableStyle

from overlay.report.palette import FAINT, INK
from overlay.report.pdf_paint import BOLD, REGULAR, fitted, printable, register_fonts

WIDTH_MM, HEIGHT_MM = 210.0, 297.0  # ISO 216, A4
MARGIN_MM = 12.0  # what every office printer can print on (common practice)
INNER_MM = WIDTH_MM - 2 * MARGIN_MM  # between the margins
PAGE_MM = HEIGHT_MM - 14.0 - MARGIN_MM  # height of a page's contents
_CELL_PT = 6.6  # the smallest that is still read in print
_LEAST_LEFT_MM = 90.0  # of a page, for a section to begin on it


def build_pdf(story: Sequence[Any], title: str) -> bytes:
    """Lay a story out on numbered A4 pages."""
    register_fonts()
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

    def foot(canvas: Any, _document: Any) -> None:
        canvas.setFont(REGULAR, 6.5)
        canvas.setFillColor(HexColor(FAINT))
        canvas.drawString(MARGIN_MM * mm, 9 * mm, fitted(title, 140, 6.5))
        canvas.drawRightString((WIDTH_MM - MARGIN_MM) * mm, 9 * mm, f"{canvas.getPageNumber()}")

    box = Frame(MARGIN_MM * mm, 14 * mm, INNER_MM * mm, PAGE_MM * mm, 0, 0, 0, 0, id="page")
    document.addPageTemplates([PageTemplate(id="page", frames=[box], onPage=foot)])
    document.build(list(story))
    return stream.getvalue()


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
    register_fonts()
    return Paragraph(escape(printable(text)), style(size, **options))


def labelled(label: str, text: str, size: float = 8.0) -> Paragraph:
    """A paragraph of plain text behind a label in bold."""
    register_fonts()
    words = f'<font name="{BOLD}">{escape(printable(label))}.</font> {escape(printable(text))}'
    return Paragraph(words, style(size, before=1))


def section(text: str) -> list[Any]:
    """The beginning of a section: on the page that is begun where a good part of it is left, else on a new one."""
    return [CondPageBreak(_LEAST_LEFT_MM * mm), Spacer(1, 6 * mm), heading(text), Spacer(1, 1.5 * mm)]


def heading(text: str) -> Paragraph:
    """The heading of a section."""
    return paragraph(text, 12.0, bold=True)


_LONGEST_CELL = 1200  # characters: a third of a page in the narrowest column


def _in_parts(row: Sequence[str], wrap: Sequence[int]) -> list[list[str]]:
    """A row as several, none of whose cells is taller than a page."""
    cells = [
        textwrap.wrap(text, _LONGEST_CELL) if index in wrap and len(text) > _LONGEST_CELL else [text]
        for index, text in enumerate(row)
    ]
    return [list(part) for part in itertools.zip_longest(*cells, fillvalue="")]


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
    """A table whose heading row repeats on every page.

    Cells are cut to their column, those of the columns ``wrap`` are broken into lines, and into rows where they would
    fill a page. ``shades`` are (row, column, fill, ink) of single cells, rows counting from 0 below the heading.
    """
    register_fonts()
    rows = list(rows)
    if not shades:
        rows = [part for row in rows for part in _in_parts(row, wrap)]
    inner = [width - 2.2 for width in widths_mm]
    cells: list[list[Any]] = [
        [paragraph(text, size, bold=True, right=index in right) for index, text in enumerate(headings)]
    ]
    for row in rows:
        cells.append(
            [
                paragraph(text, size) if index in wrap else fitted(text, inner[index], size)
                for index, text in enumerate(row)
            ]
        )
    commands: list[Any] = [
        ("FONT", (0, 0), (-1, -1), REGULAR, size),
        ("FONT", (0, 0), (-1, 0), BOLD, size),
        ("TEXTCOLOR", (0, 0), (-1, -1), HexColor(INK)),
        ("LINEBELOW", (0, 0), (-1, 0), 0.6, HexColor(INK)),
        ("LINEBELOW", (0, 1), (-1, -1), 0.2, HexColor("#d8d8d4")),
        ("VALIGN", (0, 1), (-1, -1), "TOP"),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("TOPPADDING", (0, 0), (-1, -1), 1.4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
        ("LEFTPADDING", (0, 0), (-1, -1), 1.1 * mm),
        ("RIGHTPADDING", (0, 0), (-1, -1), 1.1 * mm),
    ]
    commands += [("ALIGN", (index, 0), (index, -1), "RIGHT") for index in right]
    for row_index, column, fill, ink in shades:
        at = (column, row_index + 1)
        commands += [("BACKGROUND", at, at, HexColor(fill)), ("TEXTCOLOR", at, at, HexColor(ink))]
    return Table(cells, [width * mm for width in widths_mm], repeatRows=1, style=TableStyle(commands), hAlign="LEFT")
