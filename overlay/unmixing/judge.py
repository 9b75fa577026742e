"""What the joint solution is worth: groups it cannot tell apart, faults it shows, and the pose it found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.board import anatomy
from overlay.registration.camera import Pinhole
from overlay.registration.fit_models import surface_matrix
from overlay.registration.model import Registration
from overlay.registration.project import projection_of
from overlay.unmixing import priors
from overlay.unmixing.picture import Mixture, Picture
from overlay.unmixing.rings import CAP, PAD, TOP, WALL
from overlay.unmixing.solids import Solids
from overlay.unmixing.solve import Solution
from overlay.unmixing.state import State

POSE_FAULT = 2.0
"""The pose's uncertainty over that of the solution: drawn edges have faults in common."""
_WORTH_MOVING = 0.7  # a refined pose must leave less than this of the variance
# A pose that moves bodies by less (rms), or by less than this share of what is uncertain, is the one that was given.
_SAME_POSE_PX, _SAME_POSE_SHARE = 0.02, 0.15
_OPPOSITE = (
    0.15  # correlation of two errors from which on only the sum counts as known (two chips within a pixel: 0.20)
)


def around(bodies: Solids) -> Array:
    """Eight points on the board around each body (8 n, 2)."""
    ring = np.array([[1, 0], [1, 1], [0, 1], [-1, 1], [-1, 0], [-1, -1], [0, -1], [1, -1]], dtype=np.float64)
    local = ring * (bodies.size_mm / 2.0 + 0.5)[:, None, :]
    return np.asarray((bodies.center_mm[:, None, :2] + local @ bodies.axes).reshape(-1, 2))


def inseparable(bodies: Solids, alone: Array, covariance: Array, k_in_radiance: float) -> tuple[tuple[str, ...], ...]:
    """Groups of parts whose errors are so much each other's opposite that only their sum is known.

    Judged by the covariance ``alone`` (n, n), without what all parts have in common, and only where a part is
    uncertain by more than 2 K.
    """
    from scipy.sparse.csgraph import connected_components

    u = np.sqrt(np.diag(alone))
    unsure = np.sqrt(np.diag(covariance)) > 2.0 * k_in_radiance
    linked = (alone < -_OPPOSITE * np.outer(u, u)) & np.logical_or.outer(unsure, unsure)
    count, label = connected_components(linked, directed=False)
    linked_to = np.flatnonzero(np.bincount(label, minlength=count) > 1)
    groups = [np.flatnonzero(label == i) for i in linked_to]
    return tuple(tuple(bodies.faces[i].component.refdes for i in group) for group in groups)


def clipped(bodies: Solids, state: State) -> tuple[bool, ...]:
    """Whose size stands at the limit of what is believed along both sides alike, or whose place along both axes.

    One of the four unknowns stands there for one right part in fourteen, pushed by noise and neighbours; a wrong size
    is wrong along both sides, and both too large or both too small (measured on simulated boards, every third
    package drawn 1.4 times too large).
    """
    at_limit = np.sign(state.grown_mm) * (np.abs(state.grown_mm) >= 0.999 * priors.CLIP * bodies.size_u_mm)
    resized = np.abs(at_limit.sum(axis=1)) >= 2
    moved = np.all(np.abs(state.shift_px) >= 0.999 * priors.CLIP * bodies.shift_u_px[:, None], axis=1)
    return tuple(bool(value) for value in resized | moved)


def faults(mixture: Mixture, state: State) -> Array:
    """Variances (shared unknowns,) that the shared unknowns have beside those of the solution."""
    layout = mixture.layout
    out = np.zeros(layout.count)
    far = priors.CAP_FAR_FAULT * (state.caps - anatomy.CAP_SHARE)
    out[layout.caps], out[layout.pads] = priors.CAP_FAULT**2 + far**2, priors.PAD_FAULT**2
    out[layout.blur] = (priors.BLUR_FAULT * state.sigma_px) ** 2
    return out[layout.local :]


def widened(
    covariance: Array, residual: Array, picture: Picture, short_px: Array, rise_k: Array, k_in_radiance: float
) -> Array:
    """The covariance with what the model's own faults add.

    Parameters
    ----------
    residual : (rows, cols)
        In standard deviations; nan where a pixel was not used. Where more is left around a small part than
        expected, its uncertainty grows in proportion.
    rise_k : (n,)
        Of each part above the board around it.
    """
    n = len(short_px)
    wider = np.ones(n)
    for lot, on in zip(picture.lots, picture.surfaces, strict=True):
        left = lot.of(residual)
        near = (on.share[:, [TOP, CAP, WALL, PAD]].sum(axis=1) > 0.05) & np.isfinite(left)
        count = near.sum(axis=(1, 2))
        rms = np.sqrt(np.sum(np.where(near, left, 0.0) ** 2, axis=(1, 2)) / np.maximum(count, 1))
        small = (short_px[lot.bodies] < 6.0) & (count > 0)
        wider[lot.bodies] = np.where(small, np.maximum(1.0, 0.5 * rms), 1.0)
    covariance = covariance * np.outer(wider, wider)
    share = priors.RISE_FAULT * np.select([short_px < 1.5, short_px < 6.0], [3.0, 1.0], 1.0 / 3.0)
    floor_k = np.where(short_px < 6.0, priors.LEAST_U_K, priors.LEAST_RESOLVED_U_K)
    own = np.diag(covariance) + (share * rise_k * k_in_radiance) ** 2
    covariance[np.arange(n), np.arange(n)] = np.maximum(own, (floor_k * k_in_radiance) ** 2)
    return covariance


def refined(
    given: Registration, state: State, solution: Solution, pose_factor: Array, bodies: Solids
) -> tuple[Registration, bool]:
    """The registration that the values belong to, and whether the frame knows it better than the points do."""
    p = len(state.pose)
    px = bodies.by_pose @ pose_factor
    moved = float(np.sqrt(np.mean(np.sum((px @ state.pose) ** 2, axis=1)))) if p else 0.0
    known = float(np.sqrt(np.sum(px**2) / len(px)))
    if moved <= max(_SAME_POSE_PX, _SAME_POSE_SHARE * known):
        return given, False
    posterior = POSE_FAULT**2 * solution.shared_covariance[-p:, -p:]
    before, after = np.einsum("nij,nij->", px, px), np.einsum("nij,jk,nik->", px, posterior, px)
    better = bool(after <= _WORTH_MOVING * before)
    parameters = given.parameters + pose_factor @ state.pose
    projection = projection_of(given)
    covariance = pose_factor @ posterior @ pose_factor.T if better else given.covariance
    changed = replace(given, parameters=parameters, covariance=covariance, refined=given.refined or better)
    camera = projection.camera(parameters) if isinstance(projection, Pinhole) else None
    return replace(changed, camera=camera, pixel_from_board=surface_matrix(projection, parameters)), better
