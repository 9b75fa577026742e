"""Shapes of IPC-2581: package outlines, the profile of a step, polygons with curves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array
from overlay.board.exchange.arcs import arc_points, sweep
from overlay.board.exchange.model import DrawnPackage
from overlay.board.exchange.xml import Element
from overlay.errors import InputError, Problem, input_error

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

FARTHEST_MM = 1e7  # no board lies ten kilometres away: such a number is a fault of the file


def number_of(element: Element | None, name: str, default: float | None = None) -> float | None:
    """An attribute as a finite number; the default where it is not there, None where it is no number."""
    if element is None or not element.get(name):
        return default
    try:
        value = float(element.get(name))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def packages_of(step: Element, file: str, unit_mm: float) -> tuple[dict[str, DrawnPackage], list[Problem]]:
    """The packages of a step that draw an outline, by name, and a warning for each that cannot be read."""
    found: dict[str, DrawnPackage] = {}
    problems = []
    for package in (child for child in step.children if child.tag == "Package"):
        outline = next((child for child in package.children if child.tag == "Outline"), None)
        rings = [] if outline is None else [each for each in outline.children if each.tag == "Polygon"]
        try:
            points = [ring for each in rings if len(ring := _ring_mm(each, unit_mm)) > 2]
        except (ValueError, OverflowError):
            what = f"the outline of package {package.get('name')!r} cannot be read"
            problems.append(Problem("warning", file, package.line, what, "its body is taken from elsewhere"))
            continue
        if not points:
            continue
        corners = np.concatenate(points)
        (west, south), (east, north) = corners.min(axis=0), corners.max(axis=0)
        if east - west < 1e-6 or north - south < 1e-6:
            continue
        height = number_of(package, "height")
        found[package.get("name")] = DrawnPackage(
            float(east - west),
            float(north - south),
            (float(west + east) / 2, float(south + north) / 2),
            height * unit_mm if height is not None and height > 0 else None,
            f"{file}, line {package.line}",
        )
    return found, problems


def edge_of_profile(profile: Element, file: str, unit_mm: float) -> Polygon | MultiPolygon:
    """The area of a step's profile, its cut-outs taken away.

    Raises
    ------
    InputError
        For every polygon that cannot be read, by line, and for a profile that encloses nothing.
    """
    import shapely

    outer: list[object] = []
    cut: list[object] = []
    errors: list[Problem] = []
    for child in profile.children:
        if child.tag in ("Polygon", "Cutout"):
            try:
                ring = _ring_mm(child, unit_mm)
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
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def _ring_mm(polygon: Element, unit_mm: float) -> Array:
    """Points of a polygon, shape (n, 2), in mm; ValueError where a coordinate cannot be read."""
    parts: list[Array] = []
    at: Sequence[float] | None = None
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
                parts.append(arc_points(at, end, center, sweep(at, end, center, clockwise=clockwise)))
            at = end
    return np.concatenate(parts) if parts else np.zeros((0, 2))


def _point(element: Element, x: str, y: str, unit_mm: float) -> tuple[float, float]:
    values = float(element.get(x)) * unit_mm, float(element.get(y)) * unit_mm
    if not max(map(abs, values)) < FARTHEST_MM:
        raise ValueError("out of range")
    return values
