"""What a report says first, and what it says is to do next."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from pypdf import PdfReader

from overlay.job.analyse import analyse
from overlay.job.analysis import Analysis
from overlay.job.read import read_job
from overlay.margin.verdict import verdicts_named
from overlay.report.content import hot_unjudged, part_rows
from overlay.report.opening import limit_sources, opening, record_lines, unknown_words
from overlay.report.page_one import page_one
from overlay.report.pdf import margin_map_pdf
from overlay.report.pdf_page import PAGE_MM, height_mm
from overlay.report.tables import components_csv
from overlay.report.tasks import tasks


def first_page(analysis: Analysis) -> str:
    return PdfReader(io.BytesIO(margin_map_pdf(analysis))).pages[0].extract_text().replace("\n", " ")


@pytest.fixture(scope="module")
def without_two_rows(demo: Analysis, tmp_path_factory: pytest.TempPathFactory) -> Analysis:
    """The demonstration with the rows of its two hottest parts taken out of the parts table."""
    import shutil

    folder = tmp_path_factory.mktemp("unrated") / "job"
    shutil.copytree(demo.job.folder, folder, ignore=shutil.ignore_patterns("simulation", "report*"))
    path = folder / "parts.csv"
    kept = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith(("R17,", "R31,"))]
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    head, *captures = (folder / "job.toml").read_text(encoding="utf-8").split("[[capture]]")
    (own,) = (text for text in captures if '"full_load.tiff"' in text)
    (folder / "job.toml").write_text(f"{head}[[capture]]{own}", encoding="utf-8")
    return analyse(read_job(folder))


def test_the_hottest_parts_stay_on_the_first_page_when_nobody_rates_them(without_two_rows: Analysis) -> None:
    """Deleting the rows of the two hottest parts made them vanish."""
    rows = part_rows(without_two_rows)
    assert [row.refdes for row in hot_unjudged(rows)][:2] == ["R17", "R31"]
    text = first_page(without_two_rows)
    assert "Hot, and nobody rated them R17" in text or ("Hot, and nobody rated them" in text and "R17" in text)
    assert "hottest of these is R17, 10" in unknown_words(rows)
    verdicts = {margin.refdes: margin.verdict for margin in without_two_rows.margins}
    assert verdicts["R17"] in verdicts_named("unseen,unrated")


def test_the_first_page_says_what_was_tested_by_what_rule_and_what_is_to_be_done(demo: Analysis) -> None:
    text = first_page(demo)
    for words in (
        "One unit shows nothing of others",
        "guard band of U = k·u, k = 1.64",
        "JCGM 106",
        "could not be read",
    ):
        assert words in text
    assert "What to do next" in text
    assert "Probability that any of the other" in text


def test_the_first_page_says_in_words_what_failed(demo: Analysis) -> None:
    result = dict(opening(demo, part_rows(demo)))["Result"]
    assert result.startswith("1 part is over its limit: R17 (by 8.")
    assert "1 part is undecided: R31" in result
    assert "keep their limits by less than 10 K: U10, U5" in result
    assert "laminate, top side is undecided" in result
    assert "R17 (by" in first_page(demo)


def test_a_surface_that_is_open_is_in_the_work_list_and_asked_for_by_fail_on(demo: Analysis) -> None:
    laminate = next(area for area in demo.areas if area.area.name == "laminate, top side")
    assert laminate.verdict == "undecided"
    listed = {name for task in tasks(part_rows(demo), demo.areas) for name in task.parts}
    assert "laminate, top side under R17" in listed
    over = replace(laminate, verdict="over")
    (first, second, *_) = tasks(part_rows(demo), [over])
    assert first.parts == ("R17",)
    assert second.what.startswith("Cool the board there")


def test_the_demonstration_has_a_record_a_laminate_and_a_surface_to_touch(demo: Analysis) -> None:
    told = dict(record_lines(demo.job.settings.record))
    assert told["date"]
    assert [what for what, value in told.items() if not value] == [
        "instrument's serial number",
        "lens",
        "calibration due",
        "notes",
    ]
    assert [area.area.name for area in demo.areas] == [
        "laminate, top side",
        "laminate, bottom side",
        "terminal block J1",
    ]
    assert demo.areas[2].verdict == "clear"


def test_every_part_that_is_open_is_in_the_work_list(demo: Analysis) -> None:
    rows = part_rows(demo)
    listed = {name for task in tasks(rows, demo.areas) for name in task.parts}
    assert listed >= {row.refdes for row in rows if row.verdict in ("over", "undecided", "unseen", "unrated")}


def test_a_part_that_could_not_be_read_shows_no_temperature(demo: Analysis) -> None:
    rows = {row.refdes: row for row in part_rows(demo)}
    unseen = [row for row in rows.values() if row.verdict == "unseen"]
    assert unseen
    assert {row.peak for row in unseen} == {"–"}
    lines = {line["refdes"]: line for line in csv.DictReader(io.StringIO(components_csv(demo)))}
    assert {lines[row.refdes]["peak_c"] for row in unseen} == {""}


def test_tables_show_the_uncertainty_at_the_confidence_asked_for(demo: Analysis) -> None:
    row = next(row for row in part_rows(demo) if row.verdict == "clear" and row.margin.freedom == float("inf"))
    assert row.k == pytest.approx(1.645, abs=5e-4)
    line = next(line for line in csv.DictReader(io.StringIO(components_csv(demo))) if line["refdes"] == row.refdes)
    assert float(line["expanded_c"]) == pytest.approx(row.k * float(line["u_c"]), abs=0.02)


def test_what_a_record_lacks_is_listed_as_missing(demo: Analysis) -> None:
    settings = demo.job.settings
    record = settings.record.model_copy(update={"date": "2026-11-25", "serial": "0007", "operator": ""})
    told = dict(record_lines(record))
    assert (told["date"], told["serial number"], told["tested by"]) == ("2026-11-25", "0007", "")
    job = replace(demo.job, settings=settings.model_copy(update={"record": record}))
    tested = dict(opening(replace(demo, job=job), part_rows(demo)))["Tested"]
    assert "serial number 0007" in tested
    text = "\n".join(
        page.extract_text() for page in PdfReader(io.BytesIO(margin_map_pdf(replace(demo, job=job)))).pages
    )
    assert "2026-11-25" in text
    assert "Not recorded" in text
    assert "Checked by" in text


def test_data_sheets_are_listed_by_source_and_what_names_none_is_counted(demo: Analysis) -> None:
    rows = part_rows(demo)
    sources, silent = limit_sources(rows)
    assert sources == ()
    assert silent == sum(row.component.rating is not None and row.component.rating.limit_c is not None for row in rows)
    first = next(row for row in rows if row.refdes == "R17")
    assert first.component.rating is not None
    named = replace(
        first, component=replace(first.component, rating=replace(first.component.rating, limit_source="S1"))
    )
    assert limit_sources([named]) == ((("S1", "R17"),), 0)


def test_the_first_page_of_a_crowded_board_is_one_page(demo: Analysis) -> None:
    rows = part_rows(demo)
    over = next(row for row in rows if row.refdes == "R17")
    many = [replace(over, component=replace(over.component, refdes=f"R{900 + i}")) for i in range(60)]
    hot = [row for row in rows if row.verdict == "unrated"] * 10
    first = page_one(demo, [*many, *hot, *rows])
    assert height_mm(first.story) <= PAGE_MM
    assert any(type(one).__name__ == "DrawingFlowable" for one in first.story)
