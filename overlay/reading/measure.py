"""Measure every top face of a frame: the way that suits its size, and how far its place may be off."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array, Mask
from overlay.board.anatomy import PLACEMENT_U_MM
from overlay.frames.frame import Emissivity
from overlay.reading import tuned
from overlay.reading.estimate import (
    Estimate,
    Joint,
    Opinion,
    bounded,
    estimates_of,
    from_few_pixels,
    from_frame,
    from_joint,
    of_unknown_size,
    second_opinion,
)
from overlay.reading.optical import seen_through_the_optics
from overlay.reading.plain import Around, Plain, plain_of
from overlay.reading.single_pixel import Little, fills_of, read_little
from overlay.reading.statistics import LEAST_WEIGHT, Smoothed, peak_of, smoothed
from overlay.uncertainty import TermName
from overlay.unmixing.unmix import Unmixed
from overlay.view.model import View
from overlay.view.overlaps import Overlaps
from overlay.view.regions import pixel_weights_of
from overlay.view.surroundings import BoardRing
from overlay.view.terms import noise_radiance
from overlay.view.tops import DIRECT_FROM_PX, HEIGHT_U_SHARE, LARGE_FROM_PX, Top, inner_of

_DIRECTIONS = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])  # that a face may shift in: unit steps


def measure(
    view: View,
    tops: Sequence[Top],
    inner: Overlaps,
    emissivity: Sequence[Emissivity],
    around: Sequence[BoardRing | None],
    joint: Unmixed,
    sigma_px: float,
    told_u_px: Mapping[str, float],
) -> list[Estimate | None]:
    """Temperature and budget of every top face, in the order of the tops; None where nothing of it can be read.

    ``inner`` are the pixels of each face away from its edges, ``around`` the board around it, ``sigma_px`` the
    standard deviation of the blur, ``told_u_px`` how uncertain each part's place was before the joint solution.
    """
    noise = noise_radiance(view)
    maps = smoothed(view.leaving_radiance, noise, sigma_px)
    moved = _moved_peaks(view, tops, inner, maps)
    solved = _solved(joint)
    opinions = from_joint(view, tops, solved, emissivity)
    few = []
    for i, top in enumerate(tops):
        peak = None
        if top.readable_px >= DIRECT_FROM_PX:
            peak = peak_of(maps, inner[i], top.readable_px, top.margin_px)
        if peak is None:
            few.append(i)
        else:
            opinions[i] = from_frame(peak, moved[i])
    floors = _floors(view, tops, emissivity, around, solved, maps, sigma_px, few)
    for i in few:
        beneath = float(floors.beneath[i]) if floors.beneath_known[i] else None
        opinions[i] = second_opinion(from_few_pixels(tops[i], opinions[i], floors.little[i], beneath), floors.plain[i])
    opinions = [
        _loosened(view, top, opinion, told_u_px.get(top.face.component.refdes, 0.0))
        for top, opinion in zip(tops, opinions, strict=True)
    ]
    opinions = [bounded(opinion, plain) for opinion, plain in zip(opinions, floors.plain, strict=True)]
    opinions = [
        opinion if top.face.component.body else of_unknown_size(opinion, plain, _beyond(view, top))
        for top, opinion, plain in zip(tops, opinions, floors.plain, strict=True)
    ]
    opinions = seen_through_the_optics(view, tops, opinions, emissivity, floors.beneath, sigma_px)
    return estimates_of(view, tops, opinions, emissivity)


@dataclass(frozen=True, slots=True, eq=False)
class _Floors:
    """What the faces' pixels say without any model of what else is in them, in the order of the tops."""

    beneath: Array  # (n,) radiance of the board around each: what the room is where nothing is known
    beneath_known: Mask  # (n,)
    plain: Sequence[Plain | None]
    little: Sequence[Little | None]  # of its best pixel alone, where that is asked for


def _floors(
    view: View,
    tops: Sequence[Top],
    emissivity: Sequence[Emissivity],
    rings: Sequence[BoardRing | None],
    solved: Mapping[str, Joint],
    maps: Smoothed,
    sigma_px: float,
    few: Sequence[int],
) -> _Floors:
    """Plain readings of all faces, the bounds that no other reading may leave, and the best pixels of the ``few``."""
    radiance, mirrored = view.leaving_radiance, float(view.band.radiance(view.reflected_c))
    coldest = min(float(radiance[np.isfinite(radiance)].min(initial=np.inf)), mirrored)
    told = [
        part.beneath if part is not None else math.nan if ring is None else ring.leaving
        for part, ring in zip((solved.get(top.face.component.refdes) for top in tops), rings, strict=True)
    ]
    known = np.isfinite(told)
    beneath = np.where(known, told, mirrored)
    place_u = np.hypot([top.face.pixel_u for top in tops], _own_u_px(tops))
    value = np.array([surface.value for surface in emissivity])
    kelvin = value * float(view.band.slope(view.ambient_c))
    ends = np.array([bool(top.ends) for top in tops], dtype=bool)
    alone = np.isin(np.arange(len(tops)), few)
    plain: list[Plain | None] = [None] * len(tops)
    little: list[Little | None] = [None] * len(tops)
    for fills in fills_of(tops, view.registration.shape_px, sigma_px, tuned.WIDER_BLUR * sigma_px):
        i = fills.faces
        around = Around(beneath[i], mirrored, coldest)
        plains = plain_of(radiance, maps.noise, fills, ends[i], around, place_u[i], kelvin[i])
        for k, own in zip(i.tolist(), plains, strict=True):
            plain[k] = own
        if not alone[i].any():
            continue
        lone = fills.some(np.flatnonzero(alone[i]))
        i = lone.faces
        littles = read_little(radiance, maps.noise, beneath[i], mirrored, value[i], lone, place_u[i], maps.blur_px2)
        for k, best in zip(i.tolist(), littles, strict=True):
            little[k] = best
    return _Floors(beneath, known, plain, little)


