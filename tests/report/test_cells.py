"""Text from files in the reports: it is shown, and does nothing."""

import csv
import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from overlay.plain_text import visible
from overlay.report.pdf_fonts import printable, register_fonts
from overlay.report.svg import escaped
from overlay.report.tables import csv_text


def cell(text: str) -> str:
    (_, row) = csv.reader(io.StringIO(csv_text(["one", "two"], [[text, "x"]])))
    return row[0]


@pytest.mark.parametrize(
    "text", ["+1+cmd|' /C calc'!A0", "-(1+2)", "+(HYPERLINK(1))", "=1", "@SUM(1)", "\t=1", "\r=1", "-"]
)
def test_what_a_spreadsheet_would_run_becomes_text(text: str) -> None:
    assert cell(text).startswith("'")


@pytest.mark.parametrize("text", ["-5.2", "+3", "-1e-3", "", "R17", "10k", "1-2", "a=b"])
def test_numbers_and_words_stay_as_they_are(text: str) -> None:
    assert cell(text) == text


@given(st.text())
def test_no_report_carries_a_letter_that_acts(text: str) -> None:
    register_fonts()
    for shown in (cell(text), escaped(text), printable(text)):
        assert visible(shown) == shown


def test_a_cell_longer_than_a_page_is_told_in_several_rows() -> None:
    from overlay.report.pdf_page import build_pdf
    from overlay.report.pdf_table import table

    names = [f"R{number}" for number in range(3000)]
    data = build_pdf([table(("source", "parts"), [("datasheet", ", ".join(names))], (40, 60), wrap=(1,))], "names")
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)
    assert set(re.findall(r"R\d+", text)) == set(names)
