"""A flat picture of a flat board: similarity, affine map and homography as one 3 × 3 matrix.

Board units are ((x, y) - center) / scale, frame units (pixel - middle of the frame) / (half its columns); in
these the last entry of the matrix is 1. All three models carry eight parameters: those that two or three points
cannot tell are held by priors (`similarity_priors`), so that the covariance says how little is known.
Normalised direct linear transform, then least squares in pixels: Hartley & Zisserman, Multiple View Geometry,
2nd ed., sections 4.1, 4.4 and 4.5 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Side
from overlay.registration.camera import TILT_U

LIKELY_DISTANCE = 1.4
"""Distance in widths of the field of view for an unknown lens (about 40°)."""
_FORESHORTENING = TILT_U**2  # rms of (1 - cos tilt)·cos 2φ for two normal components of tilt
_HORIZON = 1e-6  # places beyond, behind the camera, have no pixel


@dataclass(frozen=True, slots=True)
class Planar:
    """Units of a flat model; its eight parameters travel apart from it."""

    side: Side
    shape_px: tuple[int, int]
    center_mm: tuple[float, float]
    scale_mm: float

    @property
    def center_px(self) -> tuple[float, float]:
        return (self.shape_px[1] - 1) / 2.0, (self.shape_px[0] - 1) / 2.0

    @property
    def scale_px(self) -> float:
        return self.shape_px[1] / 2.0

    def pixels(self, parameters: Array, xyz_mm: Array) -> Array:
        """Pixels (…, n, 2) of board points (n, 3), whose heights make no difference; nan from the horizon on."""
        return self.sights(parameters, xyz_mm)[0]

    def jacobian(self, parameters: Array, xyz_mm: Array) -> Array:
        """Derivatives (…, n, 2, 8) of pixels by parameters."""
        return self.sights(parameters, xyz_mm)[1]

    def sights(self, parameters: Array, xyz_mm: Array) -> tuple[Array, Array]:
        """Pixels and their derivatives by parameters, from one look."""
        X, Y = self._board_units(xyz_mm)
        u, v, w = self._homogeneous(parameters, xyz_mm)
        place = np.stack([u / w, v / w], axis=-1)
        out = np.zeros((*place.shape, 8))
        for column, factor in enumerate((X, Y, np.ones_like(X))):
            out[..., 0, column] = out[..., 1, 3 + column] = factor / w
        out[..., 6], out[..., 7] = -place * (X / w)[..., None], -place * (Y / w)[..., None]
        return place * self.scale_px + np.array(self.center_px), out * self.scale_px

    def places(self, parameters: Array, xyz_mm: Array) -> tuple[Array, Array]:
        """Pixels and their derivatives by board coordinates."""
        return self.pixels(parameters, xyz_mm), self.board_jacobian(parameters, xyz_mm)

    def board_jacobian(self, parameters: Array, xyz_mm: Array) -> Array:
        """Derivatives (n, 2, 3) of pixels by board coordinates, px per mm; those by z are zero."""
        u, v, w = self._homogeneous(parameters, xyz_mm)
        h = parameters
        out = np.zeros((len(u), 2, 3))
        for column in range(2):
            out[:, 0, column] = (h[column] - u / w * h[6 + column]) / w
            out[:, 1, column] = (h[3 + column] - v / w * h[6 + column]) / w
        return out * (self.scale_px / self.scale_mm)

    def moved(self, parameters: Array, steps: Array) -> Array:
        """Parameters (…, 8) after a solver's steps."""
        return parameters + steps

    def board(self, parameters: Array, uv_px: Array, z_mm: Array) -> Array:
        """Board points (n, 2) seen at pixels (n, 2); nan for pixels at or beyond the horizon."""
        frame = (uv_px - np.array(self.center_px)) / self.scale_px
        inverse = np.linalg.inv(np.append(parameters, 1.0).reshape(3, 3))
        X, Y, w = inverse @ np.vstack([frame.T, np.ones(len(frame))])
        # a board point (X/w, Y/w) is in front of the camera where its own denominator, 1/w, is positive
        w = np.where(w > _HORIZON, w, np.nan)
        return np.asarray(np.stack([X / w, Y / w], axis=1) * self.scale_mm + np.array(self.center_mm))

    def matrix(self, parameters: Array) -> Array:
        """The (3, 3) matrix from board mm to pixels, last entry 1."""
        to_pixels = np.array([[self.scale_px, 0, self.center_px[0]], [0, self.scale_px, self.center_px[1]], [0, 0, 1]])
        x, y = self.center_mm
        to_units = np.array([[1, 0, -x], [0, 1, -y], [0, 0, self.scale_mm]]) / self.scale_mm
        product = to_pixels @ np.append(parameters, 1.0).reshape(3, 3) @ to_units
        # where the board's origin is itself on the horizon no scale makes the last entry 1
        return np.asarray(product / product[2, 2] if product[2, 2] else product)

    def _board_units(self, xyz_mm: Array) -> tuple[Array, Array]:
        return (xyz_mm[:, 0] - self.center_mm[0]) / self.scale_mm, (xyz_mm[:, 1] - self.center_mm[1]) / self.scale_mm

    def _homogeneous(self, parameters: Array, xyz_mm: Array) -> tuple[Array, Array, Array]:
        X, Y = self._board_units(xyz_mm)
        h = [parameters[..., number, None] for number in range(8)]
        w = h[6] * X + h[7] * Y + 1.0
        w = np.where(w > _HORIZON, w, np.nan)
        return h[0] * X + h[1] * Y + h[2], h[3] * X + h[4] * Y + h[5], w


