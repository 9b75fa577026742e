"""Where beads go, as pictures: close-ups of board and frame, and sheets of true size to lay on the board."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from overlay.board.model import Component, Side
from overlay.frames.frame import Array
from overlay.job.analysis import Analysis
from overlay.probes.model import ProbePlace, ProbePlan
from overlay.report.board_map import body_corners_mm, outline_rings
from overlay.report.drawing import Area, Drawing, Label, Line, Mark, Picture, Placing
from overlay.report.frame_map import frame_range_c
from overlay.report.palette import BOARD, FAINT, INK, PAPER, scale_colors, steps_of

_CLOSE_UP_MM = 14.0  # width of board shown around a place
_MARK = "#1257a8"
SCALE_BAR_MM = 50.0  # long enough to measure with a ruler to 1 %


def board_close_up(analysis: Analysis, place: ProbePlace, width_mm: float, height_mm: float) -> Drawing:
    """The board around a place, with the bodies by name and the mark."""
    scale = width_mm / _shown_mm(analysis, place)
    flip_x = place.side == "bottom"
    at = np.asarray(place.board_mm)
    placing = _centred(at, scale, width_mm, height_mm, flip_x=flip_x)
    sheet = shapely.box(0, 0, width_mm, height_mm)
    marks: list[Mark] = []
    for ring in outline_rings(analysis.job.board)[:1]:
        marks += _clipped(placing.points(ring), sheet, fill=BOARD, stroke=INK, width=0.3)
    for part in analysis.job.board.components:
        if part.side == place.side and part.body is not None:
            own = part.refdes == place.refdes
            fill = "#ffffff" if own else "#e4e2da"
            marks += _clipped(placing.points(body_corners_mm(part)), sheet, fill, INK, 0.35 if own else 0.12)
            marks += _name_mark(part, placing, sheet)
    marks += _cross(placing.points(at)[0])
    seen = "seen from the top" if place.side == "top" else "seen from below"
    marks.append(Label(f"board, {seen}", 1.0, height_mm - 3.2, 2.1, FAINT))
    marks += _box(width_mm, height_mm)
    return Drawing(width_mm, height_mm, tuple(marks), f"Board around {place.refdes} with the place of the bead")


def _shown_mm(analysis: Analysis, place: ProbePlace) -> float:
    """Width of board to show: enough to see the part's edges."""
    body = analysis.job.board.component(place.refdes).body
    return _CLOSE_UP_MM if body is None else max(_CLOSE_UP_MM, 1.6 * max(body.length_mm, body.width_mm))


def frame_close_up(analysis: Analysis, place: ProbePlace, width_mm: float, height_mm: float) -> Drawing:
    """The frame around a place, with the visible bodies and the mark."""
    capture = next((item for item in analysis.captures if item.name == place.capture), None)
    if capture is None or place.pixel is None:
        words = Label("no capture shows this part", width_mm / 2, height_mm / 2, 2.6, FAINT, "middle")
        return Drawing(width_mm, height_mm, (words, *_box(width_mm, height_mm)), "No capture shows this part")
    pixels_shown = max(_shown_mm(analysis, place) / capture.registration.mm_per_px, 12.0)
    scale = width_mm / pixels_shown
    placing = _centred(np.asarray(place.pixel), scale, width_mm, height_mm, flip_y=True)
    sheet = shapely.box(0, 0, width_mm, height_mm)
    marks = _frame_picture(capture.view.apparent_c, place.pixel, placing, scale, width_mm, height_mm)
    for face in capture.faces:
        if not face.visible_px.is_empty:
            own = face.component.refdes == place.refdes
            marks += _clipped(placing.points(face.polygon_px), sheet, None, PAPER, 0.4 if own else 0.15)
    marks += _cross(placing.points([place.pixel])[0])
    marks.append(Label(f"frame “{capture.name}”", 1.0, height_mm - 3.2, 2.1, PAPER))
    marks += _box(width_mm, height_mm)
    return Drawing(width_mm, height_mm, tuple(marks), f"Frame around {place.refdes} with the place of the bead")


def lay_on_sheets(analysis: Analysis, plan: ProbePlan, side: Side) -> list[tuple[str, Drawing]]:
    """The board at true size with all marks of a side, to be laid on it; several sheets where it is larger."""
    from overlay.report.pdf_page import INNER_MM

    page = (INNER_MM - 2.0, 238.0)  # room below the heading and the scale bar
    rings = outline_rings(analysis.job.board)
    flip_x = side == "bottom"
    flat = Placing(1.0, 0.0, 0.0, flip_x)
    points = np.vstack([flat.points(ring) for ring in rings])
    low, high = points.min(axis=0), points.max(axis=0)
    counts = [max(1, math.ceil((high[axis] - low[axis]) / page[axis])) for axis in (0, 1)]
    room = (page[0], min(page[1], float(high[1] - low[1])))
    places = [place for place in plan.places if place.side == side]
    sheets = []
    for row in range(counts[1]):
        for column in range(counts[0]):
            corner = low + np.array([column * room[0], row * room[1]])
            placing = Placing(1.0, 1.0 - corner[0], 1.0 - corner[1], flip_x)
            tile = f", sheet {row * counts[0] + column + 1} of {counts[0] * counts[1]}" if math.prod(counts) > 1 else ""
            seen = "seen from the top" if side == "top" else "seen from below"
            drawing = _true_size(analysis, places, side, placing, (INNER_MM, room[1] + 12.0), room)
            sheets.append((f"1:1 sheet, {side} side, {seen}{tile}", drawing))
    return sheets


