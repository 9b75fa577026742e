"""A pinhole camera over one side of the board, with one radial term.

Camera axes: x to the right and y down in the frame, z along the view. See `overlay.registration.model.Camera` for
how a board point is taken there. Parameters: rotation vector (3, rad), place of ``center_mm`` on the surface in
camera axes (3, mm), log of the focal length in px, radial term.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, read_only
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
        """Pixels (…, n, 2) of board points (n, 3); nan behind the camera or where the lens would fold the picture."""
        return self.look(parameters, xyz_mm).pixels

    def jacobian(self, parameters: Array, xyz_mm: Array) -> Array:
        """Derivatives (…, n, 2, 8) of pixels by parameters."""
        return self.look(parameters, xyz_mm).by_parameters

    def sights(self, parameters: Array, xyz_mm: Array) -> tuple[Array, Array]:
        """Pixels and their derivatives by parameters, from one look."""
        look = self.look(parameters, xyz_mm)
        return look.pixels, look.by_parameters

    def board_jacobian(self, parameters: Array, xyz_mm: Array) -> Array:
        """Derivatives (…, n, 2, 3) of pixels by board coordinates, px per mm."""
        return self.look(parameters, xyz_mm).by_board

    def places(self, parameters: Array, xyz_mm: Array) -> tuple[Array, Array]:
        """Pixels and their derivatives by board coordinates, from one look."""
        look = self.look(parameters, xyz_mm)
        return look.pixels, look.by_board

    def look(self, parameters: Array, xyz_mm: Array) -> Look:
        """Board points (n, 3) as the camera sees them with one set of parameters (8,), or with each of many (…, 8)."""
        x, y = self.center_mm
        rotation, turning_by = turning(parameters[..., :3])
        turned = (xyz_mm - np.array([x, y, 0.0])) * np.array([self.mirror, 1.0, 1.0]) @ rotation.swapaxes(-1, -2)
        place = turned + parameters[..., None, 3:6]
        depth = np.where(place[..., 2] > 1e-6, place[..., 2], np.nan)
        tangents = place[..., :2] / depth[..., None]
        radial, r2 = parameters[..., 7, None], tangents[..., 0] ** 2 + tangents[..., 1] ** 2
        slope = 1.0 + 3.0 * radial * r2  # of the bent radius: beyond its zero the picture folds back
        bend = np.where(slope > 0, 1.0 + radial * r2, np.nan)
        return Look(self, parameters, rotation, turning_by, turned, depth, tangents, bend)

    def moved(self, parameters: Array, steps: Array) -> Array:
        """Parameters (…, 8) after a solver's steps: the depth in proportion, as a focal length makes up for it.

        Where a lens is not told both may run far together; by sums they would leave that valley at once.
        """
        out = parameters + steps
        depth = parameters[..., 5]
        out[..., 5] = depth * np.exp(np.clip(steps[..., 5] / depth, -2.0, 2.0))
        return np.asarray(out)

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
        return np.asarray(flat * np.array([self.mirror, 1.0]) + np.array(self.center_mm))

    def camera(self, parameters: Array) -> Camera:
        """The camera these parameters mean, in board coordinates proper."""
        rotation = rotation_matrix(parameters[:3])
        middle = np.array([self.mirror * self.center_mm[0], self.center_mm[1], 0.0])
        return Camera(
            rotation=rotation,
            translation_mm=parameters[3:6] - rotation @ middle,
            focal_px=float(_focal_px(parameters)),
            center_px=self.center_px,
            radial=float(parameters[7]),
            side=self.side,
        )

    def distance_mm(self, parameters: Array) -> tuple[Array, Array]:
        """Distances (…) from the lens to the surface along the axis, and their derivatives (…, 8)."""
        return self.distance_along(parameters, *self.normal(parameters))

    def normal(self, parameters: Array) -> tuple[Array, Array]:
        """The board's normal in camera axes (…, 3), (0, 0, -1) seen straight on; and by the rotation (…, 3, 3)."""
        rotation, turning_by = turning(parameters[..., :3])
        normal = rotation[..., 2]
        return normal, np.asarray(-_cross(normal) @ turning_by)

    def distance_along(self, parameters: Array, normal: Array, by_rotation: Array) -> tuple[Array, Array]:
        """As `distance_mm`, of a `normal` that is known already."""
        place, along = parameters[..., 3:6], normal[..., 2:]
        distance = (normal * place).sum(axis=-1) / normal[..., 2]
        out = np.zeros(parameters.shape)
        by_normal = place / along
        by_normal[..., 2] -= distance / normal[..., 2]
        out[..., 0:3] = (by_normal[..., None, :] @ by_rotation)[..., 0, :]
        out[..., 3:6] = normal / along
        return distance, out

    @property
    def mirror(self) -> float:
        return -1.0 if self.side == "bottom" else 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """Board points as a camera sees them, n of them, with one set of parameters or with each of many (…)."""

    pinhole: Pinhole
    parameters: Array  # (…, 8)
    rotation: Array  # (…, 3, 3)
    turning_by: Array  # (…, 3, 3) what a change of the rotation vector turns further
    turned: Array  # (…, n, 3) into camera axes
    depth: Array  # (…, n); nan behind the camera
    tangents: Array  # (…, n, 2) of the angles off the axis
    bend: Array  # (…, n) by the lens; nan where it would fold the picture

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def pixels(self) -> Array:
        """Pixels (…, n, 2)."""
        scale = _focal_px(self.parameters)[..., None] * self.bend
        return np.asarray(self.tangents * scale[..., None] + np.array(self.pinhole.center_px))

    @property
    def by_parameters(self) -> Array:
        """Derivatives (…, n, 2, 8) of the pixels by the parameters."""
        return self._parameters_of(self._by_place(), self.tangents)

    @property
    def by_board(self) -> Array:
        """Derivatives (…, n, 2, 3) of the pixels by board coordinates, px per mm."""
        return _mapped(self._by_place(), self._axes)

    def along(self, direction: Array) -> tuple[Array, Array]:
        """Derivatives, by the parameters (…, n, 8) and by board coordinates (…, n, 3), of pixels along one direction.

        ``direction`` is (n, 2), and need not be of unit length.
        """
        x, y = direction.T
        both = self._by_place()
        by_place = (both[..., 0, :] * x[:, None] + both[..., 1, :] * y[:, None])[..., None, :]
        tangents = (self.tangents[..., 0] * x + self.tangents[..., 1] * y)[..., None]
        return self._parameters_of(by_place, tangents)[..., 0, :], _mapped(by_place, self._axes)[..., 0, :]

    @property
    def _axes(self) -> Array:
        """Board axes in camera axes (…, 3, 3)."""
        return np.asarray(self.rotation * np.array([self.pinhole.mirror, 1.0, 1.0]))

    def _parameters_of(self, by_place: Array, tangents: Array) -> Array:
        """Derivatives (…, n, r, 8) of what depends so on the places (…, n, r, 3), and has those tangents (…, n, r)."""
        out = np.empty((*tangents.shape, 8))
        # a further turn moves a point across its own direction
        x, y, z = (self.turned[..., None, axis] for axis in range(3))
        u, v, w = (by_place[..., axis] for axis in range(3))
        out[..., 0:3] = _mapped(np.stack([y * w - z * v, z * u - x * w, x * v - y * u], axis=-1), self.turning_by)
        out[..., 3:6] = by_place
        focal = _focal_px(self.parameters)[..., None]
        out[..., 6] = tangents * (focal * self.bend)[..., None]
        out[..., 7] = tangents * (focal * (self.tangents**2).sum(axis=-1))[..., None]
        return out

    def _by_place(self) -> Array:
        """Derivatives (…, n, 2, 3) of pixels by places in camera axes."""
        x, y = self.tangents[..., 0], self.tangents[..., 1]
        scale = _focal_px(self.parameters)[..., None] / self.depth
        bent = 2.0 * self.parameters[..., 7, None] * scale
        out = np.empty((*x.shape, 2, 3))
        out[..., 0, 0], out[..., 1, 1] = scale * self.bend + bent * x * x, scale * self.bend + bent * y * y
        out[..., 0, 1] = out[..., 1, 0] = bent * x * y
        out[..., 2] = -(out[..., 0] * x[..., None] + out[..., 1] * y[..., None])
        return out


