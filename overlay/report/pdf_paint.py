"""Paints a `Drawing` on a PDF page."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable

from overlay.report.drawing import Area, Drawing, Label, Line, Mark, Picture
from overlay.report.pdf_fonts import color_of, draw_text, width_mm

_HATCH_STEP_MM = 0.9  # still seen as lines in print, and several in a small body


class DrawingFlowable(Flowable):  # type: ignore[misc]  # the library has no types
    """A drawing as one block of a page."""

    def __init__(self, drawing: Drawing) -> None:
        super().__init__()
        self.drawing = drawing
        self.width, self.height = drawing.width_mm * mm, drawing.height_mm * mm

    def wrap(self, *_available: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        paint(self.canv, self.drawing)


class FittingDrawing(Flowable):  # type: ignore[misc]
    """A drawing made for the height that is left on its page.

    Parameters
    ----------
    make
        Gives the drawing for a height in mm.
    least_mm, most_mm
        Heights between which it is made; where less than the least is left it goes to the next page.
    below_mm
        What is to be kept free for what follows it.
    """

    def __init__(self, make: Callable[[float], Drawing], least_mm: float, most_mm: float, below_mm: float) -> None:
        super().__init__()
        self._make, self._least_mm, self._most_mm, self._below_mm = make, least_mm, most_mm, below_mm
        self._drawing = make(most_mm)

    def wrap(self, _width: float, height: float) -> tuple[float, float]:
        room_mm = min(max(height / mm - self._below_mm, self._least_mm), self._most_mm)
        if self._drawing.height_mm > room_mm:
            self._drawing = self._make(room_mm)
        self.width, self.height = self._drawing.width_mm * mm, self._drawing.height_mm * mm
        return self.width, self.height

    def draw(self) -> None:
        paint(self.canv, self._drawing)


def paint(canvas: Any, drawing: Drawing) -> None:
    """Paint all marks with the canvas's origin at the drawing's lower left corner."""
    for mark in drawing.marks:
        canvas.saveState()
        _paint_mark(canvas, mark)
        canvas.restoreState()


def _paint_mark(canvas: Any, mark: Mark) -> None:
    if isinstance(mark, Area):
        _paint_area(canvas, mark)
    elif isinstance(mark, Line):
        _pen(canvas, mark.stroke, mark.width_mm, mark.dashed)
        canvas.drawPath(_path(canvas, [mark.points], closed=False), stroke=1, fill=0)
    elif isinstance(mark, Label):
        _paint_label(canvas, mark)
    else:
        _paint_picture(canvas, mark)


def _pen(canvas: Any, color: str, width_mm: float, dashed: bool) -> None:
    canvas.setStrokeColor(color_of(color))
    canvas.setLineWidth(width_mm * mm)
    canvas.setLineJoin(1)
    if dashed:
        canvas.setDash(1.2 * mm, 0.8 * mm)


def _path(canvas: Any, rings: Any, *, closed: bool) -> Any:
    path = canvas.beginPath()
    for ring in rings:
        path.moveTo(ring[0][0] * mm, ring[0][1] * mm)
        for x, y in ring[1:]:
            path.lineTo(x * mm, y * mm)
        if closed:
            path.close()
    return path


def _paint_area(canvas: Any, area: Area) -> None:
    if area.opacity < 1.0:
        canvas.setFillAlpha(area.opacity)
        canvas.setStrokeAlpha(area.opacity)
    if area.fill is not None:
        canvas.setFillColor(color_of(area.fill))
        canvas.drawPath(_path(canvas, area.rings, closed=True), stroke=0, fill=1, fillMode=0)
    if area.hatch:
        canvas.saveState()
        canvas.clipPath(_path(canvas, area.rings, closed=True), stroke=0, fill=0, fillMode=0)
        _paint_hatch(canvas, area)
        canvas.restoreState()
    if area.stroke is not None:
        _pen(canvas, area.stroke, area.width_mm, area.dashed)
        canvas.drawPath(_path(canvas, area.rings, closed=True), stroke=1, fill=0)


def _paint_hatch(canvas: Any, area: Area) -> None:
    """Marks over the area's bounding box; the caller has clipped to the area itself."""
    points = np.vstack(area.rings)
    (west, south), (east, north) = points.min(axis=0), points.max(axis=0)
    step, reach = _HATCH_STEP_MM, (east - west) + (north - south)
    ink = "#ffffff" if area.hatch == "cross" else "#1d1d1b"
    canvas.setStrokeColor(color_of(ink))
    canvas.setFillColor(color_of(ink))
    canvas.setLineWidth(0.1 * mm)
    offsets = np.arange(0.0, reach + step, step)
    if area.hatch in ("rising", "cross"):
        for offset in offsets:
            canvas.line((west + offset - (north - south)) * mm, south * mm, (west + offset) * mm, north * mm)
    if area.hatch == "cross":
        for offset in offsets:
            canvas.line((west + offset - (north - south)) * mm, north * mm, (west + offset) * mm, south * mm)
    if area.hatch == "level":
        for y in np.arange(south, north, step):
            canvas.line(west * mm, y * mm, east * mm, y * mm)
    if area.hatch == "dots":
        for y in np.arange(south + step / 2, north, step):
            for x in np.arange(west + step / 2, east, step):
                canvas.circle(x * mm, y * mm, 0.12 * mm, stroke=0, fill=1)


def _paint_label(canvas: Any, label: Label) -> None:
    size_pt = label.size_mm * mm
    width = width_mm(label.text, size_pt, bold=label.bold)
    canvas.translate(label.x_mm * mm, label.y_mm * mm)
    canvas.rotate(label.angle_deg)
    x = {"start": 0.0, "middle": -width / 2, "end": -width}[label.anchor]
    if label.halo is not None:
        canvas.setFillColor(color_of(label.halo))
        around = 0.2 * label.size_mm
        canvas.rect((x - around) * mm, -0.25 * size_pt, (width + 2 * around) * mm, 1.15 * size_pt, stroke=0, fill=1)
    canvas.setFillColor(color_of(label.color))
    draw_text(canvas, label.text, x, 0.0, size_pt, bold=label.bold)


def _paint_picture(canvas: Any, picture: Picture) -> None:
    from PIL import Image

    # a viewer smooths small pictures; each pixel is drawn as a block of its own so that it stays one
    times = max(1, -(-600 // max(picture.numbers.shape)))
    image = Image.fromarray(picture.colors[np.repeat(np.repeat(picture.numbers, times, axis=0), times, axis=1)])
    canvas.drawImage(
        ImageReader(image), picture.x_mm * mm, picture.y_mm * mm, picture.width_mm * mm, picture.height_mm * mm
    )
