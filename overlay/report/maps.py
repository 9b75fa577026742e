"""The two pictures of a report: the margin map of a side, and a frame with the bodies projected on it."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from overlay.board.model import Board, Component, Side
from overlay.frames.frame import Array
from overlay.job.analysis import CaptureAnalysis
from overlay.registration.faces import face_polygon
from overlay.report.content import PartRow, attention, kelvin
from overlay.report.drawing import (
    Area,
    Drawing,
    Label,
    Line,
    Mark,
    Picture,
    Placing,
    Tag,
    leader_marks,
    placing_into,
)
from overlay.report.palette import BOARD, FAINT, INK, LOOKS, PAPER, Look, colored, scale_colors

# Scales that a ruler likes: a map is drawn at the largest that fits.
PLAIN_SCALES = (
    0.1,
    0.2,
    0.25,
    0.4,
    0.5,
    0.75,
    1.0,
    1.25,
    1.5,
    1.75,
    2.0,
    2.5,
    3.0,
    4.0,
    5.0,
    6.0,
    8.0,
    10.0,
    15.0,
    20.0,
)
_COLUMN_MM = 27.0  # room for leader labels on either side
_UNKNOWN_CROSS_MM = 0.8  # half the arm of the cross for a body that nobody knows
_LEGEND_MM = 14.0  # the temperature scale beside a frame
_ABOVE_FRAME_MM = 4.0  # and below it: room for its labels
_LEAST_HEIGHT_MM = 45.0  # leader labels need some room even beside a narrow board


def body_corners_mm(part: Component) -> Array:
    """Outline of a part's body on the board, (n, 2), counter-clockwise; a small cross's box where it is unknown."""
    if part.body is not None:
        return face_polygon(part)
    corners = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    return np.asarray(part.center_mm + _UNKNOWN_CROSS_MM * corners)


def outline_rings(board: Board) -> tuple[Array, ...]:
    """Outer rings and holes of the board's outline, each (n, 2) in mm."""
    polygon = board.outline.polygon
    parts = [polygon] if polygon.geom_type == "Polygon" else list(polygon.geoms)
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
    return tuple(np.asarray(ring.coords, dtype=np.float64) for ring in rings)


def margin_map(board: Board, rows: Iterable[PartRow], side: Side, width_mm: float, height_mm: float) -> Drawing:
    """The board to scale, bodies filled by verdict, labels with leaders for what matters."""
    seen = {row.refdes: row for row in rows if row.side == side}

    def look_of(part: Component) -> Look | None:
        row = seen.get(part.refdes)
        return None if row is None else LOOKS[row.verdict]

    def title_of(part: Component) -> str:
        row = seen.get(part.refdes)
        return f"{part.refdes} {part.kind}".strip() if row is None else part_title(row)

    tags = [
        (row.component, f"{row.refdes}  {kelvin(row.margin.margin_c)} K", _weight(row), row.verdict == "over")
        for row in attention(seen.values())
    ]
    words = "seen from the top" if side == "top" else "seen from below"
    counts = ", ".join(f"{sum(r.verdict == verdict for r in seen.values())} {verdict}" for verdict in LOOKS)
    return board_map(
        board, side, width_mm, height_mm, look_of, title_of, tags, f"Margin map of the {side} side, {words}: {counts}"
    )


def part_title(row: PartRow) -> str:
    """One line that says what a part is and how it stands."""
    words = [row.refdes, row.verdict]
    if row.margin.margin_c is not None:
        words.append(f"margin {kelvin(row.margin.margin_c)} K, U {kelvin(row.expanded_c)} K")
    elif row.trusted is not None:
        words.append(f"{row.state}, peak {row.peak} °C")
    return ", ".join(words)


def _weight(row: PartRow) -> float:
    graver = {"over": 2e6, "undecided": 1e6}.get(row.verdict, 0.0)
    return graver - (row.margin.margin_c or 0.0)