def _mapped(rows: Array, matrix: Array) -> Array:
    """Rows (…, n, r, 3) times one matrix each (…, 3, 3), in one product rather than n."""
    return np.asarray((rows.reshape(*rows.shape[:-3], -1, 3) @ matrix).reshape(rows.shape))


def _focal_px(parameters: Array) -> Array:
    return np.exp(np.minimum(parameters[..., 6], 100.0))  # a solver astray must not overflow


def rotation_matrix(vector: Array) -> Array:
    """Rotations (…, 3, 3) about vectors (…, 3) by their lengths in rad."""
    return turning(vector)[0]


def turning(vector: Array) -> tuple[Array, Array]:
    """Rotations (…, 3, 3) about vectors (…, 3), and what a change of the vectors turns further, about fixed axes."""
    angle = np.maximum(np.sqrt((vector**2).sum(axis=-1)), 1e-6)[..., None, None]  # below, all are in their limits
    first, second, third = np.sin(angle) / angle, (1.0 - np.cos(angle)) / angle**2, (angle - np.sin(angle)) / angle**3
    cross = _cross(vector)
    square, one = cross @ cross, np.eye(3)
    return one + first * cross + second * square, one + second * cross + third * square


def rotation_vector(rotation: Array) -> Array:
    """The vector of a rotation (3, 3), at most π long.

    By its unit quaternion, from the largest of four ways to write it (Shepperd 1978, from memory): that holds up to a
    half turn, which is how most boards are seen.
    """
    m, trace = rotation, float(np.trace(rotation))
    axis = int(np.argmax([m[0, 0], m[1, 1], m[2, 2], trace]))
    across = np.array([m[2, 1] - m[1, 2], m[0, 2] - m[2, 0], m[1, 0] - m[0, 1]])
    if axis == 3:
        vector, real = across, 1.0 + trace
    else:
        vector, real = m[axis] + m[:, axis], float(across[axis])
        vector[axis] = 1.0 - trace + 2.0 * m[axis, axis]
    size = float(np.linalg.norm(vector))
    if size == 0.0:
        return np.zeros(3)
    return np.asarray(vector * (2.0 * math.atan2(size, abs(real)) / math.copysign(size, real)))


_CROSS = np.array([[0, 0, 0, 0, 0, -1, 0, 1, 0], [0, 0, 1, 0, 0, 0, -1, 0, 0], [0, -1, 0, 1, 0, 0, 0, 0, 0.0]])
"""Of the three axes, one below the other, the matrices of their cross products, row by row."""


def _cross(vectors: Array) -> Array:
    """Matrices (…, 3, 3) that multiply as the cross product with vectors (…, 3)."""
    return np.asarray((vectors @ _CROSS).reshape(*vectors.shape, 3))


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
            step = (r * (1.0 + radial * r**2) - far) / (1.0 + 3.0 * radial * r**2)
            r -= step
            if not np.any(np.abs(step) > 1e-15 * far):
                break
        return np.asarray(bent * np.where(far > 0, r / np.where(far > 0, far, 1.0), 1.0)[:, None])
