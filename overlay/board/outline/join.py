"""Separate lines joined, in whatever order and direction they were drawn, into rings and open chains."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array
from overlay.board.outline.strokes import Stroke, millimetres
from overlay.errors import Problem

TOUCH_MM = 2e-4  # ends closer than this are one point: rounding of an export
JOIN_MM = 0.01  # ends this near are joined silently …
BRIDGE_MM = 0.1  # … and up to here with a warning
WIDE_BRIDGE_MM = 0.5  # … and up to here where nothing closes without: no cut-out and no milling tool is as narrow


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """Strokes put together: closed rings, what stayed open, and what was noted."""

    rings: tuple[Stroke, ...]
    chains: tuple[Stroke, ...]
    problems: tuple[Problem, ...] = ()


def join(strokes: Iterable[Stroke], file: str, bridge_mm: float = BRIDGE_MM) -> Joined:
    """Join strokes at their ends; where three or more meet, the outer edge of what they enclose is taken.

    Ends touch within `TOUCH_MM`. Ends that touch nothing are then joined with the nearest other such end within
    `JOIN_MM`, last within ``bridge_mm``, the narrow gaps before the wide ones, which is reported.
    """
    pieces = _distinct(strokes)
    rings = [piece for piece in pieces if piece.closed]
    pieces = [piece for piece in pieces if not piece.closed]
    if not pieces:
        return Joined(tuple(rings), ())
    ends = np.concatenate([[piece.xy_mm[0], piece.xy_mm[-1]] for piece in pieces])
    node, gaps = _nodes(ends, [piece.length_mm for piece in pieces], bridge_mm)
    problems = _bridged(file, pieces, ends, gaps)
    branches: list[tuple[Array, int | None]] = []
    at_node: dict[int, list[int]] = defaultdict(list)
    for end, name in enumerate(node):
        at_node[name].append(end)
    chains: list[Stroke] = []
    for members in _components(node, at_node, len(pieces)):
        crowded = [name for name in {node[2 * m] for m in members} | {node[2 * m + 1] for m in members}
                   if len(at_node[name]) > 2]  # fmt: skip
        if crowded:
            inside, loose = _network([pieces[m] for m in members], [node[2 * m : 2 * m + 2] for m in members], ends)
            if inside:
                at = ends[min(min(at_node[name]) for name in crowded)]
                branches.append((at, first_line(pieces[m] for m in members)))
            rings += inside
            chains += loose
            continue
        chain = _walk(pieces, node, at_node, members)
        (rings if chain.closed else chains).append(chain)
    if branches:
        at, line = branches[0]
        more = f" and at {len(branches) - 1} more places" if len(branches) > 1 else ""
        what = f"lines branch at {millimetres(at)}{more}; the outer edge of what they enclose was taken"
        problems.append(Problem("warning", file, line, what, "check the outline's size and cut-outs"))
    return Joined(tuple(rings), tuple(chains), tuple(problems))


def _distinct(strokes: Iterable[Stroke]) -> list[Stroke]:
    """Strokes without repeated points, without those of no length, and each only once however it is directed."""
    seen: set[bytes] = set()
    kept = []
    for stroke in strokes:
        xy = stroke.xy_mm[np.isfinite(stroke.xy_mm).all(axis=1)]
        if len(xy) > 1:
            moved = np.concatenate([[True], np.hypot(*np.diff(xy, axis=0).T) > 1e-9])
            xy = xy[moved]
        if len(xy) < 2:
            continue
        rounded = np.round(xy / TOUCH_MM).astype(np.int64)
        # a ring may start anywhere and run either way: its points in order tell it well enough from others
        ring = len(xy) > 3 and np.array_equal(rounded[0], rounded[-1])
        ordered = rounded[:-1][np.lexsort(rounded[:-1].T)] if ring else rounded
        keys = (ordered.tobytes(), ordered[::-1].tobytes())
        if keys[0] in seen or keys[1] in seen:
            continue
        seen.add(keys[0])
        kept.append(Stroke(xy, stroke.line, stroke.layer, stroke.filled))
    return kept


def _nodes(ends: Array, lengths_mm: Sequence[float], bridge_mm: float) -> tuple[list[int], list[tuple[int, int]]]:
    """The node of each end (stroke i has ends 2i and 2i + 1), and the pairs joined across a gap worth telling."""
    import shapely

    parent = list(range(len(ends)))

    def root(end: int) -> int:
        while parent[end] != end:
            parent[end] = parent[parent[end]]
            end = parent[end]
        return end

    points = shapely.points(ends)
    for a, b in shapely.STRtree(points).query(points, predicate="dwithin", distance=TOUCH_MM).T:
        if a < b and (a // 2 != b // 2 or lengths_mm[a // 2] > 4 * TOUCH_MM):
            parent[root(int(b))] = root(int(a))
    gaps = []
    for reach in (JOIN_MM, BRIDGE_MM, bridge_mm) if bridge_mm > BRIDGE_MM else (JOIN_MM, BRIDGE_MM):
        names, counts = np.unique([root(end) for end in range(len(ends))], return_counts=True)
        single = set(names[counts == 1].tolist())
        loose = np.array([end for end in range(len(ends)) if root(end) in single], dtype=int)
        if len(loose) < 2:
            break
        near = shapely.STRtree(points[loose]).query(points[loose], predicate="dwithin", distance=reach).T
        pairs = [(float(np.hypot(*(ends[loose[a]] - ends[loose[b]]))), int(loose[a]), int(loose[b]))
                 for a, b in near if a < b]  # fmt: skip
        free = set(loose.tolist())
        for gap, a, b in sorted(pairs):
            if a in free and b in free and (a // 2 != b // 2 or lengths_mm[a // 2] > 4 * reach):
                free -= {a, b}
                parent[root(b)] = root(a)
                if gap > JOIN_MM:
                    gaps.append((a, b))
    return [root(end) for end in range(len(ends))], gaps


def _bridged(file: str, pieces: Sequence[Stroke], ends: Array, gaps: Sequence[tuple[int, int]]) -> list[Problem]:
    """One warning for all gaps that were bridged, with the widest of them."""
    if not gaps:
        return []
    widths = [float(np.hypot(*(ends[a] - ends[b]))) for a, b in gaps]
    widest = int(np.argmax(widths))
    a, b = gaps[widest]
    many = f"{len(gaps)} gaps, the widest" if len(gaps) > 1 else "a gap"
    where = f"between {millimetres(ends[a])} and {millimetres(ends[b])}"
    what = f"the contour has {many} of {widths[widest]:.3f} mm {where}, bridged"
    return [Problem("warning", file, pieces[b // 2].line, what, "close it in the drawing if it is meant otherwise")]


def _components(node: Sequence[int], at_node: dict[int, list[int]], count: int) -> list[list[int]]:
    """Strokes that hang together, in the order of the first of each."""
    seen = [False] * count
    groups = []
    for first in range(count):
        if seen[first]:
            continue
        seen[first] = True
        group, waiting = [first], [first]
        while waiting:
            piece = waiting.pop()
            for end in at_node[node[2 * piece]] + at_node[node[2 * piece + 1]]:
                if not seen[end // 2]:
                    seen[end // 2] = True
                    group.append(end // 2)
                    waiting.append(end // 2)
        groups.append(group)
    return groups


def _walk(
    pieces: Sequence[Stroke], node: Sequence[int], at_node: dict[int, list[int]], members: Sequence[int]
) -> Stroke:
    """One component without branches as one stroke; a ring ends with the point it starts with."""
    entry = next((end for m in members for end in (2 * m, 2 * m + 1) if len(at_node[node[end]]) == 1), 2 * members[0])
    first, parts, used = entry, [], set()
    while True:
        piece = entry // 2
        used.add(piece)
        parts.append(pieces[piece].xy_mm if entry % 2 == 0 else pieces[piece].xy_mm[::-1])
        leave = entry ^ 1
        following = [end for end in at_node[node[leave]] if end // 2 not in used]
        if not following:
            break
        entry = following[0]
    xy = np.concatenate(parts)
    if node[leave] == node[first] and len(parts) + len(parts[0]) > 3:
        xy = np.concatenate([xy, xy[:1]])
    line = first_line(pieces[m] for m in members)
    return Stroke(xy, line, pieces[members[0]].layer, len(members) == 1 and pieces[members[0]].filled)


def _network(
    members: Sequence[Stroke], names: Sequence[Sequence[int]], ends: Array
) -> tuple[list[Stroke], list[Stroke]]:
    """Rings of lines that branch; the lines themselves where they enclose nothing."""
    snapped = []
    for stroke, (start, end) in zip(members, names, strict=True):
        snapped.append(np.concatenate([[ends[start]], stroke.xy_mm, [ends[end]]]))
    line = first_line(members)
    rings = enclosed(snapped, line, members[0].layer)
    return rings, [] if rings else list(members)


def enclosed(lines: Iterable[Array], line: int | None = None, layer: str = "") -> list[Stroke]:
    """Rings round what lines enclose that cross or branch: the outer edge, and the holes of each part.

    Loose ends are cut off.
    """
    import shapely

    noded = shapely.unary_union(shapely.multilinestrings([shapely.linestrings(xy) for xy in lines]))
    faces = [face for face in shapely.polygonize([noded]).geoms if face.area > 0]
    rings = []
    whole = shapely.unary_union(faces)
    for part in getattr(whole, "geoms", [whole]):
        if part.geom_type == "Polygon" and not part.is_empty:
            rings.append(part.exterior)
    rings += [inner for face in faces for inner in face.interiors]
    return [Stroke(np.asarray(ring.coords, dtype=float)[:, :2], line, layer) for ring in rings]


def first_line(strokes: Iterable[Stroke]) -> int | None:
    """The first line of the file that draws one of them; None where lines have no meaning."""
    return min((stroke.line for stroke in strokes if stroke.line is not None), default=None)
