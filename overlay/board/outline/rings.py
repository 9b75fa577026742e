"""Rings and open lines turned into a board's edge: which ring is the edge, which are cut-outs, what is neither."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from overlay.arrays import Array
from overlay.board.outline.join import BRIDGE_MM, WIDE_BRIDGE_MM, enclosed, join
from overlay.board.outline.nesting import Ring, merge_double, nest, without_frame, without_repeats
from overlay.board.outline.strokes import Linework, Stroke, millimetres
from overlay.errors import Problem

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

Area: TypeAlias = "Polygon | MultiPolygon"

LEAST_AREA_MM2 = 1.0  # a smaller contour is no board
_PANEL_SHARE = 0.01  # a separate contour smaller than this share of the largest is a mark beside the board
_MOST_STROKES = 5_000  # more are a whole drawing, which wider bridges do not mend, and take their time
_FEWEST_PARTS = 5  # parts that must be known before a contour is taken because it lies round them
_ROUND_SHARE = 0.95  # of the parts within the contour: connectors overhang, some exports keep parts beside the board
_CROSSING_SHARE = 0.1  # a crossing contour smaller than this share of the edge's area is a cut-out at the edge


def edge_of(drawing: Linework, file: str) -> tuple[Area | None, list[Problem]]:
    """The board's edge in a drawing, or None with the reason among the problems.

    The largest closed ring is the edge, rings inside it are cut-outs, further rings of a comparable size are
    boards of a panel. Lines that stay open inside or beside a closed edge are left out, which is reported. Wider
    gaps than usual are bridged only where nothing else closes the edge.
    """
    edge, problems = _edge_of(drawing, file, BRIDGE_MM)
    if edge is None and len(drawing.strokes) <= _MOST_STROKES:
        wider, found = _edge_of(drawing, file, WIDE_BRIDGE_MM)
        if wider is not None:
            return wider, found
    return edge, problems


def _edge_of(drawing: Linework, file: str, bridge_mm: float) -> tuple[Area | None, list[Problem]]:
    joined = join(drawing.strokes, file, bridge_mm)
    problems = list(joined.problems)
    rings, chains = list(joined.rings), []
    for chain in joined.chains:
        if chain.filled and len(chain.xy_mm) > 2:  # a renderer closes what it fills
            rings.append(Stroke(np.concatenate([chain.xy_mm, chain.xy_mm[:1]]), chain.line, chain.layer))
        else:
            chains.append(chain)
    shapes, found = _polygons(rings, file)
    problems += found
    largest = max((shape.polygon.area for shape in shapes), default=0.0)
    reach = max((shape.polygon for shape in shapes), key=lambda polygon: polygon.area, default=None)
    if chains and (reach is None or largest < LEAST_AREA_MM2 or _surrounds(chains, reach)):
        crossing = enclosed([c.xy_mm for c in chains], chains[0].line)
        more, _ = _polygons(crossing, file)
        more = [shape for shape in more if shape.polygon.area > max(largest, LEAST_AREA_MM2)]
        if more and _spans(more, chains):
            what = "the contour's lines cross each other; loose ends beyond the crossings were cut off"
            problems.append(Problem("warning", file, chains[0].line, what, "check the outline's size"))
            shapes, chains = shapes + more, []
    area = drawing.area if drawing.area is not None and drawing.area.area > LEAST_AREA_MM2 else None
    if chains and area is None:
        blocking = _gap_problem(chains, reach if largest >= LEAST_AREA_MM2 else None, file)
        if blocking is not None:
            return None, [*problems, blocking]
        what = f"{_count(len(chains), 'open line')} beside the closed contour left out"
        problems.append(Problem("warning", file, _first_line(chains), what, "remove them if they mean nothing"))
    edge, found = _assemble(shapes, file)
    problems += found
    if any(problem.severity == "error" for problem in found):
        return None, problems
    if area is not None:
        edge, found = _with_areas(edge, area, file)
        problems += found
    if edge is None or edge.area <= LEAST_AREA_MM2:
        what = "holds no closed contour" if edge is None else f"its contour encloses only {edge.area:.3g} mm²"
        remedy = "export the board's edge as a closed contour, in its true size"
        return None, [*problems, Problem("error", file, None, what, remedy)]
    return edge, problems


def edge_round(drawing: Linework, xy_mm: Array, file: str) -> tuple[Area, Problem] | None:
    """The edge in a file that holds a whole drawing: the smallest contour round nearly all parts of the board.

    Parameters
    ----------
    xy_mm : array of float, shape (n, 2)
        Where the parts lie, in the drawing's frame.

    Returns
    -------
    The contour without cut-outs, which nothing tells from other drawings, and a warning that says so.
    """
    import shapely

    if len(xy_mm) < _FEWEST_PARTS:
        return None
    shapes, _ = _polygons(join(drawing.strokes, file).rings, file)
    x, y = xy_mm.T
    round_them = [
        shape
        for shape in shapes
        if shape.polygon.area > LEAST_AREA_MM2 and shapely.contains_xy(shape.polygon, x, y).mean() >= _ROUND_SHARE
    ]
    if not round_them:
        return None
    edge = min(round_them, key=lambda shape: shape.polygon.area)
    west, south, east, north = edge.polygon.bounds
    what = (
        f"holds a whole drawing; the smallest contour round the parts was taken as the edge "
        f"({east - west:.2f} × {north - south:.2f} mm), without cut-outs"
    )
    return edge.polygon, Problem("warning", file, edge.line, what, "give the board's edge in a file of its own")


def _polygons(rings: Iterable[Stroke], file: str) -> tuple[list[Ring], list[Problem]]:
    """Rings as valid polygons, largest first; a ring that crosses itself is reported."""
    import shapely
    from shapely.validation import explain_validity

    shapes, problems = [], []
    for ring in rings:
        polygon = shapely.Polygon(ring.xy_mm)
        if not polygon.is_valid:
            # pieces that only touch, or are bridged to and fro along one line, enclose what the ring's own area says
            parts = [part for part in _flat(shapely.make_valid(polygon)) if part.area > 1e-6]
            total = sum(part.area for part in parts)
            if abs(total - polygon.area) > max(0.01, 1e-3 * total):
                if total > LEAST_AREA_MM2:
                    place = explain_validity(polygon).partition("[")[2].rstrip("]").split()
                    at = f" at {millimetres([float(place[0]), float(place[1])])}" if len(place) == 2 else ""
                    what = f"a contour crosses itself{at}"
                    problems.append(Problem("error", file, ring.line, what, "redraw it without the crossing"))
                continue
            for part in parts:
                shapes += [Ring(shapely.Polygon(edge), ring.line) for edge in (part.exterior, *part.interiors)]
            continue
        if polygon.area > 1e-6:
            shapes.append(Ring(polygon, ring.line))
    shapes.sort(key=lambda shape: -shape.polygon.area)
    return shapes, problems


def _surrounds(chains: Sequence[Stroke], ring: Polygon) -> bool:
    """Whether open lines reach beyond a ring, so that the ring may be a mere cut-out."""
    import shapely

    west, south, east, north = ring.bounds
    box = shapely.box(west - 0.1, south - 0.1, east + 0.1, north + 0.1)
    return not all(box.covers(shapely.linestrings(chain.xy_mm)) for chain in chains)


def _spans(shapes: Sequence[Ring], chains: Sequence[Stroke]) -> bool:
    """Whether contours closed by crossings explain most of the open lines."""
    import shapely

    lines = shapely.multilinestrings([shapely.linestrings(chain.xy_mm) for chain in chains])
    edges = shapely.union_all([shape.polygon.exterior for shape in shapes]).buffer(0.01)
    return bool(edges.intersection(lines).length > 0.8 * lines.length)


def _gap_problem(chains: Sequence[Stroke], ring: Polygon | None, file: str) -> Problem | None:
    """The error about an open contour that must be the board's edge; None if the lines are mere extras."""
    import shapely

    ends = np.concatenate([[chain.xy_mm[0], chain.xy_mm[-1]] for chain in chains])
    longest = max(chains, key=lambda chain: chain.length_mm)
    if ring is not None:
        hulls = [shapely.MultiPoint(chain.xy_mm).convex_hull for chain in chains]
        around = [chain for chain, hull in zip(chains, hulls, strict=True)
                  if hull.area > ring.area and hull.contains(ring.centroid)]  # fmt: skip
        together = shapely.union_all(hulls).convex_hull
        apart = np.hypot(*(ends[:, None, :] - ends[None, :, :]).transpose(2, 0, 1)) if len(ends) < 2000 else None
        if not around and not (
            apart is not None
            and together.area > ring.area
            and together.contains(ring.centroid)
            and (apart + np.diag(np.full(len(ends), np.inf))).min(axis=1).sum() / 2
            < 0.1 * sum(chain.length_mm for chain in chains)
        ):
            return None
        longest = max(around or chains, key=lambda chain: chain.length_mm)
    start, end = longest.xy_mm[0], longest.xy_mm[-1]
    others = np.array([xy for chain in chains if chain is not longest for xy in (chain.xy_mm[0], chain.xy_mm[-1])])
    near = end
    if len(others):
        gap = np.hypot(*(others - start).T)
        if gap.min() < np.hypot(*(end - start)):
            near = others[int(gap.argmin())]
    distance = float(np.hypot(*(near - start)))
    what = f"the contour is open: a gap of {distance:.3f} mm between {millimetres(start)} and {millimetres(near)}"
    if len(chains) > 1:
        what += f" (in all {_count(len(chains), 'open line')})"
    return Problem("error", file, longest.line, what, "close it in the drawing and export it again")


