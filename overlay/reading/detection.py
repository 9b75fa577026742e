"""Hot places of bare board: what is left of the frame once the parts are taken off, and its maxima.

The map is the bare board of the joint solution, its field and what the solution leaves unexplained, where a pixel shows
hardly anything else: the field alone is too smooth to show a hot body that no file lists. Metal and parts are no
witness of the board; they take the value of the nearest pixel that is one. Only parts that are hot spots themselves
keep their own temperature, so that a hill on a hotter part's flank is no maximum.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Mask, read_only
from overlay.frames.emissivity import SHINY_BELOW
from overlay.frames.radiometry import surface_temperature_c
from overlay.frames.smoothing import gaussian
from overlay.reading.attribution import Bodies, seen_of
from overlay.reading.model import Reading
from overlay.reading.prominence import maxima_of
from overlay.reading.standing_out import LEAST_EXCESS_K, LEAST_SHARE_OF_RISE, Standing
from overlay.unmixing.unmix import Unmixed
from overlay.view.emission import Emission
from overlay.view.model import View
from overlay.view.regions import pixel_blocks_of
from overlay.view.surroundings import Extent
from overlay.view.terms import noise_radiance
from overlay.view.tops import Top

SMOOTHING_PX = 0.8  # less than any lens blurs, and takes two thirds of the noise
NOISE_SIGMAS = 5.0  # among 100,000 pixels noise alone reaches four
LEAST_RISE_K = 1.0  # less is of no use to anybody at the bench
_BARE = 0.95  # share of a pixel that must be the board's for it to be a witness
_METAL_SHARE = 0.1  # a pixel with more bare metal in it is none
_SHINY_SHARE = 0.02  # of a pixel: a fiftieth of a mirror of the room already moves it by more than noise
_FADE_K, _FADE_K_PER_PX = 0.2, 0.05  # above the noise at the edge of the seen, and enough to fall steadily beyond it
_PICTURE_SHARE = 0.5  # of its prominence by which the picture itself may stay below a maximum of the map
_PICTURE_PX = 4  # how far that smoothing reaches
_CONSIDERED = 100  # the highest maxima; more only a board has on which everything is hot

LEAST_PLACE_U_PX, _MOST_PLACE_U_PX = 0.2, 6.0  # drawn edges are no surer; a wider plateau has no place
_SUMMIT_SHARE, _SUMMIT_K, _SUMMIT_REACH_PX = 0.1, 1.0, 40  # of the prominence, at most so much, looked for so far
_EDGE_PX = 2  # a maximum this close to the board's edge may be something hot beyond it


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """All that the search needs of a frame that was read."""

    view: View
    tops: tuple[Top, ...]
    emission: Emission
    extent: Extent
    readings: Mapping[str, Reading]
    joint: Unmixed
    standing: Standing
    shiny: Mask  # (n,) in the order of the tops: what mirrors too much for its temperature to be read

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """A hot place of the board before it has a name."""

    place_px: tuple[float, float]
    covariance_px2: Array  # (2, 2)
    surface_c: float
    leaving: float
    prominence_k: float

    def __post_init__(self) -> None:
        read_only(self)


def bare_surface(scene: Scene, bodies: Bodies) -> Array:
    """Surface temperature (rows, cols) of the bare board where a pixel shows hardly anything else; nan elsewhere."""
    view, joint = scene.view, scene.joint
    shape = view.registration.shape_px
    reflected = float(view.band.radiance(view.reflected_c))
    leaving = np.where(np.isfinite(joint.bare), joint.bare, view.leaving_radiance)
    surface = surface_temperature_c(view.band, leaving, view.board_emissivity.value, reflected)
    # where the instrument's range ends, the parts themselves are listed; the plateau is no place of bare board
    saturated = np.zeros(shape, dtype=bool) if view.saturated is None else view.saturated
    metal = saturated | (scene.emission.metal > _METAL_SHARE) | scene.extent.fittings
    mirrors = pixel_blocks_of(seen_of(bodies, np.flatnonzero(scene.shiny)), shape)
    for share, window in zip(mirrors, mirrors.slices(), strict=True):
        metal[window] |= share > _SHINY_SHARE
    return np.where((joint.board_share > _BARE) & ~metal & scene.extent.inside, surface, np.nan)


def bare_spots(scene: Scene, bodies: Bodies, bare_c: Array, listed: Sequence[int]) -> list[Spot]:
    """Places of bare board that pass the rule; ``listed`` are positions of the parts that are hot spots themselves.

    ``bare_c`` (rows, cols) is the `bare_surface`.
    """
    view = scene.view
    board_c, owned = _board_map(scene, bodies, bare_c, listed)
    maxima = maxima_of(board_c)
    rise = maxima.value - view.ambient_c
    least = np.maximum(LEAST_EXCESS_K, LEAST_SHARE_OF_RISE * rise)
    keep = np.flatnonzero((maxima.prominence >= least) & (rise >= LEAST_RISE_K))[:_CONSIDERED]
    spots = []
    for i in keep:
        row, col = int(maxima.row[i]), int(maxima.col[i])
        value, prominence = float(maxima.value[i]), float(maxima.prominence[i])
        noise_k = _map_noise_k(view, value)
        if owned[row, col] or prominence < NOISE_SIGMAS * noise_k or _comes_from_beyond(scene, row, col):
            continue
        if _picture_c(scene, row, col) < value - _PICTURE_SHARE * prominence:
            continue
        place, covariance = _place(board_c, row, col, prominence, noise_k)
        spots.append(Spot(place, covariance, value, float(view.leaving_radiance[row, col]), prominence))
    return spots


def shiny_of(view: View, tops: Sequence[Top], readings: Mapping[str, Reading]) -> Mask:
    """Which tops (n,) mirror too much for their temperature to be read."""
    shiny = []
    for top in tops:
        reading = readings.get(top.face.component.refdes)
        value = view.emissivity[top.face.component.refdes].value
        if reading is not None and reading.emissivity is not None:
            value = reading.emissivity
        shiny.append(value < SHINY_BELOW or (reading is not None and reading.state == "shiny"))
    return np.array(shiny, dtype=bool)


def _board_map(scene: Scene, bodies: Bodies, bare_c: Array, listed: Sequence[int]) -> tuple[Array, Mask]:
    """Surface of the board (rows, cols), nan off it, and where it is that of a listed part."""
    from scipy.ndimage import distance_transform_edt

    shape = bare_c.shape
    surface, witness = bare_c.copy(), np.isfinite(bare_c)
    owned = np.zeros(shape, dtype=bool)
    # the coldest first, so that the hotter of two that share a pixel keeps it
    order = sorted(listed, key=lambda i: (scene.standing.mean_c[i], i))
    blocks = pixel_blocks_of(bodies.faces[order], shape)
    for i, share, window in zip(order, blocks, blocks.slices(), strict=True):
        most = share > 0.5 * share.max(initial=0.0)
        surface[window][most] = scene.standing.mean_c[i]
        owned[window] |= most
    known = witness | owned
    if not known.any():
        return np.full(shape, np.nan), owned
    distance, (row, col) = distance_transform_edt(~known, return_indices=True)
    # lower with the distance, so that a maximum stays on the witness it was taken from
    filled = surface[row, col] - np.where(known, 0.0, _FADE_K + _FADE_K_PER_PX * distance)
    smooth = gaussian(filled, SMOOTHING_PX)
    return np.where(scene.extent.inside, smooth, np.nan), owned[row, col]


def _picture_c(scene: Scene, row: int, col: int) -> float:
    """One pixel of the frame as it is, lightly smoothed, as if all of it were board."""
    view = scene.view
    top, left = max(row - _PICTURE_PX, 0), max(col - _PICTURE_PX, 0)
    leaving = view.leaving_radiance[top : row + _PICTURE_PX + 1, left : col + _PICTURE_PX + 1]
    reflected = float(view.band.radiance(view.reflected_c))
    surface = surface_temperature_c(view.band, leaving, view.board_emissivity.value, reflected)
    smooth = gaussian(np.where(np.isfinite(surface), surface, view.ambient_c), SMOOTHING_PX)
    return float(smooth[row - top, col - left])


def _map_noise_k(view: View, surface_c: float) -> float:
    """Standard deviation of the smoothed map: that of a pixel over 2√π·σ of the smoothing."""
    pixel = noise_radiance(view) / (view.board_emissivity.value * float(view.band.slope(surface_c)))
    return pixel / float(2.0 * np.sqrt(np.pi) * SMOOTHING_PX)


def _comes_from_beyond(scene: Scene, row: int, col: int) -> bool:
    """True for a maximum at the board's edge with something hotter just beyond it: not the board's own."""
    window = (slice(max(row - _EDGE_PX, 0), row + _EDGE_PX + 1), slice(max(col - _EDGE_PX, 0), col + _EDGE_PX + 1))
    beyond = scene.extent.beyond[window]
    if not beyond.any():
        return False
    leaving = scene.view.leaving_radiance
    return bool(np.nanmax(leaving[window][beyond]) > leaving[row, col])


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
    value = np.clip(value, LEAST_PLACE_U_PX**2, _MOST_PLACE_U_PX**2)
    return (x + left, y + top), np.asarray((vector * value) @ vector.T)
