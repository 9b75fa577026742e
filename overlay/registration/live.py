"""A registration followed while a point is being dragged: the fit alone, from where it stood."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array, read_only
from overlay.registration.camera import Pinhole
from overlay.registration.fit import DISAGREES, sightings
from overlay.registration.fit_models import refit
from overlay.registration.least_squares import Fit, Projection, camera_priors
from overlay.registration.model import UNTOLD, ControlPoint, Lens, Registration
from overlay.registration.project import projection_of


@dataclass(frozen=True, slots=True, eq=False)
class LiveFit:
    """A fit without covariance, suspects and left-out residuals: enough to draw by, too little to read by."""

    projection: Projection
    parameters: Array
    residual_xy_px: Array  # (n, 2) observed minus fitted, of all points
    rms_px: float  # of the points that took part

    def __post_init__(self) -> None:
        read_only(self)

    def pixels(self, xyz_mm: Array) -> Array:
        """Pixels (n, 2) of board points (n, 3)."""
        return self.projection.pixels(self.parameters, xyz_mm)


def follow(
    registration: Registration,
    points: Sequence[ControlPoint],
    left_out: Collection[int] = (),
    lens: Lens = UNTOLD,
) -> LiveFit:
    """Fit ``registration``'s model to points that have moved, in a few milliseconds.

    Parameters
    ----------
    points
        Two or more, as many as the model needs (`fit_registration` decides which model that is).
    left_out
        Indices of points that take no part.
    lens
        As for `fit_registration`; the distance counts only where the registration agrees with it.
    """
    seen = sightings(points)
    projection = projection_of(registration)
    priors = None
    if isinstance(projection, Pinhole):
        priors = camera_priors(lens, registration.shape_px)
        if priors.distance_mm is not None:
            stands_mm, _ = projection.distance_mm(registration.parameters)
            if abs(np.log(max(stands_mm, 1e-9) / priors.distance_mm)) > DISAGREES * priors.distance_u:
                priors = replace(priors, distance_mm=None)
    start = Fit(projection, registration.parameters, registration.covariance, 0.0, 0, 1.0)
    used = [index for index in range(len(points)) if index not in left_out]
    fit = refit(start, seen.without(*left_out), priors)
    off_px = seen.uv_px - fit.projection.pixels(fit.parameters, seen.xyz_mm)
    rms_px = float(np.sqrt((off_px[used] ** 2).sum(axis=1).mean()))
    return LiveFit(fit.projection, fit.parameters, off_px, rms_px)
