"""A term of the budget is a member of one enumeration: each report shows it without being told of it."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import cast

from pypdf import PdfReader

from overlay.job.analysis import Analysis
from overlay.report.html import margin_map_html
from overlay.report.pdf import margin_map_pdf
from overlay.report.results import results
from overlay.uncertainty import Term, TermName


def test_a_made_up_term_stands_in_page_document_and_print(demo: Analysis) -> None:
    made_up = Term(cast(TermName, "moonlight"), 20.0)
    judged = demo.margin("R17")
    margins = [replace(item, budget=(*item.budget, made_up)) if item is judged else item for item in demo.margins]
    analysis = replace(demo, margins=tuple(margins))
    assert "moonlight" in margin_map_html(analysis)
    (part,) = (item for item in results(analysis)["components"] if item["refdes"] == "R17")
    assert "moonlight" in [term["term"] for term in part["worst"]["budget"]]
    assert "moonlight" in "".join(page.extract_text() for page in PdfReader(io.BytesIO(margin_map_pdf(analysis))).pages)
