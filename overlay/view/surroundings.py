"""The board around each body: which pixels show it, and what leaves it in a ring around a part."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, Mask, read_only
from overlay.board import anatomy
from overlay.frames.frame import Emissivity
from overlay.frames.radiometry import surface_temperature_c
from overlay.registration.project import pixels_from_board
from overlay.uncertainty import combined_k
from overlay.view.model import View
from overlay.view.regions import Geometries, pixel_blocks_of
from overlay.view.terms import common_terms
from overlay.view.tops import DIRECT_FROM_PX, Top

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

RING_MM = 2.0  # near enough to be as warm as the part's own feet, wide enough for some pixels
_BEYOND_HULL_MM = 10.0  # board beyond its outermost parts, where no outline tells (common practice)
_HOLE_LAND_MM = 1.5  # beyond the rim of a hole
_LARGEST_HOLE_MM2 = 60.0  # larger openings are the board's shape, not holes for screws
_LAND_MM = 3.0  # radius of the land of a mounting hole for M3 (common practice); a fiducial's is smaller
_CLEAN = 0.99  # a pixel shows the board if no more than a hundredth of it is something else
_LEAST_RING_PX = 2.0  # fewer pixels have no mean worth the name
# What cannot be read of a ring may be warmer or colder than its mean by this share of what its hottest places are.
_UNSEEN_U = 0.5
_LONGEST_EDGE_MM = 2.0  # the outline is projected in pieces of this length: a lens bends straight edges


@dataclass(frozen=True, slots=True)
class BoardRing:
    """Radiance of the board around one part: mean, near the lowest and the highest, and the area they are of."""

    leaving: float
    low: float  # 95 % of the ring are above …
    high: float  # … and as many below
    emissivity: float  # mean
    area_px: float
    unseen: float  # share of the ring's board that pads, leads and blur keep from being read, mostly the nearest


def outline_px(view: View) -> Polygon | MultiPolygon | None:
    """The board's outline in the frame; None where it cannot be projected (it reaches behind the camera)."""
    import shapely

    outline = shapely.segmentize(view.board.outline.polygon, _LONGEST_EDGE_MM)

    def project(xy_mm: Array) -> Array:
        return pixels_from_board(view.registration, np.column_stack([xy_mm, np.zeros(len(xy_mm))]))

    projected = shapely.transform(outline, project)
    if projected.is_empty or not np.isfinite(shapely.get_coordinates(projected)).all():
        return None
    return shapely.make_valid(projected)


def bare_board(view: View, tops: Sequence[Top], outline: Polygon | MultiPolygon | None, sigma_px: float) -> Mask:
    """Pixels (rows, cols) that show nothing but the board's own surface, clear of bodies, pads, leads and blur."""
    import shapely

    shape = view.registration.shape_px
    reach = 1.5 * sigma_px + 0.5
    bare = np.ones(shape, dtype=bool) if outline is None else _mask(shapely.buffer(outline, -reach), shape, _CLEAN)
    if tops:
        metal = [anatomy.skirt_at_most_mm(top.face.component) * top.px_per_mm for top in tops]
        covered = pixel_blocks_of(
            shapely.buffer([top.silhouette for top in tops], reach + np.array(metal), quad_segs=4), shape
        )
        for share, window in zip(covered, covered.slices(), strict=True):
            bare[window] &= share <= 1.0 - _CLEAN
    return bare


@dataclass(frozen=True, slots=True, eq=False)
class Extent:
    """Where in the frame (rows, cols) the board is."""

    inside: Mask  # board clear of its edges and holes, or a part
    beyond: Mask  # neither board nor part
    fittings: Mask  # leads, pads, lands of holes and fiducials: bare metal, in all likelihood

    def __post_init__(self) -> None:
        read_only(self)


def extent_of(view: View, tops: Sequence[Top], outline: Polygon | MultiPolygon | None, sigma_px: float) -> Extent:
    """Tell the board from what lies around it and shows through its holes."""
    import shapely

    shape, px_per_mm = view.registration.shape_px, 1.0 / view.registration.mm_per_px
    parts = np.array([top.visible for top in tops], dtype=object)
    holes = shapely.MultiPolygon() if outline is None else _small_holes(outline, _LARGEST_HOLE_MM2 * px_per_mm**2)
    lands = shapely.union_all(
        [_lands_px(view, px_per_mm), shapely.buffer(holes, _HOLE_LAND_MM * px_per_mm), *_skirts_px(tops)]
    )
    shapely.prepare(lands)
    fittings = _mask(shapely.difference(lands, shapely.union_all(parts[shapely.intersects(lands, parts)])), shape)
    if outline is None:
        return Extent(np.ones(shape, dtype=bool), np.zeros(shape, dtype=bool), fittings)
    # a hull of the bodies is no edge: the board goes on beyond it
    allowance = _BEYOND_HULL_MM * px_per_mm if view.board.outline.from_bodies else 0.0
    board = shapely.union(shapely.buffer(outline, allowance), holes)
    inside = _with_parts(shapely.buffer(board, -(0.5 + sigma_px)), parts)
    return Extent(_mask(inside, shape), ~_mask(_with_parts(shapely.buffer(board, 1.0), parts), shape), fittings)


