"""What control points say of the lens that is told, or leave open of one that is not."""

from __future__ import annotations

import math
from dataclasses import replace

from overlay.board.model import Side
from overlay.registration.camera import Pinhole
from overlay.registration.fit_models import fit_camera, refit
from overlay.registration.least_squares import DISAGREES, CameraPriors, Fit, Sightings, camera_priors
from overlay.registration.model import UNTOLD

LEAN_U = 0.27
"""Sideways mm per mm of height, rms along either axis over a frame of 50° seen straight on: an unknown lens."""
LENS_OFF = 0.03  # relative difference of focal lengths worth a word


def lean_u_of(seen: Sightings, side: Side, shape_px: tuple[int, int]) -> float:
    """Sideways mm per mm of height for a camera nobody has described, from the tilt the points show."""
    if len(seen) < 4:
        return math.hypot(LEAN_U, 0.3)
    priors = camera_priors(UNTOLD, shape_px)
    fit = fit_camera(seen, side, shape_px, priors)
    assert isinstance(fit.projection, Pinhole)
    normal, _ = fit.projection.normal(fit.parameters)
    tilt = min(math.acos(min(1.0, abs(float(normal[2])))), math.radians(60))
    return math.hypot(LEAN_U, math.tan(tilt) / math.sqrt(2))


def with_distance(
    seen: Sightings, fit: Fit, priors: CameraPriors, distance_m: float
) -> tuple[CameraPriors, Fit, list[str]]:
    """The fit with the stated distance, or without it and a warning where both contradict each other."""
    assert isinstance(fit.projection, Pinhole)
    distance_mm, slopes = fit.projection.distance_mm(fit.parameters)
    u = math.sqrt(float(slopes @ fit.covariance @ slopes)) / distance_mm
    stated = replace(priors, distance_mm=1000.0 * distance_m)
    if abs(math.log(distance_mm / (1000.0 * distance_m))) > DISAGREES * math.hypot(u, stated.distance_u):
        warning = (
            f"distance_m = {distance_m:g} contradicts hfov_deg and the points, which put the board "
            f"{distance_mm / 1000:.3g} m away: one of them is wrong; the distance was not used for the pose"
        )
        return priors, fit, [warning]
    return stated, refit(fit, seen, stated), []


def lens_warnings(fit: Fit, priors: CameraPriors, seen: Sightings) -> list[str]:
    """What the points say against the stated field of view, or of a lens that bends more than most."""
    warnings = []
    if len(seen) >= 5:
        rows, cols = fit.projection.shape_px
        free = fit_camera(seen, fit.projection.side, (rows, cols), camera_priors(UNTOLD, (rows, cols)))
        longer = float(free.parameters[6]) - math.log(priors.focal_px)
        if abs(longer) > max(DISAGREES * math.hypot(math.sqrt(free.covariance[6, 6]), priors.focal_u), LENS_OFF):
            field_deg = math.degrees(2.0 * math.atan(cols / 2.0 / math.exp(free.parameters[6])))
            stated_deg = math.degrees(2.0 * math.atan(cols / 2.0 / priors.focal_px))
            warnings.append(
                f"hfov_deg = {stated_deg:g} does not suit the points, which ask for about {field_deg:.0f}: "
                "check which lens was on, and whether the frame was cropped"
            )
    if abs(fit.parameters[7]) > DISAGREES * priors.radial_u:
        warnings.append(
            f"the points ask for a strongly distorting lens (radial term {fit.parameters[7]:.2f}): check them"
        )
    return warnings
