"""From a rough registration to the pose the frame itself asks for."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, read_only
from overlay.board.model import Board
from overlay.registration.camera import Pinhole
from overlay.registration.evidence import Evidence, Pose, joined, pose_from_evidence
from overlay.registration.fit import sightings
from overlay.registration.fit_models import fit_camera
from overlay.registration.least_squares import CameraPriors, Sightings, agreeing_priors, camera_priors
from overlay.registration.model import Lens, Registration
from overlay.registration.project import pixels_from_board
from overlay.registration.refine_contour import Contour, contour_of, nothing, sight_contour
from overlay.registration.refine_frame import ReadyFrame
from overlay.registration.refine_pictures import Sightline
from overlay.registration.refine_vote import CAP, peaks, vote
from overlay.registration.refine_windows import Gains, gains_of
from overlay.registration.targets import Targets, targets_of

_CONTOUR_STEPS = ((20.0, 12.0), (10.0, 6.0), (6.0, 3.0))
"""Reach in px, and how many neighbouring points look together, in frames that are smoothed less and less."""
_SHARE_OF_BOARD = (1.0, 1.0 / 6.0, 1.0 / 12.0)
"""Over how much of the board parts vote together, round by round."""
_VOTE_REACH = 8  # px that parts may be off together
_PART_REACH = (4, 3, 2)  # px that each may be off by itself, round by round
NEAR_PX = 4
"""How far around its place a part is looked for by a pose that is settled: to less."""
_MOST_ROUNDS = 8  # at most: it ends earlier where settled
_SETTLED_PX = 0.1  # less than any reading notices
_MOST_PARTS = 90
"""More parts than these make the pose no better, only later."""


@dataclass(frozen=True, slots=True, eq=False)
class SearchSpace:
    """What stays the same while the pose is looked for."""

    pinhole: Pinhole
    priors: CameraPriors
    frame: ReadyFrame
    bodies: Targets  # all of the seen side
    contour: Contour
    surface_mm: Array  # (m, 3) places all over the board, by which poses are compared

    def __post_init__(self) -> None:
        read_only(self)

    def pixels(self, pose: Pose) -> Array:
        """Where a pose puts those places."""
        return self.pinhole.pixels(pose.parameters, self.surface_mm)

    def apart_px(self, one: Pose, other: Pose) -> float:
        """Rms distance of two poses over the board; inf where one does not see it."""
        return rms_px(self.pixels(one), self.pixels(other))

    def gains(
        self, pose: Pose, targets: Targets, radius: int, stride: int = 1, windows_of: Targets | None = None
    ) -> Gains:
        """Gains of parts about a pose."""
        by = self.sightline(pose)
        return gains_of(targets, self.bodies, by, self.frame.compressed, radius, stride, windows_of)

    def sightline(self, pose: Pose) -> Sightline:
        """The camera at a pose."""
        return Sightline(self.pinhole, pose.parameters)


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The end of one climb: the pose, the evidence it rests on, and how its targets show around it."""

    pose: Pose
    seen: Evidence
    targets: Targets
    gains: Gains  # within `NEAR_PX`

    def gains_of(self, space: SearchSpace, parts: Targets) -> Gains:
        """The same of other parts, of which its targets' are known."""
        known = {name: index for index, name in enumerate(self.targets.refdes)}
        at = np.array([known.get(name, -1) for name in parts.refdes], dtype=np.intp)
        rest = space.gains(self.pose, parts.only(at < 0), NEAR_PX)
        values, places = np.empty((len(at), *rest.values.shape[1:])), np.empty((len(at), 2))
        for which, found, of in ((at < 0, rest, slice(None)), (at >= 0, self.gains, at[at >= 0])):
            values[which], places[which] = found.values[of], found.predicted_px[of]
        return Gains(values, rest.radius, rest.stride, places)


def rms_px(one: Array, other: Array) -> float:
    """Root of the mean squared distance of places (n, 2)."""
    value = math.sqrt(float(((one - other) ** 2).sum(axis=1).mean()))
    return value if math.isfinite(value) else math.inf


def search_space(registration: Registration, frame: ReadyFrame, board: Board, lens: Lens) -> tuple[SearchSpace, Pose]:
    """A board made ready to be looked for in a frame, and the registration as the pose of a camera."""
    shape_px, side = registration.shape_px, registration.side
    surface = surface_grid(board)
    if registration.camera is not None:
        pinhole = Pinhole(side, shape_px, registration.center_mm)
        parameters = registration.parameters
        priors = agreeing_priors(lens, pinhole, parameters)
    else:
        priors = camera_priors(lens, shape_px)
        fit = fit_camera(_told(registration, surface), side, shape_px, priors, widen=False)
        assert isinstance(fit.projection, Pinhole)
        pinhole, parameters = fit.projection, fit.parameters
    contour = contour_of(board, 1.0 / max(registration.mm_per_px, 1e-6))
    space = SearchSpace(pinhole, priors, frame, targets_of(board, side), contour, surface)
    return space, Pose(np.asarray(parameters, dtype=np.float64), np.zeros(2), np.eye(10))


