"""Where a fit of a camera starts."""

from __future__ import annotations

import math

import numpy as np

from overlay.arrays import Array
from overlay.registration.camera import Pinhole, rotation_matrix, rotation_vector


def likely_poses(pinhole: Pinhole, planar_matrix: Array, similarity: Array, focal_px: float) -> list[Array]:
    """Starting parameters for a fit, from a homography and a similarity, both (3, 3) from mm about ``center_mm`` to px.

    The homography's own pose (Zhang, A flexible new technique for camera calibration, PAMI 2000), its twin tilted the
    other way about the line of sight, which small or distant boards cannot tell apart, and a view straight down.
    """
    poses = []
    found = _decompose(pinhole, planar_matrix, focal_px)
    if found is not None:
        poses += [found, _twin(found)]
    straight = _decompose(pinhole, similarity, focal_px)
    if straight is not None:
        poses.append(straight)
    return poses


def _decompose(pinhole: Pinhole, matrix: Array, focal_px: float) -> Array | None:
    u, v = pinhole.center_px
    from_pixels = np.array([[1, 0, -u], [0, 1, -v], [0, 0, focal_px]]) / focal_px
    h = from_pixels @ matrix @ np.diag([pinhole.mirror, 1.0, 1.0])
    length = math.sqrt(float(np.linalg.norm(h[:, 0]) * np.linalg.norm(h[:, 1])))
    if not (math.isfinite(length) and length > 0) or abs(h[2, 2]) < 1e-12 * length:
        return None
    h = h / math.copysign(length, h[2, 2])
    nearly = np.stack([h[:, 0], h[:, 1], np.cross(h[:, 0], h[:, 1])], axis=1)
    left, _, right = np.linalg.svd(nearly)
    rotation = left @ np.diag([1.0, 1.0, np.linalg.det(left @ right)]) @ right
    return np.concatenate([rotation_vector(rotation), h[:, 2], [math.log(focal_px), 0.0]])


def _twin(parameters: Array) -> Array:
    """The pose whose normal lies on the other side of the line of sight."""
    rotation = rotation_matrix(parameters[:3])
    sight = parameters[3:6] / np.linalg.norm(parameters[3:6])
    half_turn = 2.0 * np.outer(sight, sight) - np.eye(3)
    normal = rotation[:, 2]
    mirrored = half_turn @ normal
    axis = np.cross(normal, mirrored)
    size = float(np.linalg.norm(axis))
    if size < 1e-9:
        return parameters
    turn = rotation_matrix(axis / size * math.atan2(size, float(normal @ mirrored)))
    return np.concatenate([rotation_vector(turn @ rotation), parameters[3:]])
