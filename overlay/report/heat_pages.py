"""The page that says what makes the heat: shares as bars with their intervals, and who heats whom."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from reportlab.lib.units import mm
from reportlab.platypus import Spacer

from overlay.heat.model import BoardSource, FrameHeat, HeatCall, PartHeat
from overlay.job.analysis import Analysis
from overlay.report.drawing import Area, Drawing, Label, Line, Mark
from overlay.report.heat_words import CAVEAT, heaters_words, share_words, sources_of
from overlay.report.palette import FAINT, INK
from overlay.report.pdf_page import INNER_MM, paragraph, section
from overlay.report.pdf_paint import DrawingFlowable
from overlay.report.pdf_table import table

_MOST_BARS, _MOST_ROWS = 10, 12  # two captures on a page
_BAR_MM, _NAME_MM = 5.0, 42.0  # a line's height; room for a name and its watts
_HEAT_HEAD_MM = 48.0  # heading, how to read it, and the first rows below the bars
_REST = f"At most {_MOST_ROWS} parts are listed; all of them are in results.json."
_FILL = "#dd6a55"


def heat_pages(analysis: Analysis) -> list[Any]:
    """A page for each capture whose heat was worked out."""
    story: list[Any] = []
    told = False  # how to read it, once
    for capture in analysis.captures:
        if capture.heat is not None:
            bars_mm = _BAR_MM * min(len(sources_of(capture.heat)), _MOST_BARS)
            story += section(f'What makes the heat in "{capture.name}"', _HEAT_HEAD_MM + bars_mm)
            story += [] if told else [paragraph(f"{CAVEAT} {_REST}", 7.5), Spacer(1, 2 * mm)]
            told = True
            story += _page(capture.heat)
    return story


def _page(heat: FrameHeat) -> list[Any]:
    if heat.why:
        return [paragraph(f"Cannot be told: {'; '.join(heat.why)}.", 8.5)]
    story: list[Any] = []
    sources = sources_of(heat)
    if sources:
        story.append(DrawingFlowable(share_bars(sources[:_MOST_BARS], INNER_MM)))
    if len(sources) > _MOST_BARS:
        story.append(paragraph(f"and {len(sources) - _MOST_BARS} more of smaller shares.", 7.0, color=FAINT))
    telling = _telling(heat.parts)
    if telling:
        rows = [_row(part) for part in telling[:_MOST_ROWS]]
        headings = ("part", "call", "own K", "± K (2u)", "share, watts", "heated by others")
        story += [Spacer(1, 2 * mm), table(headings, rows, (18, 28, 14, 15, 46, 65), right=(2, 3), wrap=(4, 5))]
    return story


def _telling(parts: Iterable[PartHeat]) -> list[PartHeat]:
    """The parts of which something is known: those that make heat, then those that owe others more than its doubt."""

    def owed_k(part: PartHeat) -> float:
        return sum(heater.rise_k for heater in part.heated_by)

    makers = [part for part in parts if part.call is HeatCall.MAKES_HEAT]
    heated = [part for part in parts if part.call is HeatCall.HEATED and owed_k(part) > 2 * part.own_rise_u_k]
    makers.sort(key=lambda part: (-round(part.own_rise_k, 1), part.refdes))
    heated.sort(key=lambda part: (-round(owed_k(part), 1), part.refdes))
    return [*makers, *heated]


def _row(part: PartHeat) -> tuple[str, ...]:
    share = share_words(part) if part.call is HeatCall.MAKES_HEAT else ""
    rises = f"{part.own_rise_k:.1f}", f"{2 * part.own_rise_u_k:.1f}"
    return part.refdes, part.call.value, *rises, share, heaters_words(part)


def share_bars(sources: Sequence[tuple[str, PartHeat | BoardSource]], width_mm: float) -> Drawing:
    """A bar for each source's share of the heat, with a line over ± 2 standard uncertainties."""
    most = max(source.share + 2 * source.share_u for _, source in sources)
    length = width_mm - _NAME_MM - 22.0
    height = _BAR_MM * len(sources) + 2.0
    marks: list[Mark] = []
    for number, (name, source) in enumerate(sources):
        y = height - _BAR_MM * (number + 1) + 1.0
        low, share, high = (
            _NAME_MM + length * value / most
            for value in (max(source.share - 2 * source.share_u, 0.0), source.share, source.share + 2 * source.share_u)
        )
        marks.append(Label(name, _NAME_MM - 2.0, y + 0.6, 2.4, INK, "end", part=name))
        ring = np.array([[_NAME_MM, y], [share, y], [share, y + 2.8], [_NAME_MM, y + 2.8]])
        marks.append(Area((ring,), _FILL, INK, 0.12, part=name))
        marks.append(Line(np.array([[low, y + 1.4], [high, y + 1.4]]), INK, 0.3))
        marks += [Line(np.array([[x, y + 0.7], [x, y + 2.1]]), INK, 0.3) for x in (low, high)]
        words = f"{100 * source.share:.0f} ± {200 * source.share_u:.0f} %"
        marks.append(Label(words, high + 1.5, y + 0.6, 2.2, INK))
    return Drawing(width_mm, height, tuple(marks), "Shares of the heat with their intervals, the largest first")
