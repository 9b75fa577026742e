"""The bare board as a smooth field: knots in board mm, seen by the pixels of a frame."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Index, read_only
from overlay.board.model import Outline
from overlay.registration.model import Registration
from overlay.registration.project import board_from_pixels, pixels_from_board
from overlay.unmixing import priors
from overlay.unmixing.masks import Float32, Places, Real

if TYPE_CHECKING:
    from scipy.sparse import csr_array
    from shapely.geometry.base import BaseGeometry

FINEST_MM = 1.5  # a board spreads heat over more than this
FINEST_PX = 2.5  # knots closer than this follow noise
MOST_KNOTS = 4500  # bounds the time and memory of the solution
_EVERY_PX = 8  # board coordinates are worked out this often and interpolated between
_HULL_MARGIN_MM = 0.5  # where no outline is known the board ends at least this far beyond its bodies


@dataclass(frozen=True, slots=True, eq=False)
class BoardField:
    """A lattice of ``shape`` = (ny, nx) knots, and where each pixel lies in it."""

    shape: tuple[int, int]
    step_mm: float
    origin_mm: tuple[float, float]
    around: Places  # (pixels, 4) knots around a pixel, of all rows of the frame one after the other …
    share: Float32  # (pixels, 4) … and their weights
    inside: NDArray[np.bool_]  # (rows, cols) pixels that see nothing but board and what stands on it

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def knots(self) -> int:
        return self.shape[0] * self.shape[1]

    @property
    def offsets(self) -> tuple[int, int, int, int]:
        nx = self.shape[1]
        return 0, 1, nx, nx + 1

    def picture(self, value: Array) -> Array:
        """The field (rows, cols) as every pixel sees it, from values (knots,)."""
        from scipy.sparse import csr_array

        starts = np.arange(0, 4 * len(self.share) + 1, 4, dtype=np.int32)
        spread = csr_array((self.share.ravel(), self.around.ravel(), starts), shape=(len(self.share), self.knots))
        return np.asarray(spread @ value.astype(np.float32), dtype=np.float64).reshape(self.inside.shape)

    def at(self, xy_mm: Array) -> tuple[Index, Array]:
        """Knots (n, 4) and their weights (n, 4) at board points (n, 2); outside, those of the nearest place."""
        ny, nx = self.shape
        around, share = _cells(xy_mm[:, 0], xy_mm[:, 1], self.origin_mm, self.step_mm, nx, ny)
        return around.astype(np.intp), share

    def roughness(self) -> csr_array:
        """Second differences along x, y and across, (rows, knots), each about 0 ± (curvature·step²)."""
        from scipy.sparse import csr_array, diags_array, identity, kron, vstack

        def second(n: int) -> csr_array:
            return csr_array(diags_array([1.0, -2.0, 1.0], offsets=[0, 1, 2], shape=(max(n - 2, 0), n)))

        def first(n: int) -> csr_array:
            return csr_array(diags_array([-1.0, 1.0], offsets=[0, 1], shape=(max(n - 1, 0), n)))

        ny, nx = self.shape
        rows = [
            kron(identity(ny), second(nx)),
            kron(second(ny), identity(nx)),
            math.sqrt(2.0) * kron(first(ny), first(nx)),
        ]
        return csr_array(vstack(rows, format="csr"))


def board_field(registration: Registration, outline: Outline, sigma_px: float) -> BoardField:
    """Lay knots under a frame: at most `MOST_KNOTS` over what the frame sees of the board."""
    rows, cols = registration.shape_px
    x, y = _board_of_pixels(registration)
    seen = _outline_mask(registration, outline, sigma_px)
    if not seen.any():
        seen = np.isfinite(x)
    seen &= np.isfinite(x) & np.isfinite(y)
    if not seen.any():
        seen = np.zeros_like(seen)
        seen[rows // 2, cols // 2] = True
        x, y = np.where(np.isfinite(x), x, 0.0), np.where(np.isfinite(y), y, 0.0)
    low = np.array([x[seen].min(), y[seen].min()])
    extent = np.array([x[seen].max(), y[seen].max()]) - low
    step = max(FINEST_MM, FINEST_PX * registration.mm_per_px, math.sqrt(float(extent.prod()) / MOST_KNOTS))
    nx, ny = (max(math.ceil(side / step - 1e-9), 1) + 1 for side in extent)
    x, y = (np.nan_to_num(at, nan=nearest).ravel() for at, nearest in zip((x, y), low, strict=True))
    around, share = _cells(x, y, (low[0], low[1]), step, nx, ny)
    return BoardField((ny, nx), step, (float(low[0]), float(low[1])), around, share, seen)


def _cells(
    x: NDArray[Real], y: NDArray[Real], origin: tuple[float, float], step: float, nx: int, ny: int
) -> tuple[Places, NDArray[Real]]:
    """The four knots (n, 4) around places, from the one below and to the left, and their weights."""
    u = np.clip((x - origin[0]) / step, 0.0, nx - 1.0)
    v = np.clip((y - origin[1]) / step, 0.0, ny - 1.0)
    column, row = np.minimum(u.astype(np.int32), nx - 2), np.minimum(v.astype(np.int32), ny - 2)
    fx, fy = (u - column).astype(x.dtype), (v - row).astype(x.dtype)
    share = np.empty((len(x), 4), dtype=x.dtype)
    for number, (along, across) in enumerate(((1 - fx, 1 - fy), (fx, 1 - fy), (1 - fx, fy), (fx, fy))):
        np.multiply(along, across, out=share[:, number])
    return (row * nx + column)[:, None] + np.array([0, 1, nx, nx + 1], dtype=np.int32), share


def _board_of_pixels(registration: Registration) -> tuple[Float32, Float32]:
    """Board coordinates of all pixels (rows, cols), interpolated between every eighth."""
    rows, cols = registration.shape_px
    v = np.unique(np.append(np.arange(0, rows, _EVERY_PX), rows - 1)).astype(np.float64)
    u = np.unique(np.append(np.arange(0, cols, _EVERY_PX), cols - 1)).astype(np.float64)
    grid = np.stack(np.meshgrid(u, v), axis=-1).reshape(-1, 2)
    flat = board_from_pixels(registration, grid).reshape(len(v), len(u), 2).astype(np.float32)  # to a tenth of a µm
    x, y = (_between(_between(flat[:, :, axis], v, rows).T, u, cols).T for axis in (0, 1))
    return x, y


def _between(values: Float32, at: Array, count: int) -> Float32:
    """Values (k, n) at places 0 = at[0] < … < at[k − 1] = ``count`` − 1 interpolated at 0 … ``count`` − 1."""
    place = np.arange(count)
    before = np.clip(np.searchsorted(at, place, side="right") - 1, 0, max(len(at) - 2, 0))
    after = np.minimum(before + 1, len(at) - 1)
    share = ((place - at[before]) / np.maximum(at[after] - at[before], 1.0)).astype(np.float32)[:, None]
    # what is not known counts for nothing where its share is none
    return np.where(share == 0.0, values[before], values[before] * (1.0 - share) + values[after] * share)


def _outline_mask(registration: Registration, outline: Outline, sigma_px: float) -> NDArray[np.bool_]:
    """Pixels whose blur stays within the board's edges and clear of its holes."""
    import shapely

    shape: BaseGeometry = outline.polygon
    if outline.from_bodies:
        shape = shape.buffer(_HULL_MARGIN_MM)
    shape = shape.simplify(0.02)
    rows, cols = registration.shape_px
    if shape.is_empty:
        return np.ones((rows, cols), dtype=bool)

    def to_pixels(points: Array) -> Array:
        return pixels_from_board(registration, np.column_stack([points, np.zeros(len(points))]))

    # long straight edges bend in a lens: cut them first
    shape = shapely.transform(shapely.segmentize(shape, 10.0 * registration.mm_per_px), to_pixels)
    if not np.isfinite(shapely.get_coordinates(shape)).all():
        return np.ones((rows, cols), dtype=bool)
    away = 2.5 * math.hypot(sigma_px, 0.29) + 0.2 / registration.mm_per_px
    inner = shapely.make_valid(shape).buffer(-away)
    import cv2

    mask = np.zeros((rows, cols), dtype=np.uint8)
    for polygon in shapely.get_parts(inner):
        rings = [
            np.round(shapely.get_coordinates(r) * 16).astype(np.int32) for r in (polygon.exterior, *polygon.interiors)
        ]
        cv2.fillPoly(mask, rings, 1, shift=4)
    return np.asarray(mask > 0)


def board_prior(field: BoardField, k_in_radiance: float) -> csr_array:
    """Inverse covariance (knots, knots) of the board's smoothness.

    A pull too weak to matter elsewhere keeps knots that no pixel sees from floating.
    """
    from scipy.sparse import csr_array, identity

    width = priors.BOARD_CURVATURE_K_PER_MM2 * field.step_mm**2 * k_in_radiance
    rough = field.roughness() / width
    return csr_array(rough.T @ rough + identity(field.knots) * (1e-4 / k_in_radiance) ** 2)
