"""``probe_plan.pdf`` and ``probe_plan.csv``: where each thermocouple goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from overlay.job.analysis import Analysis
from overlay.probes.model import MISPLACED_MM, ProbePlace, ProbePlan
from overlay.probes.read import COLUMNS, PLAN_COLUMNS
from overlay.probes.wire import class_u_c
from overlay.report.content import cautions, kelvin
from overlay.report.probe_pictures import board_close_up, frame_close_up, lay_on_sheets
from overlay.report.tables import csv_text

# The sensor most benches have (common practice); its class stands in the table until another is written there.
_SENSOR, _TYPICAL_C = "K2", 80.0


def probe_plan_csv(plan: ProbePlan) -> str:
    """The plan with the columns of contact readings: only ``temperature_c`` is left to be filled in."""
    columns = (
        "rank",
        "refdes",
        "board_x_mm",
        "board_y_mm",
        "expected_c",
        *(f"cost_at_{distance:g}mm_k" for distance in MISPLACED_MM),
        "reason",
        "temperature_c",
        "u_c",
        "awg",
        "thermocouple",
        "note",
    )
    assert set(columns) <= {*COLUMNS, *PLAN_COLUMNS}, "a filled plan must be readable"
    lines = [
        (
            str(place.rank),
            place.refdes,
            f"{place.board_mm[0]:.3f}",
            f"{place.board_mm[1]:.3f}",
            "" if place.expected_c is None else f"{place.expected_c:.1f}",
            *("" if cost is None else f"{cost:.2f}" for cost in place.cost_k),
            place.reason,
            "",
            f"{class_u_c(_SENSOR, _TYPICAL_C if place.expected_c is None else place.expected_c):.2f}",
            "",
            "",
            "",
        )
        for place in plan.places
    ]
    return csv_text(columns, lines)


def probe_plan_pdf(analysis: Analysis, plan: ProbePlan) -> bytes:
    """The plan on paper: the table, a close-up of each place, and a sheet to lay on the board."""
    from reportlab.lib.units import mm
    from reportlab.platypus import KeepTogether, Spacer, Table

    from overlay.report.pdf_page import INNER_MM, build_pdf, heading, paragraph, section
    from overlay.report.pdf_paint import DrawingFlowable

    board = analysis.job.board
    name = f"{board.name} {board.revision}".strip() or analysis.job.folder.name
    story: list[Any] = [
        paragraph(f"Thermocouple plan: {name}", 15.0, bold=True),
        paragraph(
            f"{len(plan.places)} of {plan.channels} channels, type K, AWG {plan.awg}. Ranked by how much a reading is "
            "expected to settle a verdict.",
            8.5,
        ),
        Spacer(1, 2 * mm),
        _plan_table(plan.places) if plan.places else paragraph("Infrared has settled every rated part.", 9.0),
        *(paragraph(note, 7.5, before=2) for note in plan.notes),
        Spacer(1, 3 * mm),
        heading("Cautions"),
        *(paragraph(f"•  {text}", 8.0, before=2) for text in cautions(analysis)),
    ]
    for side in dict.fromkeys(place.side for place in plan.places):
        for title, drawing in lay_on_sheets(analysis, plan, side):
            story += [*section(title, drawing.height_mm + 12.0), DrawingFlowable(drawing)]
    if plan.places:
        story += section("Where each bead goes", 100.0)
    half = INNER_MM / 2 - 2
    for place in plan.places:
        pictures = Table(
            [
                [
                    DrawingFlowable(board_close_up(analysis, place, half, 62.0)),
                    DrawingFlowable(frame_close_up(analysis, place, half, 62.0)),
                ]
            ],
            [INNER_MM / 2 * mm] * 2,
        )
        words = f"{place.rank}.  {place.refdes}, {place.side} side, on the {place.on}"
        story.append(
            KeepTogether(
                [
                    paragraph(words, 10.0, bold=True, before=6),
                    paragraph(_place_words(place), 8.0),
                    *(paragraph(f"Caution: {text}", 7.5) for text in place.cautions),
                    pictures,
                ]
            )
        )
    return build_pdf(story, f"Thermocouple plan: {name}")


def _plan_table(places: Sequence[ProbePlace]) -> Any:
    from overlay.report.pdf_table import table

    return table(
        ("rank", "part", "on", "x mm", "y mm", "expected °C", "0.5 mm", "1 mm", "2 mm", "wire K", "reason"),
        [
            (
                str(place.rank),
                place.refdes,
                place.on,
                f"{place.board_mm[0]:.2f}",
                f"{place.board_mm[1]:.2f}",
                kelvin(place.expected_c),
                *(kelvin(cost) for cost in place.cost_k),
                kelvin(place.wire_error_k),
                place.reason,
            )
            for place in places
        ],
        (10, 15, 16, 15, 15, 19, 13, 13, 13, 12, 45),
        right=(0, 3, 4, 5, 6, 7, 8, 9),
        wrap=(10,),
    )


def _place_words(place: ProbePlace) -> str:
    words = [f"{place.from_edges[:1].upper()}{place.from_edges[1:]}."]
    if place.from_pin_1:
        words.append(f"{place.from_pin_1[:1].upper()}{place.from_pin_1[1:]}.")
    if place.expected_c is not None:
        words.append(f"Expected {kelvin(place.expected_c)} ± {kelvin(place.expected_u_c)} °C (k = 1).")
    known = [(distance, cost) for distance, cost in zip(MISPLACED_MM, place.cost_k, strict=True) if cost is not None]
    if known:
        costs = ", ".join(f"{kelvin(cost)} K at {distance:g} mm" for distance, cost in known)
        words.append(f"A misplaced bead loses {costs}.")
    if place.wire_error_k is not None:
        words.append(f"The wire draws off about {kelvin(place.wire_error_k)} K.")
    words.append(f"Reason: {place.reason}.")
    return " ".join(words)
