"""Gauss–Newton on a camera's pose from what the frame shows: contours and the places of parts.

The unknowns are the eight of the camera and a shift of the outline against the placements (2, mm): without it an
outline that lies half a millimetre off would drag the pose along.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, read_only
from overlay.registration.camera import Pinhole
from overlay.registration.least_squares import CameraPriors, camera_prior_terms, symmetric_inverse

SHIFT_U_MM = 0.5
"""Standard deviation of the outline's shift against the placements before the frame is looked at."""
_ROUNDS = 5  # steps of reweighted least squares
_START_U = np.array([0.3, 0.3, 0.3, 0.1, 0.1, 0.1, 0.1, 0.1])
"""How far one fit may carry the camera: turns in rad, place over distance, log of the focal length, radial term."""
_REDESCEND = 4.0  # residuals beyond so many standard deviations count for nothing (Tukey's biweight)


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """Pieces of evidence: a board point, and along one or two directions of the frame how far off it is seen.

    Each row is one direction: ``along · (pixel of xyz_mm) = at`` with standard uncertainty ``u_px``.
    """

    xyz_mm: Array  # (m, 3)
    along: Array  # (m, 2) unit vectors in the frame
    at: Array  # (m,)
    u_px: Array  # (m,)
    outline: NDArray[np.bool_]  # (m,) belongs to the outline, and shifts with it
    source: NDArray[np.intp]  # (m,) rows of one part share a number; all others have their own

    def __post_init__(self) -> None:
        read_only(self)

    def __len__(self) -> int:
        return len(self.at)

    def only(self, which: NDArray[np.bool_]) -> Evidence:
        """Some rows."""
        return Evidence(
            self.xyz_mm[which],
            self.along[which],
            self.at[which],
            self.u_px[which],
            self.outline[which],
            self.source[which],
        )


def joined(*many: Evidence) -> Evidence:
    """All rows together; sources are numbered on."""
    offset, sources = 0, []
    for one in many:
        sources.append(one.source + offset)
        offset += int(one.source.max(initial=-1)) + 1
    return Evidence(
        np.concatenate([one.xyz_mm for one in many]),
        np.concatenate([one.along for one in many]),
        np.concatenate([one.at for one in many]),
        np.concatenate([one.u_px for one in many]),
        np.concatenate([one.outline for one in many]),
        np.concatenate(sources),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """Where a fit stands: camera parameters (8,), shift of the outline (2,) in mm, and their covariance (10, 10)."""

    parameters: Array
    shift_mm: Array
    covariance: Array

    def __post_init__(self) -> None:
        read_only(self)


def pose_from_evidence(
    pinhole: Pinhole, start: Pose, seen: Evidence, priors: CameraPriors, rounds: int = _ROUNDS
) -> Pose:
    """The pose nearest to what was sighted; evidence far off the rest counts for nothing."""
    parameters, shift = start.parameters.copy(), start.shift_mm.copy()
    covariance = start.covariance
    hold = 1.0 / _START_U**2
    hold[3:6] /= float(parameters[3:6] @ parameters[3:6])
    for turn in range(rounds):
        residuals, slopes = _terms(pinhole, parameters, shift, seen)
        weights = _weights(residuals, seen, loose=turn == 0)
        prior, prior_slopes = camera_prior_terms(pinhole, parameters, priors)
        matrix = np.zeros((10, 10))
        matrix[:8, :8] = prior_slopes.T @ prior_slopes + np.diag(hold)
        right = np.zeros(10)
        right[:8] = prior_slopes.T @ prior + hold * (parameters - start.parameters)
        matrix[8, 8] = matrix[9, 9] = SHIFT_U_MM**-2
        right[8:] = shift / SHIFT_U_MM**2
        weighted = slopes * weights[:, None]
        matrix += weighted.T @ slopes
        right += weighted.T @ residuals
        covariance = symmetric_inverse(matrix)
        step = -covariance @ right
        if not np.isfinite(step).all():
            break
        parameters, shift = parameters + step[:8], shift + step[8:]
        if turn > 0 and float((np.abs(step[:8]) * np.sqrt(hold)).max()) < 1e-4:
            break
    return Pose(parameters, shift, covariance)


def _terms(pinhole: Pinhole, parameters: Array, shift_mm: Array, seen: Evidence) -> tuple[Array, Array]:
    """Residuals (m,) over their uncertainty and derivatives (m, 10)."""
    xyz = seen.xyz_mm.copy()
    xyz[seen.outline, :2] += shift_mm
    look = pinhole.look(parameters, xyz)
    along = seen.along / seen.u_px[:, None]
    off = (look.pixels * along).sum(axis=1) - seen.at / seen.u_px
    slopes = np.empty((len(seen), 10))
    slopes[:, :8] = (along[:, None, :] @ look.by_parameters)[:, 0]
    slopes[:, 8:] = (along[:, None, :] @ look.by_board[:, :, :2])[:, 0] * seen.outline[:, None]
    lost = ~np.isfinite(off) | ~np.isfinite(slopes).all(axis=1)
    off[lost], slopes[lost] = 0.0, 0.0
    return off, slopes


def _weights(residuals: Array, seen: Evidence, *, loose: bool) -> Array:
    """Tukey weights (m,), for outline and parts apart; all rows of one part share the least."""
    weights = np.ones(len(residuals))
    for group in (seen.outline, ~seen.outline):
        if group.any():
            spread = max(1.0, 1.4826 * float(np.median(np.abs(residuals[group]))))
            ratio = residuals[group] / (_REDESCEND * spread * (1.5 if loose else 1.0))
            weights[group] = np.where(np.abs(ratio) < 1.0, (1.0 - ratio**2) ** 2, 0.0) / spread**2
    if len(weights):
        least = np.full(int(seen.source.max()) + 1, np.inf)
        np.minimum.at(least, seen.source, weights)
        weights = least[seen.source]
    return weights