def _assemble(shapes: Sequence[Ring], file: str) -> tuple[Area | None, list[Problem]]:
    """Edge with cut-outs from rings, by how they lie in each other."""
    import shapely

    problems: list[Problem] = []
    rings = nest(merge_double(nest(without_repeats(shapes)), file, problems))
    rings = without_frame(rings, file, problems)
    outer = [index for index, ring in enumerate(rings) if ring.depth == 0]
    if not outer:
        return None, problems
    largest = rings[outer[0]].polygon
    marks = [i for i in outer if rings[i].polygon.area < max(LEAST_AREA_MM2, _PANEL_SHARE * largest.area)]
    crossing = [i for i in outer[1:] if _overlap(rings[i].polygon, rings[outer[0]].polygon)]
    large = [i for i in crossing if rings[i].polygon.area > _CROSSING_SHARE * largest.area]
    for index in large:
        what = f"two contours cross near {millimetres(rings[index].polygon.centroid.coords[0])}"
        remedy = "leave only the board's edge and its cut-outs in the file"
        problems.append(Problem("error", file, rings[index].line, what, remedy))
    small = [rings[i] for i in crossing if i not in large]
    if small:
        what = f"{_count(len(small), 'small contour')} across the edge taken as cut-outs, the first near "
        what += millimetres(small[0].polygon.centroid.coords[0])
        problems.append(Problem("warning", file, _first_line(small), what, "check the board's cut-outs"))
    beside = [i for i in marks if i not in crossing and i != outer[0]]
    if beside:
        what = f"{_count(len(beside), 'small contour')} beside the board left out"
        line = _first_line([rings[i] for i in beside])
        problems.append(Problem("warning", file, line, what, "remove them from the file if they mean nothing"))
    boards = [i for i in outer if i not in crossing and i not in beside]
    islands = [ring for ring in rings if ring.depth > 1]
    if islands:
        what = f"{_count(len(islands), 'contour')} inside a cut-out left out"
        problems.append(Problem("warning", file, _first_line(islands), what, "check the board's size and cut-outs"))
    if len(boards) > 1:
        what = f"holds {len(boards)} separate contours, taken as the boards of a panel"
        problems.append(Problem("warning", file, None, what, "remove what is not part of the board's edge"))
    cut = [ring.polygon for ring in rings if ring.depth == 1] + [rings[i].polygon for i in crossing]
    removed = shapely.union_all(cut)
    if sum(polygon.area for polygon in cut) > 1.01 * removed.area + 0.1:
        what = "cut-outs overlap one another, so the file may hold other drawings besides the board's edge"
        problems.append(Problem("warning", file, None, what, "leave only the board's edge and its cut-outs in it"))
    edge = shapely.union_all([rings[i].polygon for i in boards]).difference(removed)
    return _only_areas(edge), problems