def board_map(
    board: Board,
    side: Side,
    width_mm: float,
    height_mm: float,
    look_of: Callable[[Component], Look | None],
    title_of: Callable[[Component], str],
    tags: Iterable[tuple[Component, str, float, bool]],
    description: str,
    column_mm: float = _COLUMN_MM,
) -> Drawing:
    """A side of the board to a plain scale.

    Parameters
    ----------
    look_of
        How a part is filled; None for a part that is drawn faintly (mechanical items).
    title_of
        The line a pointer shows for a part.
    tags
        (part, text, weight, bold) of the labels wanted beside the board.
    column_mm
        Room for the labels on either side.
    """
    rings = outline_rings(board)
    everything = np.vstack([*rings, *(body_corners_mm(part) for part in board.components if part.side == side)])
    west, south = everything.min(axis=0)
    east, north = everything.max(axis=0)
    inner_width = width_mm - 2 * column_mm
    flip_x = side == "bottom"  # a person who turns the board over sees it mirrored
    bounds = (float(west), float(south), float(east), float(north))
    scale = placing_into(bounds, inner_width, height_mm - 6.0, scales=PLAIN_SCALES).scale
    height_mm = min(height_mm, max(scale * (bounds[3] - bounds[1]) + 10.0, _LEAST_HEIGHT_MM))  # no empty paper
    placing = placing_into(bounds, inner_width, height_mm - 6.0, flip_x=flip_x, scales=PLAIN_SCALES)
    placing = Placing(placing.scale, placing.x_mm + column_mm, placing.y_mm + 6.0, placing.flip_x)
    marks: list[Mark] = [Area(tuple(placing.points(ring) for ring in rings), fill=BOARD, stroke=INK, width_mm=0.3)]
    for part in sorted(
        (part for part in board.components if part.side == side), key=lambda part: -_area_mm2(part)
    ):  # small bodies last: what lies under a shield stays visible
        marks += _body_marks(part, placing, look_of(part), title_of(part))
    corners = placing.points(np.array([[west, south], [east, north]]))
    inner = (
        float(corners[:, 0].min()),
        float(corners[:, 1].min()),
        float(corners[:, 0].max()),
        float(corners[:, 1].max()),
    )
    wanted = []
    for part, text, weight, bold in tags:
        x, y = placing.points([part.center_mm])[0]
        wanted.append(Tag(text, float(x), float(y), weight, part.refdes, INK, bold))
    bodies = [placing.points(body_corners_mm(part)) for part in board.components if part.side == side]
    marks += leader_marks(wanted, inner, (width_mm, height_mm), around=bodies)
    marks += _ruler_marks(placing.scale, column_mm, 1.6)
    return Drawing(width_mm, height_mm, tuple(marks), description)


def _area_mm2(part: Component) -> float:
    return 0.0 if part.body is None else part.body.length_mm * part.body.width_mm


def _body_marks(part: Component, placing: Placing, look: Look | None, title: str) -> list[Mark]:
    corners = placing.points(body_corners_mm(part))
    if look is None:
        return [Area((corners,), stroke=FAINT, width_mm=0.1, part=part.refdes, title=title)] if part.body else []
    if part.body is None:
        middle = placing.points([part.center_mm])[0]
        arm = max(_UNKNOWN_CROSS_MM * placing.scale, 0.8)
        cross = [np.array([middle - arm, middle + arm]), np.array([middle + [-arm, arm], middle + [arm, -arm]])]
        return [Line(line, INK, 0.25, part=part.refdes) for line in cross]
    marks: list[Mark] = [
        Area((corners,), look.fill, INK, 0.12, look.hatch, look.dashed, part.refdes, title),
    ]
    width, height = np.ptp(corners, axis=0)
    size = min(2.2, height * 0.55, width / max(len(part.refdes), 1) / 0.62)
    if size >= 0.9:  # smaller letters cannot be read on paper
        x, y = placing.points([part.center_mm])[0]
        halo = look.fill if look.hatch else None
        label = Label(
            part.refdes, float(x), float(y) - 0.36 * size, float(size), look.ink, "middle", halo=halo, part=part.refdes
        )
        marks.append(label)
    return marks


