"""Tables of the PDF: every row once, headings on each page, cells in their looks."""

from __future__ import annotations

import io
import re

from pypdf import PageObject, PdfReader

from overlay.report.pdf_page import build_pdf, paragraph
from overlay.report.pdf_table import table


def pages_of(*tables: object) -> list[PageObject]:
    return list(PdfReader(io.BytesIO(build_pdf(tables, "tables"))).pages)


def test_a_long_table_tells_its_headings_on_each_page_and_each_row_once() -> None:
    rows = [(f"R{number}", "–" if number % 3 else "clear", f"{number}.5") for number in range(300)]
    pages = pages_of(table(("part", "verdict", "margin K"), rows, (20, 20, 20), right=(2,)))
    texts = [page.extract_text() for page in pages]
    assert len(texts) > 2
    assert all("verdict" in text for text in texts)
    assert [f"R{number}" for number in range(300)] == re.findall(r"R\d+", "\n".join(texts))
    assert re.findall(r"\d+\.5", "\n".join(texts)) == [f"{number}.5" for number in range(300)]


def test_no_page_begins_with_a_row_or_two() -> None:
    for count in range(66, 80):
        rows = [(f"R{number}", "clear") for number in range(count)]
        last = pages_of(table(("part", "verdict"), rows, (20, 20)))[-1].extract_text()
        assert len(re.findall(r"R\d+", last)) >= 3


def test_rows_of_which_two_fill_a_page_are_all_told() -> None:
    rows = [(f"R{number}", "because " * 140) for number in range(12)]
    pages = pages_of(table(("part", "why"), rows, (20, 40), wrap=(1,)))
    assert re.findall(r"R\d+", "\n".join(page.extract_text() for page in pages)) == [row[0] for row in rows]


def test_two_cells_of_a_row_may_be_shaded() -> None:
    shades = [(1, 0, "#ff0000", "#00ff00"), (1, 1, "#0000ff", "#ffff00")]
    (page,) = pages_of(table(("before", "after"), [("clear", "clear"), ("over", "near")], (20, 20), shades=shades))
    drawn = page.get_contents()
    assert drawn is not None
    for color, of in (("1 0 0 rg", "n "), ("0 0 1 rg", "n "), ("0 1 0 rg", "1 0 0 1"), ("1 1 0 rg", "1 0 0 1")):
        assert f"{color}\n{of}" in drawn.get_data().decode("latin-1").replace(" rg 1 0", " rg\n1 0")


def test_prose_stands_as_the_library_breaks_it() -> None:
    words = (
        "A part that no capture shows keeps its verdict: 25 °C ± 3 K are said of nothing, whatever its neighbours do."
    )
    (page,) = pages_of(table(("why",), [(words,)], (60,), wrap=(0,)), paragraph("end"))
    lines = page.extract_text().split("\n")
    plain = paragraph(words, 6.6)
    plain.wrap(60 / 25.4 * 72 - 2 * 1.1 / 25.4 * 72, 1e5)
    assert lines[1 : lines.index("end")] == [" ".join(line[1]) for line in plain.blPara.lines]
    assert len(plain.blPara.lines) > 2
