"""A registration followed while a point is being dragged: the fit alone, from where it stood."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, read_only
from overlay.registration.fit import sightings
from overlay.registration.fit_models import refit
from overlay.registration.least_squares import Fit, Projection, agreeing_priors
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
    priors = agreeing_priors(lens, projection, registration.parameters)
    start = Fit(projection, registration.parameters, registration.covariance, 1.0)
    used = [index for index in range(len(points)) if index not in left_out]
    fit = refit(start, seen.without(*left_out), priors)
    off_px = seen.uv_px - fit.projection.pixels(fit.parameters, seen.xyz_mm)
    rms_px = float(np.sqrt((off_px[used] ** 2).sum(axis=1).mean()))
    return LiveFit(fit.projection, fit.parameters, off_px, rms_px)
