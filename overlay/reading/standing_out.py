"""Which parts are warmer than their surroundings, and how sure that is.

A part without heat of its own has *some* temperature of its surroundings. It stands out when its mean lies above that
of the board around it by more than the least excess. How likely that is by the reading alone: a normal law whose
variance is that of the reading itself and of emissivities (the part's and the board's), plus that of a rectangle from
the mean of the surroundings up to their warmest place, so that cold bodies in a neighbour's glow stay out. Or its
hottest place is hotter than the warmest of its surroundings: heat that comes from elsewhere cannot do that. Most parts
make no heat worth a name: prior odds weigh against it, or of the many one or two would be named by chance.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, read_only
from overlay.frames.emissivity import SHINY_BELOW
from overlay.frames.radiometry import surface_temperature_c
from overlay.reading.model import Reading
from overlay.uncertainty import TermName, combined_k
from overlay.unmixing.unmix import Unmixed
from overlay.view.model import View
from overlay.view.surroundings import RingTemperature
from overlay.view.terms import kelvin_per_emissivity, kelvin_per_radiance
from overlay.view.tops import DIRECT_FROM_PX, Top

# What anything must stand out by at the least: a kelvin, and a share of its rise over ambient.
LEAST_EXCESS_K = 1.0
LEAST_SHARE_OF_RISE = 0.06
# Odds of standing out before a part is looked at. Tuned on simulated boards and foreign worlds of 40 to 600 parts: with
# them what is said comes true; without them parts said 0.75 are sources in one case of eight.
PRIOR_ODDS = 0.15
# A part of which less than half is seen has no reading; down to this share the joint solution still knows its heat.
_LEAST_VISIBLE = 0.15
# Of parts at the end of the instrument's range nobody can tell which are only beside a hotter one; most are not.
_SATURATED_LEAST = 0.7
# States whose temperature says something of the part; that of a saturated one is a lower bound.
_WITH_HEAT = ("read", "small", "saturated")
# What of a half-hidden part is seen may not be typical of it (common practice: tops differ by a tenth of their rise).
_HALF_SEEN_SHARE_OF_RISE = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """Each top face against the board around it, (n,) in the order of the tops; nan where nothing is known."""

    peak_c: Array
    mean_c: Array
    u_c: Array  # standard uncertainty of the mean against others of the frame
    around_c: Array  # mean of the board around it …
    high_c: Array  # … and its warmest place
    probability: Array  # that it is warmer than its surroundings on its own account; 0 where nothing is known

    def __post_init__(self) -> None:
        read_only(self)


def standing_of(
    view: View,
    tops: Sequence[Top],
    readings: Mapping[str, Reading],
    rings: Sequence[RingTemperature | None],
    joint: Unmixed,
) -> Standing:
    """Hold what was read of each part, or worked out of a half-hidden one, against its surroundings.

    ``rings`` are the clean rings of board in the order of the tops. Where a part has none, or is too small for its
    own, the board that the joint solution puts around it counts: a part in a crowd has surroundings too.
    """
    n = len(tops)
    peak, mean, u = (np.full(n, np.nan) for _ in range(3))
    around, high = _joint_surroundings(view, tops, joint)
    half_seen = _half_seen(view, tops, joint)
    for i, (top, ring) in enumerate(zip(tops, rings, strict=True)):
        reading = readings.get(top.face.component.refdes)
        if ring is not None and (top.readable_px >= DIRECT_FROM_PX or not np.isfinite(around[i])):
            around[i], high[i] = ring.mean_c, ring.high_c
        if reading is not None and reading.peak_c is not None and reading.state in _WITH_HEAT:
            peak[i] = reading.peak_c
            bound = reading.state == "saturated" or reading.mean_c is None
            mean[i] = reading.peak_c if bound else reading.mean_c
            u[i] = own_u_c(reading)
        elif reading is not None and reading.state == "hidden" and i in half_seen:
            mean[i], u[i] = half_seen[i]
            peak[i] = mean[i]
    probability = _probability(view, peak, mean, u, around, high)
    # blur spreads the range's end far around what is beyond it: a part and its surroundings then look alike
    saturated = [(r := readings.get(top.face.component.refdes)) is not None and r.state == "saturated" for top in tops]
    probability = np.where(saturated, np.maximum(probability, _SATURATED_LEAST), probability)
    return Standing(peak, mean, u, around, high, probability)


def _probability(view: View, peak: Array, mean: Array, u: Array, around: Array, high: Array) -> Array:
    from scipy.special import ndtr

    board = view.board_emissivity
    of_board = kelvin_per_emissivity(view, around, np.full(len(mean), board.value)) * board.u
    least = np.maximum(LEAST_EXCESS_K, LEAST_SHARE_OF_RISE * (peak - view.ambient_c))
    spread = np.maximum(0.0, high - around)
    width = np.sqrt(u**2 + of_board**2 + spread**2 / 3.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        alone = np.nan_to_num(ndtr((mean - around - least) / width), nan=0.0)
        # nothing without heat of its own is hotter inside than the hottest of its surroundings (maximum principle)
        inside = np.nan_to_num(ndtr((peak - high - least) / np.hypot(u, of_board)), nan=0.0)
    alone = np.maximum(alone, inside)
    return np.asarray(PRIOR_ODDS * alone / (PRIOR_ODDS * alone + (1.0 - alone)))


def own_u_c(reading: Reading) -> float:
    """Standard uncertainty of a part against others of the frame: without what the frame shares."""
    return combined_k(tuple(term for term in reading.budget if not term.shared or term.name is TermName.EMISSIVITY))


def _joint_surroundings(view: View, tops: Sequence[Top], joint: Unmixed) -> tuple[Array, Array]:
    """Mean and highest temperature of the board that the joint solution puts around each part."""
    reflected = float(view.band.radiance(view.reflected_c))
    index = {refdes: i for i, refdes in enumerate(joint.refdes)}
    which = np.array([index.get(top.face.component.refdes, -1) for top in tops], dtype=np.intp)
    result = []
    for leaving in (joint.beneath, joint.beneath_high):
        there = np.append(surface_temperature_c(view.band, leaving, view.board_emissivity.value, reflected), np.nan)
        result.append(there[which])
    return result[0], result[1]


def _half_seen(view: View, tops: Sequence[Top], joint: Unmixed) -> dict[int, tuple[float, float]]:
    """Temperature and its uncertainty of parts too hidden for a reading, by position in the tops."""
    reflected = float(view.band.radiance(view.reflected_c))
    index = {refdes: i for i, refdes in enumerate(joint.refdes)}
    value = np.array([view.emissivity[top.face.component.refdes].value for top in tops])
    which = np.array([index.get(top.face.component.refdes, -1) for top in tops], dtype=np.intp)
    seen = np.array([top.face.visible >= _LEAST_VISIBLE for top in tops], dtype=bool)
    asked = np.flatnonzero((which >= 0) & seen & (value >= SHINY_BELOW))
    value, which = value[asked], which[asked]
    mean = surface_temperature_c(view.band, joint.leaving[which], value, reflected)
    untypical = _HALF_SEEN_SHARE_OF_RISE * np.abs(mean - view.ambient_c)
    u = np.hypot(kelvin_per_radiance(view, mean, value) * joint.leaving_u[which], untypical)
    known = np.isfinite(mean) & np.isfinite(u)
    pairs = zip(mean[known].tolist(), u[known].tolist(), strict=True)
    return dict(zip(asked[known].tolist(), pairs, strict=True))
