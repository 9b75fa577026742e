"""``units.pdf``, ``units.csv`` and ``units.json``: several units of one board."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from overlay.comparison.units import UnitPart, Units
from overlay.job.analysis import Analysis
from overlay.report.content import DASH, cautions, kelvin
from overlay.report.numbers import number
from overlay.report.tables import csv_text

_MOST_SHOWN = 12  # lines on a terminal beside the rest
_FEW = 5  # units below which the report says how little they show


def units_json(units: Units) -> dict[str, Any]:
    """All units as JSON values; keys may be added, never renamed."""
    return {
        "format": 1,
        "units": list(units.names),
        "shifts_k": [number(shift, 3) for shift in units.shifts_k],
        "odd_units": list(units.odd_units),
        "coverage": units.coverage,
        "confidence": units.confidence,
        "parts": [
            {
                "refdes": part.refdes,
                "projected_c": [number(value, 3) for value in part.projected_c],
                "mean_c": number(part.mean_c, 3),
                "spread_k": number(part.spread_k, 3),
                "worst_c": number(part.worst_c, 3),
                "worst_unit": part.worst_unit or None,
                "limit_c": number(part.limit_c, 3),
                "common_u_k": number(part.common_u_k, 3),
                "factor": number(part.factor, 4),
                "bound_c": number(part.bound_c, 3),
                "keeps": part.keeps,
                "odd": list(part.odd),
            }
            for part in units.parts
        ],
    }


_TABLE = (  # name in the CSV, heading for people
    ("refdes", "part"),
    ("units", "units"),
    ("mean_c", "mean °C"),
    ("spread_k", "s K"),
    ("worst_c", "worst °C"),
    ("worst_unit", "in unit"),
    ("factor", "k"),
    ("bound_c", "bound °C"),
    ("limit_c", "limit °C"),
    ("keeps", "bound keeps it"),
    ("odd", "odd in"),
)


def _cells(part: UnitPart, dash: str) -> list[str]:
    def shown(value: float | None, digits: int = 1) -> str:
        return dash if value is None else f"{value:.{digits}f}"

    keeps = dash if part.keeps is None else "yes" if part.keeps else "no"
    return [
        part.refdes,
        str(sum(value is not None for value in part.projected_c)),
        shown(part.mean_c),
        shown(part.spread_k, 2),
        shown(part.worst_c),
        part.worst_unit or dash,
        shown(part.factor, 3),
        shown(part.bound_c),
        shown(part.limit_c),
        keeps,
        ", ".join(part.odd) or dash,
    ]


def units_csv(units: Units) -> str:
    """A row for each part, those whose bound is above the limit first."""
    return csv_text([name for name, _ in _TABLE], [_cells(part, "") for part in units.parts])


def units_words(units: Units) -> tuple[str, ...]:
    """What several units show, in sentences."""
    judged = [part for part in units.parts if part.keeps is not None]
    kept = sum(part.keeps is True for part in judged)
    lines = [
        f"{len(units.names)} units: {', '.join(units.names)}.",
        f"Bound: with {units.confidence:.0%} confidence {units.coverage:.0%} of all such units stay at or below "
        "mean + k·s (one-sided tolerance bound for normal values, ISO 16269-6), plus the guard band of what all units' "
        "readings "
        f"share. It keeps the limit of {kept} of {len(judged)} rated parts.",
    ]
    if len(units.names) < _FEW:
        lines.append(f"{len(units.names)} units show little: k falls from 26 at two over 4.2 at five to 2.9 at ten.")
    odd = [f"{part.refdes} in {', '.join(part.odd)}" for part in units.parts if part.odd]
    for name, shift in zip(units.names, units.shifts_k, strict=True):
        if name in units.odd_units:
            lines.append(f"Odd unit: {name}, its parts are {kelvin(shift)} K from the middle unit's.")
    if odd:
        more = f" and {len(odd) - _MOST_SHOWN} more" if len(odd) > _MOST_SHOWN else ""
        lines.append(f"Odd parts: {'; '.join(odd[:_MOST_SHOWN])}{more}.")
    if not odd and not units.odd_units:
        lines.append("No unit and no part departs from the others.")
    return tuple(lines)


def units_text(units: Units) -> str:
    """What several units show, for a terminal."""
    lines = [*units_words(units), ""]
    for part in units.parts[:_MOST_SHOWN]:
        if part.keeps is False:
            lines.append(
                f"  {part.refdes:<8} mean {kelvin(part.mean_c)} °C, s {kelvin(part.spread_k)} K, worst "
                f"{kelvin(part.worst_c)} °C in {part.worst_unit}: bound {kelvin(part.bound_c)} °C above its limit of "
                f"{kelvin(part.limit_c)} °C"
            )
    return "\n".join(lines)


def units_pdf(analyses: Sequence[Analysis], units: Units) -> bytes:
    """Several units on paper."""
    from reportlab.lib.units import mm
    from reportlab.platypus import Spacer

    from overlay.report.pdf_appendix import inputs_table
    from overlay.report.pdf_page import build_pdf, heading, paragraph
    from overlay.report.pdf_table import table

    board = analyses[0].job.board
    title = f"{board.name} {board.revision}".strip() or analyses[0].job.folder.name
    requirement = analyses[0].job.settings.requirement
    story: list[Any] = [
        paragraph(f"{title}: {len(units.names)} units", 15.0, bold=True),
        paragraph(f"Temperatures projected to {requirement.ambient_max_c:g} °C ambient.", 8.0),
        *(paragraph(text, 8.0, before=2) for text in units_words(units)),
        Spacer(1, 4 * mm),
        table(
            [heading for _, heading in _TABLE],
            [_cells(part, DASH) for part in units.parts],
            (16, 11, 16, 12, 17, 22, 13, 17, 17, 20, 25),
            right=(1, 2, 3, 4, 6, 7, 8),
            wrap=(10,),
        ),
        Spacer(1, 4 * mm),
        heading("Cautions"),
        *(paragraph(f"•  {text}", 8.0, before=2) for text in cautions(analyses[0])),
        Spacer(1, 4 * mm),
        heading("Inputs"),
    ]
    for name, analysis in zip(units.names, analyses, strict=True):
        story.append(paragraph(f"{name}: {analysis.job.path.name}", 8.0, bold=True, before=3))
        story.append(inputs_table(analysis.inputs))
    return build_pdf(story, f"Units: {title}")
