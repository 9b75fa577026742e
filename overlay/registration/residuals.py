"""How far control points lie from where a registration has them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.registration.least_squares import Projection
from overlay.registration.model import ControlPoint, PointResidual, Registration
from overlay.registration.project import projection_of

_SUSPECT_U = 3.0  # standard uncertainties that a suspect point must keep missing a pose it took no part in


def sighted(points: Sequence[ControlPoint]) -> tuple[Array, Array, Array]:
    """Places (n, 3) in mm, pixels (n, 2) and their standard uncertainties (n,) of control points."""
    return (
        np.array([[*point.board_mm, point.z_mm] for point in points], dtype=np.float64).reshape(-1, 3),
        np.array([point.pixel for point in points], dtype=np.float64).reshape(-1, 2),
        np.array([point.pixel_u for point in points], dtype=np.float64),
    )


def rms_of(projection: Projection, parameters: Array, points: Sequence[ControlPoint]) -> tuple[float, float]:
    """Root mean square residual of those points, in px and in mm on the board."""
    xyz_mm, uv_px, _ = sighted(points)
    off_px = uv_px - projection.pixels(parameters, xyz_mm)
    flat = projection.board_jacobian(parameters, xyz_mm)[:, :, :2]
    off_mm = np.linalg.solve(flat, off_px[:, :, None])[:, :, 0]
    return math.sqrt(float((off_px**2).sum(axis=1).mean())), math.sqrt(float((off_mm**2).sum(axis=1).mean()))


def mm_per_px_of(projection: Projection, parameters: Array) -> float:
    """Millimetres of the board's surface per pixel, at the origin of the model's board units."""
    middle = np.array([[*projection.center_mm, 0.0]])
    return 1.0 / math.sqrt(abs(float(np.linalg.det(projection.board_jacobian(parameters, middle)[0, :, :2]))))


def held_against_points(registration: Registration, precision_px: float) -> Registration:
    """A registration that was not fitted to its points, with their residuals, rms and scale as they are against it.

    ``precision_px`` is the standard uncertainty of the registration itself: suspects that fit it are so no longer.
    """
    projection, parameters = projection_of(registration), registration.parameters
    xyz_mm, uv_px, u_px = sighted([item.point for item in registration.points])
    off_px = uv_px - projection.pixels(parameters, xyz_mm)
    points: list[PointResidual] = []
    for item, off, u in zip(registration.points, off_px, u_px, strict=True):
        distance = float(np.hypot(*off))
        doubted = distance > _SUSPECT_U * math.hypot(float(u), precision_px)
        points.append(
            replace(
                item,
                residual_px=distance,
                left_out_px=distance,
                residual_xy_px=(float(off[0]), float(off[1])),
                suspect=item.suspect and doubted,
                remark=item.remark if doubted else "",
            )
        )
    used = [item.point for item in points if not item.left_out]
    rms_px, rms_mm = rms_of(projection, parameters, used) if used else (None, None)
    scale = mm_per_px_of(projection, parameters)
    return replace(registration, points=tuple(points), rms_px=rms_px, rms_mm=rms_mm, mm_per_px=scale)
