"""On which part a hot spot lies, as probabilities.

The true place is normal around the place seen, with the covariance of the maximum and that of the registration
(and lean) at each body's height, integrated over what is seen of the body, top face and walls. What falls on no
body is bare board: a trace, a via field, a pad, or a part on the other side shining through.

Prior odds say how likely each body is to be meant before the place is looked at; who asks gives them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from overlay.arrays import Array, Index, read_only
from overlay.reading.model import Candidate
from overlay.view.regions import Geometries
from overlay.view.tops import Top

BARE_BOARD_ODDS = 0.2  # against a body at the same place: heat is made in parts (common practice)
LEAST_SHOWN = 0.005  # candidates below this are given to the others
_DRAWS = 400  # a share of one half is then known to 1 %: the points are spread evenly, not drawn
_LEAST_WALL_PX = 2.0  # lower bodies show no wall worth the name
_REACH_SIGMAS = 3.5  # a place lies beyond with a chance of 0.2 %


@dataclass(frozen=True, slots=True, eq=False)
class Bodies:
    """What may be seen of each body, ready to be asked for places, in the order of the tops."""

    tops: tuple[Top, ...]
    faces: Geometries  # (n,) visible top faces, in px
    face_tree: object  # shapely.STRtree over them
    tree: object  # shapely.STRtree over what each body could hide at most
    pixel_u: Array  # (n,) standard uncertainty of each place along either axis, in px

    def __post_init__(self) -> None:
        read_only(self)


def bodies_of(tops: Sequence[Top]) -> Bodies:
    """Prepare the bodies of a frame."""
    import shapely

    faces = np.array([top.visible for top in tops], dtype=object)
    tree = shapely.STRtree(np.array([top.silhouette for top in tops], dtype=object))
    return Bodies(tuple(tops), faces, shapely.STRtree(faces), tree, np.array([top.face.pixel_u for top in tops]))


def seen_of(bodies: Bodies, which: Index) -> Geometries:
    """What is seen of some bodies (n,): their visible top faces, and the walls that show beside them."""
    import shapely

    shapes = bodies.faces[which]
    tops = [bodies.tops[i] for i in which.tolist()]
    height_px = np.array([top.face.z_mm * top.px_per_mm for top in tops])
    leaning = np.flatnonzero((height_px > _LEAST_WALL_PX) & ~shapely.is_empty(shapes))
    walls = np.array([tops[k].silhouette for k in leaning.tolist()], dtype=object)
    of_wall, other = bodies.face_tree.query(walls, predicate="intersects")  # type: ignore[attr-defined]
    foreign = other != which[leaning][of_wall]
    of_wall, other = of_wall[foreign], other[foreign]
    while len(of_wall):  # of each wall one face after the other
        walls_left, now = np.unique(of_wall, return_index=True)
        walls[walls_left] = shapely.difference(walls[walls_left], bodies.faces[other[now]])
        of_wall, other = np.delete(of_wall, now), np.delete(other, now)
    shapes[leaning] = shapely.union(shapes[leaning], walls)
    return np.asarray(shapes)


def candidates_at(
    bodies: Bodies,
    place_px: tuple[float, float],
    covariance_px2: Array,
    board_covariance_px2: Array,
    odds: Array,
    bare_odds: float = BARE_BOARD_ODDS,
) -> tuple[Candidate, ...]:
    """Candidates for a place in the frame, the likeliest first; probabilities sum to 1.

    Parameters
    ----------
    covariance_px2 : (2, 2)
        Of the place itself (noise, blur).
    board_covariance_px2 : (2, 2)
        Of the registration at the board's surface; each body brings its own uncertainty, lean included.
    odds : (n,)
        Prior odds of each body …
    bare_odds
        … against those of bare board. Heat is made in parts: where nothing else is known the board counts a fifth.
    """
    import shapely

    place, own = np.asarray(place_px), bodies.pixel_u
    widest = float(np.sqrt(np.linalg.eigvalsh(covariance_px2 + board_covariance_px2)[-1]))
    reach = _REACH_SIGMAS * float(np.hypot(widest, own.max(initial=0.0)))
    window = shapely.box(*(place - reach), *(place + reach))
    near = np.sort(bodies.tree.query(window))  # type: ignore[attr-defined]
    unit = _normal_points()
    on_board = place + unit @ _root(covariance_px2 + board_covariance_px2).T
    free = np.ones(len(unit), dtype=bool)
    weights = []
    shapes = seen_of(bodies, near)
    shapely.prepare(shapes)
    for i, shape in zip(near, shapes, strict=True):
        there = place + unit @ _root(covariance_px2 + own[i] ** 2 * np.eye(2)).T
        weights.append(float(np.mean(shapely.contains_xy(shape, there))) * float(odds[i]))
        free &= ~shapely.contains_xy(shape, on_board)
    weights.append(float(free.mean()) * bare_odds)
    names: list[str | None] = [bodies.tops[i].face.component.refdes for i in near]
    names.append(None)
    return _normalised(names, np.array(weights))


def _normalised(names: Sequence[str | None], weights: Array) -> tuple[Candidate, ...]:
    if weights.sum() <= 0.0:
        return (Candidate(None, 1.0),)
    share = weights / weights.sum()
    share = np.where(share >= LEAST_SHOWN, share, 0.0)
    share /= share.sum()
    order = np.argsort(-share, kind="stable")
    return tuple(Candidate(names[i], float(share[i])) for i in order if share[i] > 0.0)


@lru_cache(maxsize=1)
def _normal_points() -> Array:
    """A fixed set of points (n, 2), spread evenly over a standard normal: Vogel's spiral at normal radii."""
    k = np.arange(_DRAWS) + 0.5
    radius = np.sqrt(-2.0 * np.log1p(-k / _DRAWS))
    angle = k * np.pi * (3.0 - np.sqrt(5.0))
    points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    points.flags.writeable = False
    return points


def _root(covariance: Array) -> Array:
    value, vector = np.linalg.eigh(covariance)
    return np.asarray(vector * np.sqrt(np.maximum(value, 0.0)))
