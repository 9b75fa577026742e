"""What the reports say of the heat of the demonstration board, whose sources are known."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from overlay.heat.model import HeatCall
from overlay.job.analysis import Analysis
from overlay.job.naming import part_at
from overlay.report.heat_words import heat_words, sources_of
from overlay.report.html import margin_map_html
from overlay.report.pdf import margin_map_pdf
from overlay.report.results import named_json, results
from overlay.report.tables import hot_spots_csv
from overlay.report.text import named_text

DEMO = Path(__file__).parents[2] / "demo_board"


def truth(capture: str) -> dict[str, bool]:
    captures = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))["captures"]
    return {part["refdes"]: part["source"] for part in captures[capture]["parts"]}


@pytest.mark.parametrize("capture", ["full load", "full load, bottom"])
def test_the_demos_sources_make_heat_and_its_passive_parts_are_heated(demo: Analysis, capture: str) -> None:
    known, heat = truth(capture), demo.capture(capture).heat
    assert heat is not None
    warm = {part.refdes: part.call for part in heat.parts if demo.capture(capture)[part.refdes].trusted}
    sources = [refdes for refdes in warm if known[refdes]]
    assert len(sources) >= 2
    assert all(warm[refdes] is HeatCall.MAKES_HEAT for refdes in sources)
    called = [refdes for refdes, call in warm.items() if call is HeatCall.MAKES_HEAT]
    assert len(called) <= 1.35 * len(sources) + 1
    passive = [refdes for refdes in warm if not known[refdes]]
    assert sum(warm[refdes] is HeatCall.HEATED for refdes in passive) >= 0.7 * len(passive)


def test_both_sides_of_one_state_are_told_of_the_same_heat(demo: Analysis) -> None:
    top, bottom = (demo.capture(name).heat for name in ("full load", "full load, bottom"))
    assert top is not None
    assert bottom is not None
    assert top.board_sources == bottom.board_sources


def test_results_carry_the_heat_of_readings_and_captures(demo: Analysis) -> None:
    data = results(demo)
    r17 = next(part for part in data["components"] if part["refdes"] == "R17")
    heat = next(reading["heat"] for reading in r17["readings"] if reading["capture"] == "full load")
    assert heat["call"] == "makes heat"
    assert heat["own_rise_k"] > 40
    assert heat["power_w"] is None
    capture = next(capture for capture in data["captures"] if capture["name"] == "full load")
    assert set(capture["heat"]) == {"board_sources", "total_power_w", "fit_rms_k", "why"}
    shares = [
        reading["heat"]["share"] for part in data["components"] for reading in part["readings"] if reading["heat"]
    ]
    assert all(0.0 <= share <= 1.0 for share in shares)


def test_every_report_says_who_makes_the_heat(demo: Analysis) -> None:
    pdf = "".join(page.extract_text() for page in PdfReader(io.BytesIO(margin_map_pdf(demo))).pages)
    page = margin_map_html(demo)
    assert 'What makes the heat in "full load"' in pdf
    assert "What makes the heat in “full load”" in page
    rows = list(csv.DictReader(io.StringIO(hot_spots_csv(demo))))
    r17 = next(row for row in rows if row["capture"] == "full load" and row["first_candidate"] == "R17")
    assert r17["heat"] == "makes heat"
    assert float(r17["own_rise_k"]) > 40


def test_pointing_at_a_part_says_what_heats_it(demo: Analysis) -> None:
    spot = demo.capture("full load").reading.hot_spots[0]
    named = part_at(demo, *spot.pixel, capture="full load")
    assert "makes heat" in named_text(named)
    assert named_json(named)["candidates"][0]["heat"]["call"] == "makes heat"


def test_sources_are_ranked_by_share_and_worded_with_their_intervals(demo: Analysis) -> None:
    heat = demo.capture("full load").heat
    assert heat is not None
    shares = [source.share for _, source in sources_of(heat)]
    assert shares == sorted(shares, reverse=True)
    part = heat.part("R17")
    assert part is not None
    assert heat_words(part).startswith("makes heat: ")
    assert " % of the heat" in heat_words(part)
