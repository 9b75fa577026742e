"""``margin_map.pdf``: the whole analysis on paper, for a reader who was not there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.platypus import PageBreak

from overlay.job.analysis import Analysis, CaptureAnalysis
from overlay.margin.budget import coverage_factor
from overlay.reading.hotspots import RULE
from overlay.report.content import DASH, PartRow, hot_spot_words, kelvin, part_rows, sentences
from overlay.report.frame_map import frame_map
from overlay.report.heat_pages import heat_pages
from overlay.report.page_one import page_one, part_table
from overlay.report.pdf_appendix import (
    closing_pages,
    not_judged_pages,
    record_page,
    registration_pages,
    uncertainty_pages,
)
from overlay.report.pdf_page import INNER_MM, build_pdf, paragraph, section
from overlay.report.pdf_paint import FittingDrawing
from overlay.report.pdf_table import table

_LEAST_FRAME_MM, _MOST_FRAME_MM = 58.0, 84.0  # a smaller one would hide small parts; a larger one fills no page
_SPOTS_BEGIN_MM = 30.0  # what the beginning of a frame's hot spots takes
_FRAME_HEAD_MM = 18.0  # heading and conditions above a frame


def margin_map_pdf(analysis: Analysis, *, only_page_one: bool = False) -> bytes:
    """The report as PDF; the same analysis gives the same bytes."""
    rows = part_rows(analysis)
    title = f"{analysis.job.board.name} {analysis.job.board.revision}".strip() or analysis.job.path.parent.name
    first = page_one(analysis, rows)
    story: list[Any] = list(first.story)
    if not only_page_one:
        story += [PageBreak(), *first.left]
        story += record_page(analysis, rows)
        k = coverage_factor(analysis.job.settings.requirement.confidence)
        story += [*section("All parts by margin"), part_table(rows, "all", 6.0)]
        story += not_judged_pages(rows)
        for capture in analysis.captures:
            story += _frame_page(capture, rows, k)
        story += heat_pages(analysis)
        story += uncertainty_pages(rows)
        story += registration_pages(analysis)
        story += closing_pages(analysis)
    return build_pdf(story, f"Margin map: {title}")


def _frame_page(capture: CaptureAnalysis, rows: Sequence[PartRow], k: float) -> list[Any]:
    settings = capture.settings
    story: list[Any] = [
        *section(f'Frame "{capture.name}", {settings.side} side', _FRAME_HEAD_MM + _LEAST_FRAME_MM + _SPOTS_BEGIN_MM),
        paragraph(
            f"Ambient {settings.ambient_c:g} ± {settings.ambient_u_c:g} °C, reflected "
            f"{settings.reflected_or_ambient_c:g} ± {settings.reflected_u_c:g} °C (k = 1), blur of the optics "
            f"{capture.reading.blur_px:.2f} px ({capture.reading.blur_source}). Outlines are the top faces as the "
            f"camera sees them; squares are hot spots by rank. U = k·u, k = {k:.2f}; u mm is one standard uncertainty.",
            7.5,
        ),
        FittingDrawing(
            lambda height_mm: frame_map(capture, rows, INNER_MM, height_mm),
            _LEAST_FRAME_MM,
            _MOST_FRAME_MM,
            _SPOTS_BEGIN_MM,
        ),
    ]
    spots = capture.reading.hot_spots
    if spots:
        story.append(paragraph("Hot spots", 9.5, bold=True, before=3))
        story.append(paragraph(RULE, 7.5))
        story.append(
            table(
                ("rank", "°C", "U K", "rise K", "x mm", "y mm", "u mm", "candidates", "remarks"),
                [
                    (
                        str(spot.rank),
                        kelvin(spot.temperature_c),
                        kelvin(k * spot.u_c),
                        kelvin(spot.rise_k),
                        f"{spot.board_mm[0]:.2f}",
                        f"{spot.board_mm[1]:.2f}",
                        f"{spot.position_u_mm:.2f}",
                        hot_spot_words(spot),
                        sentences(spot.why),
                    )
                    for spot in spots
                ],
                (10, 13, 11, 13, 14, 14, 12, 52, 47),
                right=(0, 1, 2, 3, 4, 5, 6),
                wrap=(7, 8),
            )
        )
    story += _contacts(capture, k)
    notes = [*capture.notes, *capture.reading.notes]
    story += [paragraph(note, 7.5, before=2) for note in notes]
    return story


def _contacts(capture: CaptureAnalysis, k: float) -> list[Any]:
    """Each contact reading beside what infrared says at its place."""
    if not capture.contacts:
        return []
    cells = []
    for met in capture.contacts:
        agrees = "infrared gave none" if met.agrees is None else "agrees" if met.agrees else "CONTRADICTS"
        difference = None if met.infrared_c is None else met.contact_c - met.infrared_c
        emissivity = DASH if met.emissivity is None else f"{met.emissivity:.2f} ± {met.emissivity_u or 0.0:.2f} (k = 1)"
        numbers = [met.contact.temperature_c, met.contact_c, k * met.contact_u_c, met.infrared_c, difference]
        u = None if met.difference_u_c is None else k * met.difference_u_c
        cells.append((met.contact.refdes, *(kelvin(value) for value in (*numbers, u)), agrees, emissivity))
    headings = ("part", "contact °C", "at hottest °C", "U K", "infrared °C", "difference K", "U K", "", "emissivity")
    return [
        paragraph("Contact readings", 9.5, bold=True, before=4),
        table(headings, cells, (16, 18, 22, 12, 20, 20, 12, 30, 36), right=(1, 2, 3, 4, 5, 6)),
    ]
