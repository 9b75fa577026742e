"""SVG shapes as points: lengths, transforms, basic shapes and path data."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array
from overlay.board.exchange.arcs import CHORD_ERROR_MM, chords
from overlay.board.exchange.xml import Element

if TYPE_CHECKING:
    from svg.path.path import PathSegment

# millimetres of the absolute units, CSS Values and Units Module Level 3 (from memory)
UNIT_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "q": 0.25,
    "in": 25.4,
    "pt": 25.4 / 72,
    "pc": 25.4 / 6,
}
PX_MM = 25.4 / 96  # likewise; also the user unit of a document that states its size but no viewBox
_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_LENGTH = re.compile(rf"({_NUMBER})\s*(%|[a-zA-Z]*)")
_PATH = re.compile(r"\s*[Mm][MmZzLlHhVvCcSsQqTtAa0-9eE+\-.,\s]*")
_COMMAND = re.compile(r"[A-DF-Za-df-z]")  # an e is part of a number
_TRANSFORM = re.compile(r"\s*([a-zA-Z]+)\s*\(([^()]*)\)[\s,]*")


@dataclass(frozen=True, slots=True)
class Viewport:
    """What lengths refer to: user units of one millimetre, and the size of 100 %."""

    units_per_mm: float
    width: float = 0.0
    height: float = 0.0

    def length(self, text: str, axis: str = "", default: float = 0.0) -> float:
        """A length in user units; ValueError for what is none."""
        if not text or text == "auto":
            return default
        match = _LENGTH.fullmatch(text.strip())
        if match is None:
            raise ValueError(f"{text[:30]!r} is no length")
        value, unit = float(match[1]), match[2].lower()
        if unit in ("", "px"):
            return value
        if unit == "%":
            whole = {"x": self.width, "y": self.height}.get(axis, math.hypot(self.width, self.height) / math.sqrt(2))
            return value / 100 * whole
        if unit not in UNIT_MM:
            raise ValueError(f"the unit of {text[:30]!r} has no fixed size")
        return value * UNIT_MM[unit] * self.units_per_mm


def physical_mm(text: str) -> float | None:
    """A document's width or height in millimetres; None where it has no physical unit."""
    match = _LENGTH.fullmatch(text.strip())
    if match is None or match[2].lower() not in UNIT_MM:
        return None
    value = float(match[1]) * UNIT_MM[match[2].lower()]
    return value if 0 < value < math.inf else None


def numbers(text: str) -> list[float]:
    """Numbers parted by blanks or commas; ValueError for anything else."""
    if re.sub(rf"{_NUMBER}", "", text).strip(" ,\t\n\r"):
        raise ValueError(f"{text[:30]!r} is no list of numbers")
    values = [float(number) for number in re.findall(_NUMBER, text)]
    if not all(math.isfinite(value) for value in values):
        raise ValueError(f"{text[:30]!r} is out of range")
    return values


def transform_of(element: Element) -> Array:
    """The 3 × 3 matrix of an element's transform; ValueError for one that cannot be read."""
    text = element.get("transform")
    if not text:
        return np.eye(3)
    matrix, at = np.eye(3), 0
    while text.strip() != "none" and at < len(text.rstrip()):
        match = _TRANSFORM.match(text, at)
        if match is None:
            raise ValueError(f"{text[at : at + 30]!r} is no transform")
        matrix, at = matrix @ _matrix(match[1], numbers(match[2])), match.end()
    return matrix


