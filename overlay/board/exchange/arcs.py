"""Arcs as chords that stay within a micrometre."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from overlay.arrays import Array

CHORD_ERROR_MM = 0.001  # between an arc and the chords drawn for it: far below what a camera resolves
_MOST_CHORDS = 20_000  # of one arc: a circle of 1 km needs fewer


def chords(sweep_rad: float, radius_mm: float) -> int:
    """How many chords keep an arc within `CHORD_ERROR_MM`."""
    radius_mm = abs(radius_mm)
    if not (math.isfinite(sweep_rad) and math.isfinite(radius_mm)):
        return 1
    step = 2.0 * math.acos(max(0.0, 1.0 - CHORD_ERROR_MM / radius_mm)) if radius_mm > CHORD_ERROR_MM else math.pi / 2
    count = math.ceil(abs(sweep_rad) / max(step, 1e-9))
    # a multiple of four: half and whole circles that start on an axis reach their full size on it
    return min(_MOST_CHORDS, max(4, 4 * math.ceil(count / 4)))


def arc_points(
    start: Sequence[float], end: Sequence[float], center: Sequence[float], sweep_rad: float, scale: float = 1.0
) -> Array:
    """Points along an arc from ``start`` to ``end``, both of them included exactly.

    Parameters
    ----------
    start, end, center
        Points in the drawing's unit. Where the two radii differ, the radius changes evenly along the arc.
    sweep_rad
        Signed, counter-clockwise positive.
    scale
        Millimetres of one unit, for the chord error.

    Returns
    -------
    array of float, shape (n, 2)
    """
    radius = math.dist(start, center), math.dist(end, center)
    count = chords(sweep_rad, max(radius) * scale)
    part = np.linspace(0.0, 1.0, count + 1)
    angle = math.atan2(start[1] - center[1], start[0] - center[0]) + sweep_rad * part
    length = radius[0] + (radius[1] - radius[0]) * part
    points = np.column_stack([center[0] + length * np.cos(angle), center[1] + length * np.sin(angle)])
    points[0], points[-1] = start, end
    return points


def sweep(start: Sequence[float], end: Sequence[float], center: Sequence[float], *, clockwise: bool) -> float:
    """Signed angle from ``start`` to ``end`` round ``center``; a full turn where they are the same point."""
    first = math.atan2(start[1] - center[1], start[0] - center[0])
    last = math.atan2(end[1] - center[1], end[0] - center[0])
    turn = math.tau
    if clockwise:
        angle = (first - last) % turn
        return -(angle if angle > 1e-12 else turn)
    angle = (last - first) % turn
    return angle if angle > 1e-12 else turn


def bulge_center(start: Sequence[float], end: Sequence[float], bulge: float) -> tuple[tuple[float, float], float]:
    """Centre and signed sweep of a polyline's arc segment; ``bulge`` is the tangent of a quarter of the sweep."""
    x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    dx, dy = end[0] - start[0], end[1] - start[1]
    away = (1.0 / bulge - bulge) / 4.0
    return (x - dy * away, y + dx * away), 4.0 * math.atan(bulge)