def _own_u_px(tops: Sequence[Top]) -> Array:
    """Standard uncertainty of faces' places (n,) from placement and height, whatever the registration."""
    scale, lean = np.array([(top.px_per_mm, top.lean_px) for top in tops]).reshape(-1, 2).T
    return np.hypot(PLACEMENT_U_MM * scale, HEIGHT_U_SHARE * lean)


def _loosened(view: View, top: Top, opinion: Opinion | None, told_u_px: float) -> Opinion | None:
    """The opinion of a face whose place was uncertain by more than the joint solution can look for it."""
    loose_px = float(np.sqrt(max(told_u_px**2 - top.face.pixel_u**2, 0.0)))
    if opinion is None or loose_px <= tuned.LOOSE_PX:
        return opinion
    known = opinion.u.get(TermName.CONTROL_POINTS, 0.0)
    u = float(np.hypot(known, _spread(view.leaving_radiance, top, tuned.LOOSE_REACH * loose_px)))
    return replace(opinion, u={**opinion.u, TermName.CONTROL_POINTS: u})


def _beyond(view: View, top: Top) -> float:
    """How differently warm the places are that a part of unknown size may well reach, in radiance."""
    return _spread(view.leaving_radiance, top, tuned.UNKNOWN_REACH_MM * top.px_per_mm)


def _spread(radiance: Array, top: Top, beyond_px: float) -> float:
    """Standard uncertainty of a face that may lie anywhere near: all that is found there is as likely (a rectangle)."""
    x, y = np.mean(top.face.polygon_px, axis=0)
    reach = beyond_px + 0.5 * top.short_px
    rows, cols = radiance.shape
    near = radiance[
        max(int(y - reach), 0) : min(int(y + reach) + 1, rows), max(int(x - reach), 0) : min(int(x + reach) + 1, cols)
    ]
    return float(np.ptp(near)) / np.sqrt(12.0) if near.size else 0.0


def _solved(joint: Unmixed) -> dict[str, Joint]:
    return {
        refdes: Joint(float(leaving), float(u), float(beneath))
        for refdes, leaving, u, beneath, settled in zip(
            joint.refdes, joint.leaving, joint.leaving_u, joint.beneath, joint.settled, strict=True
        )
        if settled and np.isfinite(leaving) and np.isfinite(u) and np.isfinite(beneath)
    }


def _moved_peaks(view: View, tops: Sequence[Top], inner: Overlaps, maps: Smoothed) -> list[tuple[float, float]]:
    """By how much peaks change when faces move by one standard uncertainty: (of registration, of placement)."""
    import shapely

    registration_u = np.array([top.face.pixel_u for top in tops])
    placement_u = _own_u_px(tops)
    step = np.hypot(registration_u, placement_u)
    side = np.array([top.readable_px for top in tops])
    direct = np.flatnonzero(side >= DIRECT_FROM_PX)
    total = np.zeros(len(tops))
    if len(direct):
        regions = inner_of([tops[i] for i in direct.tolist()])
        corners, owner = shapely.get_coordinates(regions, return_index=True)
        moved = [
            shapely.set_coordinates(regions.copy(), corners + step[direct][owner][:, None] * direction)
            for direction in _DIRECTIONS
        ]
        there = pixel_weights_of(np.concatenate(moved), view.registration.shape_px)
        large = side[direct] >= LARGE_FROM_PX
        here = _highest(maps, inner.of(direct), large)
        change = _highest(maps, there, np.tile(large, len(_DIRECTIONS))).reshape(len(_DIRECTIONS), -1) - here
        total[direct] = np.nansum(change**2 / 2.0, axis=0)  # two axes, each with the mean square of its two directions
    shares = np.sqrt(total)[:, None] * np.column_stack([registration_u, placement_u]) / np.maximum(step, 1e-12)[:, None]
    return [(a, b) for a, b in shares.tolist()]


def _highest(maps: Smoothed, regions: Overlaps, large: Mask) -> Array:
    """Highest value (n,) among the pixels that lie in each region by half, as its size is read; nan where none does."""
    within = regions.only(regions.weight >= LEAST_WEIGHT)
    values = np.where(large[within.region], maps.box.ravel()[within.pixel], maps.cross.ravel()[within.pixel])
    return within.extremes(values)[1]
