"""The first page and the chart of margins."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from pypdf import PdfReader

from overlay.job.analysis import Analysis
from overlay.report.board_map import sides_map, sides_scale
from overlay.report.content import name_ranges, part_rows
from overlay.report.drawing import Area, Label, Line
from overlay.report.margin_chart import chart_room, charted, margin_chart
from overlay.report.page_one import page_one
from overlay.report.pdf import margin_map_pdf


def pages_of(data: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]


def test_the_one_page_version_is_the_first_page_of_the_whole(demo: Analysis) -> None:
    (only,) = pages_of(margin_map_pdf(demo, only_page_one=True))
    first = pages_of(margin_map_pdf(demo))[0]
    assert only.replace("1 of 1", "") == first.replace(f"1 of {len(pages_of(margin_map_pdf(demo)))}", "")


def test_every_page_says_how_many_there_are(demo: Analysis) -> None:
    pages = pages_of(margin_map_pdf(demo))
    assert all(f"{number} of {len(pages)}" in text for number, text in enumerate(pages, start=1))


def test_each_margin_of_the_chart_stands_at_its_place_between_limit_and_wanted(demo: Analysis) -> None:
    rows = charted(part_rows(demo))
    wanted_k = 10.0
    chart = margin_chart(rows, wanted_k, 186.0, 50.0)
    levels = {mark.text: mark.y_mm for mark in chart.marks if isinstance(mark, Label)}
    squares = {mark.part: float(np.mean(mark.rings[0][:, 1])) for mark in chart.marks if isinstance(mark, Area)}
    low, high = levels["0"], levels["20"]
    for row in rows[: chart_room(186.0)]:
        margin = row.margin.margin_c
        assert margin is not None
        assert squares[row.refdes] == pytest.approx(low + 0.7 + (high - low) * margin / 20.0, abs=0.05)
    reach = {mark.part: mark.points[:, 1] for mark in chart.marks if isinstance(mark, Line) and mark.part}
    r17 = next(row for row in rows if row.refdes == "R17")
    assert reach["R17"].max() - squares["R17"] == pytest.approx((high - low) * (r17.expanded_c or 0.0) / 20.0, rel=0.02)


def test_a_chart_of_hundreds_shows_the_least_and_all_of_it_on_its_sheet(demo: Analysis) -> None:
    row = next(row for row in part_rows(demo) if row.refdes == "R17")
    many = charted(
        replace(
            row,
            component=replace(row.component, refdes=f"LONG_NAME_OF_{n}"),
            margin=replace(row.margin, margin_c=-500.0 + 2 * n),
        )
        for n in range(600)
    )
    chart = margin_chart(many, 10.0, 186.0, 50.0)
    squares = [mark for mark in chart.marks if isinstance(mark, Area)]
    assert [mark.part for mark in squares] == [row.refdes for row in many[: chart_room(186.0)]]
    points = np.vstack([*(mark.rings[0] for mark in squares), *(m.points for m in chart.marks if isinstance(m, Line))])
    assert np.all((points >= 0.0) & (points <= [186.0, 50.0]))


def test_both_sides_are_drawn_at_one_scale_below_or_beside_each_other(demo: Analysis) -> None:
    rows = part_rows(demo)
    for size in ((186.0, 190.0), (186.0, 60.0)):
        drawing = sides_map(demo.job.board, rows, ["top", "bottom"], *size)
        boards = [mark for mark in drawing.marks if isinstance(mark, Area) and len(mark.rings) > 1]
        assert len(boards) == 2
        spans = [np.ptp(mark.rings[0], axis=0) for mark in boards]
        assert spans[0] == pytest.approx(spans[1])
        assert sides_scale(demo.job.board, ["top", "bottom"], *size) == pytest.approx(spans[0][0] / 96.0, rel=0.01)
        every = np.vstack([ring for mark in drawing.marks if isinstance(mark, Area) for ring in mark.rings])
        assert np.all((every >= 0.0) & (every <= [drawing.width_mm, drawing.height_mm]))


def test_names_are_never_cut_however_long(demo: Analysis) -> None:
    rows = part_rows(demo)
    long = [replace(row, component=replace(row.component, refdes=f"PSU_A_{row.refdes}")) for row in rows]
    from overlay.report.page_one import part_table
    from overlay.report.pdf_page import build_pdf

    text = " ".join(pages_of(build_pdf([part_table(long, "all", 6.0)], "names")))
    assert all(row.refdes in text for row in long)
    assert page_one(demo, long).story


@pytest.mark.parametrize(
    ("names", "words"),
    [
        ((), ""),
        (("R1",), "R1"),
        (("R3", "R1", "R2", "C7"), "C7, R1–R3"),
        (("R1", "R2", "R4"), "R1, R2, R4"),
        (("R09", "R10", "R11", "X"), "R09, R10, R11, X"),
        (("J1-1", "J1-2", "J1-3", "J1-3"), "J1-1–J1-3"),
    ],
)
def test_runs_of_designators_are_drawn_together(names: tuple[str, ...], words: str) -> None:
    assert sorted(name_ranges(names).split(", ")) == sorted(words.split(", "))
