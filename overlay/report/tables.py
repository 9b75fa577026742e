"""``components.csv`` and ``hot_spots.csv``: the rows of the report for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from overlay.heat.model import PartHeat
from overlay.job.analysis import Analysis
from overlay.plain_text import visible
from overlay.report.columns import columns_of
from overlay.report.content import hot_spot_words, part_rows, sentences
from overlay.report.heat_words import heaters_words
from overlay.tables import parse_number

_HOT_SPOT_COLUMNS = (
    "capture",
    "rank",
    "temperature_c",
    "u_c",
    "rise_k",
    "pixel_x",
    "pixel_y",
    "board_x_mm",
    "board_y_mm",
    "position_u_mm",
    "first_candidate",
    "candidates",
    "why",
    "heat",
    "own_rise_k",
    "own_rise_u_k",
    "share",
    "share_u",
    "heated_by",
)


def components_csv(analysis: Analysis) -> str:
    """A row for each part, gravest first, as in the report."""
    columns = columns_of("csv")
    lines = [[column.cell(row, "csv") for column in columns] for row in part_rows(analysis)]
    return csv_text([column.key for column in columns], lines)


def hot_spots_csv(analysis: Analysis) -> str:
    """A row for each hot spot of each capture."""
    lines = []
    for capture in analysis.captures:
        for spot in capture.reading.hot_spots:
            first = spot.candidates[0].refdes if spot.candidates else None
            heat = None if first is None or capture.heat is None else capture.heat.part(first)
            lines.append(
                (
                    capture.name,
                    str(spot.rank),
                    _cell(spot.temperature_c, 2),
                    _cell(spot.u_c, 2),
                    _cell(spot.rise_k, 2),
                    _cell(spot.pixel[0], 2),
                    _cell(spot.pixel[1], 2),
                    _cell(spot.board_mm[0], 3),
                    _cell(spot.board_mm[1], 3),
                    _cell(spot.position_u_mm, 3),
                    first or "bare board",
                    hot_spot_words(spot),
                    sentences(spot.why),
                    *_heat_cells(heat),
                )
            )
    return csv_text(_HOT_SPOT_COLUMNS, lines)


def _heat_cells(heat: PartHeat | None) -> tuple[str, ...]:
    if heat is None:
        return ("",) * 6
    rises = _cell(heat.own_rise_k, 2), _cell(heat.own_rise_u_k, 2)
    return heat.call.value, *rises, _cell(heat.share, 4), _cell(heat.share_u, 4), heaters_words(heat)


def csv_text(columns: Sequence[str], lines: Iterable[Sequence[str]]) -> str:
    """CSV with a heading row; text that a spreadsheet would run as a formula is made plain text."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    for line in lines:
        writer.writerow([_plain(cell) for cell in line])
    return stream.getvalue()


def _plain(cell: str) -> str:
    shown = visible(cell)
    formula = cell[:1] in ("=", "+", "-", "@", "\t", "\r") and parse_number(cell) is None
    return "'" + shown if formula else shown


def _cell(value: float | None, digits: int) -> str:
    return "" if value is None else f"{value:.{digits}f}"
