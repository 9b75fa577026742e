"""A drawing as a list of plain marks, in millimetres on paper with y up.

Every picture of a report is built once as a `Drawing`; ``pdf.py`` and ``html.py`` only paint it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from overlay.frames.frame import Array
from overlay.report.leaders import Ways, outside
from overlay.report.palette import Hatch

Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """A filled shape of one or more rings (even-odd), with an optional hatch over its fill."""

    rings: tuple[Array, ...]  # each (n, 2)
    fill: str | None = None
    stroke: str | None = None
    width_mm: float = 0.15
    hatch: Hatch = ""
    dashed: bool = False
    part: str = ""  # refdes, for pictures that answer to a pointer
    title: str = ""
    opacity: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """An open line through points (n, 2)."""

    points: Array
    stroke: str
    width_mm: float = 0.15
    dashed: bool = False
    part: str = ""


@dataclass(frozen=True, slots=True)
class Label:
    """A line of text; (x, y) is on its base line at the anchor."""

    text: str
    x_mm: float
    y_mm: float
    size_mm: float
    color: str
    anchor: Anchor = "start"
    bold: bool = False
    halo: str | None = None  # paper colour behind the letters, where they cross other marks
    part: str = ""
    angle_deg: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """Pixels that fill a rectangle; rows run downwards."""

    numbers: NDArray[np.uint8]  # (rows, cols), each of a colour
    colors: NDArray[np.uint8]  # (n, 3), at most 256
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


Mark = Area | Line | Label | Picture


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """Marks in paint order on a sheet of ``width_mm`` × ``height_mm``, origin at the lower left."""

    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]
    description: str = ""  # what a reader who cannot see it should know


def shifted(marks: Iterable[Mark], by_mm: tuple[float, float]) -> list[Mark]:
    """The marks moved on their sheet."""
    dx, dy = by_mm
    moved: list[Mark] = []
    for mark in marks:
        if isinstance(mark, Area):
            moved.append(replace(mark, rings=tuple(ring + np.array([dx, dy]) for ring in mark.rings)))
        elif isinstance(mark, Line):
            moved.append(replace(mark, points=mark.points + np.array([dx, dy])))
        else:
            moved.append(replace(mark, x_mm=mark.x_mm + dx, y_mm=mark.y_mm + dy))
    return moved


@dataclass(frozen=True, slots=True)
class Placing:
    """Board or pixel coordinates to paper: ``paper = origin + scale · (x, ±y)``."""

    scale: float
    x_mm: float
    y_mm: float
    flip_x: bool = False
    flip_y: bool = False

    def points(self, xy: Array | Iterable[tuple[float, float]]) -> Array:
        """Points (n, 2) on paper."""
        own = np.asarray(list(xy) if not isinstance(xy, np.ndarray) else xy, dtype=np.float64).reshape(-1, 2)
        signs = np.array([-1.0 if self.flip_x else 1.0, -1.0 if self.flip_y else 1.0])
        return np.asarray(own * signs * self.scale + np.array([self.x_mm, self.y_mm]))

    def rings(self, rings: Mapping[str, Array]) -> dict[str, Array]:
        """Rings (n, 2) on paper, each under its name."""
        if not rings:
            return {}
        ends = np.cumsum([len(ring) for ring in rings.values()])[:-1]
        return dict(zip(rings, np.split(self.points(np.concatenate(list(rings.values()))), ends), strict=True))


def placing_into(
    bounds: tuple[float, float, float, float],
    width_mm: float,
    height_mm: float,
    *,
    flip_x: bool = False,
    flip_y: bool = False,
    scales: Iterable[float] | None = None,
) -> Placing:
    """The largest placing that fits ``bounds`` (west, south, east, north) into a sheet, in its middle.

    With ``scales`` the largest of those that fits, so that a map can state a plain scale.
    """
    west, south, east, north = bounds
    fit = min(width_mm / max(east - west, 1e-9), height_mm / max(north - south, 1e-9))
    scale = max((value for value in scales or () if value <= fit), default=fit)
    middle_x, middle_y = (west + east) / 2, (south + north) / 2
    return Placing(
        scale,
        width_mm / 2 - scale * (-middle_x if flip_x else middle_x),
        height_mm / 2 - scale * (-middle_y if flip_y else middle_y),
        flip_x,
        flip_y,
    )


@dataclass(frozen=True, slots=True)
class Tag:
    """A label wanted beside a place: its text, where it points, and how much it matters (higher first)."""

    text: str
    x_mm: float
    y_mm: float
    weight: float
    part: str = ""
    color: str = "#1d1d1b"
    bold: bool = False


_NAMED_BODY_MM = 3.0  # bodies of this size bear their name, which no line should strike out
_NOTHING = np.zeros((1, 2))  # of no size


@dataclass(slots=True)
class _Column:
    x_mm: float
    anchor: Anchor
    tags: list[Tag] = field(default_factory=list)


def leader_marks(
    tags: Iterable[Tag],
    inner: tuple[float, float, float, float],
    sheet: tuple[float, float],
    size_mm: float = 2.4,
    line: str = "#1d1d1b",
    around: Mapping[str, Array] | None = None,
) -> tuple[Mark, ...]:
    """Labels in two columns beside a picture, each with a line to its place, none over another.

    The lines go between what is drawn rather than across it.

    Parameters
    ----------
    tags
        What is to be labelled; where there is no room the ones of least weight are left out.
    inner
        (west, south, east, north) of the picture on the sheet; the columns stand beside it.
    sheet
        (width, height) of the sheet.
    line
        Colour of the leaders: one that shows on the picture and beside it.
    around
        Rings (n, 2) of the bodies on the sheet by part: a label's line may leave its own.
    """
    west, _, east, _ = inner
    width, height = sheet
    pitch = size_mm * 1.55
    room = int((height - pitch) // pitch)
    left = _Column(west - 3.0, "end")
    right = _Column(east + 3.0, "start")
    middle = (west + east) / 2
    for tag in sorted(tags, key=lambda tag: (-round(tag.weight, 3), tag.text)):
        near, far = (left, right) if tag.x_mm < middle else (right, left)
        wide = {id(left): left.x_mm, id(right): width - right.x_mm}
        for column in (near, far):
            fits = len(tag.text) * size_mm * 0.62 <= wide[id(column)]
            if len(column.tags) < room and fits:
                column.tags.append(tag)
                break
    marks: list[Mark] = []
    ways = Ways(around, (west - 4.0, 0.0, east + 4.0, height)) if around else None
    for column in (left, right):
        marks += _column_marks(column, height, pitch, size_mm, line, ways)
    return tuple(marks)


def _column_marks(
    column: _Column, height: float, pitch: float, size_mm: float, line: str, ways: Ways | None
) -> list[Mark]:
    """Spread one column's labels so that none overlaps, each as near to its place as the others allow."""
    tags = sorted(column.tags, key=lambda tag: (round(tag.y_mm, 3), tag.text))
    if not tags:
        return []
    wanted = np.array([tag.y_mm for tag in tags])
    low, high = pitch / 2, height - pitch / 2
    ys = _spread(wanted, pitch, low, high)
    marks: list[Mark] = []
    step = 1.2 if column.anchor == "start" else -1.2
    knee = column.x_mm - step
    # the shortest first: long ways have more room to go round them
    for tag, y in sorted(zip(tags, ys, strict=True), key=lambda one: (round(abs(one[0].x_mm - knee), 3), one[0].text)):
        gate = (knee - step, float(y))
        way = np.array([[tag.x_mm, tag.y_mm], gate])
        if ways is not None:
            way = ways.taken((tag.x_mm, tag.y_mm), gate, tag.part)
            if min(np.ptp(ways.rings.get(tag.part, _NOTHING), axis=0)) >= _NAMED_BODY_MM:
                way = outside(way, ways.rings[tag.part])
        points = np.concatenate([way, [[knee, y]]])
        marks.append(Line(points, line, 0.14, part=tag.part))
        text_y = float(y) - size_mm * 0.35
        marks.append(
            Label(tag.text, column.x_mm, text_y, size_mm, tag.color, column.anchor, bold=tag.bold, part=tag.part)
        )
    return marks


def _spread(wanted: Array, pitch: float, low: float, high: float) -> Array:
    """Ascending places at least ``pitch`` apart within low…high, least squares from ``wanted`` (pooling)."""
    count = len(wanted)
    offsets = pitch * np.arange(count)
    blocks: list[tuple[float, int]] = []  # mean of (wanted − offset), and how many it pools
    for value in wanted - offsets:
        mean, size = float(value), 1
        while blocks and blocks[-1][0] > mean:
            other, other_size = blocks.pop()
            mean = (mean * size + other * other_size) / (size + other_size)
            size += other_size
        blocks.append((mean, size))
    pooled = np.repeat([mean for mean, _ in blocks], [size for _, size in blocks])
    return np.asarray(np.clip(pooled, low, max(low, high - offsets[-1])) + offsets)
