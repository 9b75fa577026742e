"""From board to frame and back, with the covariance that the registration leaves."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array
from overlay.registration.camera import Pinhole
from overlay.registration.least_squares import Projection
from overlay.registration.model import Registration
from overlay.registration.planar import Planar


def projection_of(registration: Registration) -> Projection:
    """The model behind a registration: `Pinhole` for a camera, `Planar` for the others."""
    if registration.model == "camera":
        return Pinhole(registration.side, registration.shape_px, registration.center_mm)
    return Planar(registration.side, registration.shape_px, registration.center_mm, registration.scale_mm)


def pixels_from_board(registration: Registration, xyz_mm: Array) -> Array:
    """Pixels (n, 2) at which board points (n, 3) are seen; nan at the horizon and behind the camera.

    Without a camera model heights make no difference.
    """
    return projection_of(registration).pixels(registration.parameters, _points(xyz_mm, 3))


def camera_jacobian(registration: Registration, xyz_mm: Array) -> Array:
    """Derivatives (n, 2, p) of those pixels by the registration's parameters, whatever its model."""
    return projection_of(registration).jacobian(registration.parameters, _points(xyz_mm, 3))


def board_jacobian(registration: Registration, xyz_mm: Array) -> Array:
    """Derivatives (n, 2, 3) of those pixels by board coordinates, in px per mm."""
    return projection_of(registration).board_jacobian(registration.parameters, _points(xyz_mm, 3))


def pixel_covariance(registration: Registration, xyz_mm: Array) -> Array:
    """Covariance (n, 2, 2) of those pixels, in px²: of the fit, and of the lean where the camera is unknown."""
    xyz_mm = _points(xyz_mm, 3)
    slopes = camera_jacobian(registration, xyz_mm)
    covariance = np.asarray(slopes @ registration.covariance @ slopes.transpose(0, 2, 1))
    if registration.camera is None and registration.lean_u > 0:
        flat = board_jacobian(registration, xyz_mm)[:, :, :2]
        lean_mm2 = (registration.lean_u * xyz_mm[:, 2]) ** 2
        covariance = covariance + lean_mm2[:, None, None] * (flat @ flat.transpose(0, 2, 1))
    return np.asarray(covariance)


def board_from_pixels(registration: Registration, uv_px: Array, z_mm: float | Array = 0.0) -> Array:
    """Board points (n, 2) in mm, at heights ``z_mm``, that are seen at pixels (n, 2); nan where none is."""
    uv_px = _points(uv_px, 2)
    heights = np.broadcast_to(np.asarray(z_mm, dtype=np.float64), (len(uv_px),))
    return projection_of(registration).board(registration.parameters, uv_px, heights)


def board_covariance(registration: Registration, uv_px: Array, z_mm: float | Array = 0.0) -> Array:
    """Covariance (n, 2, 2) of those board points, in mm², for pixels known exactly."""
    uv_px = _points(uv_px, 2)
    heights = np.broadcast_to(np.asarray(z_mm, dtype=np.float64), (len(uv_px),))
    xyz_mm = np.concatenate([board_from_pixels(registration, uv_px, heights), heights[:, None]], axis=1)
    out = np.full((len(uv_px), 2, 2), np.nan)
    good = np.isfinite(xyz_mm).all(axis=1)
    inverse = np.linalg.inv(board_jacobian(registration, xyz_mm[good])[:, :, :2])
    out[good] = inverse @ pixel_covariance(registration, xyz_mm[good]) @ inverse.transpose(0, 2, 1)
    return out


def outside_hull(registration: Registration, xy_mm: Array) -> NDArray[np.bool_]:
    """Which board points (n, 2) lie outside the hull of the control points, where the fit only extrapolates."""
    import shapely

    used = [item.point.board_mm for item in registration.points if not item.left_out]
    hull = shapely.MultiPoint(used).convex_hull.buffer(1e-6)
    return np.asarray(~shapely.contains_xy(hull, _points(xy_mm, 2)), dtype=bool)


def _points(values: Array, width: int) -> Array:
    points = np.asarray(values, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != width:
        raise ValueError(f"points must have the shape (n, {width}), got {points.shape}")
    return points