def _true_size(
    analysis: Analysis,
    places: Sequence[ProbePlace],
    side: Side,
    placing: Placing,
    size: tuple[float, float],
    room: tuple[float, float],
) -> Drawing:
    sheet = shapely.box(0, 0, room[0] + 2.0, room[1] + 2.0)
    marks: list[Mark] = []
    for ring in outline_rings(analysis.job.board):
        marks += _clipped(placing.points(ring), sheet, None, INK, 0.25)
    for part in analysis.job.board.components:
        if part.side == side and part.body is not None:
            marks += _clipped(placing.points(body_corners_mm(part)), sheet, None, FAINT, 0.08)
    for place in places:
        at = placing.points([place.board_mm])[0]
        if sheet.contains(shapely.Point(at)):
            marks += _cross(at, 1.6)
            marks.append(
                Label(f"{place.rank} {place.refdes}", at[0] + 1.8, at[1] + 0.6, 1.9, _MARK, bold=True, halo=PAPER)
            )
    y = size[1] - 5.0
    start, end = 1.0, 1.0 + SCALE_BAR_MM
    marks.append(Line(np.array([[start, y], [end, y]]), INK, 0.2))
    marks += [Line(np.array([[x, y - 1.5], [x, y + 1.5]]), INK, 0.2) for x in (start, end)]
    words = f"must measure {SCALE_BAR_MM:g} mm: print at 100 %, without fitting to the page"
    marks.append(Label(words, end + 3.0, y - 0.8, 2.4, INK))
    return Drawing(*size, tuple(marks), f"True-size sheet of the {side} side with the places of the beads")


def _centred(
    at: Array, scale: float, width: float, height: float, *, flip_x: bool = False, flip_y: bool = False
) -> Placing:
    x = -at[0] if flip_x else at[0]
    y = -at[1] if flip_y else at[1]
    return Placing(scale, width / 2 - scale * float(x), height / 2 - scale * float(y), flip_x, flip_y)


def _clipped(ring: Array, sheet: Any, fill: str | None, stroke: str, width: float) -> list[Mark]:
    """What of a closed ring lies on the sheet; its cut edges along the sheet's border are drawn too."""
    cut = shapely.intersection(shapely.make_valid(shapely.Polygon(ring)), sheet)
    polygons = [part for part in shapely.get_parts(cut) if part.geom_type == "Polygon" and not part.is_empty]
    return [Area((np.asarray(part.exterior.coords),), fill, stroke, width) for part in polygons]


def _name_mark(part: Component, placing: Placing, sheet: Any) -> list[Mark]:
    at = placing.points([part.center_mm])[0]
    if not sheet.buffer(-4.0).contains(shapely.Point(at)):
        return []
    return [Label(part.refdes, float(at[0]), float(at[1]) - 3.4, 2.0, INK, "middle", halo=PAPER)]


def _cross(at: Array, arm: float = 2.2) -> list[Mark]:
    """A cross open at its middle, so that the place itself stays visible."""
    gap = arm * 0.25
    marks: list[Mark] = []
    for direction in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        line = np.array([at + gap * np.array(direction), at + arm * np.array(direction)])
        marks += [Line(line, PAPER, 0.7), Line(line, _MARK, 0.35)]
    return marks


def _box(width: float, height: float) -> list[Mark]:
    return [Area((np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]]),), None, INK, 0.2)]


def _frame_picture(
    temperature_c: Array, centre: tuple[float, float], placing: Placing, scale: float, width: float, height: float
) -> list[Mark]:
    """The whole pixels that lie on the sheet."""
    rows, cols = temperature_c.shape
    reach_x, reach_y = width / 2 / scale, height / 2 / scale
    left, right = (int(np.clip(round(value), 0, cols)) for value in (centre[0] - reach_x + 1, centre[0] + reach_x))
    top, bottom = (int(np.clip(round(value), 0, rows)) for value in (centre[1] - reach_y + 1, centre[1] + reach_y))
    if right <= left or bottom <= top:
        return []
    low, high = frame_range_c(temperature_c)
    steps = steps_of(temperature_c[top:bottom, left:right], low, high)
    corner = placing.points([(left - 0.5, bottom - 0.5)])[0]
    size = ((right - left) * scale, (bottom - top) * scale)
    return [Picture(steps, scale_colors(), float(corner[0]), float(corner[1]), *size)]
