"""A pinhole camera over one side of the board, with one radial term.

Camera axes: x to the right and y down in the frame, z along the view. See `overlay.registration.model.Camera` for
how a board point is taken there. Parameters: rotation vector (3, rad), place of ``center_mm`` on the surface in
camera axes (3, mm), log of the focal length in px, radial term.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Side
from overlay.registration.model import Camera

FOCAL_U = 0.01
"""Standard uncertainty of the log of the focal length where the field of view is stated: data sheets give it to the
degree or half a degree (common practice)."""
LOOSE_FIELD_DEG = 35.0  # the middle of what hand-held cameras have (common practice)
LOOSE_FOCAL_U = 0.5
"""An unknown lens: field of view between about 20° and 60° (common practice for board work)."""
RADIAL_U = 0.03
"""Standard deviation of the radial term of infrared lenses, per (tan of the angle off the axis) squared."""
DISTANCE_U = 0.03
"""Relative standard uncertainty of a stated distance: measured by hand, to a lens whose centre is inside it."""
TILT_U = 0.3
"""Standard deviation of the camera's tilt about either axis before any point is seen, in rad."""


def focal_px_from_field(hfov_deg: float, shape_px: tuple[int, int]) -> float:
    """Focal length in pixels from the horizontal field of view over the frame's columns."""
    return shape_px[1] / 2.0 / math.tan(math.radians(hfov_deg) / 2.0)


@dataclass(frozen=True, slots=True)
class Pinhole:
    """Side, frame and origin of a camera model; its eight parameters travel apart from it."""

    side: Side
    shape_px: tuple[int, int]
    center_mm: tuple[float, float]

    @property
    def center_px(self) -> tuple[float, float]:
        return (self.shape_px[1] - 1) / 2.0, (self.shape_px[0] - 1) / 2.0

    def pixels(self, parameters: Array, xyz_mm: Array) -> Array:
        """Pixels (n, 2) of board points (n, 3); nan behind the camera or where the lens would fold the picture."""
        _, _, x, bend = self._seen(parameters, xyz_mm)
        return np.asarray(_focal_px(parameters) * x * bend[:, None] + np.array(self.center_px))

    def jacobian(self, parameters: Array, xyz_mm: Array) -> Array:
        """Derivatives (n, 2, 8) of pixels by parameters."""
        turned, depth, x, bend = self._seen(parameters, xyz_mm)
        by_camera = self._by_camera(parameters, depth, x, bend)
        focal = _focal_px(parameters)
        out = np.empty((len(xyz_mm), 2, 8))
        out[:, :, 0:3] = by_camera @ (-_cross(turned) @ _left_jacobian(parameters[:3]))
        out[:, :, 3:6] = by_camera
        out[:, :, 6] = focal * x * bend[:, None]
        out[:, :, 7] = focal * x * (x**2).sum(axis=1)[:, None]
        return out

    def board_jacobian(self, parameters: Array, xyz_mm: Array) -> Array:
        """Derivatives (n, 2, 3) of pixels by board coordinates, px per mm."""
        _, depth, x, bend = self._seen(parameters, xyz_mm)
        axes = rotation_matrix(parameters[:3]) * np.array([self._mirror, 1.0, 1.0])
        return np.asarray(self._by_camera(parameters, depth, x, bend) @ axes)

    def board(self, parameters: Array, uv_px: Array, z_mm: Array) -> Array:
        """Board points (n, 2) at heights ``z_mm`` (n,) seen at pixels (n, 2); nan where the ray misses that plane."""
        bent = (uv_px - np.array(self.center_px)) / _focal_px(parameters)
        x = _unbend(bent, parameters[7])
        rotation = rotation_matrix(parameters[:3])
        rays = np.concatenate([x, np.ones((len(x), 1))], axis=1) @ rotation
        eye = -parameters[3:6] @ rotation
        with np.errstate(divide="ignore", invalid="ignore"):
            along = (z_mm - eye[2]) / rays[:, 2]
        along = np.where(np.isfinite(along) & (along > 0), along, np.nan)
        flat = eye[:2] + rays[:, :2] * along[:, None]
        return np.asarray(flat * np.array([self._mirror, 1.0]) + np.array(self.center_mm))

    def camera(self, parameters: Array) -> Camera:
        """The camera these parameters mean, in board coordinates proper."""
        rotation = rotation_matrix(parameters[:3])
        middle = np.array([self._mirror * self.center_mm[0], self.center_mm[1], 0.0])
        return Camera(
            rotation=rotation,
            translation_mm=parameters[3:6] - rotation @ middle,
            focal_px=_focal_px(parameters),
            center_px=self.center_px,
            radial=float(parameters[7]),
            side=self.side,
        )

    def distance_mm(self, parameters: Array) -> tuple[float, Array]:
        """Distance from the lens to the surface along the axis, and its derivatives (8,)."""
        normal, by_rotation = self.normal(parameters)
        place = parameters[3:6]
        distance = float(normal @ place / normal[2])
        out = np.zeros(8)
        by_normal = place / normal[2] - np.array([0.0, 0.0, distance / normal[2]])
        out[0:3] = by_normal @ by_rotation
        out[3:6] = normal / normal[2]
        return distance, out

    def normal(self, parameters: Array) -> tuple[Array, Array]:
        """The board's normal in camera axes (3,), (0, 0, -1) seen straight on; and by the rotation vector (3, 3)."""
        normal = rotation_matrix(parameters[:3])[:, 2]
        return normal, np.asarray(-_cross(normal[None])[0] @ _left_jacobian(parameters[:3]))

    @property
    def _mirror(self) -> float:
        return -1.0 if self.side == "bottom" else 1.0

    def _seen(self, parameters: Array, xyz_mm: Array) -> tuple[Array, Array, Array, Array]:
        """Turned points (n, 3), depths (n,), tangents of the angles off the axis (n, 2) and the lens's bend (n,)."""
        x, y = self.center_mm
        local = (xyz_mm - np.array([x, y, 0.0])) * np.array([self._mirror, 1.0, 1.0])
        turned = local @ rotation_matrix(parameters[:3]).T
        seen = turned + parameters[3:6]
        depth = np.where(seen[:, 2] > 1e-6, seen[:, 2], np.nan)
        tangents = seen[:, :2] / depth[:, None]
        r2 = (tangents**2).sum(axis=1)
        slope = 1.0 + 3.0 * parameters[7] * r2  # of the bent radius: beyond its zero the picture folds back
        return turned, depth, tangents, np.where(slope > 0, 1.0 + parameters[7] * r2, np.nan)

    def _by_camera(self, parameters: Array, depth: Array, x: Array, bend: Array) -> Array:
        """Derivatives (n, 2, 3) of pixels by places in camera axes."""
        focal, radial = _focal_px(parameters), parameters[7]
        by_tangents = np.eye(2) * bend[:, None, None] + 2.0 * radial * x[:, :, None] * x[:, None, :]
        by_place = np.zeros((len(x), 2, 3))
        by_place[:, 0, 0] = by_place[:, 1, 1] = 1.0 / depth
        by_place[:, :, 2] = -x / depth[:, None]
        return np.asarray(focal * by_tangents @ by_place)


