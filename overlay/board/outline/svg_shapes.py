"""SVG shapes as points: lengths, transforms, basic shapes and path data."""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array
from overlay.board.exchange.arcs import CHORD_ERROR_MM, chords
from overlay.board.exchange.xml import Element

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
_PATH = re.compile(r"[MmZzLlHhVvCcSsQqTtAa0-9eE+\-.,\s]*")
_BLANK = r"[\s,]*"
_ARC = rf"{_BLANK}{_NUMBER}{_BLANK}{_NUMBER}{_BLANK}{_NUMBER}{_BLANK}[01]{_BLANK}[01]{_BLANK}"
# an arc to its own start, which draws nothing (SVG 1.1, from memory) but which the parser of path data does not take
_NO_ARC = (
    re.compile(rf"a{_ARC}[+-]?0*\.?0+[\s,]+[+-]?0*\.?0+(?=\s*[A-Za-z]|\s*$)"),
    re.compile(rf"(?P<at>(?<![\d.]){_NUMBER}[\s,]+{_NUMBER})\s*A{_ARC}(?P=at)(?=\s*[A-Za-z]|\s*$)"),
)


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
    from svgpathtools.parser import parse_transform

    return np.asarray(parse_transform(text, strict=True), dtype=float)


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
    from svgpathtools.parser import parse_path

    text = element.get("d")
    if text == "none" or not text:
        return []
    if _PATH.fullmatch(text) is None:
        raise ValueError("the path data hold what is no command")
    if "a" in text or "A" in text:
        text = _NO_ARC[1].sub(r"\g<at>", _NO_ARC[0].sub("", text))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # an arc of no radius is a line, as the standard wants it
            segments = list(parse_path(text))
    except Exception as error:  # the parser raises whatever it meets, AssertionError among others
        raise ValueError(f"the path data cannot be read ({str(error)[:80] or 'an arc ends where it starts'})") from None
    lines: list[list[Array]] = []
    last: complex | None = None
    for segment in segments:
        points = _segment(segment, scale)
        if last is None or segment.start != last:
            lines.append([])
        lines[-1].append(points)
        last = segment.end
    return [np.concatenate(line) for line in lines]


def _segment(segment: object, scale: float) -> Array:
    from svgpathtools import Arc, Line

    if isinstance(segment, Line):
        complex_points = np.array([segment.start, segment.end])
    elif isinstance(segment, Arc):
        radius, delta = segment.radius, math.radians(segment.delta)
        largest = max(radius.real, radius.imag)
        angle = math.radians(segment.theta) + np.linspace(0, delta, chords(delta, largest * scale) + 1)
        complex_points = segment.center + np.exp(1j * math.radians(segment.rotation)) * (
            radius.real * np.cos(angle) + 1j * radius.imag * np.sin(angle)
        )
        complex_points[0], complex_points[-1] = segment.start, segment.end
    else:
        control = np.array(segment.bpoints())  # type: ignore[attr-defined]
        bend = float(np.abs(np.diff(control, 2)).max())
        degree = len(control) - 1
        count = math.sqrt(degree * (degree - 1) / 8 * bend * scale / CHORD_ERROR_MM) if math.isfinite(bend) else 1
        part = np.linspace(0, 1, min(20_000, max(1, math.ceil(count))) + 1)
        rows = control[None, :].repeat(len(part), 0)
        for _ in range(degree):  # de Casteljau
            rows = rows[:, :-1] * (1 - part[:, None]) + rows[:, 1:] * part[:, None]
        complex_points = rows[:, 0]
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