def _only_areas(shape: object) -> Area | None:
    """The polygons of a geometry; slivers that differences leave behind are dropped."""
    import shapely

    parts = [part for part in _flat(shape) if part.area > 1e-3]
    if not parts:
        return None
    largest = max(part.area for part in parts)
    parts = [part for part in parts if part.area >= min(LEAST_AREA_MM2, 1e-3 * largest)]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def _overlap(a: Polygon, b: Polygon) -> bool:
    return bool(a.intersection(b).area > 1e-3 * min(a.area, b.area))


def _with_areas(edge: Area | None, area: Area, file: str) -> tuple[Area | None, list[Problem]]:
    """One edge from closed lines and painted areas."""
    import shapely

    if edge is None:
        return area, []
    larger, smaller = (area, edge) if area.area > edge.area else (edge, area)
    if larger.buffer(0.01).covers(smaller):
        if larger is edge:
            what = "painted areas inside the contour left out"
            return edge, [Problem("warning", file, None, what, "leave only the board's edge in the file")]
        what = "contours drawn inside the painted area are taken as cut-outs"
        cut = _only_areas(
            larger.difference(shapely.union_all([shapely.Polygon(part.exterior) for part in _flat(smaller)]))
        )
        return cut, [Problem("warning", file, None, what, "check the outline's cut-outs")]
    what = "painted areas and drawn contours contradict each other"
    return None, [Problem("error", file, None, what, "leave only the board's edge in the file")]


def _flat(shape: object) -> list[Polygon]:
    """The polygons of any geometry, also of nested collections."""
    parts = getattr(shape, "geoms", None)
    if parts is not None:
        return [polygon for part in parts for polygon in _flat(part)]
    polygon: Polygon = shape
    return [polygon] if polygon.geom_type == "Polygon" and not polygon.is_empty else []


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _first_line(items: Iterable[Stroke] | Iterable[Ring]) -> int | None:
    return min((item.line for item in items if item.line is not None), default=None)
