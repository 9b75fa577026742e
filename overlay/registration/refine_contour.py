"""The board's outline in the frame: the strongest step along its normals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, read_only
from overlay.board.model import Board
from overlay.registration.camera import Pinhole
from overlay.registration.evidence import Evidence, Pose
from overlay.registration.refine_frame import Smoothed

_EVERY_PX = 4.0  # blur makes closer places of an edge one
_FINEST_MM = 0.4  # finer than outlines are drawn
_LEAST_HOLE_PX = 14.0  # smaller holes show a patch, not an edge
_LEAST_STEP = 4.0  # of the frame's noise
_FLOOR_PX = 0.35  # what a rim, a bevel or a shadow displaces a step by


@dataclass(frozen=True, slots=True, eq=False)
class Contour:
    """Points along all rings of the outline, with the ring they are on and the next point's place."""

    xy_mm: Array  # (n, 2)
    normal_mm: Array  # (n, 2) unit vectors across the edge, outwards or inwards
    ring: NDArray[np.intp]
    across_mm: Array  # (n,) smaller extent of its ring

    def __post_init__(self) -> None:
        read_only(self)


def contour_of(board: Board, px_per_mm: float) -> Contour:
    """Points every 4 px along the outline and its larger holes; none where the outline came from the bodies."""
    import shapely

    points, normals, rings, sizes = [np.zeros((0, 2))], [np.zeros((0, 2))], [], []
    if not board.outline.from_bodies:
        step = max(_EVERY_PX / px_per_mm, _FINEST_MM)
        number = 0
        for polygon in shapely.get_parts(board.outline.polygon):
            for ring in (polygon.exterior, *polygon.interiors) if polygon.geom_type == "Polygon" else ():
                across = float(min(np.ptp(shapely.get_coordinates(ring), axis=0)))
                if across * px_per_mm < _LEAST_HOLE_PX:
                    continue
                count = max(8, min(int(ring.length / step), 1500))
                along = (np.arange(count) + 0.5) * ring.length / count
                at = shapely.get_coordinates(shapely.line_interpolate_point(ring, along))
                before = shapely.get_coordinates(shapely.line_interpolate_point(ring, along - 0.2 * step))
                after = shapely.get_coordinates(shapely.line_interpolate_point(ring, along + 0.2 * step))
                tangent = after - before
                length = np.linalg.norm(tangent, axis=1)
                good = length > 0.3 * step  # not across a corner
                tangent = tangent[good] / length[good, None]
                points.append(at[good])
                normals.append(np.column_stack([-tangent[:, 1], tangent[:, 0]]))
                rings += [number] * int(good.sum())
                sizes += [across] * int(good.sum())
                number += 1
    return Contour(np.concatenate(points), np.concatenate(normals), np.array(rings, dtype=np.intp), np.array(sizes))


def sight_contour(
    contour: Contour, pinhole: Pinhole, pose: Pose, smooth: Smoothed, reach_px: float, together: float
) -> Evidence:
    """Steps of the frame across the outline.

    Parameters
    ----------
    reach_px
        How far to look to either side.
    together
        Neighbouring points, so many on either side (standard deviation), look for one common displacement: hot parts
        near the edge do not mislead them then. 0: each by itself.
    """
    from scipy.ndimage import map_coordinates

    xyz = np.column_stack([contour.xy_mm + pose.shift_mm, np.zeros(len(contour.xy_mm))])
    uv = pinhole.pixels(pose.parameters, xyz)
    slopes = pinhole.board_jacobian(pose.parameters, xyz)[:, :, :2]
    tangent = np.einsum("nij,nj->ni", slopes, np.column_stack([contour.normal_mm[:, 1], -contour.normal_mm[:, 0]]))
    length = np.linalg.norm(tangent, axis=1)
    rows, cols = smooth.values_c.shape
    blur_px = smooth.blur_px
    inside = np.isfinite(uv).all(axis=1) & (length > 0)
    inside &= (uv > -reach_px / 2).all(axis=1) & (uv[:, 0] < cols + reach_px / 2) & (uv[:, 1] < rows + reach_px / 2)
    if not inside.any():
        return nothing()
    scale = np.sqrt(np.abs(np.linalg.det(np.nan_to_num(slopes))))
    open_px = contour.across_mm * scale / 3.0  # further on the opposite side of a narrow board or hole is as near
    uv, tangent, ring = uv[inside], tangent[inside] / length[inside, None], contour.ring[inside]
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    step = max(0.5, blur_px / 2.0)
    t = np.arange(-np.ceil(reach_px / step) - 1, np.ceil(reach_px / step) + 2) * step
    places = uv[:, None, :] + t[None, :, None] * normal[:, None, :]
    off = np.abs(t)[None, :] > open_px[inside, None]
    off |= ((places < 0) | (places > np.array([cols - 1.0, rows - 1.0]))).any(axis=2)
    profile = map_coordinates(smooth.values_c, [places[..., 1], places[..., 0]], order=1, mode="nearest")
    change = np.abs(profile[:, 2:] - profile[:, :-2]) / (2.0 * step)
    change[off[:, 2:] | off[:, :-2]] = 0.0
    t = t[1:-1]
    noise_of_change = smooth.noise_k / (3.5 * blur_px) / blur_px  # a Gaussian filter's derivative
    strength = change.max(axis=1)
    votes = change / np.maximum(strength, 1e-9)[:, None]
    if together > 0:
        votes = _along_rings(votes * (strength > _LEAST_STEP * noise_of_change)[:, None], ring, together)
    peak = np.argmax(votes, axis=1)
    index = np.arange(len(peak))
    kept = (peak > 0) & (peak < len(t) - 1) & (change[index, peak] > _LEAST_STEP * noise_of_change)
    index, peak = index[kept], peak[kept]
    low, middle, high = votes[index, peak - 1], votes[index, peak], votes[index, peak + 1]
    curve = np.maximum(2.0 * middle - low - high, 1e-9)
    found = t[peak] + np.clip((high - low) / (2.0 * curve), -1.0, 1.0) * step
    u_px = np.hypot(_FLOOR_PX * blur_px, 0.5 * noise_of_change / np.maximum(change[index, peak], 1e-9) * blur_px)
    at = (uv[index] * normal[index]).sum(axis=1) + found
    # neighbours repeat each other's errors: four samples count as one
    return Evidence(
        xyz_mm=np.column_stack([contour.xy_mm, np.zeros(len(contour.xy_mm))])[inside][index],
        along=normal[index],
        at=at,
        u_px=2.0 * u_px,
        outline=np.ones(len(index), dtype=bool),
        source=np.arange(len(index)),
    )


def nothing() -> Evidence:
    """No evidence at all."""
    none = np.zeros((0, 2))
    return Evidence(np.zeros((0, 3)), none, none[:, 0], none[:, 0], np.zeros(0, dtype=bool), np.zeros(0, dtype=np.intp))


def _along_rings(votes: Array, ring: NDArray[np.intp], together: float) -> Array:
    from scipy.ndimage import gaussian_filter1d

    out = votes.copy()
    for number in np.unique(ring):
        here = ring == number
        out[here] = gaussian_filter1d(votes[here], together, axis=0, mode="wrap")
    return out
