"""Least squares over control points and priors, and the covariance of what comes out.

Every source of knowledge is a pair (residuals (k,), derivatives (k, p)), each residual divided by its standard
uncertainty; sources are stacked, so a later fit can add its own (the frame's edges, parts' shifts) to the points'.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array, Index, read_only
from overlay.registration.camera import (
    DISTANCE_U,
    FOCAL_U,
    LOOSE_FIELD_DEG,
    LOOSE_FOCAL_U,
    RADIAL_U,
    TILT_U,
    Pinhole,
    focal_px_from_field,
)
from overlay.registration.descent import Terms, descend
from overlay.registration.model import Lens
from overlay.registration.planar import Planar

Projection = Planar | Pinhole
DISAGREES = 3.0  # standard uncertainties between stated and fitted distance
_FAR = 1e4  # residual of a point that is not seen at all, in standard uncertainties
_TRUST_DOF = 4.0
"""How many degrees of freedom the stated pixel uncertainty is worth against the scatter that is found."""


@dataclass(frozen=True, slots=True, eq=False)
class Sightings:
    """Points of the board and where they are seen, as arrays; in one picture, or otherwise in each of many (…)."""

    xyz_mm: Array  # (n, 3)
    uv_px: Array  # (…, n, 2)
    u_px: Array  # (…, n) standard uncertainty of either coordinate; infinite for a point that takes no part

    def __post_init__(self) -> None:
        read_only(self)

    def without(self, *indices: int) -> Sightings:
        """All but those."""
        keep = np.delete(np.arange(len(self.u_px)), indices)
        return Sightings(self.xyz_mm[keep], self.uv_px[keep], self.u_px[keep])

    def leaving_out(self, *indices: int) -> Sightings:
        """With those as points that take no part."""
        u_px = self.u_px.copy()
        u_px[list(indices)] = math.inf
        return Sightings(self.xyz_mm, self.uv_px, u_px)

    def taking_part(self) -> Sightings:
        """Those that take part."""
        return self.without(*np.flatnonzero(np.isinf(self.u_px)))

    def swapped(self, one: int, other: int) -> Sightings:
        """With the pixels of two points exchanged."""
        uv_px = self.uv_px.copy()
        uv_px[[one, other]] = uv_px[[other, one]]
        return Sightings(self.xyz_mm, uv_px, self.u_px)

    def cases(self, which: Index) -> Sightings:
        """Some of many pictures."""
        return Sightings(self.xyz_mm, self.uv_px[which], self.u_px[which])

    def __len__(self) -> int:
        return len(self.xyz_mm)


@dataclass(frozen=True, slots=True)
class CameraPriors:
    """What is known of a camera before any point is seen."""

    focal_px: float
    focal_u: float = FOCAL_U  # of the log
    radial_u: float = RADIAL_U
    tilt_u: float = TILT_U
    distance_mm: float | None = None
    distance_u: float = DISTANCE_U  # relative


def camera_priors(lens: Lens, shape_px: tuple[int, int]) -> CameraPriors:
    """What a lens says of its camera; where its field of view is not told, that of most board work, loosely."""
    told = lens.hfov_deg is not None
    focal_px = focal_px_from_field(lens.hfov_deg or LOOSE_FIELD_DEG, shape_px)
    distance_mm = None if lens.distance_m is None else 1000.0 * lens.distance_m
    return CameraPriors(focal_px, FOCAL_U if told else LOOSE_FOCAL_U, distance_mm=distance_mm)


def agreeing_priors(lens: Lens, projection: Projection, parameters: Array) -> CameraPriors:
    """What a lens says of its camera, without a stated distance that a pose fitted already contradicts."""
    priors = camera_priors(lens, projection.shape_px)
    if priors.distance_mm is None or not isinstance(projection, Pinhole):
        return priors
    stands_mm, _ = projection.distance_mm(parameters)
    off = abs(math.log(max(float(stands_mm), 1e-9) / priors.distance_mm))
    return priors if off <= DISAGREES * priors.distance_u else replace(priors, distance_mm=None)


@dataclass(frozen=True, slots=True)
class Goodness:
    """How well a model suits points and priors."""

    chi2: float
    dof: int

    @property
    def reduced(self) -> float:
        """Scatter found over scatter stated, squared; the statement counts as 4 degrees of freedom."""
        return (_TRUST_DOF + self.chi2) / (_TRUST_DOF + self.dof)


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Parameters at the least sum of squares."""

    projection: Projection
    parameters: Array  # (p,)
    covariance: Array  # (p, p), with the points' uncertainty widened by ``spread``
    spread: float  # factor ≥ 1 on the points' stated uncertainty

    def __post_init__(self) -> None:
        read_only(self)


def point_terms(projection: Projection, parameters: Array, seen: Sightings) -> Terms:
    """Residuals (…, 2n), fitted minus observed over their uncertainty, and derivatives (…, 2n, p).

    For one set of parameters (p,) or many (…, p), and one picture of the points or many. Points of infinite uncertainty
    take no part.
    """
    u_px = seen.u_px[..., None]
    pixels, slopes = projection.sights(parameters, seen.xyz_mm)
    difference = (pixels - seen.uv_px) / u_px
    slopes = slopes / u_px[..., None]
    lost = ~np.isfinite(difference).all(axis=-1) | ~np.isfinite(slopes).all(axis=(-1, -2))
    if lost.any():
        difference[lost], slopes[lost] = _FAR, 0.0
        difference[np.broadcast_to(np.isinf(seen.u_px), lost.shape)] = 0.0
    count = 2 * len(seen.xyz_mm)
    return difference.reshape(*lost.shape[:-1], count), slopes.reshape(*lost.shape[:-1], count, -1)


