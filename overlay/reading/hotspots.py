"""Hot spots: what stands out of the surface temperature, where exactly, and on which part.

The rule. A hot spot is a local maximum of the lightly smoothed surface temperature map whose prominence is at
least the largest of: five standard deviations of the map's noise; 1 K; 6 % of its rise above ambient; and half of
what emissivities (its body's and the board's) wrong by one standard uncertainty would feign. Up to twice that much
the spot says that it may be feigned. A body that stands out by as much above the warmest of the bare board around
it is one as well, even where a hotter neighbour hides its summit. One body bears one hot spot, however uneven.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array
from overlay.reading.attribution import HOT_BODY_ODDS, LEAST_BODY_ODDS, Bodies, bodies_of, candidates_at
from overlay.reading.detection import (
    LEAST_PROMINENCE_K,
    LEAST_SHARE_OF_RISE,
    METAL_SHARE,
    SMOOTHING_PX,
    Scene,
    detection_map,
    is_shiny,
    shiny_shares,
)
from overlay.reading.model import Candidate, HotSpot, SpotCode
from overlay.reading.prominence import maxima_of
from overlay.reasons import Reason
from overlay.registration.project import board_covariance, board_from_pixels, pixel_covariance
from overlay.uncertainty import combined_k
from overlay.view.model import View
from overlay.view.terms import common_terms, kelvin_per_emissivity, noise_radiance
from overlay.view.tops import Top

NOISE_SIGMAS = 5.0
EMISSIVITY_SIGMAS = 0.5
MOST = 50
_CONSIDERED = 150  # the highest; more only a board has on which every part is hot
_LEAST_RISE_K = 1.0

_LEAST_PLACE_U_PX, _MOST_PLACE_U_PX = 0.2, 6.0
_SUMMIT_SHARE, _SUMMIT_K, _SUMMIT_REACH_PX = 0.1, 1.0, 40
_MAY_WELL_BE = 0.1
_EDGE_PX = 2  # a maximum this close to the board's edge may be something hot beyond it


@dataclass(frozen=True, slots=True, eq=False)
class _Spot:
    """A hot spot before it has a name."""

    place_px: tuple[float, float]
    covariance_px2: Array
    seen_c: float  # surface temperature on the map
    leaving: float
    prominence_k: float


def find_hot_spots(scene: Scene) -> tuple[HotSpot, ...]:
    """All hot spots, ranked by rise."""
    bodies = bodies_of(scene.tops)
    shiny, mirrors = shiny_shares(scene, bodies)
    surface_c = detection_map(scene, shiny, mirrors)
    named = [(spot, _candidates(scene, bodies, spot)) for spot in _spots(scene, surface_c)]
    named = [
        (spot, names)
        for spot, names in named
        if spot.prominence_k >= EMISSIVITY_SIGMAS * _feignable_k(scene, spot, names[0])
    ]
    named += _overlooked(scene, bodies, named)
    found: dict[str, HotSpot] = {}
    bare: list[HotSpot] = []
    for spot, names in sorted(named, key=lambda item: -item[0].seen_c):
        hot = _hot_spot(scene, spot, names, shiny)
        refdes = names[0].refdes
        if hot.rise_k < _LEAST_RISE_K:
            continue
        if refdes is None:
            bare.append(hot)
        elif refdes not in found or hot.rise_k > found[refdes].rise_k:
            found[refdes] = hot
    ranked = sorted([*found.values(), *bare], key=lambda hot: -hot.rise_k)[:MOST]
    return tuple(_with_rank(hot, i + 1) for i, hot in enumerate(ranked))


def _spots(scene: Scene, surface_c: Array) -> list[_Spot]:
    """Maxima of the detection map that pass the rule."""
    view = scene.view
    maxima = maxima_of(surface_c)
    rise = maxima.value - view.ambient_c
    least = np.maximum(LEAST_PROMINENCE_K, LEAST_SHARE_OF_RISE * rise)
    keep = np.flatnonzero((maxima.prominence >= least) & (rise >= _LEAST_RISE_K))[:_CONSIDERED]
    spots = []
    for i in keep:
        row, col, seen = int(maxima.row[i]), int(maxima.col[i]), float(maxima.value[i])
        noise_k = _map_noise_k(view, seen, float(scene.emission.value[row, col]))
        if maxima.prominence[i] < NOISE_SIGMAS * noise_k or _comes_from_beyond(scene, surface_c, row, col):
            continue
        place, covariance = _place(surface_c, row, col, float(maxima.prominence[i]), noise_k)
        spots.append(
            _Spot(place, covariance, seen, float(view.leaving_radiance[row, col]), float(maxima.prominence[i]))
        )
    return spots


def _map_noise_k(view: View, surface_c: float, emissivity: float) -> float:
    """Standard deviation of the smoothed map: that of a pixel over 2√π·σ of the smoothing."""
    pixel = noise_radiance(view) / (max(emissivity, 0.1) * float(view.band.slope(surface_c)))
    return pixel / float(2.0 * np.sqrt(np.pi) * SMOOTHING_PX)


def _comes_from_beyond(scene: Scene, surface_c: Array, row: int, col: int) -> bool:
    """True for a maximum at the board's edge with something hotter just beyond it: not the board's own."""
    window = (slice(max(row - _EDGE_PX, 0), row + _EDGE_PX + 1), slice(max(col - _EDGE_PX, 0), col + _EDGE_PX + 1))
    beyond = scene.beyond[window]
    if not beyond.any():
        return False
    view = scene.view
    apparent = view.leaving_radiance[window][beyond]
    return bool(np.nanmax(apparent) > view.leaving_radiance[row, col])


def _place(
    surface_c: Array, row: int, col: int, prominence_k: float, noise_k: float
) -> tuple[tuple[float, float], Array]:
    """Place of a maximum in px, and its covariance: centroid and spread of the summit around it.

    The summit is what lies within a tenth of the prominence below, at least within the noise: a flat top is as wide
    as it is uncertain where on it the hottest place is.
    """
    from scipy.ndimage import label

    level = max(4.0 * noise_k, min(_SUMMIT_SHARE * prominence_k, _SUMMIT_K))
    top, left = max(row - _SUMMIT_REACH_PX, 0), max(col - _SUMMIT_REACH_PX, 0)
    window = surface_c[top : row + _SUMMIT_REACH_PX + 1, left : col + _SUMMIT_REACH_PX + 1]
    with np.errstate(invalid="ignore"):
        parts, _ = label(window >= surface_c[row, col] - level, structure=np.ones((3, 3)))
    r, c = np.nonzero(parts == parts[row - top, col - left])
    # pixels weigh by how far they reach above the summit's edge, which makes the centroid sub-pixel
    weight = window[r, c] - (surface_c[row, col] - level) + 1e-3 * level
    weight /= weight.sum()
    x, y = float(weight @ c), float(weight @ r)
    spread = np.cov(np.stack([c, r]).astype(np.float64), aweights=weight, bias=True) if len(r) > 1 else np.zeros((2, 2))
    value, vector = np.linalg.eigh(0.5 * spread)
    value = np.clip(value, _LEAST_PLACE_U_PX**2, _MOST_PLACE_U_PX**2)
    return (x + left, y + top), np.asarray((vector * value) @ vector.T)


def _candidates(scene: Scene, bodies: Bodies, spot: _Spot) -> tuple[Candidate, ...]:
    registration = scene.view.registration
    board_mm = board_from_pixels(registration, np.array([spot.place_px]))
    if not np.isfinite(board_mm).all():
        return (Candidate(None, 1.0),)
    board = pixel_covariance(registration, np.array([[*board_mm[0], 0.0]]))[0]
    return candidates_at(bodies, spot.place_px, spot.covariance_px2, board, _odds(scene, spot))


def _odds(scene: Scene, spot: _Spot) -> Array:
    """Prior odds (n,) that a body is a spot's source: less where it is colder, more where it is known to be hot."""
    known = scene.known
    slack = max(1.0, 0.05 * (spot.seen_c - scene.view.ambient_c))
    shortfall = np.maximum(0.0, (spot.seen_c - known.peak_c) / np.hypot(known.relative_u_c, slack))
    odds = np.exp(-0.5 * shortfall**2) * np.where(known.stands_out, HOT_BODY_ODDS, 1.0)
    return np.where(np.isfinite(known.peak_c), np.maximum(odds, LEAST_BODY_ODDS), 1.0)


