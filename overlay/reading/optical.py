"""What the instrument and the light of others do to a reading: a wide skirt, an uneven frame, a neighbour's glow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.frames.emissivity import SHINY_BELOW
from overlay.frames.frame import Emissivity
from overlay.frames.size_of_source import MEASURED_U, UNMEASURED_U
from overlay.reading.estimate import Opinion
from overlay.uncertainty import TermName
from overlay.view.model import View
from overlay.view.tops import Top

# A wall shows about so much of its part's own rise (common practice: cooler towards its foot).
_WALL_SHARE = 0.7
_MOST_SEEN = 0.5  # of what lies above a face, walls around it fill no more
_TOGETHER = 128  # faces held against all others at once: 5 MB of 5,000 parts
_NEAREST_MM = 0.3  # no machine places bodies closer (common practice)


def seen_through_the_optics(
    view: View,
    tops: Sequence[Top],
    opinions: Sequence[Opinion | None],
    emissivity: Sequence[Emissivity],
    beneath: Array,
    sigma_px: float,
) -> list[Opinion | None]:
    """The opinions with what the lens's skirt took put back, and with terms for it, unevenness and glow.

    ``beneath`` is the radiance of the board around each face, ``sigma_px`` the standard deviation of the narrow blur.
    """
    if not tops:
        return []
    curve = view.size_of_source
    sides = np.array([(top.readable_px, top.long_readable_px) for top in tops])
    lost_share = 1.0 / curve.beyond_the_blur(sides, sigma_px) - 1.0
    uneven = view.nonuniformity_c * float(view.band.slope(view.ambient_c)) / view.sight.gain
    glow = _glow(view, tops, opinions, emissivity)
    result: list[Opinion | None] = []
    for i, opinion in enumerate(opinions):
        if opinion is None:
            result.append(None)
            continue
        lost = float(lost_share[i]) * (opinion.leaving - beneath[i])
        back = lost if curve.measured else 0.0
        terms = {
            **opinion.u,
            TermName.SIZE_OF_SOURCE: (MEASURED_U if curve.measured else UNMEASURED_U) * abs(lost),
            TermName.UNEVENNESS: uneven,
            TermName.GLOW: float(glow[i]),
        }
        result.append(replace(opinion, leaving=opinion.leaving + back, mean=opinion.mean + back, u=terms))
    return result


def _glow(
    view: View, tops: Sequence[Top], opinions: Sequence[Opinion | None], emissivity: Sequence[Emissivity]
) -> Array:
    """Standard uncertainty (n,) of what faces mirror of hotter, taller neighbours and of a window's mirror image.

    A face sees a wall of height h and width w at a distance d under ½·(1 − d/√(d² + h²)) of what lies above it if the
    wall is long, and under the share 2/π·atan(w/2d) of that if it is not (view factor of a strip and a small element at
    right angles: Incropera et al., from memory). A face mirrors 1 − ε of it. How warm the wall is and how much of it
    lies in the mirror's direction is open: anything from none to all (a rectangle, a/√3).
    """
    room = float(view.band.radiance(view.reflected_c))
    above = np.array([0.0 if opinion is None else opinion.leaving - room for opinion in opinions])
    shiny = np.array([item.value < SHINY_BELOW for item in emissivity])
    above = np.where(shiny, 0.0, np.maximum(above, 0.0))  # what a shiny part sends is mostly the room itself
    mirrors = 1.0 - np.array([item.value for item in emissivity])
    center = np.array([top.face.component.center_mm for top in tops])
    height = np.array([top.face.z_mm for top in tops])
    width = np.sqrt([top.area_mm2 for top in tops])
    center, height, width = (part.astype(np.float32) for part in (center, height, width))  # of what is a guess anyway
    walls = np.empty(len(tops))
    for first in range(0, len(tops), _TOGETHER):
        own = slice(first, first + _TOGETHER)
        higher = np.maximum(height - height[own, None], 0.0)  # no wall where the other is no taller
        apart = np.sqrt(sum((along - along[own, None]) ** 2 for along in center.T))
        gap = np.maximum(apart - 0.5 * width, _NEAREST_MM)
        upright = 0.5 * (1.0 - gap / np.sqrt(gap**2 + higher**2))
        seen = upright * (2.0 / math.pi) * np.arctan(0.5 * width / gap)
        most = np.minimum(1.0, _MOST_SEEN / np.maximum(seen.sum(axis=1), 1e-9))
        walls[own] = _WALL_SHARE * (seen @ above) * most
    finite = view.leaving_radiance[np.isfinite(view.leaving_radiance)]
    window = view.sight.window_reflectance * max(float(finite.mean()) - room, 0.0) if finite.size else 0.0
    return np.asarray(mirrors * (walls + window) / math.sqrt(3.0))
