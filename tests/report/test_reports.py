"""The reports of the demonstration board: what is in them, and that they are laid out for a reader."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from overlay.job.analysis import Analysis
from overlay.job.compare import compare_jobs
from overlay.job.probe import plan_job
from overlay.margin.model import VERDICTS
from overlay.report.comparison import comparison_csv, comparison_json
from overlay.report.comparison_pages import comparison_html, comparison_pdf
from overlay.report.content import attention, cautions, not_judged, overlooked, part_rows
from overlay.report.drawing import Label, Line
from overlay.report.pdf import margin_map_pdf
from overlay.report.probe_pages import probe_plan_pdf
from overlay.report.probe_pictures import SCALE_BAR_MM, lay_on_sheets
from overlay.report.results import results
from overlay.report.tables import components_csv, csv_text

POINTS_PER_MM = 72 / 25.4


def pdf_text(data: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)


def test_rows_come_gravest_first_and_none_is_lost(demo: Analysis) -> None:
    rows = part_rows(demo)
    parts = [part for part in demo.job.board.components if not part.mechanical]
    assert {row.refdes for row in rows} == {part.refdes for part in parts}
    order = [VERDICTS.index(row.verdict) for row in rows]
    assert order == sorted(order)
    assert len(attention(rows)) + len(not_judged(rows)) + sum(row.verdict == "clear" for row in rows) == len(rows)


def test_the_small_parts_nobody_thinks_of_have_a_list_of_their_own(demo: Analysis) -> None:
    names = [row.refdes for row in overlooked(part_rows(demo))]
    assert names[0] == "R17"
    assert not {"U3", "U5", "U10"} & set(names)


def test_results_have_every_documented_key_and_only_numbers_json_knows(demo: Analysis) -> None:
    found = json.loads(json.dumps(results(demo), allow_nan=False))
    assert set(found) >= {
        "format",
        "tool",
        "version",
        "job",
        "inputs",
        "board",
        "requirement",
        "captures",
        "components",
        "summary",
    }
    assert sum(found["summary"].values()) == len(found["components"])
    capture = found["captures"][0]
    assert set(capture["registration"]) >= {
        "model",
        "pixel_from_board",
        "points",
        "rms_px",
        "rms_mm",
        "mm_per_px",
        "pose",
    }
    for spot in capture["hot_spots"]:
        assert sum(item["probability"] for item in spot["candidates"]) == pytest.approx(1.0, abs=1e-4)
    r17 = next(item for item in found["components"] if item["refdes"] == "R17")
    assert set(r17["worst"]) >= {
        "capture",
        "projected_c",
        "limit_c",
        "margin_c",
        "u_c",
        "probability_within",
        "verdict",
        "why",
    }
    reading = next(item for item in r17["readings"] if item["capture"] == r17["worst"]["capture"])
    squares = sum(term["contribution_k"] ** 2 for term in reading["budget"])
    assert squares**0.5 == pytest.approx(reading["u_c"], rel=0.02)


def test_every_part_is_a_row_of_components_csv(demo: Analysis) -> None:
    rows = list(csv.DictReader(io.StringIO(components_csv(demo))))
    assert len(rows) == len(part_rows(demo))
    assert rows[0]["refdes"] == "R17"
    assert rows[0]["verdict"] == "over"


def test_text_that_a_spreadsheet_would_run_is_made_plain() -> None:
    text = csv_text(("a",), [["=1+1"], ["@x"], ["-R1"], ["-5.2"], ["plain"]])
    assert text.splitlines()[1:] == ["'=1+1", "'@x", "'-R1", "-5.2", "plain"]


def test_the_report_says_who_has_the_last_word_on_safety(demo: Analysis) -> None:
    words = " ".join(cautions(demo))
    assert "burn" in words
    assert "lethal voltage" in words
    assert "licensed persons take precedence" in words
    assert "licensed persons take precedence" in pdf_text(margin_map_pdf(demo)).replace("\n", " ")


def test_the_same_analysis_gives_the_same_pdf(demo: Analysis) -> None:
    assert margin_map_pdf(demo) == margin_map_pdf(demo)


def test_every_page_is_a4_and_no_text_leaves_it(demo: Analysis) -> None:
    for page in PdfReader(io.BytesIO(margin_map_pdf(demo))).pages:
        width, height = (float(value) / POINTS_PER_MM for value in (page.mediabox.width, page.mediabox.height))
        assert (width, height) == pytest.approx((210, 297), abs=0.1)
        places: list[tuple[float, float]] = []

        def visit(
            text: str, cm: list[float], tm: list[float], *_: object, found: list[tuple[float, float]] = places
        ) -> None:
            if text.strip():
                x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
                y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
                found.append((x / POINTS_PER_MM, y / POINTS_PER_MM))

        page.extract_text(visitor_text=visit)
        assert places
        assert all(5 < x < 205 and 5 < y < 292 for x, y in places)


def test_the_scale_bar_of_the_true_size_sheet_is_50_mm_in_the_pdf(demo: Analysis) -> None:
    """Measured from the page's own drawing operators, in points."""
    plan = plan_job(demo, channels=6)
    (_, drawing), *_ = lay_on_sheets(demo, plan, "top")
    bars = [mark for mark in drawing.marks if isinstance(mark, Line) and len(mark.points) == 2]
    lengths = [float(abs(bar.points[1] - bar.points[0]).max()) for bar in bars]
    assert SCALE_BAR_MM in lengths
    page = next(
        p for p in PdfReader(io.BytesIO(probe_plan_pdf(demo, plan))).pages if "must measure 50 mm" in p.extract_text()
    )
    lines_mm = level_lines_mm(page.get_contents().get_data().decode("latin-1"))
    assert min(abs(line - 50.0) for line in lines_mm) < 0.05  # the table's lines are three times as long
    assert not any(0.05 <= abs(line - 50.0) < 40.0 for line in lines_mm)


