"""The board as a map: its parts to scale, filled by what is said of them, with labels beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from overlay.board.model import Board, Component, Side
from overlay.frames.frame import Array
from overlay.registration.faces import face_polygon
from overlay.report.content import PartRow, attention, hot_unjudged, kelvin
from overlay.report.drawing import (
    Area,
    Drawing,
    Label,
    Line,
    Mark,
    Placing,
    Tag,
    leader_marks,
    placing_into,
    shifted,
)
from overlay.report.palette import BOARD, FAINT, INK, LOOKS, Look

# Scales that a ruler likes: a map is drawn at the largest that fits.
PLAIN_SCALES = (
    0.1,
    0.2,
    0.25,
    0.4,
    0.5,
    0.6,
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
_LEAST_HEIGHT_MM = 45.0  # leader labels need some room even beside a narrow board
_RULER_MM = 6.0  # below a map
_ABOVE_MM = 4.0  # above it, where its side is named
_GAP_MM = 2.0  # between the maps of two sides
_SIDES_KEPT = 4  # whose outlines are worked out once: both sides of two boards that are compared


@dataclass(frozen=True, slots=True)
class MapRoom:
    """The room of a map on paper, and what stands around the board in it."""

    width_mm: float
    height_mm: float
    column_mm: float = _COLUMN_MM  # for the labels on either side
    ruler: bool = True
    caption: str = ""

    @property
    def board_mm(self) -> tuple[float, float]:
        """Width and height that the board itself may take."""
        below = _RULER_MM if self.ruler else 1.0
        return self.width_mm - 2 * self.column_mm, self.height_mm - below - (_ABOVE_MM if self.caption else 1.0)


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


def margin_map(
    board: Board, rows: Iterable[PartRow], side: Side, width_mm: float, height_mm: float, *, ruler: bool = True
) -> Drawing:
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
    tags += [(row.component, f"{row.refdes}  unrated", _UNRATED_WEIGHT, False) for row in hot_unjudged(seen.values())]
    words = "seen from the top" if side == "top" else "seen from below"
    counts = ", ".join(f"{sum(r.verdict == verdict for r in seen.values())} {verdict}" for verdict in LOOKS)
    room = MapRoom(width_mm, height_mm, ruler=ruler, caption=f"{side} side, {words}")
    return board_map(board, side, room, look_of, title_of, tags, f"Margin map of the {side} side, {words}: {counts}")


def sides_map(
    board: Board, rows: Sequence[PartRow], sides: Sequence[Side], width_mm: float, height_mm: float
) -> Drawing:
    """Margin maps of one or both sides as one drawing: below each other, or beside each other where that is larger."""
    if len(sides) == 1:
        return margin_map(board, rows, sides[0], width_mm, height_mm)
    beside = _beside_scale(board, sides, width_mm, height_mm) > _below_scale(board, sides, width_mm, height_mm)
    if beside:
        maps = [margin_map(board, rows, side, (width_mm - _GAP_MM) / 2, height_mm) for side in sides]
        height = max(one.height_mm for one in maps)
        places = [(0.0, height - maps[0].height_mm), ((width_mm + _GAP_MM) / 2, height - maps[1].height_mm)]
    else:
        heights = _below_heights(height_mm)
        maps = [
            margin_map(board, rows, side, width_mm, own, ruler=ruler)
            for side, own, ruler in zip(sides, heights, (False, True), strict=True)
        ]
        height = maps[0].height_mm + maps[1].height_mm + _GAP_MM
        places = [(0.0, maps[1].height_mm + _GAP_MM), (0.0, 0.0)]
    marks = [mark for one, place in zip(maps, places, strict=True) for mark in shifted(one.marks, place)]
    return Drawing(width_mm, height, tuple(marks), "; ".join(one.description for one in maps))


def sides_scale(board: Board, sides: Sequence[Side], width_mm: float, height_mm: float) -> float:
    """The scale at which `sides_map` draws them; of two, the smaller."""
    if height_mm <= 2 * (_RULER_MM + _ABOVE_MM):
        return 0.0
    if len(sides) == 1:
        return _scale(board, sides[0], MapRoom(width_mm, height_mm, caption=" "))
    return max(_beside_scale(board, sides, width_mm, height_mm), _below_scale(board, sides, width_mm, height_mm))


def _beside_scale(board: Board, sides: Sequence[Side], width_mm: float, height_mm: float) -> float:
    room = MapRoom((width_mm - _GAP_MM) / 2, height_mm, caption=" ")
    return min(_scale(board, side, room) for side in sides)


def _below_scale(board: Board, sides: Sequence[Side], width_mm: float, height_mm: float) -> float:
    return min(
        _scale(board, side, MapRoom(width_mm, own, ruler=ruler, caption=" "))
        for side, own, ruler in zip(sides, _below_heights(height_mm), (False, True), strict=True)
    )


def _below_heights(height_mm: float) -> tuple[float, float]:
    """Two maps below each other, the same room for each board: the lower bears the ruler."""
    extra = _RULER_MM - 1.0
    each = (height_mm - _GAP_MM - extra) / 2
    return each, each + extra


def _scale(board: Board, side: Side, room: MapRoom) -> float:
    return placing_into(_bounds(board, side), *room.board_mm, scales=PLAIN_SCALES).scale


@lru_cache(_SIDES_KEPT)
def _bodies_mm(board: Board, side: Side) -> dict[str, Array]:
    """Outlines of all bodies of a side, as `body_corners_mm` gives them."""
    return {part.refdes: body_corners_mm(part) for part in board.components if part.side == side}


@lru_cache(_SIDES_KEPT)
def _bounds(board: Board, side: Side) -> tuple[float, float, float, float]:
    """West, south, east and north of the board and what stands over its edge."""
    everything = np.vstack([*outline_rings(board), *_bodies_mm(board, side).values()])
    (west, south), (east, north) = everything.min(axis=0), everything.max(axis=0)
    return float(west), float(south), float(east), float(north)


_UNRATED_WEIGHT = 5e5  # after what is over or undecided, before what is near


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
    room: MapRoom,
    look_of: Callable[[Component], Look | None],
    title_of: Callable[[Component], str],
    tags: Iterable[tuple[Component, str, float, bool]],
    description: str,
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
    """
    bounds, flip_x = _bounds(board, side), side == "bottom"  # a person who turns the board over sees it mirrored
    scale = _scale(board, side, room)
    spare = room.board_mm[1] - scale * (bounds[3] - bounds[1])
    room = replace(room, height_mm=max(room.height_mm - spare, min(room.height_mm, _LEAST_HEIGHT_MM)))  # no empty paper
    placing = placing_into(bounds, *room.board_mm, flip_x=flip_x, scales=PLAIN_SCALES)
    below = _RULER_MM if room.ruler else 1.0
    placing = Placing(placing.scale, placing.x_mm + room.column_mm, placing.y_mm + below, placing.flip_x)
    rings = outline_rings(board)
    marks: list[Mark] = [Area(tuple(placing.points(ring) for ring in rings), fill=BOARD, stroke=INK, width_mm=0.3)]
    parts = [part for part in board.components if part.side == side]
    bodies = placing.rings(_bodies_mm(board, side))
    for part in sorted(parts, key=lambda part: -_area_mm2(part)):  # small bodies last: what lies under a shield shows
        marks += _body_marks(part, bodies[part.refdes], placing, look_of(part), title_of(part))
    corners = placing.points(np.array([bounds[:2], bounds[2:]]))
    (left, south), (right, north) = corners.min(axis=0), corners.max(axis=0)
    inner = (float(left), float(south), float(right), float(north))
    wanted = []
    for part, text, weight, bold in tags:
        x, y = placing.points([part.center_mm])[0]
        wanted.append(Tag(text, float(x), float(y), weight, part.refdes, INK, bold))
    marks += leader_marks(wanted, inner, (room.width_mm, room.height_mm), around=bodies)
    if room.caption:
        marks.append(Label(room.caption, inner[0], inner[3] + 1.2, 2.2, INK))
    if room.ruler:
        marks += _ruler_marks(placing.scale, room.column_mm, 1.6)
    return Drawing(room.width_mm, room.height_mm, tuple(marks), description)


def _area_mm2(part: Component) -> float:
    return 0.0 if part.body is None else part.body.length_mm * part.body.width_mm


def _body_marks(part: Component, corners: Array, placing: Placing, look: Look | None, title: str) -> list[Mark]:
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
    words = f"{length:g} mm    scale {scale:g}:1" if scale >= 1 else f"{length:g} mm    scale 1:{1 / scale:.3g}"
    return [
        Line(np.array([[x_mm, y_mm], [end, y_mm]]), INK, 0.2),
        *(Line(tick, INK, 0.2) for tick in ticks),
        Label(words, end + 2.0, y_mm - 0.7, 2.2, INK),
    ]
