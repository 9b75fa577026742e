"""Fits of each model to any set of sightings: where to start, what is known beforehand."""

from __future__ import annotations

import math
from dataclasses import replace

from overlay.arrays import Array
from overlay.board.model import Side
from overlay.registration.camera import Pinhole, likely_poses
from overlay.registration.least_squares import CameraPriors, Fit, Sightings, Terms, camera_prior_terms, minimise
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
        return rows @ parameters / widths, rows / widths[:, None]

    return minimise(planar, seen, starts, priors if len(rows) else None, widen=widen)


def fit_camera(
    seen: Sightings, side: Side, shape_px: tuple[int, int], priors: CameraPriors, *, widen: bool = True
) -> Fit:
    """Pose, focal length and radial term of a pinhole camera from 2 points or more at their heights."""
    planar = _planar(seen, side, shape_px)
    pinhole = Pinhole(side, shape_px, planar.center_mm)
    similarity = estimate_similarity(planar, seen.xyz_mm, seen.uv_px)
    homography = estimate_homography(planar, seen.xyz_mm, seen.uv_px) if len(seen) >= 4 else None
    starts = likely_poses(
        pinhole,
        _about_center(planar, similarity if homography is None else homography),
        _about_center(planar, similarity),
        priors.focal_px,
    )
    return minimise(pinhole, seen, starts, lambda p: camera_prior_terms(pinhole, p, priors), widen=widen)


def refit(fit: Fit, seen: Sightings, priors: CameraPriors | None) -> Fit:
    """The same model fitted to other sightings, from where it stands; ``priors`` for a camera."""
    projection = fit.projection
    if isinstance(projection, Pinhole):
        assert priors is not None
        return minimise(projection, seen, [fit.parameters], lambda p: camera_prior_terms(projection, p, priors))
    return fit_flat(seen, projection.side, projection.shape_px)


def _planar(seen: Sightings, side: Side, shape_px: tuple[int, int]) -> Planar:
    middle = seen.xyz_mm[:, :2].mean(axis=0)
    spread = math.sqrt(float(((seen.xyz_mm[:, :2] - middle) ** 2).sum(axis=1).mean()))
    return Planar(side, shape_px, (float(middle[0]), float(middle[1])), max(spread, 1e-6))


def _about_center(planar: Planar, parameters: Array) -> Array:
    """The matrix from mm about the points' middle to pixels."""
    return replace(planar, center_mm=(0.0, 0.0)).matrix(parameters)