def _matrix(name: str, values: list[float]) -> Array:
    """One transform of a list (SVG 1.1, 7.6, from memory) as a matrix."""
    try:
        match name, values:
            case "matrix", [a, b, c, d, e, f]:
                return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])
            case "translate", [x, *rest]:
                (y,) = rest or [0.0]
                return np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])
            case "scale", [x, *rest]:
                (y,) = rest or [x]
                return np.diag([x, y, 1.0])
            case "rotate", [turn_deg, *rest]:
                x, y = rest or [0.0, 0.0]
                c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
                return np.array([[c, -s, x - c * x + s * y], [s, c, y - s * x - c * y], [0.0, 0.0, 1.0]])
            case "skewX", [lean_deg]:
                return np.array([[1.0, math.tan(math.radians(lean_deg)), 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
            case "skewY", [lean_deg]:
                return np.array([[1.0, 0.0, 0.0], [math.tan(math.radians(lean_deg)), 1.0, 0.0], [0.0, 0.0, 1.0]])
    except ValueError:
        pass
    raise ValueError(f"{name[:20]!r} of {len(values)} numbers is no transform")


def shape_points(element: Element, viewport: Viewport, scale: float) -> list[Array]:
    """The lines of a shape in its own user units, curves flattened.

    Parameters
    ----------
    scale
        The most millimetres that a user unit becomes, for the chord error.

    Raises
    ------
    ValueError
        With the reason, for data that cannot be read.
    """
    return _SHAPES[element.tag](element, viewport, scale)


def _rect(element: Element, viewport: Viewport, scale: float) -> list[Array]:
    x, y = viewport.length(element.get("x"), "x"), viewport.length(element.get("y"), "y")
    width, height = viewport.length(element.get("width"), "x"), viewport.length(element.get("height"), "y")
    if width <= 0 or height <= 0:
        return []
    given_x, given_y = (element.get(name) not in ("", "auto") for name in ("rx", "ry"))
    rx, ry = viewport.length(element.get("rx"), "x"), viewport.length(element.get("ry"), "y")
    rx, ry = (rx if given_x else ry), (ry if given_y else rx)
    rx, ry = min(abs(rx), width / 2), min(abs(ry), height / 2)
    if rx == 0 or ry == 0:
        return [np.array([[x, y], [x + width, y], [x + width, y + height], [x, y + height], [x, y]])]
    angle = np.linspace(0, math.pi / 2, chords(math.pi / 2, max(rx, ry) * scale) + 1)
    corners = []
    centers = [(x + width - rx, y + height - ry), (x + rx, y + height - ry), (x + rx, y + ry), (x + width - rx, y + ry)]
    for quarter, (center_x, center_y) in enumerate(centers):
        turned = angle + quarter * math.pi / 2
        corners.append(np.column_stack([center_x + rx * np.cos(turned), center_y + ry * np.sin(turned)]))
    ring = np.concatenate(corners)
    return [np.concatenate([ring, ring[:1]])]


def _ellipse(element: Element, viewport: Viewport, scale: float) -> list[Array]:
    if element.tag == "circle":
        rx = ry = viewport.length(element.get("r"))
    else:
        rx, ry = viewport.length(element.get("rx"), "x"), viewport.length(element.get("ry"), "y")
    if rx <= 0 or ry <= 0:
        return []
    angle = np.linspace(0, math.tau, chords(math.tau, max(rx, ry) * scale) + 1)
    angle[-1] = 0.0
    x, y = viewport.length(element.get("cx"), "x"), viewport.length(element.get("cy"), "y")
    return [np.column_stack([x + rx * np.cos(angle), y + ry * np.sin(angle)])]


def _line(element: Element, viewport: Viewport, scale: float) -> list[Array]:
    ends = [[viewport.length(element.get(f"{axis}{end}"), axis) for axis in "xy"] for end in "12"]
    return [np.array(ends)]


def _polyline(element: Element, viewport: Viewport, scale: float) -> list[Array]:
    values = numbers(element.get("points"))
    if len(values) % 2:
        raise ValueError("an odd number of coordinates")
    points = np.array(values).reshape(-1, 2)
    if len(points) < 2:
        return []
    return [np.concatenate([points, points[:1]]) if element.tag == "polygon" else points]


def _path(element: Element, viewport: Viewport, scale: float) -> list[Array]:
    text = element.get("d")
    if text == "none" or not text.strip():
        return []
    if _PATH.fullmatch(text) is None:
        raise ValueError("the path data hold what is no command")
    for values in _COMMAND.split(text):
        numbers(values)  # the parser takes what is none for the end
    from svg.path import Close, Move, parse_path  # which, unlike larger libraries, does not load half of SciPy

    try:
        segments = [
            segment
            for segment in parse_path(text)
            if not (isinstance(segment, Move) or (isinstance(segment, Close) and segment.start == segment.end))
        ]
    except Exception as error:  # the parser raises whatever it meets, AssertionError among others
        raise ValueError(f"the path data cannot be read ({str(error)[:80]})") from None
    lines: list[list[Array]] = []
    last: complex | None = None
    for segment in segments:
        points = _segment(segment, scale)
        if last is None or segment.start != last:
            lines.append([])
        lines[-1].append(points)
        last = segment.end
    return [np.concatenate(line) for line in lines]


def _segment(segment: PathSegment, scale: float) -> Array:
    from svg.path import Arc, CubicBezier, QuadraticBezier

    if isinstance(segment, Arc) and segment.radius.real and segment.radius.imag and segment.start != segment.end:
        radius, delta = segment.radius * segment.radius_scale, math.radians(segment.delta)
        largest = max(radius.real, radius.imag)
        angle = math.radians(segment.theta) + np.linspace(0, delta, chords(delta, largest * scale) + 1)
        complex_points = segment.center + np.exp(1j * math.radians(segment.rotation)) * (
            radius.real * np.cos(angle) + 1j * radius.imag * np.sin(angle)
        )
        complex_points[0], complex_points[-1] = segment.start, segment.end
    elif isinstance(segment, CubicBezier | QuadraticBezier):
        middle = [segment.control] if isinstance(segment, QuadraticBezier) else [segment.control1, segment.control2]
        control = np.array([segment.start, *middle, segment.end])
        bend = float(np.abs(np.diff(control, 2)).max())
        degree = len(control) - 1
        count = math.sqrt(degree * (degree - 1) / 8 * bend * scale / CHORD_ERROR_MM) if math.isfinite(bend) else 1
        part = np.linspace(0, 1, min(20_000, max(1, math.ceil(count))) + 1)
        rows = control[None, :].repeat(len(part), 0)
        for _ in range(degree):  # de Casteljau
            rows = rows[:, :-1] * (1 - part[:, None]) + rows[:, 1:] * part[:, None]
        complex_points = rows[:, 0]
    else:  # a line, also an arc of no radius (SVG 1.1, F.6.2, from memory)
        complex_points = np.array([segment.start, segment.end])
    points = np.column_stack([complex_points.real, complex_points.imag])
    if not np.isfinite(points).all():
        raise ValueError("the path data hold numbers out of range")
    return points


_SHAPES: dict[str, Callable[[Element, Viewport, float], list[Array]]] = {
    "path": _path,
    "rect": _rect,
    "circle": _ellipse,
    "ellipse": _ellipse,
    "line": _line,
    "polyline": _polyline,
    "polygon": _polyline,
}
SHAPES = frozenset(_SHAPES)