def _told(registration: Registration, surface_mm: Array) -> Sightings:
    """What a flat registration knows of a camera: its points, or once it is refined itself all of the surface.

    A homography of a few sloppy points runs off between and beyond them; a camera, even of a lens nobody told, less.
    """
    used = [item.point for item in registration.points if not item.left_out]
    if len(used) >= 2 and not registration.refined:
        return sightings(used)
    uv = pixels_from_board(registration, surface_mm)
    seen = np.isfinite(uv).all(axis=1)
    return Sightings(surface_mm[seen], uv[seen], np.full(int(seen.sum()), 2.0))


def surface_grid(board: Board) -> Array:
    """Places (63, 3) all over the board's surface."""
    x0, y0, x1, y1 = board.outline.polygon.bounds
    x, y = np.meshgrid(np.linspace(x0, x1, 9), np.linspace(y0, y1, 7))
    return np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])


def climb(space: SearchSpace, start: Pose, *, with_contour: bool) -> Found:
    """The pose the frame asks for near a start: outline first, then parts together, then one by one.

    Without the contour parts alone decide, which helps where clutter or a false outline leads astray.
    """
    pose = start
    contour = space.contour if with_contour else None
    if contour is not None:
        for smooth, (reach, together) in zip(space.frame.coarse, _CONTOUR_STEPS, strict=True):
            seen = sight_contour(contour, space.pinhole, pose, smooth, reach, together)
            pose = pose_from_evidence(space.pinhole, pose, seen, space.priors)
    span = float(np.hypot(*np.ptp(space.surface_mm[:, :2], axis=0)))
    targets = likely(space.bodies)
    for number, share in enumerate(_SHARE_OF_BOARD):
        reach = _VOTE_REACH if with_contour or number else 2 * _VOTE_REACH
        gains = space.gains(pose, targets, reach, stride=2 if number < 2 else 1)
        if number == 0:
            pose, gains = _together(space, pose, targets, gains)
        pose = pose_from_evidence(space.pinhole, pose, vote(targets, gains, share * span), space.priors)
    seen = nothing()
    for number in range(_MOST_ROUNDS):
        reach = _PART_REACH[min(number, len(_PART_REACH) - 1)]
        edges = nothing()
        if contour is not None:
            edges = sight_contour(contour, space.pinhole, pose, space.frame.fine, float(reach), 0.0)
        seen = joined(peaks(targets, space.gains(pose, targets, reach)), edges)
        before, pose = pose, pose_from_evidence(space.pinhole, pose, seen, space.priors)
        # with a lens nobody told, distance and focal length creep along a valley
        if number + 1 >= len(_PART_REACH) and space.apart_px(before, pose) < _SETTLED_PX:
            break
    return Found(pose, seen, targets, space.gains(pose, targets, NEAR_PX))


def _together(space: SearchSpace, pose: Pose, targets: Targets, gains: Gains) -> tuple[Pose, Gains]:
    """The pose moved by the one displacement that suits all parts best; the outline stays where it is seen."""
    total = np.minimum(gains.values, CAP).sum(axis=0)
    if not total.any():
        return pose, gains
    steps = gains.offsets()
    row, column = np.unravel_index(int(np.argmax(total)), total.shape)
    by_px = np.array([steps[column], steps[row]])
    if gains.radius == _VOTE_REACH and not by_px.any():
        return pose, gains
    moved = shifted(space, pose, by_px)
    return moved, space.gains(moved, targets, _VOTE_REACH, stride=2)


def shifted(space: SearchSpace, pose: Pose, by_px: Array) -> Pose:
    """A pose whose picture lies so many pixels aside."""
    parameters = pose.parameters.copy()
    depth, focal = parameters[5], math.exp(parameters[6])
    parameters[3:5] += by_px * depth / focal
    return Pose(parameters, pose.shift_mm, pose.covariance)


def likely(bodies: Targets) -> Targets:
    """Of very many parts a share that is spread over the board, larger ones first."""
    steady = np.flatnonzero(bodies.steady)
    if len(steady) <= _MOST_PARTS:
        return bodies.only(steady)
    size = np.minimum(bodies.half_mm[steady].min(axis=1), 1.5)
    center = bodies.center_mm[steady, :2]
    low, span = center.min(axis=0), np.maximum(np.ptp(center, axis=0), 1e-6)
    cell = np.minimum(((center - low) / span * 6).astype(int), 5) @ np.array([6, 1])
    order = np.lexsort((-size, cell))
    rank = np.empty(len(order), dtype=np.intp)  # within its cell, by size
    first = np.searchsorted(cell[order], cell[order])
    rank[order] = np.arange(len(order)) - first
    chosen: NDArray[np.intp] = steady[np.argsort(rank, kind="stable")[:_MOST_PARTS]]
    return bodies.only(np.sort(chosen))