def _feignable_k(scene: Scene, spot: _Spot, first: Candidate) -> float:
    """By how much a body would seem to stand out if emissivities were wrong by one standard uncertainty."""
    view = scene.view
    reading = scene.readings.get(first.refdes) if first.refdes is not None else None
    if reading is None or reading.state != "read" or reading.emissivity is None or reading.emissivity_u is None:
        return 0.0
    board = view.board_emissivity
    slopes = kelvin_per_emissivity(view, np.full(2, spot.seen_c), np.array([reading.emissivity, board.value]))
    return float(np.hypot(*(slopes * np.array([reading.emissivity_u, board.u]))))


def _overlooked(
    scene: Scene, bodies: Bodies, named: Sequence[tuple[_Spot, tuple[Candidate, ...]]]
) -> list[tuple[_Spot, tuple[Candidate, ...]]]:
    """Bodies that stand out of the bare board around them, though a hotter neighbour hides their summit."""
    result = []
    # a maximum that may well be the body's own is enough
    known = {name.refdes for _, names in named for name in names if name.probability >= _MAY_WELL_BE}
    standing_out = np.flatnonzero(scene.known.stands_out)
    hottest_first = standing_out[np.argsort(-scene.known.peak_c[standing_out], kind="stable")]
    for i in hottest_first[:_CONSIDERED]:
        top = bodies.tops[i]
        reading = scene.readings[top.face.component.refdes]
        if reading.refdes in known or reading.peak_c is None or reading.leaving_radiance is None:
            continue
        center = np.asarray(top.face.visible_px.representative_point().coords[0])
        spread = max(_LEAST_PLACE_U_PX, 0.2 * top.short_px) ** 2 * np.eye(2)
        excess = float(scene.known.excess_k[i])
        spot = _Spot((float(center[0]), float(center[1])), spread, reading.peak_c, reading.leaving_radiance, excess)
        names = _candidates(scene, bodies, spot)
        if names[0].refdes == reading.refdes:
            result.append((spot, names))
    return result


