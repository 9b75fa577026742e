"""``components.csv`` and ``hot_spots.csv``: the rows of the report for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from overlay.job.analysis import Analysis
from overlay.report.content import hot_spot_words, part_rows, sentences

_COMPONENT_COLUMNS = (
    "refdes",
    "verdict",
    "margin_c",
    "u_c",
    "probability_within",
    "rating_margin_c",
    "projected_c",
    "limit_c",
    "worst_capture",
    "peak_c",
    "mean_c",
    "state",
    "side",
    "kind",
    "package",
    "part_number",
    "x_mm",
    "y_mm",
    "emissivity",
    "emissivity_u",
    "life_h",
    "load_ratio",
    "why",
)
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
)


def components_csv(analysis: Analysis) -> str:
    """A row for each part, gravest first, as in the report."""
    lines = []
    for row in part_rows(analysis):
        margin, reading, part = row.margin, row.reading, row.component
        lines.append(
            (
                row.refdes,
                row.verdict,
                _cell(margin.margin_c, 2),
                _cell(margin.u_c, 2),
                _cell(margin.probability_within, 4),
                _cell(margin.rating_margin_c, 2),
                _cell(margin.projected_c, 2),
                _cell(margin.limit_c, 2),
                row.capture,
                _cell(None if reading is None else reading.peak_c, 2),
                _cell(None if reading is None else reading.mean_c, 2),
                row.state,
                row.side,
                row.kind,
                row.package,
                row.part_number,
                _cell(part.center_mm[0], 3),
                _cell(part.center_mm[1], 3),
                _cell(None if reading is None else reading.emissivity, 3),
                _cell(None if reading is None else reading.emissivity_u, 3),
                _cell(margin.life_h, 0),
                _cell(margin.load_ratio, 3),
                sentences(row.why),
            )
        )
    return csv_text(_COMPONENT_COLUMNS, lines)


def hot_spots_csv(analysis: Analysis) -> str:
    """A row for each hot spot of each capture."""
    lines = []
    for capture in analysis.captures:
        for spot in capture.reading.hot_spots:
            first = spot.candidates[0].refdes if spot.candidates else None
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
                )
            )
    return csv_text(_HOT_SPOT_COLUMNS, lines)


def csv_text(columns: Sequence[str], lines: Iterable[Sequence[str]]) -> str:
    """CSV with a heading row; text that a spreadsheet would run as a formula is made plain text."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    for line in lines:
        writer.writerow([_plain(cell) for cell in line])
    return stream.getvalue()


def _plain(cell: str) -> str:
    if cell[:1] in ("=", "@", "\t", "\r") or (cell[:1] in "+-" and cell[1:2].isalpha()):
        return "'" + cell
    return cell


def _cell(value: float | None, digits: int) -> str:
    return "" if value is None else f"{value:.{digits}f}"