def _with_parts(region: Polygon | MultiPolygon, parts: Geometries) -> Polygon | MultiPolygon:
    """A region with the parts that reach beyond it: most do not, and a union of all of them is dear."""
    import shapely

    shapely.prepare(region)
    return shapely.union_all([region, *parts[~shapely.covers(region, parts)]])


def _small_holes(outline: Polygon | MultiPolygon, largest_px2: float) -> MultiPolygon:
    """Mounting holes and the like, which do not part the board as a slot or a cut-out does."""
    import shapely

    holes = [
        shapely.Polygon(ring)
        for part in shapely.get_parts(outline)
        if part.geom_type == "Polygon"
        for ring in part.interiors
    ]
    return shapely.union_all([hole for hole in holes if hole.area <= largest_px2])


def _lands_px(view: View, px_per_mm: float) -> Polygon | MultiPolygon:
    import shapely

    seen = [c for c in view.board.components if c.mechanical and c.body is None]
    if not seen:
        return shapely.MultiPolygon()
    centers = pixels_from_board(view.registration, np.array([[*c.center_mm, 0.0] for c in seen]))
    centers = centers[np.isfinite(centers).all(axis=1)]
    return shapely.union_all(shapely.buffer(shapely.points(centers), _LAND_MM * px_per_mm))


def _mask(region: Polygon | MultiPolygon, shape_px: tuple[int, int], least: float = 0.5) -> Mask:
    blocks = pixel_blocks_of([region], shape_px)
    mask = np.zeros(shape_px, dtype=bool)
    mask[blocks.slices()[0]] = blocks[0] > least
    return mask


def rings(view: View, tops: Sequence[Top], bare: Mask, emissivity: Array) -> tuple[BoardRing | None, ...]:
    """The board in a ring of 2 mm around each body; None where too little of it is to be seen.

    ``bare`` and ``emissivity`` are maps of shape (rows, cols).
    """
    import shapely

    if not tops:
        return ()
    shape = view.registration.shape_px
    bodies = np.array([top.silhouette for top in tops], dtype=object)
    board = np.maximum(1.0 - pixel_blocks_of(bodies, shape).painted(np.ones(len(tops))), 0.0)
    reach = RING_MM * np.array([top.px_per_mm for top in tops])
    around = pixel_blocks_of(shapely.buffer(bodies, reach, quad_segs=4), shape)
    of_board, shown = around.sums(board), around.overlaps(bare)
    area, leaving = shown.area_px, view.leaving_radiance.ravel()[shown.pixel]
    seen = area >= _LEAST_RING_PX
    with np.errstate(divide="ignore", invalid="ignore"):  # where nothing of a ring is shown, there is none
        mean = shown.sums(shown.weight * leaving) / area
        own = shown.sums(shown.weight * emissivity.ravel()[shown.pixel]) / area
        unseen = np.maximum(0.0, 1.0 - area / np.maximum(of_board, area))
    low, high = shown.quantiles(leaving, (0.05, 0.95))
    rows = zip(seen, *(column.tolist() for column in (mean, low, high, own, area, unseen)), strict=True)
    return tuple(BoardRing(*values) if known else None for known, *values in rows)


@dataclass(frozen=True, slots=True)
class RingTemperature:
    """Surface temperature of the board around one part."""

    mean_c: float
    mean_u_c: float
    low_c: float  # 95 % of the ring are hotter …
    high_c: float  # … and as many colder


def ring_temperatures(view: View, around: Sequence[BoardRing | None]) -> tuple[RingTemperature | None, ...]:
    """Temperatures of rings; None where there is no ring, or no temperature fits."""
    known = [ring for ring in around if ring is not None]
    if not known:
        return (None,) * len(around)
    leaving = np.array([ring.leaving for ring in known])
    low, high = np.array([ring.low for ring in known]), np.array([ring.high for ring in known])
    value = np.array([ring.emissivity for ring in known])
    reflected = float(view.band.radiance(view.reflected_c))
    mean_c, low_c, high_c = (surface_temperature_c(view.band, j, value, reflected) for j in (leaving, low, high))
    board = view.board_emissivity
    budgets = common_terms(
        view, mean_c, leaving, [Emissivity(v, board.u, board.source) for v in value], ["board"] * len(known)
    )
    beyond_k = _UNSEEN_U * np.array([ring.unseen for ring in known]) * (high_c - mean_c)
    temperatures = iter(
        RingTemperature(float(mean), math.hypot(combined_k(budget), beyond), float(bottom), float(top))
        if np.isfinite(mean + bottom + top)
        else None
        for mean, bottom, top, beyond, budget in zip(mean_c, low_c, high_c, beyond_k, budgets, strict=True)
    )
    return tuple(None if ring is None else next(temperatures) for ring in around)


def _skirts_px(tops: Sequence[Top]) -> list[Polygon]:
    """Strips of leads and pads around the bodies that have them, the bodies included; none around the smallest."""
    import shapely

    skirts = [(top, anatomy.skirt_mm(top.face.component)) for top in tops if top.readable_px >= DIRECT_FROM_PX]
    chosen = [(top, skirt) for top, skirt in skirts if skirt > 0.0]
    if not chosen:
        return []
    reach = np.array([skirt * top.px_per_mm for top, skirt in chosen])
    return list(shapely.buffer([top.silhouette for top, _ in chosen], reach, quad_segs=4))
