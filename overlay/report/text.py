"""Plain words for the terminal: what each command found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from overlay.job.analysis import Analysis
from overlay.job.naming import Named
from overlay.job.new import NewJob
from overlay.margin.budget import coverage_factor
from overlay.margin.model import Margin
from overlay.probes.model import ProbePlan
from overlay.registration.model import Registration
from overlay.report.columns import columns_of
from overlay.report.content import attention, hot_unjudged, kelvin, part_rows, rms_words
from overlay.report.heat_words import heat_words
from overlay.report.opening import AREA_HEADINGS, area_rows, risk_words, unknown_words
from overlay.report.results import summary
from overlay.report.tasks import tasks

_MOST_ROWS = 30  # of a list on a terminal: about a screen; the rest stands in the table (own choice)


def new_text(made: NewJob) -> str:
    """What `new` wrote and what is to do next."""
    lines = [f"wrote {', '.join(made.written)} to {made.folder}"]
    if made.board is not None:
        board = made.board
        lines.append(
            f"understood {len(board.components)} components, units {board.placement_units} "
            f"(from {board.placement_units_from})"
        )
    lines += [f"  {problem.severity}  {problem}" for problem in made.problems]
    lines.append(f"next: fill in job.toml and the tables, then `board-overlay check {made.folder}`")
    return "\n".join(lines)


def registrations_text(registrations: Mapping[str, Registration]) -> str:
    """Residuals of every capture, the suspect points, and what the frame itself says."""
    if not registrations:
        return "no captures yet"
    return "\n\n".join(_registration_text(name, item) for name, item in registrations.items())


def _registration_text(name: str, registration: Registration) -> str:
    points = f"{len(registration.points)} points"
    origin = f"refined on the frame from {points}" if registration.refined else f"from {points}"
    lines = [
        f'"{name}" ({registration.side}): {registration.model} {origin}, '
        f"{rms_words(registration)}, {registration.mm_per_px:.3f} mm per pixel"
    ]
    rows = []
    for item in registration.points:
        point = item.point
        place = point.at or f"({point.board_mm[0]:.2f}, {point.board_mm[1]:.2f}) mm"
        left_out = "–" if item.left_out_px is None else f"{item.left_out_px:.2f}"
        remark = " ".join(filter(None, ("SUSPECT" if item.suspect else "", item.remark)))
        rows.append(
            (place, f"({point.pixel[0]:.1f}, {point.pixel[1]:.1f})", f"{item.residual_px:.2f}", left_out, remark)
        )
    lines += _columns(("point", "pixel", "residual px", "left out px", ""), rows, "llrrl")
    confidence = registration.confidence
    if confidence is not None:
        lines.append(f"check: {confidence.reason}")
    lines += [f"warning: {warning}" for warning in registration.warnings]
    return "\n".join(lines)


def map_text(analysis: Analysis, written: Sequence[Path]) -> str:
    """Counts, the rule, what needs attention, what nobody knows, what to do next, and where the reports lie."""
    rows = part_rows(analysis)
    k = coverage_factor(analysis.job.settings.requirement.confidence)
    lines = [", ".join(f"{count} {verdict}" for verdict, count in summary(analysis).items())]
    lines += [risk_words(analysis), f"Not known: {unknown_words(rows)}"]
    columns = columns_of("text")
    align = "".join("r" if column.number else "l" for column in columns)
    for chosen, words in ((attention(rows), ""), (hot_unjudged(rows), "hot, and nobody rated them:")):
        if chosen:
            cells = [[column.cell(row, "text") for column in columns] for row in chosen[:_MOST_ROWS]]
            lines += ["", *([words] if words else []), *_columns([column.heading for column in columns], cells, align)]
            if len(chosen) > _MOST_ROWS:
                lines.append(f"  and {len(chosen) - _MOST_ROWS} more: see components.csv")
    areas = area_rows(analysis)
    if areas:
        lines += ["", *_columns(AREA_HEADINGS, areas, "lllrrrrl")]
    for capture in analysis.captures:
        spots = capture.reading.hot_spots[:5]
        if spots:
            lines += ["", f'hottest in "{capture.name}":']
        for spot in spots:
            names = ", ".join(
                f"{candidate.refdes or 'bare board'} {candidate.probability:.0%}" for candidate in spot.candidates[:3]
            )
            lines.append(f"  {spot.temperature_c:6.1f} °C ± {k * spot.u_c:.1f}  {names}")
        lines += [f"  {note}" for note in (*capture.notes, *capture.reading.notes)]
    lines += ["", f"U and ± are k·u, k = {k:.2f}: a bound on one side at the confidence asked for."]
    next_steps = tasks(rows, analysis.areas)
    if next_steps:
        lines += ["", "what to do next:", *(f"  {task.words}" for task in next_steps[:5])]
    for capture in analysis.captures:
        lines += [f'warning: "{capture.name}": {warning}' for warning in capture.registration.warnings]
    lines += [f"warning: {problem}" for problem in analysis.problems]
    lines += ["", f"wrote {', '.join(path.name for path in written)} to {written[0].parent}"] if written else []
    return "\n".join(lines)


def named_text(named: Named) -> str:
    """The candidates at a pixel with reading and margin."""
    surface = "no solution" if named.surface_c is None else f"{named.surface_c:.1f} °C"
    lines = [
        f'"{named.capture}" pixel ({named.pixel[0]:g}, {named.pixel[1]:g}) = board ({named.board_mm[0]:.2f}, '
        f"{named.board_mm[1]:.2f}) mm: apparent {named.apparent_c:.1f} °C, surface {surface}"
    ]
    nobody = f"outside the board, {named.beyond_mm:.1f} mm from its edge" if named.beyond_mm else "bare board"
    readings = {reading.refdes: reading for reading in named.readings}
    margins = {margin.refdes: margin for margin in named.margins}
    heats = {heat.refdes: heat for heat in named.heats}
    for candidate in named.candidates:
        line = f"  {candidate.probability:4.0%}  {candidate.refdes or nobody}"
        reading = readings.get(candidate.refdes or "")
        if reading is not None:
            peak = "–" if not reading.trusted else f"{reading.peak_c:.1f} °C, u {reading.u_c or 0.0:.1f} K (k = 1)"
            line += f"  {reading.state}, peak {peak}"
            line += f"; {_margin_words(margins[reading.refdes])}"
        if candidate.refdes in heats:
            line += f"\n        {heat_words(heats[candidate.refdes])}"
        lines.append(line)
    return "\n".join(lines)


def plan_text(plan: ProbePlan, written: Sequence[Path]) -> str:
    """Where each thermocouple goes, and why."""
    rows = [
        (
            str(place.rank),
            place.refdes,
            place.on,
            f"({place.board_mm[0]:.2f}, {place.board_mm[1]:.2f})",
            _value(place.expected_c),
            _value(place.cost_k[1]),
            place.reason,
        )
        for place in plan.places
    ]
    headings = ("rank", "part", "on", "board mm", "expected °C", "lost at 1 mm K", "reason")
    lines = _columns(headings, rows, "rlllrrl") if rows else ["Infrared has settled every rated part."]
    lines += plan.notes
    lines += ["", f"wrote {', '.join(path.name for path in written)} to {written[0].parent}"] if written else []
    return "\n".join(lines)


def _margin_words(margin: Margin) -> str:
    if margin.margin_c is None:
        return margin.verdict
    return f"{margin.verdict}, margin {kelvin(margin.margin_c)} K, u {margin.u_c or 0.0:.1f} K (k = 1)"


def _value(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f}"


def _columns(headings: Sequence[str], rows: Sequence[Sequence[str]], align: str) -> list[str]:
    """Rows of text in aligned columns; ``align`` has l or r for each."""
    table = [headings, *rows]
    widths = [max(len(row[index]) for row in table) for index in range(len(headings))]
    lines = []
    for row in table:
        cells = [
            cell.rjust(width) if side == "r" else cell.ljust(width)
            for cell, width, side in zip(row, widths, align, strict=True)
        ]
        lines.append("  " + "  ".join(cells).rstrip())
    return lines
