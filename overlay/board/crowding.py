"""Parts that cannot both be where they are said to be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from overlay.board.model import Component
from overlay.errors import Problem

# parts that others may lie under or in
ROOFS = frozenset(("shield", "heatsink", "module", "mechanical", "connector", "battery"))
_LEAST_SHARE = 0.3  # of the larger face that the smaller one fills: below it one may lie under the other
_MOST_NAMED = 20  # packages told one by one
# mean share of a package's faces under other bodies from which a size is doubted, and the parts it takes: on fourteen
# boards from practice no package came to 5 % (where one part stands askew, its placement is to blame)
_COVERED = 0.08
_LEAST_PARTS = 3  # of a package: two may stand askew


def crowding_problems(components: Iterable[Component], file: str) -> list[Problem]:
    """A warning for each two bodies of one side whose centres lie inside each other."""
    problems = [_problem(one, other, file) for one, other in crowded_pairs(components)]
    if len(problems) > _MOST_NAMED:
        what = f"{len(problems)} pairs of bodies lie on one another, such as {problems[0].what}"
        remedy = "check the placement's units and centres, and the variants placed"
        return [Problem("warning", file, problems[0].line, what, remedy)]
    return problems


def covering_problems(components: Sequence[Component], file: str) -> list[Problem]:
    """A warning for each package whose parts are covered by others so much that its size, or theirs, must be wrong."""
    groups: dict[str, list[int]] = {}
    for index, part in enumerate(components):
        if part.body is not None and not part.mechanical and part.kind not in ROOFS:
            groups.setdefault(part.package.strip().casefold(), []).append(index)
    shares = covered_shares(components, [index for group in groups.values() for index in group])
    problems = []
    for group in groups.values():
        covered = float(np.mean([shares[index] for index in group]))
        first = components[group[0]]
        if covered < _COVERED or len(group) < _LEAST_PARTS or first.body is None:
            continue
        names = ", ".join(components[index].refdes for index in group[:6]) + (" …" if len(group) > 6 else "")
        size = f"{first.body.length_mm:g} × {first.body.width_mm:g} mm from {first.body.source}"
        what = f"bodies of package {first.package.strip()!r} ({size}) lie {covered:.0%} under others ({names})"
        remedy = "its size or theirs is wrong: write the right one into bodies.csv"
        problems.append(Problem("warning", file, first.line, what, remedy, "package", first.package))
    return problems


def crowded_pairs(components: Iterable[Component]) -> list[tuple[Component, Component]]:
    """Each two bodies of one side whose centres lie inside each other; roofs and mechanical items are left out."""
    told = [part for part in components if part.body is not None and not part.mechanical and part.kind not in ROOFS]
    return [pair for side in ("top", "bottom") for pair in _pairs([part for part in told if part.side == side])]


def _problem(one: Component, other: Component, file: str) -> Problem:
    what = f"the bodies of {one.refdes} and {other.refdes} lie on one another"
    return Problem("warning", file, other.line, what, "check their places, or leave out the one that is not fitted")


def _pairs(parts: Sequence[Component]) -> list[tuple[Component, Component]]:
    """Pairs whose centres lie in each other's boxes, in the file's order; swept along x, so quick for thousands."""
    if len(parts) < 2:
        return []
    center = np.array([part.center_mm for part in parts], dtype=float)
    half = np.array([(part.body.length_mm / 2, part.body.width_mm / 2) for part in parts if part.body is not None])
    turn = np.radians([part.rotation_deg for part in parts])
    area = 4.0 * half[:, 0] * half[:, 1]
    order = np.argsort(center[:, 0], kind="stable")
    x = center[order, 0]
    last = np.searchsorted(x, x + np.hypot(half[order, 0], half[order, 1]), side="right")
    pairs: list[tuple[int, int]] = []
    for place, one in enumerate(order):
        others = order[place + 1 : last[place]]
        if not len(others):
            continue
        near = _inside(center[others] - center[one], half[one], turn[one]) & _inside(
            center[others] - center[one], half[others], turn[others]
        )
        near &= np.minimum(area[others], area[one]) >= _LEAST_SHARE * np.maximum(area[others], area[one])
        pairs += [(min(one, other), max(one, other)) for other in others[near]]
    return [(parts[one], parts[other]) for one, other in sorted(pairs)]


def _inside(offset: NDArray[np.float64], half: NDArray[np.float64], turn: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether offsets (n, 2) lie inside boxes of half sides (n, 2) or (2,), turned by ``turn``."""
    cos, sin = np.cos(turn), np.sin(turn)
    along = np.abs(offset[:, 0] * cos + offset[:, 1] * sin)
    across = np.abs(offset[:, 1] * cos - offset[:, 0] * sin)
    inside: NDArray[np.bool_] = (along < half[..., 0]) & (across < half[..., 1])
    return inside


def covered_shares(parts: Sequence[Component], members: Sequence[int]) -> dict[int, float]:
    """Share of each member's face that other bodies of its side cover; parts that stand over others are left out."""
    import shapely

    shares = dict.fromkeys(members, 0.0)
    for side in ("top", "bottom"):
        places = [
            index
            for index, part in enumerate(parts)
            if part.side == side and part.body is not None and not part.mechanical and part.kind not in ROOFS
        ]
        if not places:
            continue
        faces = _faces([parts[index] for index in places])
        tree = shapely.STRtree(list(faces))
        ours = [place for place, index in enumerate(places) if index in shares]
        asked, found = tree.query(faces[ours], predicate="intersects")
        own = np.array(ours, dtype=int)[asked]
        other = own != found
        area = shapely.area(shapely.intersection(faces[own[other]], faces[found[other]]))
        total = np.bincount(own[other], weights=area, minlength=len(places))
        whole = shapely.area(faces)
        for place in ours:
            shares[places[place]] = float(min(1.0, total[place] / whole[place]))
    return shares


def _faces(parts: Sequence[Component]) -> NDArray[np.object_]:
    import shapely

    half = np.array([(part.body.length_mm / 2, part.body.width_mm / 2) for part in parts if part.body is not None])
    turn = np.radians([part.rotation_deg for part in parts])
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])[None] * half[:, None]
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    x = corners[..., 0] * cos - corners[..., 1] * sin
    y = corners[..., 0] * sin + corners[..., 1] * cos
    center = np.array([part.center_mm for part in parts])
    faces: NDArray[np.object_] = shapely.polygons(np.stack([x, y], axis=-1) + center[:, None])
    return faces
