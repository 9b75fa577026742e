"""The margin map as one picture, for notebooks."""

from __future__ import annotations

from overlay.board.model import Side
from overlay.job.analysis import Analysis
from overlay.report.board_map import margin_map
from overlay.report.content import part_rows
from overlay.report.svg import svg_text

SIDES: tuple[Side, ...] = ("top", "bottom")
_WIDTH_MM, _HEIGHT_MM = 170.0, 100.0  # what a notebook's column shows without scrolling


def analysis_svg(analysis: Analysis) -> str:
    """The margin maps of all sides that hold rated or read parts, one below the other, as SVG in HTML."""
    rows = part_rows(analysis)
    sides: list[Side] = [side for side in SIDES if any(row.side == side for row in rows)]
    maps = [(side, margin_map(analysis.job.board, rows, side, _WIDTH_MM, _HEIGHT_MM)) for side in sides]
    return "".join(svg_text(drawing, f"margin-map-{side}") for side, drawing in maps)
