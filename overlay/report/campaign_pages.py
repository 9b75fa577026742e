"""``campaign.pdf``, ``campaign_parts.csv``, ``campaign_summary.json`` and text.

Each part's course, spread and worst frame, units unlike the others, and what changed when.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from overlay.arrays import Array
from overlay.campaign.summary import CampaignSummary, Course, OddUnit, PartSummary, Step
from overlay.report.content import kelvin
from overlay.report.drawing import Area, Drawing, Label, Line, Mark, shifted
from overlay.report.palette import FAINT, INK
from overlay.report.tables import csv_text

_SHOWN_COURSES = 18  # parts of least margin whose course is drawn: one page of them
_MOST_IN_LEGEND = 24  # units and states that are named
_SHOWN_ROWS = 40  # a page
_UNIT_INKS = ("#1257a8", "#8a4b08", "#1d6b4f", "#7a2f83", "#5f5f5f", "#b3123f", "#0e7490", "#6b6400")
"""Eight that are told apart on white paper, then again: the legend's order tells the rest."""
_CAMPAIGN_COLUMNS = (
    "refdes",
    "readings",
    "mean_c",
    "highest_c",
    "worst_projected_c",
    "worst_margin_c",
    "worst_frame",
    "worst_path",
    "worst_unit",
    "spread_k",
)


def campaign_csv(summary: CampaignSummary) -> str:
    """One row a part, the least margin first."""
    rows = [tuple(_cell(getattr(part, column)) for column in _CAMPAIGN_COLUMNS) for part in summary.parts]
    return csv_text(_CAMPAIGN_COLUMNS, rows)


def campaign_json(summary: CampaignSummary) -> dict[str, Any]:
    """The summary as plain values; absent numbers are null."""
    return {
        "format": 1,
        "frames": summary.frames,
        "frames_read": summary.frames_read,
        "rows": summary.rows,
        "units": list(summary.units),
        "broken": [{"frame": row.frame, "path": row.path, "why": row.why} for row in summary.broken],
        "parts": [{column: _plain(getattr(part, column)) for column in _CAMPAIGN_COLUMNS} for part in summary.parts],
        "odd_units": [
            {
                "unit": odd.unit,
                "state": odd.state,
                "z": _plain(odd.z),
                "parts": [{"refdes": refdes, "z": _plain(z)} for refdes, z in odd.parts],
            }
            for odd in summary.odd_units
        ],
        "steps": [
            {
                "unit": step.unit,
                "state": step.state,
                "refdes": step.refdes,
                "delta_k": _plain(step.delta_k),
                "frame": step.frame,
                "time_s": step.time_s,
                "gradual": step.gradual,
            }
            for step in summary.steps
        ],
    }


def campaign_text(summary: CampaignSummary) -> str:
    """The summary for a terminal."""
    lines = [counts_line(summary)]
    lines += [f"  not read: {short_path(row.path)}: {row.why}" for row in summary.broken[:5]]
    if len(summary.broken) > 5:
        lines.append(f"  … and {len(summary.broken) - 5} more frames that could not be read")
    lines += [
        f"{part.refdes}: worst margin {kelvin(part.worst_margin_c)} K in {short_path(part.worst_path)}, "
        f"highest {part.highest_c:.1f} °C"
        for part in summary.parts[:8]
    ]
    lines += [f"odd: {odd_line(odd)}" for odd in summary.odd_units[:5]]
    lines += [f"changed: {line}" for line in step_lines(summary.steps)[:5]]
    return "\n".join(lines)


def counts_line(summary: CampaignSummary) -> str:
    """How many frames, units and readings there are, and how many frames were lost."""
    units = [unit for unit in summary.units if unit]
    of_units = f" of {len(units)} units" if len(units) > 1 else ""
    return f"{summary.frames_read} of {summary.frames} frames{of_units} read, {summary.rows} rows"


def short_path(path: str) -> str:
    """A frame's name with the folder it lies in: enough to find it, short enough for a column."""
    return "/".join(path.replace("\\", "/").split("/")[-2:])


def odd_line(odd: OddUnit) -> str:
    """A unit that lies away from the others, in words."""
    far = ", ".join(f"{refdes} ({z:+.1f})" for refdes, z in odd.parts[:4])
    which = f"unit {odd.unit or 'without a name'}" + (f" in state {odd.state}" if odd.state else "")
    whole = f"its parts together {odd.z:+.1f} robust standard deviations from the other units"
    return f"{which}: {whole}" + (f"; farthest {far}" if far else "")


