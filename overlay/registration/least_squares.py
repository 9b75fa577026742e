"""Least squares over control points and priors, and the covariance of what comes out.

Every source of knowledge is a pair (residuals (k,), derivatives (k, p)), each residual divided by its standard
uncertainty; sources are stacked, so a later fit can add its own (the frame's edges, parts' shifts) to the points'.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array, read_only
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
from overlay.registration.model import Lens
from overlay.registration.planar import Planar

Projection = Planar | Pinhole
Terms = tuple[Array, Array]
DISAGREES = 3.0  # standard uncertainties between stated and fitted distance
_FAR = 1e4  # residual of a point that is not seen at all, in standard uncertainties
_TRUST_DOF = 4.0
"""How many degrees of freedom the stated pixel uncertainty is worth against the scatter that is found."""


@dataclass(frozen=True, slots=True, eq=False)
class Sightings:
    """Points of the board and where they are seen, as arrays."""

    xyz_mm: Array  # (n, 3)
    uv_px: Array  # (n, 2)
    u_px: Array  # (n,) standard uncertainty of either coordinate

    def __post_init__(self) -> None:
        read_only(self)

    def without(self, *indices: int) -> Sightings:
        """All but those."""
        keep = np.delete(np.arange(len(self.u_px)), indices)
        return Sightings(self.xyz_mm[keep], self.uv_px[keep], self.u_px[keep])

    def swapped(self, one: int, other: int) -> Sightings:
        """With the pixels of two points exchanged."""
        uv_px = self.uv_px.copy()
        uv_px[[one, other]] = uv_px[[other, one]]
        return Sightings(self.xyz_mm, uv_px, self.u_px)

    def __len__(self) -> int:
        return len(self.u_px)


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
    off = abs(math.log(max(stands_mm, 1e-9) / priors.distance_mm))
    return priors if off <= DISAGREES * priors.distance_u else replace(priors, distance_mm=None)


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Parameters at the least sum of squares."""

    projection: Projection
    parameters: Array  # (p,)
    covariance: Array  # (p, p), with the points' uncertainty widened by ``spread``
    chi2: float  # of points and priors
    dof: int
    spread: float  # factor ≥ 1 on the points' stated uncertainty

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def reduced(self) -> float:
        """Scatter found over scatter stated, squared; the statement counts as 4 degrees of freedom."""
        return (_TRUST_DOF + self.chi2) / (_TRUST_DOF + self.dof)


def point_terms(projection: Projection, parameters: Array, seen: Sightings) -> Terms:
    """Residuals (2n,), fitted minus observed over their uncertainty, and derivatives (2n, p)."""
    difference = (projection.pixels(parameters, seen.xyz_mm) - seen.uv_px) / seen.u_px[:, None]
    slopes = projection.jacobian(parameters, seen.xyz_mm) / seen.u_px[:, None, None]
    lost = ~np.isfinite(difference).all(axis=1) | ~np.isfinite(slopes).all(axis=(1, 2))
    difference[lost], slopes[lost] = _FAR, 0.0
    return difference.ravel(), slopes.reshape(2 * len(seen), -1)


def camera_prior_terms(pinhole: Pinhole, parameters: Array, priors: CameraPriors) -> Terms:
    """Residuals of focal length, radial term, both tilts and, where stated, distance; and their derivatives."""
    residuals = [(parameters[6] - math.log(priors.focal_px)) / priors.focal_u, parameters[7] / priors.radial_u]
    slopes = [np.eye(8)[6] / priors.focal_u, np.eye(8)[7] / priors.radial_u]
    normal, by_rotation = pinhole.normal(parameters)
    for axis in range(2):
        residuals.append(normal[axis] / priors.tilt_u)
        slopes.append(np.concatenate([by_rotation[axis], np.zeros(5)]) / priors.tilt_u)
    if priors.distance_mm is not None:
        distance, by_parameters = pinhole.distance_mm(parameters)
        if distance > 0:
            residuals.append(math.log(distance / priors.distance_mm) / priors.distance_u)
            slopes.append(by_parameters / distance / priors.distance_u)
        else:
            residuals.append(_FAR)
            slopes.append(np.zeros(8))
    return np.array(residuals), np.array(slopes)


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
    from scipy.optimize import least_squares

    def stacked(parameters: Array) -> Terms:
        residuals, slopes = point_terms(projection, parameters, seen)
        if priors is None:
            return residuals, slopes
        more, more_slopes = priors(parameters)
        return np.concatenate([residuals, more]), np.vstack([slopes, more_slopes])

    last: tuple[Array, Terms] | None = None

    def at(parameters: Array) -> Terms:
        # the solver asks for residuals and for derivatives in turn, at the same place
        nonlocal last
        if last is None or not np.array_equal(last[0], parameters):
            last = parameters.copy(), stacked(parameters)
        return last[1]

    def residuals_at(parameters: Array) -> Array:
        return at(parameters)[0]

    def slopes_at(parameters: Array) -> Array:
        return at(parameters)[1]

    best: Array | None = None
    least = math.inf
    for start in starts:
        with np.errstate(all="ignore"):
            found = least_squares(residuals_at, start, slopes_at, method="lm", x_scale="jac", max_nfev=60)
        if best is None or 2.0 * found.cost < least:
            best, least = found.x, 2.0 * float(found.cost)
    assert best is not None
    residuals, slopes = stacked(best)
    count = 2 * len(seen)
    of_points = slopes[:count].T @ slopes[:count]
    of_priors = slopes[count:].T @ slopes[count:]
    chi2 = float(residuals @ residuals)
    dof = len(residuals) - len(best)
    spread = 1.0
    if widen:
        covariance = symmetric_inverse(of_points + of_priors)
        free = count - float(np.trace(covariance @ of_points))  # what the points have left after the parameters
        scatter = float(residuals[:count] @ residuals[:count])
        spread = math.sqrt(max(1.0, (_TRUST_DOF + scatter) / (_TRUST_DOF + max(free, 0.0))))
    covariance = symmetric_inverse(of_points / spread**2 + of_priors)
    return Fit(projection, best, covariance, chi2, dof, spread)


def symmetric_inverse(matrix: Array) -> Array:
    """Inverse of a positive semidefinite matrix, scaled first: its entries are of many units.

    Directions nobody knows anything of get a huge variance rather than none.
    """
    scale = np.sqrt(np.maximum(np.diag(matrix), 1e-30))
    values, vectors = np.linalg.eigh(matrix / np.outer(scale, scale))
    values = np.maximum(values, 1e-14)
    return np.asarray((vectors / values) @ vectors.T / np.outer(scale, scale))