def estimate_similarity(planar: Planar, xyz_mm: Array, uv_px: Array) -> Array:
    """Parameters of the similarity nearest to n ≥ 2 points; the side fixes whether it mirrors."""
    m = -1.0 if planar.side == "bottom" else 1.0
    X, Y = planar._board_units(xyz_mm)
    u, v = ((uv_px - np.array(planar.center_px)) / planar.scale_px).T
    one, none = np.ones_like(X), np.zeros_like(X)
    # seen from the front y points up on the board and down in the frame: u = a·mx + b·y, v = b·mx - a·y
    rows = np.vstack([np.stack([m * X, Y, one, none], 1), np.stack([-Y, m * X, none, one], 1)])
    a, b, tu, tv = np.linalg.lstsq(rows, np.concatenate([u, v]), rcond=None)[0]
    return np.array([m * a, b, tu, m * b, -a, tv, 0.0, 0.0])


def estimate_affine(planar: Planar, xyz_mm: Array, uv_px: Array) -> Array:
    """Parameters of the affine map nearest to n ≥ 3 points."""
    X, Y = planar._board_units(xyz_mm)
    frame = (uv_px - np.array(planar.center_px)) / planar.scale_px
    solution = np.linalg.lstsq(np.stack([X, Y, np.ones_like(X)], 1), frame, rcond=None)[0]
    return np.array([*solution[:, 0], *solution[:, 1], 0.0, 0.0])


def estimate_homography(planar: Planar, xyz_mm: Array, uv_px: Array) -> Array | None:
    """Parameters of the homography of n ≥ 4 points by the normalised direct linear transform.

    None where its horizon runs through the middle of the points.
    """
    X, Y = planar._board_units(xyz_mm)
    middle, spread = uv_px.mean(axis=0), max(float(uv_px.std()), 1e-9)
    u, v = ((uv_px - middle) / spread).T
    one, none = np.ones_like(X), np.zeros_like(X)
    first = np.stack([X, Y, one, none, none, none, -u * X, -u * Y, -u], 1)
    second = np.stack([none, none, none, X, Y, one, -v * X, -v * Y, -v], 1)
    equations = np.vstack([first, second])
    # four points leave a direction that only the full decomposition tells; of many it would be large
    h = np.linalg.svd(equations, full_matrices=len(equations) < 9)[2][-1].reshape(3, 3)
    to_pixels = np.array([[spread, 0, middle[0]], [0, spread, middle[1]], [0, 0, 1]])
    s, (cu, cv) = planar.scale_px, planar.center_px
    matrix = np.array([[1 / s, 0, -cu / s], [0, 1 / s, -cv / s], [0, 0, 1]]) @ to_pixels @ h
    if abs(matrix[2, 2]) < 1e-9 * float(np.abs(matrix).max()):
        return None
    return np.asarray((matrix / matrix[2, 2]).ravel()[:8])


def similarity_priors(planar: Planar, start: Array, count: int) -> tuple[Array, Array]:
    """What a likely view says of the parameters that ``count`` = 2 or 3 points leave open.

    Returns rows (r, 8) and widths (r,): each row times the parameters is 0 ± its width. Two points leave the
    foreshortening open (2 rows), two and three the vanishing line (2 rows); four and more leave nothing.
    """
    m = -1.0 if planar.side == "bottom" else 1.0
    scale = float(np.sqrt(abs(start[0] * start[4] - start[1] * start[3])))  # frame units per board unit
    # board units a frame's width spans: 2 / scale; a tilt t turns depth by t·X/Z over a board unit X
    vanishing = TILT_U * scale / (2.0 * LIKELY_DISTANCE)
    rows = np.zeros((4, 8))
    rows[0, 6] = rows[1, 7] = 1.0
    rows[2, 0], rows[2, 4] = m, 1.0
    rows[3, 1], rows[3, 3] = 1.0, -m
    widths = np.array([vanishing, vanishing, scale * _FORESHORTENING, scale * _FORESHORTENING])
    kept = {2: 4, 3: 2}.get(count, 0)
    return rows[:kept], widths[:kept]
