"""What the joint solution is worth: groups it cannot tell apart, faults it shows, and the pose it found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.board import anatomy
from overlay.registration.camera import Pinhole
from overlay.registration.fit import surface_matrix
from overlay.registration.model import Registration
from overlay.registration.project import projection_of
from overlay.unmixing import priors
from overlay.unmixing.normal import Mixture, Picture
from overlay.unmixing.rings import CAP, PAD, TOP, WALL
from overlay.unmixing.solids import Solids
from overlay.unmixing.solve import Solution
from overlay.unmixing.state import State

POSE_FAULT = 2.0
"""The pose's uncertainty over that of the solution: drawn edges have faults in common."""
_WORTH_MOVING = 0.7  # a refined pose must leave less than this of the variance
_OPPOSITE = 0.35  # correlation of two errors from which on only the sum counts as known
_FAR_POSE = 4.0  # prior standard deviations beyond which a pose of the frame's own is not believed


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
    groups = [np.flatnonzero(label == i) for i in range(count)]
    return tuple(tuple(bodies.faces[i].component.refdes for i in group) for group in groups if len(group) > 1)


def clipped(bodies: Solids, state: State) -> tuple[bool, ...]:
    """Whose own shift or size stands at the limit of what is believed."""
    at_limit = np.any(np.abs(state.shift_px) >= 0.999 * priors.CLIP * bodies.shift_u_px[:, None], axis=1)
    at_limit |= np.any(np.abs(state.grown_mm) >= 0.999 * priors.CLIP * bodies.size_u_mm, axis=1)
    return tuple(bool(value) for value in at_limit)


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
    for i, window in enumerate(picture.windows):
        near = residual[window.slices][window.share[[TOP, CAP, WALL, PAD]].sum(axis=0) > 0.05]
        near = near[np.isfinite(near)]
        if short_px[i] < 6.0 and len(near):
            wider[i] = max(1.0, 0.5 * float(np.sqrt(np.mean(near**2))))
    covariance = covariance * np.outer(wider, wider)
    share = priors.RISE_FAULT * np.select([short_px < 1.5, short_px < 6.0], [3.0, 1.0], 1.0 / 3.0)
    floor_k = np.where(short_px < 6.0, priors.LEAST_U_K, priors.LEAST_RESOLVED_U_K)
    own = np.diag(covariance) + (share * rise_k * k_in_radiance) ** 2
    covariance[np.arange(n), np.arange(n)] = np.maximum(own, (floor_k * k_in_radiance) ** 2)
    return covariance


def too_far(state: State) -> bool:
    """Whether the frame's pose contradicts the control points."""
    return bool(np.linalg.norm(state.pose) > _FAR_POSE * np.sqrt(max(len(state.pose), 1)))


def refined(
    given: Registration, state: State, solution: Solution, pose_factor: Array, bodies: Solids
) -> tuple[Registration, bool]:
    """The registration with what the frame says of it, where it says something."""
    p = len(state.pose)
    if p == 0 or not np.any(state.pose):
        return given, False
    posterior = POSE_FAULT**2 * solution.shared_covariance[-p:, -p:]
    px = bodies.by_pose @ pose_factor
    before, after = np.einsum("nij,nij->", px, px), np.einsum("nij,jk,nik->", px, posterior, px)
    if after > _WORTH_MOVING * before:
        return given, False
    parameters = given.parameters + pose_factor @ state.pose
    projection = projection_of(given)
    changed = replace(given, parameters=parameters, covariance=pose_factor @ posterior @ pose_factor.T, refined=True)
    camera = projection.camera(parameters) if isinstance(projection, Pinhole) else None
    return replace(changed, camera=camera, pixel_from_board=surface_matrix(projection, parameters)), True