def _ruler_marks(scale: float, x_mm: float, y_mm: float) -> list[Mark]:
    """A ruler of a round length, and the scale in words."""
    length = next(value for value in (100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0) if value * scale <= 40.0 or value == 1.0)
    end = x_mm + length * scale
    ticks = [np.array([[x, y_mm - 0.6], [x, y_mm + 0.6]]) for x in (x_mm, end)]
    words = f"{length:g} mm    scale {scale:g}:1" if scale >= 1 else f"{length:g} mm    scale 1:{1 / scale:g}"
    return [
        Line(np.array([[x_mm, y_mm], [end, y_mm]]), INK, 0.2),
        *(Line(tick, INK, 0.2) for tick in ticks),
        Label(words, end + 2.0, y_mm - 0.7, 2.2, INK),
    ]


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
        pixels = colored(temperature_c, low, high, scale)
        marks.append(Picture(pixels, float(left), float(bottom), float(right - left), float(top - bottom)))
    for face in capture.faces:
        if face.visible_px.is_empty:
            continue
        row = by_name.get(face.component.refdes)
        title = face.component.refdes if row is None else part_title(row)
        ring = placing.points(face.polygon_px)
        marks.append(Area((ring,), None, PAPER, 0.12, opacity=0.9, part=face.component.refdes, title=title))
    bodies = [placing.points(face.polygon_px) for face in capture.faces if not face.visible_px.is_empty]
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


def _spot_marks(x: float, y: float) -> list[Mark]:
    """A small open square with ticks: the hot spot's own place stays visible."""
    size = 1.1
    ring = np.array([[-size, -size], [size, -size], [size, size], [-size, size]]) + [x, y]
    return [Area((ring,), None, INK, 0.45), Area((ring,), None, PAPER, 0.2)]


def _legend_marks(
    x: float, low_y: float, high_y: float, ends: tuple[float, float], beyond: tuple[float, float], scale: str
) -> list[Mark]:
    """A bar of colours from low to high; an arrow past an end says how far the frame goes beyond it."""
    low, high = ends
    bar = scale_colors(scale)[::-1][:, None, :]
    marks: list[Mark] = [Picture(bar, x, low_y, 3.0, high_y - low_y)]
    step = next(value for value in (1, 2, 5, 10, 20, 50, 100, 200, 500) if (high - low) / value <= 8)
    for value in np.arange(np.ceil(low / step) * step, high + 1e-9, step):
        y = low_y + (high_y - low_y) * (value - low) / (high - low)
        marks.append(Line(np.array([[x + 3.0, y], [x + 3.8, y]]), INK, 0.15))
        marks.append(Label(f"{value:g}", x + 4.2, float(y) - 0.75, 2.1, INK))
    colors = scale_colors(scale)
    for value, end, y, sense, color in (
        (beyond[0], low, low_y, -1.0, colors[0]),
        (beyond[1], high, high_y, 1.0, colors[-1]),
    ):
        if sense * (value - end) >= _BEYOND_K:
            tip = np.array([[x, y], [x + 3.0, y], [x + 1.5, y + 2.2 * sense]])
            marks.append(Area((tip,), "#{:02x}{:02x}{:02x}".format(*color.tolist()), INK, 0.12))
            words = f"to {value:.0f}"
            marks.append(Label(words, x + 4.2, y + (1.0 if sense > 0 else -2.4), 2.1, INK))
    above = 3.4 if beyond[1] - high >= _BEYOND_K else 1.2
    marks.append(Label("°C apparent", x + 3.0, high_y + above, 2.1, INK, "middle"))
    return marks
