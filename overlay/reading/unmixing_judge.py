"""What the joint solution is worth: groups it cannot tell apart, faults it shows, and the pose it found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from overlay.frames.frame import Array
from overlay.reading.unmixing_bodies import Bodies
from overlay.reading.unmixing_solve import Solution
from overlay.reading.unmixing_state import State
from overlay.registration.camera import Pinhole
from overlay.registration.fit import surface_matrix
from overlay.registration.model import Registration
from overlay.registration.project import projection_of

_FAR_POSE = 4.0  # prior standard deviations beyond which a pose of the frame's own is not believed


def around(bodies: Bodies) -> Array:
    """Eight points on the board around each body (8 n, 2)."""
    ring = np.array([[1, 0], [1, 1], [0, 1], [-1, 1], [-1, 0], [-1, -1], [0, -1], [1, -1]], dtype=np.float64)
    local = ring * (bodies.size_mm / 2.0 + 0.5)[:, None, :]
    return np.asarray((bodies.center_mm[:, None, :2] + local @ bodies.axes).reshape(-1, 2))


def inseparable(bodies: Bodies, covariance: Array, k_in_radiance: float) -> tuple[tuple[str, ...], ...]:
    """Groups of parts whose errors are so much each other's opposite that only their sum is known."""
    from scipy.sparse.csgraph import connected_components

    u = np.sqrt(np.diag(covariance))
    linked = (covariance < -0.5 * np.outer(u, u)) & (np.minimum.outer(u, u) > 2.0 * k_in_radiance)
    count, label = connected_components(linked, directed=False)
    groups = [np.flatnonzero(label == i) for i in range(count)]
    return tuple(tuple(bodies.faces[i].component.refdes for i in group) for group in groups if len(group) > 1)


def refined(
    given: Registration, state: State, solution: Solution, local: int, pose_factor: Array, bodies: Bodies
) -> tuple[Registration, bool, tuple[str, ...]]:
    """The registration with what the frame says of it, where it says something."""
    p = len(state.pose)
    if p == 0:
        return given, False, ()
    posterior = solution.shared_covariance[-p:, -p:]
    if float(np.linalg.norm(state.pose)) > _FAR_POSE * np.sqrt(p):
        return given, False, ("the frame's own edges contradict the control points: check them",)
    before = np.einsum("nij,nij->n", bodies.by_pose @ pose_factor, bodies.by_pose @ pose_factor).mean()
    after = np.einsum("nij,jk,nik->n", bodies.by_pose @ pose_factor, posterior, bodies.by_pose @ pose_factor).mean()
    if after > 0.7 * before:
        return given, False, ()
    parameters = given.parameters + pose_factor @ state.pose
    projection = projection_of(given)
    changed = replace(given, parameters=parameters, covariance=pose_factor @ posterior @ pose_factor.T, refined=True)
    camera = projection.camera(parameters) if isinstance(projection, Pinhole) else None
    return replace(changed, camera=camera, pixel_from_board=surface_matrix(projection, parameters)), True, ()