def step_lines(steps: Sequence[Step]) -> list[str]:
    """Changes in words, the largest first: a part that changes alike in several units is told once."""
    alike: dict[tuple[str, str, bool, bool], list[Step]] = {}
    for step in steps:
        alike.setdefault((step.refdes, step.state, step.gradual, step.delta_k > 0), []).append(step)
    return [_step_line(same) for same in alike.values()]


def _step_line(same: Sequence[Step]) -> str:
    most, units = same[0], len({step.unit for step in same})
    when = f"from {most.time_s:.0f} s on" if most.time_s is not None else f"from frame {most.frame} on"
    how = "by and by" if most.gradual else when
    in_state = f" in state {most.state}" if most.state else ""
    of_unit = f" of unit {most.unit}" if most.unit else ""
    more = f"; likewise in {units - 1} more unit{'s' if units > 2 else ''}" if units > 1 else ""
    return f"{most.refdes}{of_unit}{in_state}: {most.delta_k:+.1f} K {how}{more}".replace("-", "−", 1)


_PART_COLUMNS = (
    "part",
    "readings",
    "mean °C",
    "highest °C",
    "projected °C",
    "margin K",
    "worst frame",
    "unit",
    "spread K",
)


def campaign_pdf(summary: CampaignSummary, name: str) -> bytes:
    """The campaign on paper: what there is to know, the parts, the courses of those of least margin."""
    from overlay.report.pdf_page import build_pdf, paragraph, section
    from overlay.report.pdf_table import table

    spread = "Spread is the standard deviation over units of the means of each." if len(summary.units) > 1 else ""
    words = f"{counts_line(summary)}. Margins are those at the requirement's hottest ambient. {spread}"
    story: list[Any] = [paragraph(f"Campaign: {name}", 15.0, bold=True), paragraph(words.strip(), 8.5)]
    story += _findings(summary)
    story += section("Parts, the least margin first")
    cells = [_part_cells(part) for part in summary.parts[:_SHOWN_ROWS]]
    story.append(table(_PART_COLUMNS, cells, (17, 17, 17, 19, 21, 17, 42, 19, 17), right=(1, 2, 3, 4, 5, 8)))
    if len(summary.parts) > _SHOWN_ROWS:
        story.append(paragraph(f"and {len(summary.parts) - _SHOWN_ROWS} more in campaign_parts.csv", 7.5))
    return build_pdf([*story, *_courses(summary)], f"Campaign: {name}")


def _part_cells(part: PartSummary) -> tuple[str, ...]:
    return (
        part.refdes,
        str(part.readings),
        f"{part.mean_c:.1f}",
        f"{part.highest_c:.1f}",
        kelvin(None if math.isnan(part.worst_projected_c) else part.worst_projected_c),
        kelvin(part.worst_margin_c),
        short_path(part.worst_path),
        part.worst_unit,
        kelvin(part.spread_k),
    )


def _findings(summary: CampaignSummary) -> list[Any]:
    """Odd units, steps and lost frames; what there is none of is said in one line."""
    from overlay.report.pdf_page import paragraph, section

    story: list[Any] = []
    none = []
    for title, lines in (
        ("Units unlike the others", [odd_line(odd) for odd in summary.odd_units]),
        ("What changed, and when", step_lines(summary.steps)),
        ("Frames that could not be read", [f"{short_path(row.path)}: {row.why}" for row in summary.broken]),
    ):
        if not lines:
            none.append(title.lower())
            continue
        story += section(title, 30.0)
        story += [paragraph(line, 8.0) for line in lines[:_SHOWN_ROWS]]
        if len(lines) > _SHOWN_ROWS:
            story.append(paragraph(f"and {len(lines) - _SHOWN_ROWS} more in campaign_summary.json", 7.5))
    return [paragraph(f"None: {'; '.join(none)}.", 8.5), *story] if none else story


def _courses(summary: CampaignSummary) -> list[Any]:
    """The courses of the parts of least margin, three beside each other, under what their colours stand for."""
    from reportlab.lib.units import mm
    from reportlab.platypus import Table

    from overlay.report.pdf_page import INNER_MM, section
    from overlay.report.pdf_paint import DrawingFlowable

    each = [
        ([course for course in summary.courses if course.refdes == part.refdes], part.refdes)
        for part in summary.parts[:_SHOWN_COURSES]
    ]
    if not each:
        return []
    cells: list[Any] = [DrawingFlowable(course_drawing(*one, INNER_MM / 3 - 2.0, 34.0)) for one in each]
    cells += [""] * (-len(cells) % 3)
    rows = [cells[index : index + 3] for index in range(0, len(cells), 3)]
    legend = DrawingFlowable(course_legend(each[0][0], INNER_MM))
    return [*section("Peaks over the frames, °C"), legend, Table(rows, [INNER_MM / 3 * mm] * 3)]


