"""How closed rings lie in each other, freed of what is no edge: copies, both sides of a drawn line, frames."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.errors import Problem

if TYPE_CHECKING:
    from shapely import Polygon

_DRAWN_WIDTH_MM = 0.35  # two contours nearer than this are both sides of one drawn line
_RIM_MM = 3.0  # a contour that follows the edge this near inside is a keep-out line and no cut-out


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    polygon: Polygon  # without holes
    line: int | None
    depth: int = 0
    parent: int | None = None


def without_repeats(shapes: Sequence[Ring]) -> list[Ring]:
    """Each contour once: a copy drawn from other pieces differs by a few micrometres."""
    import shapely

    if len(shapes) < 2:
        return list(shapes)
    centers = shapely.centroid([shape.polygon for shape in shapes])
    dropped: set[int] = set()
    for first, second in shapely.STRtree(centers).query(centers, predicate="dwithin", distance=0.02).T:
        if first < second and first not in dropped and second not in dropped:
            one, other = shapes[first].polygon, shapes[second].polygon
            apart = np.abs(np.subtract(one.bounds, other.bounds)).max()
            if apart < 0.02 and one.exterior.hausdorff_distance(other.exterior) < 0.02:
                dropped.add(int(second))
    return [shape for index, shape in enumerate(shapes) if index not in dropped]


def nest(shapes: Sequence[Ring]) -> list[Ring]:
    """Rings, largest first, each with the smallest ring that contains it and how many do."""
    import shapely

    shapes = sorted(shapes, key=lambda shape: -shape.polygon.area)
    polygons = np.array([shape.polygon for shape in shapes])
    inside: list[list[int]] = [[] for _ in shapes]
    if len(shapes) > 1:
        shrunk = np.array([_core(polygon) for polygon in polygons])
        for small, large in shapely.STRtree(polygons).query(shrunk, predicate="covered_by").T:
            if large < small:
                inside[small].append(int(large))
    nested: list[Ring] = []
    for shape, around in zip(shapes, inside, strict=True):
        parent = max(around) if around else None
        depth = 0 if parent is None else nested[parent].depth + 1
        nested.append(Ring(shape.polygon, shape.line, depth, parent))
    return nested


def _core(polygon: Polygon) -> Polygon:
    """A hair smaller than the polygon, so that a cut-out touching the edge still lies inside it."""
    core = polygon.buffer(-min(0.005, 0.1 * (polygon.area / polygon.length)), join_style="mitre")
    return polygon if core.is_empty else core


def merge_double(rings: Sequence[Ring], file: str, problems: list[Problem]) -> list[Ring]:
    """Both sides of one drawn line become its centre line; a line that follows the edge inside is dropped."""
    import shapely

    dropped: set[int] = set()
    replaced: dict[int, Polygon] = {}
    for index, ring in enumerate(rings):
        parent = ring.parent
        if parent is None or parent in dropped or parent in replaced:
            continue
        outer, inner = rings[parent].polygon, ring.polygon
        gap = 2 * (outer.area - inner.area) / (outer.length + inner.length)
        limit = _RIM_MM if rings[parent].depth == 0 and inner.area > 0.5 * outer.area else _DRAWN_WIDTH_MM
        if gap > limit or gap > 0.5 * np.sqrt(outer.area):
            continue
        near = shapely.distance(shapely.points(shapely.get_coordinates(inner)), outer.exterior)
        far = shapely.distance(shapely.points(shapely.get_coordinates(outer)), inner.exterior)
        if near.min() < 0.7 * gap or near.max() > 1.3 * gap + 0.02 or far.max() > 1.6 * gap + 0.02:
            continue
        dropped.add(index)
        if gap <= _DRAWN_WIDTH_MM:
            middle = outer.buffer(-gap / 2, join_style="mitre")
            if middle.geom_type == "Polygon" and not middle.is_empty:
                replaced[parent] = shapely.Polygon(middle.exterior)
            if rings[parent].depth == 0:
                what = f"the edge is drawn as two contours {gap:.2f} mm apart; the line midway was taken"
                problems.append(Problem("warning", file, rings[parent].line, what, "check the outline's size"))
        else:
            what = f"a contour follows the edge {gap:.2f} mm inside it and was left out"
            problems.append(Problem("warning", file, ring.line, what, "leave only the board's edge in the file"))
    return [
        Ring(replaced.get(index, ring.polygon), ring.line) for index, ring in enumerate(rings) if index not in dropped
    ]


def without_frame(rings: list[Ring], file: str, problems: list[Problem]) -> list[Ring]:
    """Rings without a drawing frame: a rectangle round a ring that itself has cut-outs."""
    while True:
        outer = [index for index, ring in enumerate(rings) if ring.depth == 0]
        if len(outer) != 1:
            return rings
        frame = rings[outer[0]].polygon
        filled = frame.area > 0.999 * frame.envelope.area
        families = [
            (sum(ring.parent == index for ring in rings), ring.polygon.area, ring)
            for index, ring in enumerate(rings)
            if ring.depth == 1 and ring.polygon.area > 0.03 * frame.area
        ]
        boards = [ring for children, _, ring in families if children]
        if not filled or not boards:
            return rings
        board = max(boards, key=lambda ring: ring.polygon.area)
        west, south, east, north = frame.bounds
        what = (
            f"a rectangle of {east - west:.1f} × {north - south:.1f} mm lies round a contour that has cut-outs of its "
            "own; it was taken as the frame of the drawing, not as the board"
        )
        problems.append(Problem("warning", file, rings[outer[0]].line, what, "remove the frame from the file"))
        inside = board.polygon.buffer(0.005)
        rings = nest([ring for ring in rings if inside.covers(ring.polygon)])
