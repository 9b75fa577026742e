"""A board's edge from SVG: sizes, viewports, transforms and what of the picture is drawn.

User units become millimetres by the document's physical size and its viewBox; y is turned up. The origin stays that
of the user units: where the viewBox begins moves nothing. Without a physical size (``px`` is none) one user unit is
one millimetre. Source: W3C, Scalable Vector Graphics (SVG) 1.1 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array
from overlay.board.exchange.model import MM_OF_UNIT
from overlay.board.exchange.xml import Element, read_xml
from overlay.board.outline.layers import telling_name
from overlay.board.outline.strokes import Linework, Stroke
from overlay.board.outline.svg_shapes import (
    PX_MM,
    SHAPES,
    Viewport,
    numbers,
    physical_mm,
    shape_points,
    transform_of,
)
from overlay.board.outline.svg_style import Style, style_rules
from overlay.errors import InputError, Problem, input_error

_MOST_SHAPES = 200_000  # a full drawing of a large board stays far below
_MOST_USES = 10_000  # of use elements: they may multiply without end
_DEEPEST = 200  # also through use elements, which may refer to one another in a circle


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the walk through the document stands."""

    matrix: Array  # user units to board millimetres, 3 × 3
    style: Style
    names: tuple[str, ...]
    viewport: Viewport
    depth: int = 0


def read_svg(data: bytes, file: str, *, units: str | None = None) -> Linework:
    """Read the shapes of an SVG.

    Raises
    ------
    InputError
        With every element that cannot be read, by line.
    """
    root = read_xml(data, file)
    if root.tag != "svg":
        root = next((element for element in root.walk() if element.tag == "svg"), root)
        if root.tag != "svg":
            raise input_error(file, root.line, f"its root is <{root.tag[:30]}>, not <svg>", "export it as SVG")
    return _Reader(root, file).read(units)


