"""One list of columns for every table of parts."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from pypdf import PdfReader

from overlay.job.analysis import Analysis
from overlay.report import columns as module
from overlay.report.columns import COLUMNS, Column, columns_of
from overlay.report.html import margin_map_html
from overlay.report.pdf import margin_map_pdf
from overlay.report.pdf_page import INNER_MM
from overlay.report.tables import components_csv, hot_spots_csv
from overlay.report.text import map_text


def test_a_made_up_column_is_added_in_one_place_and_stands_in_every_table(
    demo: Analysis, monkeypatch: pytest.MonkeyPatch
) -> None:
    made_up = Column("letters", "letters", lambda row: f"#{len(row.refdes)}#", "first all page csv text")
    monkeypatch.setattr(module, "COLUMNS", (*COLUMNS, made_up))
    assert next(csv.DictReader(io.StringIO(components_csv(demo))))["letters"] == "#3#"
    assert "#3#" in margin_map_html(demo)
    assert "#3#" in map_text(demo, ())
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(margin_map_pdf(demo))).pages]
    assert "#3#" in pages[0]
    assert any("#2#" in text for text in pages[2:])


def test_columns_have_names_of_their_own() -> None:
    keys = [column.key for column in COLUMNS]
    assert len(set(keys)) == len(keys)


@pytest.mark.parametrize(("place", "width"), [("first", "first_mm"), ("all", "width_mm")])
def test_the_columns_of_a_table_fit_the_page(place: str, width: str) -> None:
    assert sum(getattr(column, width) for column in columns_of(place)) <= INNER_MM  # type: ignore[arg-type]


def test_every_column_that_map_writes_is_told_in_the_readme(demo: Analysis) -> None:
    told = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    for text in (components_csv(demo), hot_spots_csv(demo)):
        columns = next(csv.reader(io.StringIO(text)))
        assert [name for name in columns if f"`{name}`" not in told] == []
