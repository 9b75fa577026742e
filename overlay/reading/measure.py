"""Measure every top face of a frame: the way that suits its size, and how far its place may be off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array
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
from overlay.reading.single_pixel import Fill, fills_of, read_little
from overlay.reading.statistics import Smoothed, highest, peak_of, smoothed
from overlay.uncertainty import TermName
from overlay.unmixing.unmix import Unmixed
from overlay.view.model import View
from overlay.view.regions import Weights, pixel_weights_of
from overlay.view.surroundings import BoardRing
from overlay.view.terms import noise_radiance
from overlay.view.tops import DIRECT_FROM_PX, HEIGHT_U_SHARE, Top, lean_px

_DIRECTIONS = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])  # that a face may shift in: unit steps


def measure(
    view: View,
    tops: Sequence[Top],
    inner: Sequence[Weights],
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
    floors = _floors(view, tops, emissivity, around, solved, sigma_px)
    for i in few:
        floor = floors[i]
        little = read_little(
            view.leaving_radiance,
            noise,
            floor.around.beneath,
            floor.around.mirrored,
            emissivity[i].value,
            floor.fill,
            floor.place_u_px,
            maps.blur_px2,
        )
        beneath = floor.around.beneath if floor.beneath_known else None
        opinions[i] = second_opinion(from_few_pixels(tops[i], opinions[i], little, beneath), floor.plain)
    opinions = [
        _loosened(view, top, opinion, told_u_px.get(top.face.component.refdes, 0.0))
        for top, opinion in zip(tops, opinions, strict=True)
    ]
    opinions = [bounded(opinion, floor.plain) for opinion, floor in zip(opinions, floors, strict=True)]
    opinions = [
        opinion if top.face.component.body else of_unknown_size(opinion, floor.plain, _beyond(view, top))
        for top, opinion, floor in zip(tops, opinions, floors, strict=True)
    ]
    boards = [floor.around.beneath for floor in floors]
    opinions = seen_through_the_optics(view, tops, opinions, emissivity, boards, sigma_px)
    return estimates_of(view, tops, opinions, emissivity)


@dataclass(frozen=True, slots=True)
class _Floor:
    """What one face's pixels say without any model of what else is in them."""

    fill: Fill
    around: Around
    beneath_known: bool
    place_u_px: float
    plain: Plain | None


def _floors(
    view: View,
    tops: Sequence[Top],
    emissivity: Sequence[Emissivity],
    rings: Sequence[BoardRing | None],
    solved: Mapping[str, Joint],
    sigma_px: float,
) -> list[_Floor]:
    """Plain readings of all faces, and the bounds that no other reading may leave."""
    noise, radiance = noise_radiance(view), view.leaving_radiance
    mirrored = float(view.band.radiance(view.reflected_c))
    coldest = min(float(radiance[np.isfinite(radiance)].min(initial=np.inf)), mirrored)
    fills = fills_of(tops, view.registration.shape_px, (sigma_px, tuned.WIDER_BLUR * sigma_px))
    floors = []
    for i, (top, ring, (fill, wide)) in enumerate(zip(tops, rings, fills, strict=True)):
        part = solved.get(top.face.component.refdes)
        beneath = part.beneath if part is not None else None if ring is None else ring.leaving
        around = Around(mirrored if beneath is None else beneath, mirrored, coldest)
        place_u = float(np.hypot(top.face.pixel_u, _own_u_px(top)))
        kelvin = emissivity[i].value * float(view.band.slope(view.ambient_c))
        plain = plain_of(radiance, noise, top, (fill, wide), around, place_u, kelvin)
        floors.append(_Floor(fill, around, beneath is not None, place_u, plain))
    return floors


def _own_u_px(top: Top) -> float:
    """Standard uncertainty of a face's place from placement and height, whatever the registration."""
    return float(np.hypot(PLACEMENT_U_MM * top.px_per_mm, HEIGHT_U_SHARE * lean_px(top.face)))


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


def _moved_peaks(
    view: View, tops: Sequence[Top], inner: Sequence[Weights], maps: Smoothed
) -> list[tuple[float, float]]:
    """By how much peaks change when faces move by one standard uncertainty: (of registration, of placement)."""
    import shapely

    registration_u = np.array([top.face.pixel_u for top in tops])
    placement_u = np.array([_own_u_px(top) for top in tops])
    step = np.hypot(registration_u, placement_u)
    direct = np.array([i for i, top in enumerate(tops) if top.readable_px >= DIRECT_FROM_PX], dtype=np.intp)
    total = np.zeros(len(tops))
    if len(direct):
        regions = np.array([tops[i].inner for i in direct], dtype=object)
        corners, owner = shapely.get_coordinates(regions, return_index=True)
        moved = [
            shapely.set_coordinates(regions.copy(), corners + step[direct][owner][:, None] * direction)
            for direction in _DIRECTIONS
        ]
        weights = pixel_weights_of(list(np.concatenate(moved)), view.registration.shape_px)
        for k, there in enumerate(weights):
            i = int(direct[k % len(direct)])
            values = maps.for_side(tops[i].readable_px)[0]
            change = highest(values, there) - highest(values, inner[i])
            if np.isfinite(change):
                total[i] += change**2 / 2.0  # two axes, each with the mean square of its two directions
    shares = np.sqrt(total)[:, None] * np.column_stack([registration_u, placement_u]) / np.maximum(step, 1e-12)[:, None]
    return [(float(a), float(b)) for a, b in shares]
