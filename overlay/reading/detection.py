"""The map in which hot spots are looked for: the surface as far as anything bears witness of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Mask
from overlay.frames.emissivity import SHINY_BELOW
from overlay.frames.radiometry import surface_temperature_c
from overlay.reading.attribution import Bodies
from overlay.reading.model import Reading
from overlay.uncertainty import TermName, combined_k
from overlay.view.emission import Emission
from overlay.view.model import View
from overlay.view.regions import pixel_weights_of
from overlay.view.terms import kelvin_per_emissivity
from overlay.view.tops import Top

# What a maximum must stand out by at the least.
LEAST_PROMINENCE_K = 1.0
LEAST_SHARE_OF_RISE = 0.06
_EXCESS_SIGMAS = 2.0
SMOOTHING_PX = 0.8
METAL_SHARE = 0.1  # a pixel with more bare metal in it is no witness of the surface
_SHINY_SHARE = 0.02
_WHOLLY = 0.98
_FADE_K, _FADE_K_PER_PX = 0.2, 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What is known of each body's own temperature, (n,) in the order of the tops; nan where nothing is."""

    peak_c: Array
    relative_u_c: Array  # against the board's
    excess_k: Array  # its mean above the warmest of the bare board in a ring around it
    stands_out: NDArray[np.bool_]  # by more than the prominence rule asks for


def known_of(view: View, tops: Sequence[Top], readings: Mapping[str, Reading], around_c: Mapping[str, float]) -> Known:
    """Gather what the readings say of each body.

    ``around_c`` is the warmest of the bare board in a ring around each body, where it is seen.
    """
    peak, mean, around, u = (np.full(len(tops), np.nan) for _ in range(4))
    for i, top in enumerate(tops):
        reading = readings.get(top.face.component.refdes)
        if reading is None or not reading.is_at_least or reading.peak_c is None:
            continue
        peak[i], mean[i] = reading.peak_c, np.nan if reading.mean_c is None else reading.mean_c
        around[i] = around_c.get(reading.refdes, np.nan)
        u[i] = _relative_u_c(reading)
    of_board = kelvin_per_emissivity(view, around, np.full(len(tops), view.board_emissivity.value))
    least = np.maximum(LEAST_PROMINENCE_K, LEAST_SHARE_OF_RISE * (peak - view.ambient_c))
    least = np.maximum(least, _EXCESS_SIGMAS * np.hypot(u, of_board * view.board_emissivity.u))
    excess = mean - around
    with np.errstate(invalid="ignore"):
        return Known(peak, u, excess, excess >= least)


def _relative_u_c(reading: Reading) -> float:
    """Standard uncertainty of a part's temperature against others of the frame: without what the frame shares."""
    return combined_k(tuple(term for term in reading.budget if not term.shared or term.name is TermName.EMISSIVITY))


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """All that the search needs of a frame that was read."""

    view: View
    tops: tuple[Top, ...]
    emission: Emission
    on_board: Mask  # (rows, cols): where maxima are looked for
    beyond: Mask  # (rows, cols): neither board nor part
    fittings: Mask  # (rows, cols): bare metal of leads, pads and lands, in all likelihood
    readings: Mapping[str, Reading]
    known: Known


def shiny_shares(scene: Scene, bodies: Bodies) -> tuple[Array, Array]:
    """Share of each pixel (rows, cols) that shows a shiny body, and that shows a shiny top face."""
    shiny = [i for i, top in enumerate(bodies.tops) if is_shiny(scene, top)]
    shares = []
    for regions in ([bodies.shapes[i] for i in shiny], [bodies.tops[i].face.visible_px for i in shiny]):
        share = np.zeros(scene.view.registration.shape_px)
        for weights in pixel_weights_of(regions, share.shape):
            share[weights.rows, weights.cols] += weights.weight
        shares.append(np.clip(share, 0.0, 1.0))
    return shares[0], shares[1]


def is_shiny(scene: Scene, top: Top) -> bool:
    reading = scene.readings.get(top.face.component.refdes)
    value = scene.view.emissivity[top.face.component.refdes].value
    if reading is not None and reading.emissivity is not None:
        value = reading.emissivity
    return value < SHINY_BELOW


def detection_map(scene: Scene, shiny: Array, mirrors: Array) -> Array:
    """Surface temperature (rows, cols) in which maxima are looked for; nan off the board.

    Metal (shiny bodies, ends of chips, leads, lands of holes) is no witness of the surface: it takes the value of the
    nearest pixel that is one, or it would cut the board into islands of false maxima. Only where a shiny top shows
    more than its surroundings do, as if it were board, is that kept: a warm reflection is to be seen and called one.
    """
    from scipy.ndimage import distance_transform_edt, gaussian_filter

    view = scene.view
    reflected = float(view.band.radiance(view.reflected_c))
    metal = (shiny > _SHINY_SHARE) | (scene.emission.metal > METAL_SHARE) | scene.fittings
    emissivity = np.where(metal, view.board_emissivity.value, scene.emission.value)
    surface = surface_temperature_c(view.band, view.leaving_radiance, emissivity, reflected)
    witness = ~metal & np.isfinite(surface) & scene.on_board
    if not witness.any():
        return np.full(surface.shape, np.nan)
    distance, (row, col) = distance_transform_edt(~witness, return_indices=True)
    # lower with the distance, so that a maximum stays on the witness it was taken from
    filled = surface[row, col] - np.where(witness, 0.0, _FADE_K + _FADE_K_PER_PX * distance)
    filled = np.where((mirrors > _WHOLLY) & (surface > filled + LEAST_PROMINENCE_K), surface, filled)
    smooth = gaussian_filter(filled, SMOOTHING_PX, mode="nearest")
    return np.asarray(np.where(scene.on_board, smooth, np.nan))