def _hot_spot(scene: Scene, spot: _Spot, names: tuple[Candidate, ...], shiny: Array) -> HotSpot:
    """Give a spot its temperature, place on the board, and what a user should know of it."""
    view, first = scene.view, names[0]
    row = min(max(round(spot.place_px[1]), 0), shiny.shape[0] - 1)
    col = min(max(round(spot.place_px[0]), 0), shiny.shape[1] - 1)
    reading = scene.readings.get(first.refdes) if first.refdes is not None else None
    top = next((top for top in scene.tops if top.face.component.refdes == first.refdes), None)
    why: list[Reason] = []
    if reading is not None and reading.is_at_least:
        assert reading.peak_c is not None
        temperature, u = reading.peak_c, reading.u_c or 0.0
        if spot.prominence_k < 2.0 * _feignable_k(scene, spot, first):
            text = (
                f"stands out by {spot.prominence_k:.1f} K only, which an emissivity a little off could feign: "
                "it may be warmed by its surroundings"
            )
            why.append(Reason(SpotCode.FAINT, text))
        if reading.state == "small":
            text = f"the frame shows {spot.seen_c:.1f} °C; {first.refdes} is small, its temperature was worked out"
            why.append(Reason(SpotCode.WORKED_OUT, text))
    else:
        emissivity = view.board_emissivity
        temperature = spot.seen_c
        here = (np.array([temperature]), np.array([spot.leaving]))
        u = combined_k(common_terms(view, *here, [emissivity], ["board"])[0])
        if (top is not None and is_shiny(scene, top)) or shiny[row, col] > 0.2:
            text = (
                f"may be a reflection of something warm (a hand, a lamp): {first.refdes or 'the surface'} is shiny "
                "and shows mostly what it mirrors; shade it and look again, or coat it"
            )
            why.append(Reason(SpotCode.MAY_BE_REFLECTION, text))
        elif scene.emission.metal[row, col] > METAL_SHARE:
            text = (
                "lies on bare metal, which mirrors its surroundings; the temperature is that of the surface beside it"
            )
            why.append(Reason(SpotCode.ON_METAL, text))
    if first.refdes is None:
        text = "lies on bare board: a trace, a via field, a pad, or a part on the other side shining through"
        why.append(Reason(SpotCode.ON_BARE_BOARD, text))
    if len(names) > 1 and first.probability < 0.8:
        other = names[1].refdes or "the bare board beside it"
        text = f"may also lie on {other}: more or better control points would tell"
        why.append(Reason(SpotCode.MAY_BE_OTHER, text))
    z_mm = top.face.z_mm if top is not None else 0.0
    place = np.array([spot.place_px])
    board_mm = board_from_pixels(view.registration, place, z_mm)[0]
    position_u = _position_u_mm(view, place, z_mm, spot.covariance_px2, top)
    return HotSpot(
        rank=0,
        pixel=spot.place_px,
        board_mm=(float(board_mm[0]), float(board_mm[1])),
        position_u_mm=position_u,
        temperature_c=float(temperature),
        u_c=float(u),
        rise_k=float(temperature - view.ambient_c),
        candidates=names,
        why=tuple(why),
    )


def _position_u_mm(view: View, place: Array, z_mm: float, covariance_px2: Array, top: Top | None) -> float:
    """Standard uncertainty of the place on the board, the root mean square of both directions."""
    of_registration = float(np.trace(board_covariance(view.registration, place, z_mm)[0])) / 2.0
    px_per_mm = top.px_per_mm if top is not None else 1.0 / view.registration.mm_per_px
    of_place = float(np.trace(covariance_px2)) / 2.0 / px_per_mm**2
    return float(np.sqrt(of_registration + of_place))


def _with_rank(hot: HotSpot, rank: int) -> HotSpot:
    return replace(hot, rank=rank)
