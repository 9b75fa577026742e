"""The pages behind the maps: what was not judged and why, uncertainty, registration, cautions, inputs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Spacer

import overlay
from overlay.files import InputFile
from overlay.job.analysis import Analysis
from overlay.report.content import DASH, PartRow, cautions, kelvin, not_judged, rms_words, sentences
from overlay.report.opening import limit_sources, record_lines
from overlay.report.page_one import verdict_shades
from overlay.report.pdf_page import heading, paragraph, section
from overlay.report.pdf_table import table

_MOST_BUDGETS = 25  # two pages; the rest stand in results.json


def record_page(analysis: Analysis, rows: Sequence[PartRow]) -> list[Any]:
    """The test record as one block, and where limits come from."""
    lines = record_lines(analysis.job.settings.record)
    missing = [what for what, value in lines if not value]
    story: list[Any] = [
        *section("Test record", 40.0),
    ]
    if known := [(what, value) for what, value in lines if value]:
        story.append(table(("what", "as recorded"), known, (40, 146), wrap=(1,)))
    if missing:
        story.append(paragraph(f"Not recorded ([record] in job.toml): {', '.join(missing)}.", 7.5, before=2))
    story.append(
        paragraph("Tested by ______________________   Checked by ______________________   Date ______", 8.0, before=8)
    )
    sources, silent = limit_sources(rows)
    story += section("Where the limits come from", 30.0)
    if sources:
        story.append(table(("data sheet or policy", "parts"), sources, (80, 106), wrap=(0, 1), size=6.5))
    if silent:
        words = f"The parts table names no data sheet (limit_source) for the limits of {silent} parts"
        story.append(
            paragraph(f"{words}; the page and components.csv say which line of it each is from.", 7.5, before=2)
        )
    if not sources and not silent:
        story.append(paragraph("No limit was given.", 7.5))
    return story


def not_judged_pages(rows: Sequence[PartRow]) -> list[Any]:
    """What was not seen or not rated, and why."""
    chosen = not_judged(rows)
    story: list[Any] = section("Not seen or not rated, and why")
    if not chosen:
        return [*story, paragraph("Every part was seen and rated.")]
    story.append(
        table(
            ("part", "verdict", "side", "state", "package", "peak °C", "why"),
            [
                (
                    row.refdes,
                    row.verdict,
                    row.side,
                    row.state,
                    row.component.package,
                    row.peak,
                    sentences(row.why) or DASH,
                )
                for row in chosen
            ],
            (15, 16, 13, 13, 30, 14, 85),
            right=(5,),
            wrap=(6,),
            shades=verdict_shades(chosen, 1),
        )
    )
    return story


def uncertainty_pages(rows: Sequence[PartRow]) -> list[Any]:
    """The largest terms of the budgets that matter: of grave verdicts first, then of the least certain."""
    judged = [row for row in rows if row.verdict in ("over", "undecided", "near")][:_MOST_BUDGETS]
    names = {row.refdes for row in judged}
    rest = [row for row in rows if row.margin.u_c is not None and row.refdes not in names]
    rest.sort(key=lambda row: (-round(row.margin.u_c or 0.0, 2), row.refdes))
    judged += rest[: max(0, _MOST_BUDGETS - len(judged))]
    if not judged:
        return []
    return [
        *section("Uncertainty"),
        paragraph(
            f"U = k·u of the margin, k = {min(row.k for row in judged):.2f} (one side, at the confidence asked for), "
            "and the three largest terms of u, each one standard uncertainty. The camera's own error is common to all "
            "parts of a frame: differences between parts are known better than either. What a small part's model adds "
            "is itself known to about a third only: its k is that of Student's t. The projection counts as far as a "
            "greater rise could break the limit.",
            7.5,
        ),
        Spacer(1, 2 * mm),
        table(
            ("part", "margin K", "U K", "k", "largest terms", "remarks"),
            [
                (
                    row.refdes,
                    kelvin(row.margin.margin_c),
                    kelvin(row.expanded_c),
                    f"{row.k:.2f}",
                    ", ".join(row.terms),
                    sentences(row.why),
                )
                for row in judged
            ],
            (15, 15, 11, 9, 56, 80),
            right=(1, 2, 3),
            wrap=(4, 5),
        ),
    ]


def registration_pages(analysis: Analysis) -> list[Any]:
    """Residuals of every capture's control points."""
    story: list[Any] = section("Registration")
    for capture in analysis.captures:
        registration = capture.registration
        words = (
            f'"{capture.name}": {registration.model}, {rms_words(registration)}, '
            f"{registration.mm_per_px:.3f} mm per pixel"
        )
        story.append(paragraph(words, 8.5, bold=True, before=6))
        if registration.confidence is not None:
            story.append(paragraph(f"Check: {registration.confidence.reason}", 7.5))
        story += [paragraph(f"Warning: {warning}", 7.5) for warning in registration.warnings]
        story.append(
            table(
                (
                    "point",
                    "pixel x",
                    "pixel y",
                    "board x mm",
                    "board y mm",
                    "z mm",
                    "residual px",
                    "left out px",
                    "remark",
                ),
                [
                    (
                        item.point.at or "by coordinates",
                        f"{item.point.pixel[0]:.2f}",
                        f"{item.point.pixel[1]:.2f}",
                        f"{item.point.board_mm[0]:.3f}",
                        f"{item.point.board_mm[1]:.3f}",
                        f"{item.point.z_mm:.2f}",
                        f"{item.residual_px:.2f}",
                        DASH if item.left_out_px is None else f"{item.left_out_px:.2f}",
                        " ".join(filter(None, ("SUSPECT" if item.suspect else "", item.remark))),
                    )
                    for item in registration.points
                ],
                (24, 16, 16, 19, 19, 13, 19, 19, 41),
                right=(1, 2, 3, 4, 5, 6, 7),
                wrap=(8,),
            )
        )
    return story


def inputs_table(inputs: Sequence[InputFile]) -> Any:
    """Files with the digests of the bytes that were used, two beside each other."""
    cells = [(item.file, item.sha256) for item in inputs]
    cells += [("", "")] * (len(cells) % 2)
    half = len(cells) // 2
    rows = [(*one, *other) for one, other in zip(cells[:half], cells[half:], strict=True)]
    return table(("file", "SHA-256", "file", "SHA-256"), rows, (26, 67, 26, 67), wrap=(0, 1, 2, 3), size=4.5)


def closing_pages(analysis: Analysis) -> list[Any]:
    """Cautions, remarks on the input, and the inputs with their digests."""
    story: list[Any] = section("Cautions")
    story += [paragraph(f"•  {text}", 8.0, before=2) for text in cautions(analysis)]
    if analysis.problems:
        story += section("Remarks on the input", 25.0)
        story += [paragraph(str(problem), 7.0, before=1) for problem in analysis.problems]
    story += [
        heading("Inputs"),
        paragraph(f"board-overlay {overlay.__version__}; placement in {analysis.job.board.placement_units}.", 7.5),
        Spacer(1, 1 * mm),
        inputs_table(analysis.inputs),
    ]
    return story