def camera_prior_terms(pinhole: Pinhole, parameters: Array, priors: CameraPriors) -> Terms:
    """Residuals (…, k) of focal length, radial term, tilts and, where stated, distance; and derivatives (…, k, 8)."""
    told = priors.distance_mm is not None
    residuals = np.empty((*parameters.shape[:-1], 5 if told else 4))
    slopes = np.zeros((*residuals.shape, 8))
    residuals[..., 0] = (parameters[..., 6] - math.log(priors.focal_px)) / priors.focal_u
    residuals[..., 1] = parameters[..., 7] / priors.radial_u
    slopes[..., 0, 6], slopes[..., 1, 7] = 1.0 / priors.focal_u, 1.0 / priors.radial_u
    normal, by_rotation = pinhole.normal(parameters)
    residuals[..., 2:4] = normal[..., :2] / priors.tilt_u
    slopes[..., 2:4, :3] = by_rotation[..., :2, :] / priors.tilt_u
    if priors.distance_mm is not None:
        distance, by_parameters = pinhole.distance_along(parameters, normal, by_rotation)
        ahead = distance > 0
        ratio = np.where(ahead, distance, priors.distance_mm) / priors.distance_mm
        residuals[..., 4] = np.where(ahead, np.log(ratio) / priors.distance_u, _FAR)
        slopes[..., 4, :] = np.where(ahead[..., None], by_parameters / (distance * priors.distance_u)[..., None], 0.0)
    return residuals, slopes


def minimise(
    projection: Projection,
    seen: Sightings,
    starts: Sequence[Array],
    priors: Callable[[Array], Terms] | None,
    *,
    widen: bool = True,
) -> Fit:
    """The best least-squares fit from any of the starting parameters (at least one).

    With ``widen`` the covariance grows where points scatter more than they claim.
    """
    best, _ = minimise_each(projection, seen, np.array(starts), np.zeros(len(starts), dtype=np.intp), priors)
    return _fit(projection, seen, best[0], priors, widen=widen)


def minimise_each(
    projection: Projection, seen: Sightings, starts: Array, case: Index, priors: Callable[[Array], Terms] | None
) -> tuple[Array, Array]:
    """The best fit of each of many cases: parameters (b, p), and sums of squares (b,) of points and priors.

    ``starts`` (k, p), of which ``case`` (k,) tells the case, in order; ``seen`` holds one picture of the points a case,
    or one for all.
    """
    many = seen.uv_px.ndim == 3

    def terms(parameters: Array, which: Index) -> Terms:
        return stacked_terms(projection, parameters, seen.cases(case[which]) if many else seen, priors)

    parameters, squares = descend(terms, starts, projection.moved)
    squares = np.where(np.isfinite(squares), squares, math.inf)
    order = np.lexsort((np.arange(len(case)), squares, case))
    first = order[np.flatnonzero(np.diff(case[order], prepend=-1))]
    return parameters[first], squares[first]


def stacked_terms(
    projection: Projection, parameters: Array, seen: Sightings, priors: Callable[[Array], Terms] | None
) -> Terms:
    """Those of the points, and the priors' below them."""
    residuals, slopes = point_terms(projection, parameters, seen)
    if priors is None:
        return residuals, slopes
    more, more_slopes = priors(parameters)
    return np.concatenate([residuals, more], axis=-1), np.concatenate([slopes, more_slopes], axis=-2)


def _fit(
    projection: Projection, seen: Sightings, best: Array, priors: Callable[[Array], Terms] | None, *, widen: bool
) -> Fit:
    residuals, slopes = stacked_terms(projection, best, seen, priors)
    count = 2 * len(seen)
    of_points = slopes[:count].T @ slopes[:count]
    of_priors = slopes[count:].T @ slopes[count:]
    spread = 1.0
    if widen:
        covariance = symmetric_inverse(of_points + of_priors)
        free = count - float(np.trace(covariance @ of_points))  # what the points have left after the parameters
        scatter = float(residuals[:count] @ residuals[:count])
        spread = math.sqrt(max(1.0, (_TRUST_DOF + scatter) / (_TRUST_DOF + max(free, 0.0))))
    covariance = symmetric_inverse(of_points / spread**2 + of_priors)
    return Fit(projection, best, covariance, spread)


def symmetric_inverse(matrix: Array) -> Array:
    """Inverses of positive semidefinite matrices (…, p, p), scaled first: their entries are of many units.

    Directions nobody knows anything of get a huge variance rather than none.
    """
    scale = np.sqrt(np.maximum(np.diagonal(matrix, axis1=-2, axis2=-1), 1e-30))
    both = scale[..., :, None] * scale[..., None, :]
    values, vectors = np.linalg.eigh(matrix / both)
    values = np.maximum(values, 1e-14)
    return np.asarray((vectors / values[..., None, :]) @ vectors.swapaxes(-1, -2) / both)
