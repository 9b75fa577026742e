"""On which part a hot spot lies, as probabilities.

The true place is normal around the place seen, with the covariance of the maximum and that of the registration
(and lean) at each body's height, integrated over what is seen of the body, top face and walls. What falls on no
body is bare board: a trace, a via field, a pad, or a part on the other side shining through.

Prior odds say how likely each body is to be meant before the place is looked at; who asks gives them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array
from overlay.reading.model import Candidate
from overlay.view.tops import Top

BARE_BOARD_ODDS = 0.2  # against a body at the same place: heat is made in parts (common practice)
LEAST_SHOWN = 0.005  # candidates below this are given to the others
_DRAWS = 400  # a share of one half is then known to 1 %: the points are spread evenly, not drawn
_REACH_SIGMAS = 3.5  # a place lies beyond with a chance of 0.2 %


@dataclass(frozen=True, slots=True, eq=False)
class Bodies:
    """What is seen of each body, ready to be asked for places. Shapes in px, in the order of the tops."""

    tops: tuple[Top, ...]
    tree: object  # shapely.STRtree over ``shapes``
    shapes: NDArray[np.object_]


def bodies_of(tops: Sequence[Top]) -> Bodies:
    """Prepare the bodies of a frame: visible top faces, and the walls that show beside them."""
    import shapely

    faces = np.array([shapely.make_valid(top.face.visible_px) for top in tops], dtype=object)
    shapes = faces.copy()
    leaning = [i for i, top in enumerate(tops) if top.face.z_mm * top.px_per_mm > 2.0 and not faces[i].is_empty]
    if leaning:
        tree = shapely.STRtree(faces)
        for i in leaning:
            face = tops[i].face
            hull = shapely.MultiPoint(np.concatenate([face.polygon_px, face.base_px])).convex_hull
            others = [int(j) for j in tree.query(hull, predicate="intersects") if j != i]
            wall = shapely.difference(hull, shapely.union_all(faces[others])) if others else hull
            shapes[i] = shapely.union(faces[i], wall)
    shapely.prepare(shapes)
    return Bodies(tuple(tops), shapely.STRtree(shapes), shapes)


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

    place = np.asarray(place_px)
    own = np.array([top.face.pixel_u for top in bodies.tops])
    widest = float(np.sqrt(np.linalg.eigvalsh(covariance_px2 + board_covariance_px2)[-1]))
    reach = _REACH_SIGMAS * float(np.hypot(widest, own.max(initial=0.0)))
    window = shapely.box(*(place - reach), *(place + reach))
    near = np.sort(bodies.tree.query(window))  # type: ignore[attr-defined]
    unit = _normal_points()
    on_board = place + unit @ _root(covariance_px2 + board_covariance_px2).T
    free = np.ones(len(unit), dtype=bool)
    weights = []
    for i in near:
        shape = bodies.shapes[i]
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


def _normal_points() -> Array:
    """A fixed set of points (n, 2), spread evenly over a standard normal: Vogel's spiral at normal radii."""
    k = np.arange(_DRAWS) + 0.5
    radius = np.sqrt(-2.0 * np.log1p(-k / _DRAWS))
    angle = k * np.pi * (3.0 - np.sqrt(5.0))
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])


def _root(covariance: Array) -> Array:
    value, vector = np.linalg.eigh(covariance)
    return np.asarray(vector * np.sqrt(np.maximum(value, 0.0)))