def level_lines_mm(content: str) -> list[float]:
    """Horizontal lines of one stroke drawn by ``m … l`` at the page's own scale."""
    words = content.split()
    found, at = [], (0.0, 0.0)
    for index, word in enumerate(words):
        if word == "m":
            at = float(words[index - 2]), float(words[index - 1])
        elif word == "l":
            x, y = float(words[index - 2]), float(words[index - 1])
            # the outline's long edges are level too: the bar alone ends after one stroke
            if abs(y - at[1]) < 1e-6 and words[index + 1] == "S":
                found.append(abs(x - at[0]) / POINTS_PER_MM)
    return found


def test_a_board_larger_than_the_page_is_laid_on_several_sheets(demo: Analysis) -> None:
    from dataclasses import replace

    import shapely

    outline = replace(demo.job.board.outline, polygon=shapely.box(0, 0, 300, 64))
    large = replace(demo, job=replace(demo.job, board=replace(demo.job.board, outline=outline)))
    sheets = lay_on_sheets(large, plan_job(demo, channels=4), "top")
    assert [title for title, _ in sheets] == [
        "1:1 sheet, top side, seen from the top, sheet 1 of 2",
        "1:1 sheet, top side, seen from the top, sheet 2 of 2",
    ]


def test_planned_places_are_marked_on_the_sheet_where_they_are(demo: Analysis) -> None:
    plan = plan_job(demo, channels=6)
    (_, drawing), *_ = lay_on_sheets(demo, plan, "top")
    labels = {mark.text: mark for mark in drawing.marks if isinstance(mark, Label)}
    for place in plan.places:
        if place.side == "top":
            label = labels[f"{place.rank} {place.refdes}"]
            assert label.x_mm - 1.8 - 1.0 == pytest.approx(place.board_mm[0], abs=0.01)


def test_the_comparison_tells_the_same_in_every_form(demo: Analysis, demo_c: Analysis) -> None:
    comparison = compare_jobs(demo, demo_c)
    found = json.loads(json.dumps(comparison_json(comparison), allow_nan=False))
    assert found["added"] == ["R60", "D9"] or set(found["added"]) == {"R60", "D9"}
    assert found["pairs"][0]["verdict_a"] != found["pairs"][0]["verdict_b"]
    rows = list(csv.DictReader(io.StringIO(comparison_csv(comparison))))
    assert len(rows) == len(found["pairs"]) + len(found["added"]) + len(found["removed"])
    text = pdf_text(comparison_pdf(demo, demo_c, comparison))
    page = comparison_html(demo, demo_c, comparison)
    for pair in found["pairs"]:
        assert pair["refdes_b"] in text
        assert f'data-part="{pair["refdes_b"]}"' in page


def test_the_demo_s_split_resistor_is_found_cooler(demo: Analysis, demo_c: Analysis) -> None:
    pairs = {item["refdes_b"]: item for item in comparison_json(compare_jobs(demo, demo_c))["pairs"]}
    assert pairs["R17"]["changed"]
    assert pairs["R17"]["delta_rise_k"] < -20
    assert pairs["R17"]["verdict_a"] == "over"


def test_reports_are_written_whole_or_not_at_all(demo: Analysis, tmp_path: Path) -> None:
    from overlay.errors import InputError
    from overlay.report.write import write_map_reports

    blocked = tmp_path / "report"
    blocked.write_text("a file where a folder is wanted")
    with pytest.raises(InputError, match="cannot be written"):
        write_map_reports(demo, blocked)
    assert blocked.read_text().startswith("a file")
