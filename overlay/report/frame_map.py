"""The picture of a frame with the bodies projected on it, the hot spots by rank and a temperature scale."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from overlay.frames.frame import Array
from overlay.job.analysis import CaptureAnalysis
from overlay.report.board_map import part_title
from overlay.report.content import PartRow, kelvin
from overlay.report.drawing import Area, Drawing, Label, Line, Mark, Picture, Placing, Tag, leader_marks, placing_into
from overlay.report.palette import FAINT, INK, PAPER, scale_colors, steps_of

_COLUMN_MM = 27.0  # room for leader labels on either side
_LEGEND_MM = 14.0  # the temperature scale beside a frame
_ABOVE_FRAME_MM = 8.0  # and below it: room for its labels, and those of the scale


def frame_map(
    capture: CaptureAnalysis,
    rows: Iterable[PartRow],
    width_mm: float,
    height_mm: float,
    scale: str = "dusk",
    *,
    picture: bool = True,
) -> Drawing:
    """A frame with the visible top faces, the hot spots by rank, and a temperature scale beside it.

    Without ``picture`` the frame itself is left to whoever paints the drawing.
    """
    by_name = {row.refdes: row for row in rows}
    temperature_c = capture.view.apparent_c
    frame_rows, frame_cols = temperature_c.shape
    bounds = (-0.5, -(frame_rows - 0.5), frame_cols - 0.5, 0.5)
    inner_width = width_mm - 2 * _COLUMN_MM - _LEGEND_MM
    height_mm = min(height_mm, inner_width * frame_rows / frame_cols + 2 * _ABOVE_FRAME_MM)
    placing = placing_into(bounds, inner_width, height_mm - 2 * _ABOVE_FRAME_MM)
    placing = Placing(placing.scale, placing.x_mm + _COLUMN_MM, placing.y_mm + _ABOVE_FRAME_MM, flip_y=True)
    (left, top), (right, bottom) = placing.points([(-0.5, -0.5), (frame_cols - 0.5, frame_rows - 0.5)])
    low, high = frame_range_c(temperature_c)
    marks: list[Mark] = []
    if picture:
        steps = steps_of(temperature_c, low, high)
        size = float(right - left), float(top - bottom)
        marks.append(Picture(steps, scale_colors(scale), float(left), float(bottom), *size))
    seen = {face.component.refdes: face.polygon_px for face in capture.faces if not face.visible_px.is_empty}
    bodies = placing.rings(seen)
    for name, ring in bodies.items():
        row = by_name.get(name)
        title = name if row is None else part_title(row)
        marks.append(Area((ring,), None, PAPER, 0.12, opacity=0.9, part=name, title=title))
    tags = []
    for spot in capture.reading.hot_spots:
        x, y = (float(value) for value in placing.points([spot.pixel])[0])
        marks += _spot_marks(x, y)
        name = spot.candidates[0].refdes or "bare board" if spot.candidates else "?"
        tags.append(Tag(f"{spot.rank}  {name}  {kelvin(spot.temperature_c)} °C", x, y, -spot.rank, name))
    inner = (float(left), float(bottom), float(right), float(top))
    beyond = float(np.nanmin(temperature_c)), float(np.nanmax(temperature_c))
    legend = _legend_marks(width_mm - _LEGEND_MM + 2.0, float(bottom), float(top), (low, high), beyond, scale)
    marks += leader_marks(tags, inner, (float(right) + _COLUMN_MM, height_mm), 2.2, line=FAINT, around=bodies)
    marks += legend
    return Drawing(width_mm, height_mm, tuple(marks), f'Frame "{capture.name}" with bodies and hot spots')


def frame_range_c(temperature_c: Array) -> tuple[float, float]:
    """Temperatures at the two ends of a frame's colours: all but the extreme thousandth."""
    low, high = np.percentile(temperature_c, [0.1, 99.95])
    return float(low), float(max(high, low + 1.0))


_BEYOND_K = 0.5  # what the scale leaves out and is worth an arrow
_LETTERS_MM = 2.6  # nearer than this two labels would touch


def _spot_marks(x: float, y: float) -> list[Mark]:
    """A small open square with ticks: the hot spot's own place stays visible."""
    size = 1.1
    ring = np.array([[-size, -size], [size, -size], [size, size], [-size, size]]) + [x, y]
    return [Area((ring,), None, INK, 0.45), Area((ring,), None, PAPER, 0.2)]


def _legend_marks(
    x: float, low_y: float, high_y: float, ends: tuple[float, float], beyond: tuple[float, float], scale: str
) -> list[Mark]:
    """A bar of colours from low to high; an arrow and a sign where an end's colour stands for more than its value."""
    low, high = ends
    colors = scale_colors(scale)
    bar = np.arange(len(colors), dtype=np.uint8)[::-1, None]
    marks: list[Mark] = [Picture(bar, colors, x, low_y, 3.0, high_y - low_y)]
    cold, hot = (sense * (value - end) >= _BEYOND_K for value, end, sense in zip(beyond, ends, (-1, 1), strict=True))
    for open_end, end, y, sense, color in (
        (cold, low, low_y, -1.0, colors[0]),
        (hot, high, high_y, 1.0, colors[-1]),
    ):
        if open_end:
            tip = np.array([[x, y], [x + 3.0, y], [x + 1.5, y + 2.2 * sense]])
            marks.append(Area((tip,), "#{:02x}{:02x}{:02x}".format(*color.tolist()), INK, 0.12))
            sign = "≥" if sense > 0 else "≤"
            marks.append(Line(np.array([[x + 3.0, y], [x + 3.8, y]]), INK, 0.15))
            marks.append(Label(f"{sign} {end:.0f}", x + 4.2, y - 0.75, 2.1, INK))
    step = next(value for value in (1, 2, 5, 10, 20, 50, 100, 200, 500) if (high - low) / value <= 8)
    for value in np.arange(np.ceil(low / step) * step, high + 1e-9, step):
        y = low_y + (high_y - low_y) * (value - low) / (high - low)
        if (hot and high_y - y < _LETTERS_MM) or (cold and y - low_y < _LETTERS_MM):
            continue
        marks.append(Line(np.array([[x + 3.0, y], [x + 3.8, y]]), INK, 0.15))
        marks.append(Label(f"{value:g}", x + 4.2, float(y) - 0.75, 2.1, INK))
    marks.append(Label("°C apparent", x + 3.0, high_y + (3.4 if hot else 1.2), 2.1, INK, "middle"))
    if hot:
        marks.append(Label(f"up to {beyond[1]:.0f}", x + 3.0, high_y + 5.8, 2.1, INK, "middle"))
    return marks