def _focal_px(parameters: Array) -> float:
    return math.exp(min(float(parameters[6]), 100.0))  # a solver astray must not overflow


def rotation_matrix(vector: Array) -> Array:
    """Rotation (3, 3) about a vector by its length in rad."""
    angle = float(np.linalg.norm(vector))
    cross = _cross(vector[None])[0]
    if angle < 1e-8:
        return np.asarray(np.eye(3) + cross)
    return np.asarray(np.eye(3) + math.sin(angle) / angle * cross + (1 - math.cos(angle)) / angle**2 * cross @ cross)


def rotation_vector(rotation: Array) -> Array:
    """The vector of a rotation (3, 3), at most π long."""
    from scipy.spatial.transform import Rotation

    return np.asarray(Rotation.from_matrix(rotation).as_rotvec())


def _left_jacobian(vector: Array) -> Array:
    """What a change of the rotation vector turns further, about fixed axes."""
    angle = float(np.linalg.norm(vector))
    cross = _cross(vector[None])[0]
    if angle < 1e-6:
        return np.asarray(np.eye(3) + cross / 2.0)
    first = (1 - math.cos(angle)) / angle**2
    second = (angle - math.sin(angle)) / angle**3
    return np.asarray(np.eye(3) + first * cross + second * cross @ cross)


def _cross(vectors: Array) -> Array:
    """Matrices (n, 3, 3) that multiply as the cross product with vectors (n, 3)."""
    out = np.zeros((len(vectors), 3, 3))
    x, y, z = vectors.T
    out[:, 0, 1], out[:, 0, 2], out[:, 1, 2] = -z, y, -x
    out[:, 1, 0], out[:, 2, 0], out[:, 2, 1] = z, -y, x
    return out


def _unbend(bent: Array, radial: float) -> Array:
    """Tangents (n, 2) whose bent ones are given; nan where the lens bends none so far."""
    if radial == 0.0:
        return bent
    far = np.sqrt((bent**2).sum(axis=1))
    r = far.copy()
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        if radial < 0:
            fold = 1.0 / math.sqrt(-3.0 * radial)
            r = np.where(far < fold * 2.0 / 3.0, r, np.nan)
        for _ in range(30):  # Newton on r·(1 + k·r²) = far; r starts below the fold, where it is monotonous
            r = r - (r * (1.0 + radial * r**2) - far) / (1.0 + 3.0 * radial * r**2)
        return np.asarray(bent * np.where(far > 0, r / np.where(far > 0, far, 1.0), 1.0)[:, None])


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
    h = from_pixels @ matrix @ np.diag([pinhole._mirror, 1.0, 1.0])
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
