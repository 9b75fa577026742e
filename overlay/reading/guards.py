"""What stands between a value and the trust in it: the end of the range, lost pixels, and surfaces that mirror.

A reading is worked out as if the surface were what the tables say. Where the frame itself shows that it cannot be,
its state changes here; the value stays where it still says something.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from overlay.arrays import Mask
from overlay.board.model import Body
from overlay.frames.frame import Emissivity
from overlay.frames.radiometry import surface_temperature_c
from overlay.reading import remarks
from overlay.reading.model import Reading
from overlay.view.emission import STEEPEST_DEG, steepness_deg
from overlay.view.model import View
from overlay.view.overlaps import Weights
from overlay.view.regions import pixel_weights_of
from overlay.view.tops import Top

# Of one saturated pixel, so much under a part makes its reading a lower bound.
_SATURATED_SHARE = 0.3
# Of a part's face, so much lost to dead pixels and marks leaves too little to read.
_LOST_SHARE = 0.5

# A part without heat of its own is warmed through its foot and cooled at its top: a fin. Of the rise of the board
# around it, it keeps 1/cosh(h/ℓ), ℓ² = k·s/(4·α) for a side s; with k = 0.25 W/(m·K) for a moulded part, less than
# any filled with metal, and α = 12 W/(m²·K) for still air and radiation (fin equation: Incropera et al., from
# memory; values: common practice).
_FIN_MM2_PER_MM = 1000.0 * 0.25 / (4.0 * 12.0)
# What keeps less than so much of that shows something else than itself. Tuned on boards whose moulded parts stand
# beside hot ones: of 1,900 none fell below 0.72.
_LEAST_OF_FIN = 0.7
# The same of the mean of the board around: what keeps less is a cable or a bracket that no file lists, lies over the
# part, and makes the coldest of its surroundings too. Tuned on the same boards: of 1,300 parts none fell below 0.76.
_LEAST_OF_RING = 0.6
_NEIGHBOURS = 8  # rings whose median tells what the board is like: a cable or a trace runs by fewer than half of them
_LEAST_RISE_K = 2.0  # of the board around; below, a mirror and a part look alike, and neither is hot
_SURE_SIGMAS = 2.0  # a chance of one in forty on the one side (common practice)
# Between two frames with something else reflected a surface of ε = 0.9 changes by a tenth of what a mirror does: 1 K
# for a hand 11 K over the room. More than that beyond the board around is a mirror.
_MIRROR_K = 1.0
_NEAR_PX = 8  # how far around a part the board is looked at, at least


def guarded(
    view: View,
    tops: Sequence[Top],
    emissivity: Sequence[Emissivity],
    board_c: Sequence[float | None],
    readings: Sequence[Reading],
) -> tuple[Reading, ...]:
    """The readings, those held back or bounded that the frame does not bear out.

    ``emissivity`` of each top, and ``board_c``, the coldest of the board around it (None where it is not known), are
    in the order of the tops.
    """
    indices = {top.face.component.refdes: i for i, top in enumerate(tops)}
    usual_c = _usual_board_c(tops, {reading.refdes: reading.ring_c for reading in readings})
    angles = steepness_deg(view, tops).tolist()
    # only some frames have anything to be asked of single pixels
    asked = view.second_apparent_c is not None or view.saturated is not None or view.left_out is not None
    seen = pixel_weights_of([top.face.visible_px for top in tops], view.registration.shape_px) if asked else None
    result = []
    for reading in readings:
        i = indices.get(reading.refdes)
        if i is not None and reading.state in ("read", "small"):
            measured = view.emissivity_map is not None and emissivity[i].source == view.emissivity_map.source
            if not measured:
                reading = _not_colder(view, tops[i], board_c[i], reading)
            reading = _not_covered(view, tops[i], usual_c[i], reading)
            if seen is not None:
                face = seen[i]
                reading = _not_lost(view, face, _within_range(view, face, _not_mirroring(view, face, reading)))
            reading = _not_too_steep(angles[i], reading)
        result.append(reading)
    return tuple(result)


def _not_too_steep(angle_deg: float, reading: Reading) -> Reading:
    if angle_deg <= STEEPEST_DEG:
        return reading
    why = (*reading.why, remarks.too_steep(angle_deg))
    return replace(reading, state="hidden", peak_c=None, mean_c=None, u_c=None, budget=(), why=why)


def _share(weights: Weights, mask: Mask) -> float:
    """Area of a face, in pixels, that lies under a mask."""
    return float(weights.weight @ mask[weights.rows, weights.cols])


def _within_range(view: View, face: Weights, reading: Reading) -> Reading:
    if view.saturated is None or reading.emissivity is None or _share(face, view.saturated) < _SATURATED_SHARE:
        return reading
    at_end = view.saturated[face.rows, face.cols]
    leaving = view.leaving_radiance[face.rows, face.cols][at_end].max()
    # what the pixels themselves say, nothing sharpened: the part is at least that hot
    reflected = view.band.radiance(view.reflected_c)
    bound_c = float(surface_temperature_c(view.band, leaving, reading.emissivity, reflected))
    if not math.isfinite(bound_c):
        return reading
    return replace(
        reading,
        state="saturated",
        peak_c=bound_c,
        leaving_radiance=float(leaving),
        why=(*reading.why, remarks.saturated(bound_c)),
    )


def _not_lost(view: View, face: Weights, reading: Reading) -> Reading:
    if view.left_out is None:
        return reading
    lost = _share(face, view.left_out) / max(face.area_px, 1e-9)
    if lost <= 0.0:
        return reading
    if lost < _LOST_SHARE:
        return replace(reading, why=(*reading.why, remarks.partly_lost(lost)))
    return replace(reading, state="hidden", why=(*reading.why, remarks.lost()))


def _not_colder(view: View, top: Top, board_c: float | None, reading: Reading) -> Reading:
    body = top.face.component.body
    if board_c is None or reading.peak_c is None:
        return reading
    rise_k = board_c - view.reflected_c
    if rise_k < _LEAST_RISE_K:
        return reading
    least_c = view.reflected_c + _LEAST_OF_FIN * fin_share(body) * rise_k
    # what both answer to alike (camera, reflected) drops out; noise and place of the part itself remain
    own_u = math.sqrt(sum(term.contribution_k**2 for term in reading.budget if not term.shared))
    if reading.peak_c + _SURE_SIGMAS * own_u >= least_c:
        return reading
    return replace(reading, state="shiny", why=(*reading.why, remarks.colder_than_board(reading.peak_c, board_c)))


def _usual_board_c(tops: Sequence[Top], ring_c: Mapping[str, float | None]) -> list[float | None]:
    """What the board around each top is like, or around its nearest neighbours where that is colder: a hot trace under
    one part says nothing of the part. None where no board around it was read."""
    from scipy.spatial import KDTree

    rings = np.array([np.nan if (ring := ring_c.get(top.face.component.refdes)) is None else ring for top in tops])
    known = np.isfinite(rings)
    if not known.any():
        return [None] * len(tops)
    places = np.array([top.face.component.center_mm for top in tops]).reshape(-1, 2)
    count = min(_NEIGHBOURS, int(known.sum()))
    _, near = KDTree(places[known]).query(places, k=range(1, count + 1))
    usual = np.minimum(rings, np.median(rings[known][near], axis=1))
    return [float(value) if np.isfinite(value) else None for value in usual]


def _not_covered(view: View, top: Top, usual_c: float | None, reading: Reading) -> Reading:
    """Held back where it keeps so little of the rise around it that something else must be what is seen."""
    if usual_c is None or reading.peak_c is None or reading.state not in ("read", "small"):
        return reading
    rise_k = usual_c - view.reflected_c
    if rise_k < _LEAST_RISE_K:
        return reading
    least_c = view.reflected_c + _LEAST_OF_RING * fin_share(top.face.component.body) * rise_k
    own_u = math.sqrt(sum(term.contribution_k**2 for term in reading.budget if not term.shared))
    if reading.peak_c + _SURE_SIGMAS * own_u >= least_c:
        return reading
    why = (*reading.why, remarks.covered(reading.peak_c, usual_c))
    return replace(reading, state="hidden", peak_c=None, mean_c=None, u_c=None, budget=(), why=why)


def _not_mirroring(view: View, face: Weights, reading: Reading) -> Reading:
    """Held back where a second frame, with something else reflected, shows another apparent temperature."""
    if view.second_apparent_c is None or face.area_px <= 0.0:
        return reading
    change = view.second_apparent_c - view.apparent_c
    # what the board itself did between the two frames, its own faint mirroring included
    top, bottom, left, right = face.window
    reach = max(bottom - top, right - left, _NEAR_PX)
    near = change[max(top - reach, 0) : bottom + reach, max(left - reach, 0) : right + reach]
    excess_k = face.mean(change) - float(np.median(near))
    scatter_k = view.noise_c * math.sqrt(2.0 / max(face.area_px, 1.0))
    if abs(excess_k) < max(_MIRROR_K, _SURE_SIGMAS * 2.0 * scatter_k):
        return reading
    return replace(reading, state="shiny", why=(*reading.why, remarks.mirrors(excess_k)))


def fin_share(body: Body | None) -> float:
    """Share of the board's rise that the top of a moulded body without heat of its own keeps, 0…1."""
    if body is None or body.height_mm is None:
        return 1.0
    side_mm = math.sqrt(body.length_mm * body.width_mm)
    return 1.0 / math.cosh(body.height_mm / math.sqrt(_FIN_MM2_PER_MM * side_mm))
