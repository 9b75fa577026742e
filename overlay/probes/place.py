"""Where on a part a bead belongs, and what a misplaced one costs."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from overlay.board.anatomy import pad_mm, terminals_of
from overlay.board.model import Component
from overlay.frames.frame import Array
from overlay.probes.model import MISPLACED_MM

# Up to this longer side a bead covers the part: it goes on the pad beside it (0603 and smaller).
PAD_UP_TO_MM = 1.7
_DIRECTIONS = 24  # that a bead may be misplaced in, every 15 degrees


def axes_of(part: Component) -> tuple[Array, Array]:
    """Unit vectors of the package's x and y axis on the board, each (2,)."""
    angle = math.radians(part.rotation_deg)
    x_axis = np.array([math.cos(angle), math.sin(angle)])
    return x_axis, np.array([-x_axis[1], x_axis[0]])


def needs_pad(part: Component) -> bool:
    """Whether a bead would cover the part, so that the pad beside it is the better place."""
    body = part.body
    return body is not None and terminals_of(part) == "ends" and max(body.length_mm, body.width_mm) <= PAD_UP_TO_MM


def pad_place_mm(part: Component, warmth: Callable[[Array], Array]) -> Array:
    """Middle of the warmer of a chip's two pads, (2,); ``warmth`` gives °C at board places (n, 2)."""
    assert part.body is not None
    x_axis, _ = axes_of(part)
    reach = (part.body.length_mm + pad_mm(part.body.length_mm)) / 2
    ends = np.asarray(part.center_mm) + np.outer([-reach, reach], x_axis)
    temperatures = np.nan_to_num(warmth(ends), nan=-1e9)
    return np.asarray(ends[int(np.argmax(temperatures))])


def edge_words(part: Component, place_mm: Array) -> str:
    """The place by its distances from the two nearest edges of the body, as seen from the part's own side."""
    body = part.body
    if body is None:
        return "at the part's centre"
    along, across = _in_package(part, place_mm)
    if body.shape == "round":
        radius = math.hypot(along, across)
        return "at the middle" if radius < 0.05 else f"{radius:.1f} mm from the middle"
    words = []
    for value, half, names in (
        (along, body.length_mm / 2, ("−x", "+x")),
        (across, body.width_mm / 2, ("−y", "+y")),
    ):
        distance, name = min((half + value, names[0]), (half - value, names[1]))
        side = _board_direction(part, name)
        where = f"{distance:.1f} mm inside" if distance >= 0 else f"{-distance:.1f} mm beyond"
        words.append(f"{where} the {side} edge")
    return ", ".join(words)


_AT_THE_END_MM = 0.05  # what is shown as 0.0


def pin_1_words(part: Component, place_mm: Array) -> str:
    """The place from the body's corner (or end) at pin 1; empty where the package does not tell.

    At rotation 0 pin 1 is upper left (IPC-7351 level A) or lower left (level B) of two-row and quad packages,
    and at the left end of two-terminal ones.
    """
    body = part.body
    if body is None or body.shape == "round" or body.terminals in ("none", "unknown"):
        return ""
    along, across = _in_package(part, place_mm)
    right = along + body.length_mm / 2
    if body.terminals == "ends":
        if right < -_AT_THE_END_MM:
            return f"{-right:.1f} mm beyond the end of pin 1"
        return "at the end of pin 1" if right < _AT_THE_END_MM else f"{right:.1f} mm from the end of pin 1"
    away = body.width_mm / 2 - _towards_pin_1(part) * across
    return f"{right:.1f} mm across and {away:.1f} mm along from pin 1's corner"


def pin_1_corner_mm(part: Component) -> Array | None:
    """The body's corner at pin 1 on the board, (2,), as `pin_1_words` counts from it; None where it is not known."""
    body = part.body
    if body is None or body.shape == "round" or body.terminals in ("none", "unknown", "ends"):
        return None
    x_axis, y_axis = axes_of(part)
    across = _towards_pin_1(part) * body.width_mm / 2
    corner: Array = np.asarray(part.center_mm) - body.length_mm / 2 * x_axis + across * y_axis
    return corner


def _towards_pin_1(part: Component) -> int:
    """On which side of the package's x axis pin 1 is, seen from the top: parts on the bottom are seen mirrored."""
    level_b = part.body is not None and part.body.level == "B"
    return -1 if level_b != (part.side == "bottom") else 1


def misplacement_cost_k(
    expected_c: float, place_mm: Array, surface: Callable[[Array], Array]
) -> tuple[float | None, float | None, float | None]:
    """Kelvin lost at `MISPLACED_MM` from the place, the mean over all directions.

    ``surface`` gives the surface temperature in °C at board places (n, 2), nan where it is not known; None is
    returned where less than half of the circle is known.
    """
    turn = np.linspace(0.0, 2 * np.pi, _DIRECTIONS, endpoint=False)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    costs: list[float | None] = []
    for distance in MISPLACED_MM:
        around = surface(place_mm + distance * circle)
        known = np.isfinite(around)
        costs.append(float(expected_c - around[known].mean()) if known.mean() >= 0.5 else None)
    return costs[0], costs[1], costs[2]


def _in_package(part: Component, place_mm: Array) -> tuple[float, float]:
    x_axis, y_axis = axes_of(part)
    offset = np.asarray(place_mm) - np.asarray(part.center_mm)
    return float(offset @ x_axis), float(offset @ y_axis)


def _board_direction(part: Component, axis: str) -> str:
    """``left``, ``upper`` … for a package axis, on the board seen from the top (mirrored for the bottom side)."""
    x_axis, y_axis = axes_of(part)
    vector = (x_axis if axis[1] == "x" else y_axis) * (1 if axis[0] == "+" else -1)
    if part.side == "bottom":  # a person looks at the bottom from below
        vector = vector * np.array([-1.0, 1.0])
    if abs(vector[0]) >= abs(vector[1]):
        return "right" if vector[0] > 0 else "left"
    return "upper" if vector[1] > 0 else "lower"
