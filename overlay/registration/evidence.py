"""Gauss–Newton on a camera's pose from what the frame shows: contours and the places of parts.

The unknowns are the eight of the camera and a shift of the outline against the placements (2, mm): without it an
outline that lies half a millimetre off would drag the pose along.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Mask, read_only
from overlay.registration.camera import Pinhole
from overlay.registration.least_squares import CameraPriors, camera_prior_terms, symmetric_inverse
from overlay.uncertainty import MAD_TO_SIGMA

SHIFT_U_MM = 0.5
"""Standard deviation of the outline's shift against the placements before the frame is looked at."""
_ROUNDS = 5  # steps of reweighted least squares
_START_U = np.array([0.3, 0.3, 0.3, 0.1, 0.1, 0.1, 0.1, 0.1])
"""How far one fit may carry the camera: turns in rad, place over distance, log of the focal length, radial term."""
_SETTLED = 1e-4  # of how far a fit may carry the camera: less than anything shows
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
    source: NDArray[np.intp]  # (m,) rows of one part share a number and follow each other; others have their own

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
    return poses_from_shares(pinhole, start, seen, np.ones((1, len(seen)), dtype=bool), priors, rounds)[0]


def poses_from_shares(
    pinhole: Pinhole, start: Pose, seen: Evidence, shares: Mask, priors: CameraPriors, rounds: int
) -> list[Pose]:
    """As `pose_from_evidence`, from each of several shares (b, m) of the evidence: they cost little more than one."""
    parameters, shift = (np.repeat(one[None], len(shares), axis=0) for one in (start.parameters, start.shift_mm))
    hold = 1.0 / _START_U**2
    hold[3:6] /= float(start.parameters[3:6] @ start.parameters[3:6])
    covariance = np.repeat(start.covariance[None], len(shares), axis=0)
    on = np.ones(len(shares), dtype=bool)
    for turn in range(rounds):
        residuals, slopes = _terms(pinhole, parameters, shift, seen)
        weights = _weights(residuals, seen, shares, loose=turn == 0)
        prior, prior_slopes = camera_prior_terms(pinhole, parameters, priors)
        turned = (slopes * weights[..., None]).swapaxes(-1, -2)
        matrix, right = turned @ slopes, (turned @ residuals[..., None])[..., 0]
        turned = prior_slopes.swapaxes(-1, -2)
        matrix[:, :8, :8] += turned @ prior_slopes + np.diag(hold)
        right[:, :8] += (turned @ prior[..., None])[..., 0] + hold * (parameters - start.parameters)
        matrix[:, (8, 9), (8, 9)] += SHIFT_U_MM**-2
        right[:, 8:] += shift / SHIFT_U_MM**2
        inverse = symmetric_inverse(matrix)
        step = -(inverse @ right[..., None])[..., 0]
        covariance[on] = inverse[on]
        on &= np.isfinite(step).all(axis=1)
        parameters[on] += step[on, :8]
        shift[on] += step[on, 8:]
        if turn > 0:
            on &= (np.abs(step[:, :8]) * np.sqrt(hold)).max(axis=1) >= _SETTLED
        if not on.any():
            break
    return [Pose(*each) for each in zip(parameters, shift, covariance, strict=True)]


def _terms(pinhole: Pinhole, parameters: Array, shift_mm: Array, seen: Evidence) -> tuple[Array, Array]:
    """Residuals (b, m) over their uncertainty and derivatives (b, m, 10), at several poses."""
    xyz = np.repeat(seen.xyz_mm[None], len(parameters), axis=0)
    xyz[..., :2] += seen.outline[:, None] * shift_mm[:, None]
    look = pinhole.look(parameters, xyz)
    direction = seen.along / seen.u_px[:, None]
    off = (look.pixels * direction).sum(axis=-1) - seen.at / seen.u_px
    by_parameters, by_board = look.along(direction)
    slopes = np.concatenate([by_parameters, by_board[..., :2] * seen.outline[:, None]], axis=-1)
    lost = ~np.isfinite(off) | ~np.isfinite(slopes).all(axis=-1)
    off[lost], slopes[lost] = 0.0, 0.0
    return off, slopes


def _weights(residuals: Array, seen: Evidence, shares: Mask, *, loose: bool) -> Array:
    """Tukey weights (b, m), for outline and parts apart; all rows of one part share the least."""
    weights = shares.astype(np.float64)
    for group in (np.flatnonzero(seen.outline), np.flatnonzero(~seen.outline)):
        if len(group):
            spread = np.maximum(1.0, MAD_TO_SIGMA * _medians(np.abs(residuals[:, group]), shares[:, group]))[:, None]
            ratio = residuals[:, group] / (_REDESCEND * spread * (1.5 if loose else 1.0))
            weights[:, group] *= np.where(np.abs(ratio) < 1.0, (1.0 - ratio**2) ** 2, 0.0) / spread**2
    if len(seen):
        first = np.flatnonzero(np.diff(seen.source, prepend=-1))
        least = np.minimum.reduceat(weights, first, axis=1)
        weights = np.repeat(least, np.diff(first, append=len(seen)), axis=1)
    return weights


def _medians(values: Array, shares: Mask) -> Array:
    """Median (b,) of those values (b, m) of each row that belong to its share; 0 for none."""
    ordered = np.sort(np.where(shares, values, np.inf), axis=1)
    count, row = shares.sum(axis=1), np.arange(len(values))
    middle = (
        ordered[row, np.maximum(count - 1, 0) // 2] + ordered[row, np.minimum(count, values.shape[1] - 1) // 2]
    ) / 2.0
    return np.where(count > 0, middle, 0.0)
