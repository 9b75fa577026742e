"""The pages behind the maps: what was not judged and why, uncertainty, registration, cautions, inputs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import PageBreak, Spacer

from overlay.job.analysis import Analysis
from overlay.report.content import DASH, PartRow, cautions, not_judged, rms_words, sentences
from overlay.report.palette import LOOKS
from overlay.report.pdf_page import heading, paragraph, table
from overlay.report.results import tool_version


def verdict_shades(rows: Sequence[PartRow], column: int) -> list[tuple[int, int, str, str]]:
    """The verdict cells of a table in their looks, as `table` wants its shades."""
    return [(index, column, LOOKS[row.verdict].fill, LOOKS[row.verdict].ink) for index, row in enumerate(rows)]


def not_judged_pages(rows: Sequence[PartRow]) -> list[Any]:
    """What was not seen or not rated, and why."""
    chosen = not_judged(rows)
    story: list[Any] = [PageBreak(), heading("Not seen or not rated, and why"), Spacer(1, 2 * mm)]
    if not chosen:
        return [*story, paragraph("Every part was seen and rated.")]
    story.append(
        table(
            ("part", "verdict", "side", "state", "package", "peak °C", "why"),
            [
                (row.refdes, row.verdict, row.side, row.state, row.package, row.peak, sentences(row.why) or DASH)
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
    judged = [row for row in rows if row.verdict in ("over", "undecided", "near")][:40]
    rest = [row for row in rows if row.margin.u_c is not None and row not in judged]
    judged += sorted(rest, key=lambda row: -(row.margin.u_c or 0.0))[: max(0, 40 - len(judged))]
    if not judged:
        return []
    return [
        PageBreak(),
        heading("Uncertainty"),
        paragraph(
            "One standard uncertainty (k = 1) of the margin, and its three largest terms. The camera's own error is "
            "common to all parts of a frame: differences between parts are known better than either. What a small "
            "part's model adds is itself known to about a third only; its probabilities allow for that (Student's t).",
            7.5,
        ),
        Spacer(1, 2 * mm),
        table(
            ("part", "margin K", "± K", "largest terms", "remarks"),
            [(row.refdes, row.margin_text, row.u, ", ".join(row.terms), sentences(row.why)) for row in judged],
            (15, 15, 11, 60, 85),
            right=(1, 2),
            wrap=(3, 4),
        ),
    ]


def registration_pages(analysis: Analysis) -> list[Any]:
    """Residuals of every capture's control points."""
    story: list[Any] = [PageBreak(), heading("Registration")]
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


def closing_pages(analysis: Analysis) -> list[Any]:
    """Cautions, remarks on the input, and the inputs with their digests."""
    story: list[Any] = [PageBreak(), heading("Cautions")]
    story += [paragraph(f"•  {text}", 8.0, before=2) for text in cautions(analysis)]
    if analysis.problems:
        story += [Spacer(1, 4 * mm), heading("Remarks on the input")]
        story += [paragraph(str(problem), 7.0, before=1) for problem in analysis.problems]
    story += [
        Spacer(1, 4 * mm),
        heading("Inputs"),
        paragraph(f"board-overlay {tool_version()}; placement in {analysis.job.board.placement_units}.", 7.5),
        Spacer(1, 1 * mm),
        table(
            ("file", "SHA-256"), [(item.file, item.sha256) for item in analysis.inputs], (66, 120), wrap=(0,), size=6.5
        ),
    ]
    return story
