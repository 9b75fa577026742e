"""The demonstration board's reports are as they should be."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest

from overlay.job.analysis import Analysis
from overlay.job.read import survey_job
from overlay.report.check import check_text
from overlay.report.pdf import margin_map_pdf
from overlay.report.tables import hot_spots_csv

HERE = Path(__file__).parent
DEMO = HERE.parents[1] / "demo_board"
_NUMBER = re.compile(r"[-−]?\d+(?:\.\d+)?")


def same(one: str, other: str) -> bool:
    """Equal words; numbers with a point within 0.3 or 3 %, whole numbers exactly (percentages within 3)."""
    if _NUMBER.sub("#", one) != _NUMBER.sub("#", other):
        return False
    for first, second in zip(_NUMBER.finditer(one), _NUMBER.finditer(other), strict=True):
        a, b = (float(item.group().replace("−", "-")) for item in (first, second))
        percent = one[first.end() : first.end() + 2] == " %"
        loose = "." in first.group() or "." in second.group()
        if abs(a - b) > (max(0.3, 0.03 * abs(a)) if loose else 3.0 if percent else 0.0):
            return False
    return True


def hold(name: str, text: str, accept: bool) -> None:
    path = HERE / name
    if accept:
        path.write_text(text, encoding="utf-8")
        return
    gold = path.read_text(encoding="utf-8").splitlines()
    lines = text.splitlines()
    differing = [(a, b) for a, b in zip(gold, lines, strict=False) if not same(a, b)]
    assert not differing, f"first of {len(differing)} differing lines:\n- {differing[0][0]}\n+ {differing[0][1]}"
    assert len(gold) == len(lines)


def test_check_says_what_it_should(request: pytest.FixtureRequest) -> None:
    hold("check.txt", check_text(survey_job(DEMO)), request.config.getoption("--accept-gold"))


def test_the_report_on_paper_reads_as_it_should(demo: Analysis, request: pytest.FixtureRequest) -> None:
    from pypdf import PdfReader

    pages = PdfReader(io.BytesIO(margin_map_pdf(demo))).pages
    text = "\n".join(page.extract_text() for page in pages)
    text = re.sub(r"board-overlay \S+; placement", "board-overlay VERSION; placement", text)
    hold("margin_map.txt", text, request.config.getoption("--accept-gold"))


def test_hot_spots_are_as_they_should_be(demo: Analysis, request: pytest.FixtureRequest) -> None:
    hold("hot_spots.csv", hot_spots_csv(demo), request.config.getoption("--accept-gold"))


def test_the_comparison_of_lines_knows_words_from_numbers() -> None:
    assert same("R17 127.3 °C", "R17 127.5 °C")
    assert not same("R17 127.3 °C", "R17 137.3 °C")
    assert not same("R17 read", "R18 read")
    assert not same("R17 read", "R17 small")
