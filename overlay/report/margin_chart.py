"""The margins of many parts in one strip: each with its uncertainty, against the limit and the wanted margin."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from overlay.report.content import PartRow, kelvin
from overlay.report.drawing import Area, Drawing, Label, Line, Mark
from overlay.report.palette import FAINT, INK, LOOKS
from overlay.report.pdf_fonts import printable

_LEFT_MM, _RIGHT_MM, _TOP_MM = 11.0, 24.0, 3.0  # room for the scale, and for the words at its lines
_PITCH_MM = (1.95, 9.0)  # from part to part: names can still be read …; … few parts stand no farther apart
_HALF_MM = 0.62  # of a square
_NAME_MM = 1.75  # letters of a name
_LONGEST_NAME = 14  # letters; longer ones are cut
_BEYOND = 0.08  # of the range, at either end; longer lines are cut there
_STEPS_K = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)  # between lines of the scale


def charted(rows: Iterable[PartRow]) -> tuple[PartRow, ...]:
    """The parts that have a margin, the least first, ties by designator."""
    found = [row for row in rows if row.margin.margin_c is not None]
    return tuple(sorted(found, key=lambda row: (round(row.margin.margin_c or 0.0, 1), row.refdes)))


def margin_chart(rows: Sequence[PartRow], wanted_k: float, width_mm: float, height_mm: float) -> Drawing:
    """As many of the parts with a margin as there is room for, the least first, from left to right.

    Parameters
    ----------
    rows
        As `charted` gives them.
    wanted_k
        The margin that is wanted; a line of its own.
    """
    most = int((width_mm - _LEFT_MM - _RIGHT_MM) / _PITCH_MM[0])
    shown = rows[:most]
    pitch = min((width_mm - _LEFT_MM - _RIGHT_MM) / max(len(shown), 1), _PITCH_MM[1])
    names = [_cut(row.refdes) for row in shown]
    foot = 2.0 + 0.62 * _NAME_MM * max((len(name) for name in names), default=1)
    low, high = _range_k(shown, wanted_k)

    def y_mm(value_k: float) -> float:
        share = (min(max(value_k, low), high) - low) / (high - low)
        return float(foot + share * (height_mm - _TOP_MM - foot))

    end = _LEFT_MM + pitch * len(shown)
    marks = _scale_marks(low, high, wanted_k, end, y_mm(low), y_mm(high))
    for index, (row, name) in enumerate(zip(shown, names, strict=True)):
        x = _LEFT_MM + pitch * (index + 0.5)
        marks += _part_marks(row, x, low, high, y_mm(low), y_mm(high))
        marks.append(
            Label(name, x + 0.32 * _NAME_MM, foot - 1.2, _NAME_MM, INK, "end", angle_deg=90.0, part=row.refdes)
        )
    words = f"Margins of {len(shown)} parts, from {kelvin(rows[0].margin.margin_c) if rows else ''} K upwards"
    return Drawing(width_mm, height_mm, tuple(marks), words)


def chart_words(rows: Sequence[PartRow], shown_all: int, wanted_k: float) -> str:
    """What stands above the strip: how to read it, and what it leaves out."""
    text = (
        "A square is a part's margin at the hottest ambient, its line reaches U = k·u to either side. A line wholly "
        f"above 0 keeps the limit at the confidence asked for; {wanted_k:g} K are wanted."
    )
    if len(rows) > shown_all:
        text += f" The {len(rows) - shown_all} parts of larger margin are left out."
    return text


def chart_room(width_mm: float) -> int:
    """How many parts a strip of that width shows."""
    return int((width_mm - _LEFT_MM - _RIGHT_MM) / _PITCH_MM[0])


def _cut(name: str) -> str:
    name = printable(name)
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1]}…"


def _range_k(rows: Sequence[PartRow], wanted_k: float) -> tuple[float, float]:
    """Ends of the scale: every margin that is shown, the limit and the wanted margin, and some room beyond."""
    margins = np.array([row.margin.margin_c for row in rows], dtype=np.float64)
    low, high = float(np.min(margins, initial=0.0)), float(np.max(margins, initial=max(1.2 * wanted_k, 5.0)))
    return low - _BEYOND * (high - low), high + _BEYOND * (high - low)


def _scale_marks(low: float, high: float, wanted_k: float, end: float, bottom: float, top: float) -> list[Mark]:
    """Lines of the scale, and those of the limit and of what is wanted with their words."""

    def y_mm(value_k: float) -> float:
        return bottom + (value_k - low) / (high - low) * (top - bottom)

    step = next((value for value in _STEPS_K if (high - low) / value <= 8), _STEPS_K[-1])
    marks: list[Mark] = [Label("margin K", 0.0, top - 0.7, 2.0, FAINT)]
    for value in np.arange(np.ceil(low / step) * step, high + 1e-9, step):
        y = y_mm(float(value))
        marks.append(Line(np.array([[_LEFT_MM, y], [end, y]]), "#dcdcd6", 0.12))
        if top - y > 2.5:
            marks.append(
                Label(f"{value + 0.0:g}".replace("-", "\N{MINUS SIGN}"), _LEFT_MM - 1.0, y - 0.7, 2.0, INK, "end")
            )
    limit, wanted = y_mm(0.0), y_mm(wanted_k)
    marks.append(Line(np.array([[_LEFT_MM, limit], [end, limit]]), INK, 0.35))
    marks.append(Label("limit", end + 1.0, limit - 0.7, 2.0, INK, bold=True))
    if wanted_k > 0.0:
        marks.append(Line(np.array([[_LEFT_MM, wanted], [end, wanted]]), INK, 0.25, dashed=True))
        marks.append(Label(f"{wanted_k:g} K wanted", end + 1.0, max(wanted - 0.7, limit + 1.6), 2.0, INK))
    return marks


def _part_marks(row: PartRow, x: float, low: float, high: float, bottom: float, top: float) -> list[Mark]:
    """The margin as a square on the line of its uncertainty."""

    def y_mm(value_k: float) -> float:
        return bottom + (min(max(value_k, low), high) - low) / (high - low) * (top - bottom)

    margin, reach = row.margin.margin_c or 0.0, row.expanded_c or 0.0
    look = LOOKS[row.verdict]
    line = np.array([[x, y_mm(margin - reach)], [x, y_mm(margin + reach)]])
    ring = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]) * _HALF_MM + [x, y_mm(margin)]
    title = f"{row.refdes}, {row.verdict}, margin {kelvin(row.margin.margin_c)} K, U {kelvin(row.expanded_c)} K"
    return [
        Line(line, INK, 0.2, part=row.refdes),
        Area((ring,), look.fill, INK, 0.15, part=row.refdes, title=title),
    ]
