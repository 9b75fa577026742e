"""Fits of each model to any set of sightings: where to start, what is known beforehand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Side
from overlay.registration.camera import Pinhole
from overlay.registration.descent import Terms
from overlay.registration.least_squares import (
    CameraPriors,
    Fit,
    Goodness,
    Sightings,
    camera_prior_terms,
    minimise,
    minimise_each,
)
from overlay.registration.likely_poses import likely_poses
from overlay.registration.planar import (
    Planar,
    estimate_affine,
    estimate_homography,
    estimate_similarity,
    similarity_priors,
)


def fit_flat(seen: Sightings, side: Side, shape_px: tuple[int, int], *, widen: bool = True) -> Fit:
    """Similarity (2 points), affine map (3) or homography (4 and more), least squares in pixels."""
    planar = _planar(seen, side, shape_px)
    start = estimate_similarity(planar, seen.xyz_mm, seen.uv_px)
    rows, widths = similarity_priors(planar, start, len(seen))
    if len(seen) == 3:
        start = estimate_affine(planar, seen.xyz_mm, seen.uv_px)
    starts = [start]
    if len(seen) >= 4:
        found = estimate_homography(planar, seen.xyz_mm, seen.uv_px)
        starts = [estimate_affine(planar, seen.xyz_mm, seen.uv_px)] if found is None else [found]

    def priors(parameters: Array) -> Terms:
        slopes = np.broadcast_to(rows / widths[:, None], (*parameters.shape[:-1], *rows.shape))
        return parameters @ rows.T / widths, slopes

    return minimise(planar, seen, starts, priors if len(rows) else None, widen=widen)


def fit_camera(
    seen: Sightings, side: Side, shape_px: tuple[int, int], priors: CameraPriors, *, widen: bool = True
) -> Fit:
    """Pose, focal length and radial term of a pinhole camera from 2 points or more at their heights."""
    planar = _planar(seen, side, shape_px)
    pinhole = Pinhole(side, shape_px, planar.center_mm)
    starts = _camera_starts(pinhole, planar, seen, priors)
    return minimise(pinhole, seen, starts, lambda p: camera_prior_terms(pinhole, p, priors), widen=widen)


def fit_cameras(
    whole: Sightings, cases: Sequence[Sightings], side: Side, shape_px: tuple[int, int], priors: CameraPriors
) -> list[Goodness]:
    """How well a camera suits each of many cases of the same points: some swapped, some of infinite uncertainty."""
    planar = _planar(whole, side, shape_px)
    pinhole = Pinhole(side, shape_px, planar.center_mm)
    starts = [_camera_starts(pinhole, planar, seen.taking_part(), priors) for seen in cases]
    case = np.repeat(np.arange(len(cases)), [len(some) for some in starts])
    many = Sightings(whole.xyz_mm, np.array([one.uv_px for one in cases]), np.array([one.u_px for one in cases]))
    flat = np.concatenate([np.array(some) for some in starts])
    _, chi2 = minimise_each(pinhole, many, flat, case, lambda p: camera_prior_terms(pinhole, p, priors))
    more = 4 if priors.distance_mm is None else 5
    dofs = 2 * np.isfinite(many.u_px).sum(axis=1) + more - flat.shape[1]
    return [Goodness(float(one), int(dof)) for one, dof in zip(chi2, dofs, strict=True)]


def left_out_px(fit: Fit, seen: Sightings, priors: CameraPriors) -> Array:
    """Distance (n,) between each point and where a camera fitted to the others puts it."""
    pinhole = fit.projection
    assert isinstance(pinhole, Pinhole)
    n = len(seen)
    u_px = np.where(np.eye(n, dtype=bool), np.inf, seen.u_px)
    cases = Sightings(seen.xyz_mm, np.broadcast_to(seen.uv_px, (n, n, 2)), u_px)
    starts = np.repeat(fit.parameters[None], n, axis=0)
    found, _ = minimise_each(pinhole, cases, starts, np.arange(n), lambda p: camera_prior_terms(pinhole, p, priors))
    off_px = pinhole.pixels(found, seen.xyz_mm)[np.arange(n), np.arange(n)] - seen.uv_px
    return np.hypot(off_px[:, 0], off_px[:, 1])


def _camera_starts(pinhole: Pinhole, planar: Planar, seen: Sightings, priors: CameraPriors) -> list[Array]:
    similarity = estimate_similarity(planar, seen.xyz_mm, seen.uv_px)
    homography = estimate_homography(planar, seen.xyz_mm, seen.uv_px) if len(seen) >= 4 else None
    return likely_poses(
        pinhole,
        _about_center(planar, similarity if homography is None else homography),
        _about_center(planar, similarity),
        priors.focal_px,
    )


def refit(fit: Fit, seen: Sightings, priors: CameraPriors | None) -> Fit:
    """The same model fitted to other sightings, from where it stands; ``priors`` for a camera."""
    projection = fit.projection
    if isinstance(projection, Pinhole):
        assert priors is not None
        return minimise(projection, seen, [fit.parameters], lambda p: camera_prior_terms(projection, p, priors))
    return fit_flat(seen, projection.side, projection.shape_px)


def surface_matrix(projection: Planar | Pinhole, parameters: Array) -> Array:
    """The (3, 3) matrix from board mm to pixels on the surface, last entry 1.

    Exact for flat models and for a camera without radial term; else the nearest over the frame.
    """
    if isinstance(projection, Planar):
        return projection.matrix(parameters)
    camera = projection.camera(parameters)
    axes = camera.rotation * np.array([-1.0 if projection.side == "bottom" else 1.0, 1.0, 1.0])
    u, v = camera.center_px
    inner = np.array([[camera.focal_px, 0, u], [0, camera.focal_px, v], [0, 0, 1.0]])
    matrix = inner @ np.column_stack([axes[:, 0], axes[:, 1], camera.translation_mm])
    matrix = matrix / matrix[2, 2]
    if camera.radial == 0.0:
        return np.asarray(matrix)
    rows, cols = projection.shape_px
    grid = np.stack(np.meshgrid(np.linspace(0, cols - 1, 9), np.linspace(0, rows - 1, 7)), axis=-1).reshape(-1, 2)
    xy_mm = projection.board(parameters, grid, np.zeros(len(grid)))
    good = np.isfinite(xy_mm).all(axis=1)
    seen = Sightings(np.column_stack([xy_mm, np.zeros(len(grid))])[good], grid[good], np.ones(int(good.sum())))
    near = fit_flat(seen, projection.side, projection.shape_px, widen=False)
    assert isinstance(near.projection, Planar)
    return near.projection.matrix(near.parameters)


def _planar(seen: Sightings, side: Side, shape_px: tuple[int, int]) -> Planar:
    middle = seen.xyz_mm[:, :2].mean(axis=0)
    spread = math.sqrt(float(((seen.xyz_mm[:, :2] - middle) ** 2).sum(axis=1).mean()))
    return Planar(side, shape_px, (float(middle[0]), float(middle[1])), max(spread, 1e-6))


def _about_center(planar: Planar, parameters: Array) -> Array:
    """The matrix from mm about the points' middle to pixels."""
    return replace(planar, center_mm=(0.0, 0.0)).matrix(parameters)