def course_legend(courses: Sequence[Course], width_mm: float) -> Drawing:
    """Which line is whose: a dash of each colour with its unit and state, in as many rows as they need."""
    marks: list[Mark] = []
    x, row = 0.0, 0
    for index, course in enumerate(courses[:_MOST_IN_LEGEND]):
        name = ", ".join(filter(None, (course.unit, course.state))) or "all frames"
        wide = 9.0 + 0.62 * 2.2 * len(name)
        if x + wide > width_mm:
            x, row = 0.0, row + 1
        y = 1.5 - 4.0 * row
        marks.append(Line(np.array([[x, y + 0.8], [x + 5.0, y + 0.8]]), _UNIT_INKS[index % len(_UNIT_INKS)], 0.4))
        marks.append(Label(name, x + 6.0, y, 2.2, INK))
        x += wide
    height = 4.0 * (row + 1)
    return Drawing(width_mm, height, tuple(shifted(marks, (0.0, 4.0 * row))), "Units and states of the lines")


def course_drawing(courses: Sequence[Course], refdes: str, width_mm: float, height_mm: float) -> Drawing:
    """The course of one part, a line for each unit and state, over time where all have times, else over frames."""
    box = (9.0, 5.0, width_mm - 1.0, height_mm - 5.0)
    marks: list[Mark] = [Label(refdes, box[0], height_mm - 3.6, 2.4, INK, bold=True)]
    timed = bool(courses) and all(np.isfinite(course.time_s).all() for course in courses)
    xs = [course.time_s if timed else course.first_frame for course in courses]
    values = np.concatenate([course.peak_c for course in courses]) if courses else np.empty(0)
    values = values[np.isfinite(values)]
    if not len(values):
        return Drawing(width_mm, height_mm, tuple(marks), f"No course of {refdes}")
    low, high = _widened(float(values.min()), float(values.max()), 1.0)
    first, last = _widened(min(float(x.min()) for x in xs), max(float(x.max()) for x in xs), 1e-9)
    frame = np.array([[box[0], box[1]], [box[2], box[1]], [box[2], box[3]], [box[0], box[3]]])
    marks.append(Area((frame,), None, FAINT, 0.12))
    for value, y in ((low, box[1]), (high, box[3])):
        marks.append(Label(f"{value:.0f}", box[0] - 0.8, y - 0.7, 2.0, FAINT, "end"))
    unit = "s" if timed else "frame"
    marks.append(Label(f"{first:.0f}", box[0], 1.6, 2.0, FAINT))
    marks.append(Label(f"{last:.0f} {unit}", box[2], 1.6, 2.0, FAINT, "end"))
    for index, (course, x) in enumerate(zip(courses, xs, strict=True)):
        at_x = box[0] + (x - first) / (last - first) * (box[2] - box[0])
        at_y = box[1] + (course.peak_c - low) / (high - low) * (box[3] - box[1])
        ink = _UNIT_INKS[index % len(_UNIT_INKS)]
        for run in _runs(np.column_stack([at_x, at_y])):
            marks.append(Line(run, ink, 0.2))
    return Drawing(width_mm, height_mm, tuple(marks), f"Course of {refdes}: {low:.0f} to {high:.0f} °C")


def _runs(points: Array) -> list[Array]:
    """A line cut where a value is missing; a point alone becomes a short dash."""
    good = np.isfinite(points).all(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], good, [False]]).astype(int)))
    runs = [points[a:b] for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return [run if len(run) > 1 else run + np.array([[-0.3, 0.0], [0.3, 0.0]]) for run in runs]


def _widened(low: float, high: float, least: float) -> tuple[float, float]:
    if high - low >= least:
        return low, high
    middle = (low + high) / 2.0
    return middle - least / 2.0, middle + least / 2.0


def _plain(value: object) -> object:
    if isinstance(value, float):
        return None if math.isnan(value) else round(value, 4)
    return value


def _cell(value: object) -> str:
    plain = _plain(value)
    return "" if plain is None else f"{plain:.2f}" if isinstance(plain, float) else str(plain)
