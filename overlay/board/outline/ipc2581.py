"""A board's edge from IPC-2581: the profile of its step.

Source: fixtures of public readers of revisions B1 and C; the attributes of curves and cut-outs are from memory.
"""

from __future__ import annotations

import numpy as np

from overlay.board.outline.strokes import Array, Drawing, arc_points, sweep
from overlay.board.outline.xml import Element, read_xml
from overlay.errors import InputError, Problem, input_error

_UNIT_MM = {"MILLIMETER": 1.0, "MICRON": 1e-3, "INCH": 25.4}


def read_ipc2581(data: bytes, file: str) -> Drawing:
    """Read the profile of the step that holds the components, else of the only one that has a profile.

    Raises
    ------
    InputError
        Where unit or profile are missing or cannot be read, by line.
    """
    import shapely

    root = read_xml(data, file)
    header = next((element for element in root.walk() if element.tag == "CadHeader"), None)
    unit_mm = _UNIT_MM.get(header.get("units").upper()) if header is not None else None
    if header is None or unit_mm is None:
        line = None if header is None else header.line
        raise input_error(file, line, "states no unit that is known (CadHeader units)", "export it again")
    steps = [element for element in root.walk() if element.tag == "Step"]
    profiles = [(step, child) for step in steps for child in step.children if child.tag == "Profile"]
    if not profiles:
        raise input_error(file, None, "holds no profile of a board", "export it with the board's profile")
    counts = [sum(child.tag == "Component" for child in step.children) for step, _ in profiles]
    step, profile = profiles[int(np.argmax(counts))]
    problems: list[Problem] = []
    if len(profiles) > 1:
        what = f"holds {len(profiles)} steps; the profile of step {step.get('name')!r} was taken"
        problems.append(Problem("warning", file, profile.line, what, "check that it is the board that was seen"))
    outer: list[object] = []
    cut: list[object] = []
    errors: list[Problem] = []
    for child in profile.children:
        if child.tag in ("Polygon", "Cutout"):
            try:
                ring = _ring(child, unit_mm)
            except (ValueError, OverflowError):
                what = f"<{child.tag}> of the profile cannot be read"
                errors.append(Problem("error", file, child.line, what, "export it again"))
                continue
            shape = shapely.make_valid(shapely.Polygon(ring)) if len(ring) > 3 else shapely.Polygon()
            (outer if child.tag == "Polygon" else cut).append(shape)
    if errors:
        raise InputError(errors)
    area = shapely.union_all(outer).difference(shapely.union_all(cut))
    parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]
    if not parts:
        raise input_error(file, profile.line, "its profile encloses nothing", "export it with the board's profile")
    whole = parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
    return Drawing((), f"IPC-2581, step {step.get('name')!r}", whole, tuple(problems))


def _ring(polygon: Element, unit_mm: float) -> Array:
    """Points of a polygon in mm; ValueError where a coordinate cannot be read."""
    parts: list[Array] = []
    at: tuple[float, float] | None = None
    for child in polygon.children:
        if child.tag == "PolyBegin":
            at = _point(child, "x", "y", unit_mm)
        elif child.tag in ("PolyStepSegment", "PolyStepCurve"):
            end = _point(child, "x", "y", unit_mm)
            if at is None:
                raise ValueError("a polygon without its beginning")
            if child.tag == "PolyStepSegment":
                parts.append(np.array([at, end]))
            else:
                center = _point(child, "centerX", "centerY", unit_mm)
                clockwise = child.get("clockwise").lower() in ("true", "1")
                turn = sweep(at, end, center, clockwise=clockwise)
                parts.append(arc_points(at, end, center, turn))
            at = end
    return np.concatenate(parts) if parts else np.zeros((0, 2))


def _point(element: Element, x: str, y: str, unit_mm: float) -> tuple[float, float]:
    values = float(element.get(x)) * unit_mm, float(element.get(y)) * unit_mm
    if not (abs(values[0]) < 1e7 and abs(values[1]) < 1e7):
        raise ValueError("out of range")
    return values