class _Reader:
    def __init__(self, root: Element, file: str) -> None:
        self.root, self.file = root, file
        self.problems: list[Problem] = []
        self.strokes: list[Stroke] = []
        self.unpainted: list[Stroke] = []
        self.paper: list[Stroke] = []
        self.shapes = self.uses = 0
        elements = list(root.walk())
        self.by_id = {element.get("id"): element for element in reversed(elements) if element.get("id")}
        self.rules = style_rules(element for element in elements if element.tag == "style")
        self.pictures = any(element.tag == "image" for element in elements)
        self.texts = any(element.tag == "text" for element in elements)

    def read(self, units: str | None) -> Linework:
        scale, viewport, source = self._document(units)
        try:
            matrix = np.diag([scale[0], -scale[1], 1.0]) @ transform_of(self.root)
        except ValueError as error:
            raise input_error(self.file, self.root.line, f"its transform: {error}", "export it again") from None
        style = Style({}).of(self.root, self.rules)
        for child in self.root.children:
            self._draw(child, _Place(matrix, style, (), viewport))
        strokes = self.strokes
        if strokes and self.paper:
            line = self.paper[0].line
            what = "a white area as large as the page was taken as paper, not as the board"
            self._problem("warning", line, what, "remove it from the file")
        elif self.paper:
            strokes = self.paper
        if not strokes and self.unpainted:
            what = "its shapes have neither fill nor stroke; they were used all the same"
            self._problem("warning", self.unpainted[0].line, what, "give the outline a stroke")
            strokes = self.unpainted
        if not strokes and not self.problems:
            held = " but a picture" if self.pictures else " but text" if self.texts else ""
            what = f"draws nothing{held} that could be the board's edge"
            self._problem("error", None, what, "export the outline as vector lines")
        if any(problem.severity == "error" for problem in self.problems):
            raise InputError(self.problems)
        return Linework(tuple(strokes), source, None, tuple(self.problems))

    def _problem(self, severity: str, line: int | None, what: str, remedy: str) -> None:
        self.problems.append(Problem("error" if severity == "error" else "warning", self.file, line, what, remedy))

    def _document(self, units: str | None) -> tuple[tuple[float, float], Viewport, str]:
        """Millimetres of a user unit along x and y, the outermost viewport, and where that comes from."""
        width, height = physical_mm(self.root.get("width")), physical_mm(self.root.get("height"))
        box = self._view_box(self.root)
        if width is None and height is None:
            unit = MM_OF_UNIT[units] if units else 1.0
            plain = Viewport(1.0 / unit)
            stated = self.root.get("width") or self.root.get("height")
            if stated and not stated.endswith("%") and units is None:
                what = f"its size {stated!r} is no physical one: one unit was taken as 1 mm"
                remedy = "give width and height in mm, with a viewBox, if that is wrong"
                self._problem("warning", self.root.line, what, remedy)
            if box is not None:
                plain = replace(plain, width=box[2], height=box[3])
            else:
                plain = replace(plain, width=self._size("width", plain), height=self._size("height", plain))
            return (unit, unit), plain, f"SVG, 1 unit = {unit:g} mm, as it states no physical size"
        viewport = Viewport(1.0 / PX_MM)
        if box is None:
            what = "states its size but no viewBox: one unit was taken as 1/96 inch"
            self._problem("warning", self.root.line, what, "add a viewBox if that is wrong")
            page = [(size or 0.0) / PX_MM for size in (width, height)]
            return (PX_MM, PX_MM), replace(viewport, width=page[0], height=page[1]), "SVG, 1 unit = 1/96 inch"
        # a side that is not stated follows the other
        across = width / box[2] if width is not None else None
        down = height / box[3] if height is not None else None
        scale_x, scale_y = across or down or 1.0, down or across or 1.0
        if abs(scale_x / scale_y - 1) > 0.002 and self.root.get("preserveAspectRatio").split()[:1] != ["none"]:
            what = f"its size and viewBox differ in proportion ({scale_x:.4g} and {scale_y:.4g} mm a unit)"
            self._problem("warning", self.root.line, what, "export it again if the outline's size is wrong")
        scale = _aspect(self.root, scale_x, scale_y)
        source = f"SVG, 1 unit = {scale[0]:.6g} mm by its size and viewBox"
        return scale, replace(viewport, width=box[2], height=box[3]), source

    def _size(self, name: str, viewport: Viewport) -> float:
        try:
            return viewport.length(self.root.get(name), "")
        except ValueError:
            return 0.0

    def _view_box(self, element: Element) -> list[float] | None:
        text = element.get("viewBox")
        if not text or text == "none":
            return None
        try:
            box = numbers(text)
        except ValueError:
            box = []
        if len(box) != 4 or not (box[2] > 0 and box[3] > 0):
            self._problem("error", element.line, f"the viewBox {text[:40]!r} cannot be read", "export it again")
            return None
        return box

    def _draw(self, element: Element, place: _Place) -> None:
        if element.tag not in SHAPES and element.tag not in ("g", "a", "svg", "switch", "use"):
            return
        style = place.style.of(element, self.rules)
        if not style.shown or self.shapes > _MOST_SHAPES or len(self.problems) > 20:
            return
        try:
            matrix = place.matrix @ transform_of(element)
        except ValueError as error:
            self._problem("error", element.line, f"a transform cannot be read ({error})", "export it again")
            return
        names = (element.get("label"), element.get("id"), *element.get("class").split(), *place.names)
        inner = replace(place, matrix=matrix, style=style, names=names, depth=place.depth + 1)
        if element.tag in SHAPES:
            self._shape(element, inner)
        elif inner.depth > _DEEPEST:
            self._problem("error", element.line, "elements nest too deep or use themselves", "export it again")
        elif element.tag == "use":
            self._use(element, inner)
        else:
            if element.tag == "svg":
                inner = self._inner_viewport(element, element, inner)
            for child in element.children:
                self._draw(child, inner)

    def _use(self, element: Element, place: _Place) -> None:
        self.uses += 1
        if self.uses > _MOST_USES:
            if self.uses == _MOST_USES + 1:
                self._problem("error", element.line, "uses elements too many times", "export the board's edge alone")
            return
        target = self.by_id.get(element.get("href").lstrip("#"))
        if target is None:
            return
        try:
            x = place.viewport.length(element.get("x"), "x")
            y = place.viewport.length(element.get("y"), "y")
        except ValueError as error:
            self._problem("error", element.line, str(error), "export it again")
            return
        place = replace(place, matrix=place.matrix @ np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]]))
        if target.tag in ("symbol", "svg"):
            style = place.style.of(target, self.rules)
            place = self._inner_viewport(target, element, replace(place, style=style))
            for child in target.children:
                self._draw(child, place)
        else:
            self._draw(target, place)

    def _inner_viewport(self, element: Element, sized: Element, place: _Place) -> _Place:
        """Inside a nested svg element, or a symbol that ``sized`` uses."""
        try:
            x = place.viewport.length(element.get("x"), "x") if element is sized else 0.0
            y = place.viewport.length(element.get("y"), "y") if element is sized else 0.0
            width = place.viewport.length(sized.get("width"), "x", place.viewport.width)
            height = place.viewport.length(sized.get("height"), "y", place.viewport.height)
        except ValueError as error:
            self._problem("error", sized.line, str(error), "export it again")
            return place
        box = self._view_box(element)
        matrix = place.matrix @ np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]])
        if box is None or width <= 0 or height <= 0:
            return replace(place, matrix=matrix, viewport=replace(place.viewport, width=width, height=height))
        scale_x, scale_y = _aspect(element, width / box[2], height / box[3])
        align = element.get("preserveAspectRatio").removeprefix("defer").split()[:1] or ["xMidYMid"]
        spare_x, spare_y = width - scale_x * box[2], height - scale_y * box[3]
        share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
        left = x + spare_x * share.get(align[0][1:4], 0.0)
        top = y + spare_y * share.get(align[0][5:8], 0.0)
        to_parent = np.array([[scale_x, 0, left - scale_x * box[0]], [0, scale_y, top - scale_y * box[1]], [0, 0, 1.0]])
        viewport = replace(place.viewport, width=box[2], height=box[3])
        return replace(place, matrix=place.matrix @ to_parent, viewport=viewport)

    def _shape(self, element: Element, place: _Place) -> None:
        if not place.style.visible:
            return
        self.shapes += 1
        if self.shapes > _MOST_SHAPES:
            self._problem("error", element.line, "draws more than 200 000 shapes", "export the board's edge alone")
            return
        stretch = float(np.linalg.norm(place.matrix[:2, :2], 2)) if np.isfinite(place.matrix).all() else math.nan
        try:
            if not stretch < 1e9:
                raise ValueError("its transform is out of range")
            lines = shape_points(element, place.viewport, stretch)
        except (ValueError, OverflowError) as error:
            self._problem("error", element.line, f"<{element.tag}>: {error}", "export it again")
            return
        style = place.style
        layer = telling_name(place.names)
        for points in lines:
            xy = points @ place.matrix[:2, :2].T + place.matrix[:2, 2]
            if not (np.abs(xy) < 1e7).all():
                self._problem("error", element.line, f"<{element.tag}> lies out of range", "export it again")
                return
            stroke = Stroke(xy, element.line, layer, style.filled and not style.stroked)
            if not (style.filled or style.stroked):
                self.unpainted.append(stroke)
            elif style.white and _covers_page(points, place):
                self.paper.append(stroke)
            else:
                self.strokes.append(stroke)


def _covers_page(points: Array, place: _Place) -> bool:
    size = np.ptp(points, axis=0)
    page = place.viewport.width, place.viewport.height
    return bool(len(points) <= 6 and size[0] >= 0.995 * page[0] > 0 and size[1] >= 0.995 * page[1] > 0)


def _aspect(element: Element, scale_x: float, scale_y: float) -> tuple[float, float]:
    words: Sequence[str] = element.get("preserveAspectRatio").split()
    if "none" in words:
        return scale_x, scale_y
    scale = max(scale_x, scale_y) if "slice" in words else min(scale_x, scale_y)
    return scale, scale
