"""Pages and paragraphs of a PDF in the look that all reports share."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import cache
from typing import Any

from reportlab import rl_config
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, CondPageBreak, Frame, PageTemplate, Paragraph, Spacer

from overlay.report.palette import FAINT, INK
from overlay.report.pdf_fonts import BOLD, REGULAR, color_of, draw_text, fitted, markup, register_fonts, runs, width_mm

WIDTH_MM, HEIGHT_MM = 210.0, 297.0  # ISO 216, A4
MARGIN_MM = 12.0  # what every office printer can print on (common practice)
INNER_MM = WIDTH_MM - 2 * MARGIN_MM  # between the margins
PAGE_MM = HEIGHT_MM - 14.0 - MARGIN_MM  # height of a page's contents
_FOOT_PT = 6.5  # the smallest that is still read in print
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
            self.setFillColor(color_of(FAINT))
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
        textColor=color_of(color),
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
