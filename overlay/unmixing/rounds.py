"""The rounds of the joint solution: linearise, solve, move, until it settles; never further than is believed.

Each round's step is bounded, so that edges stay where their derivatives hold. What has not settled in the rounds there
are is said: then the pose stays as it was given, and a part that still moves has no say.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array, Mask, read_only
from overlay.unmixing import priors
from overlay.unmixing.draw import draw, sweeps_of
from overlay.unmixing.edges import edges_of
from overlay.unmixing.normal import normal_equations
from overlay.unmixing.pattern import pattern_of
from overlay.unmixing.picture import Picture, picture_of
from overlay.unmixing.solve import Equations, Solution, solve, state_of, vector_of
from overlay.unmixing.state import State, moves_of
from overlay.unmixing.task import Task, outlines_of
from overlay.unmixing.windows import Lot, lots_of, still_fit

MOST_ROUNDS = 8
"""Linear first, then with geometry, each from where the last one ended …"""
HALVED_FROM = 4
"""Later rounds go half way: steps against the limits of what is believed would swing from one to another for ever."""
SETTLED_K, SETTLED_PX = 0.4, 0.05
"""… until nearly all small top faces move less than the first, and the pose moves bodies (rms) less than the second."""
UNSETTLED_K = 1.0
"""A part that still moves by more than this in the last round has no say."""
CROWDED = 1500
"""Bodies beyond which a frame has one pass of …"""
CROWDED_ROUNDS = 5
"""… so many rounds with the pose as it was registered: 5,000 bodies then take half a minute rather than three."""
LONGEST_STEP_PX = 0.7
"""The pose moves bodies by no more (rms) in one round: beyond the blur's width an edge's derivative means nothing."""
FARTHEST_POSE = 3.0
"""Prior standard deviations beyond which the pose is not let go along any direction."""
ROBUST = 3.0
"""Residuals beyond this many of their own standard deviations lose weight: traces, holes, labels."""


@dataclass(frozen=True, slots=True, eq=False)
class Result:
    """Where the rounds ended."""

    state: State
    solution: Solution
    picture: Picture
    settled: bool
    moving: Mask  # (n,) parts whose top face still moved
    at_limit: bool  # the pose went as far as it was let

    def __post_init__(self) -> None:
        read_only(self)


def settle(task: Task, *, still: bool) -> Result:
    """Linearise, solve and move until it settles; ``still``: the pose stays (its uncertainty still counts)."""
    mixture, state = task.mixture, task.start
    layout, bodies = mixture.layout, mixture.bodies
    settled, step = False, np.zeros(layout.count)
    drawn = _Drawn(task)
    last: _Round | None = None
    for number in range(CROWDED_ROUNDS if len(bodies) > CROWDED else MOST_ROUNDS):
        last = None  # nothing of one round beside what the next one makes: both at once would be most of the memory
        if number != 1:  # the first step moved nothing
            drawn.draw(state)
        last = _round(task, drawn, state, geometry=number > 0, still=still)
        step = _bounded(task, last.solution.step)
        moved = vector_of(mixture, state) + step * (1.0 if number < HALVED_FROM else 0.5)
        state = _within(state_of(mixture, moved, state))
        settled = _moved_px(task, step) < SETTLED_PX
        if number > 1 and _is_settled(task, step):
            break
    assert last is not None
    solution = last.solution
    if still:
        solution = solve(last.equations, last.right, _fixed(task, geometry=True, still=False))
    means = np.add.reduceat(np.abs(step[layout.top]), layout.tops[:-1]) / np.diff(layout.tops)
    at_limit = bool(np.any(np.abs(state.pose) >= FARTHEST_POSE))
    moving = means > UNSETTLED_K * task.k_in_radiance
    return Result(state, solution, last.picture, settled, moving, at_limit)


@dataclass(frozen=True, slots=True, eq=False)
class _Round:
    """The frame as one round drew it, and the step that it took."""

    picture: Picture
    equations: Equations
    right: Array  # of the equations, with the priors'
    solution: Solution

    def __post_init__(self) -> None:
        read_only(self)


def _round(task: Task, drawn: _Drawn, state: State, *, geometry: bool, still: bool) -> _Round:
    mixture = task.mixture
    picture = picture_of(mixture, state, drawn.outlines, drawn.lots, drawn.shares)
    weight = np.where(task.usable, 1.0 / task.variance, 0.0)
    if geometry:
        weight *= _robust((mixture.observed - picture.model) * np.sqrt(weight), task.usable)
    sweeps = sweeps_of(mixture.bodies, drawn.outlines, drawn.edges, drawn.moves) if geometry else None
    equations = normal_equations(mixture, drawn.pattern, picture, weight, sweeps)
    right = equations.right + task.prior.precision @ (task.prior.middle - vector_of(mixture, state))
    solution = solve(equations, right, _fixed(task, geometry=geometry, still=still))
    return _Round(picture, equations, right, solution)


class _Drawn:
    """What was drawn last, and the windows it was drawn in: they stay until a body leaves its own."""

    def __init__(self, task: Task) -> None:
        self._task = task
        self.moves = moves_of(task.mixture.bodies, task.mixture.layout, task.pose_factor)
        self.lots: tuple[Lot, ...] = ()

    def draw(self, state: State) -> None:
        task, shape = self._task, self._task.mixture.observed.shape
        bodies, sigma_px = task.mixture.bodies, state.sigma_px
        self.outlines = outlines_of(task, state)
        if not self.lots or not still_fit(self.lots, bodies, self.outlines, sigma_px, shape):
            self.lots = lots_of(bodies, self.outlines, sigma_px, shape)
            self.pattern = pattern_of(task.mixture, self.lots, task.usable, task.prior.precision)
        self.edges = edges_of(bodies, self.outlines, sigma_px, self.lots)
        self.shares = [
            draw(self.edges, lot, pieces, bodies.walled)
            for lot, pieces in zip(self.lots, self.edges.pieces, strict=True)
        ]


def looks_coated(result: Result) -> bool:
    """Whether the pads nearly vanish: what mirrors nothing is coated."""
    pads = result.state.pads
    return bool(len(pads)) and float(np.median(pads)) < priors.COATED_PADS


def misfit(task: Task, result: Result) -> float:
    """What the solution leaves of the frame, and how far it went from what is believed: sums of squared deviations."""
    residual = (task.mixture.observed - result.picture.model) / np.sqrt(task.variance)
    size = np.abs(residual[task.usable])
    left = np.where(size < ROBUST, size**2, 2.0 * ROBUST * size - ROBUST**2)
    away = vector_of(task.mixture, result.state) - task.prior.middle
    return float(left.sum() + away @ (task.prior.precision @ away))


def _fixed(task: Task, *, geometry: bool, still: bool) -> Mask:
    """Which unknowns (unknowns,) stay where they are."""
    layout = task.mixture.layout
    fixed = np.zeros(layout.count, dtype=bool)
    fixed[layout.pose] = still
    if not geometry:
        for places in (layout.shift, layout.grown):
            fixed[places[places >= 0]] = True
        fixed[layout.local :] = True
    return fixed


def _moved_px(task: Task, step: Array) -> float:
    """By how much a step of the pose moves the bodies, rms."""
    shifts = (task.mixture.bodies.by_pose @ task.pose_factor) @ step[task.mixture.layout.pose]
    return float(np.sqrt(np.mean(np.sum(shifts**2, axis=1))))


def _bounded(task: Task, step: Array) -> Array:
    """The step with its pose's part shortened to what its derivatives hold for."""
    far = _moved_px(task, step)
    if far <= LONGEST_STEP_PX:
        return step
    out = step.copy()
    out[task.mixture.layout.pose] *= LONGEST_STEP_PX / far
    return out


def _within(state: State) -> State:
    return replace(state, pose=np.clip(state.pose, -FARTHEST_POSE, FARTHEST_POSE))


def _is_settled(task: Task, step: Array) -> bool:
    layout = task.mixture.layout
    single = layout.tops[:-1][np.diff(layout.tops) == 1]
    moved = np.abs(step[layout.top][single])
    calm = not len(moved) or float(np.percentile(moved, 98)) < SETTLED_K * task.k_in_radiance
    return calm and _moved_px(task, step) < SETTLED_PX


def _robust(normalised: Array, usable: Mask) -> Array:
    """Weights min(1, 3·s/|r|), s the residuals' own scatter (at least as large as was expected)."""
    size = np.abs(normalised)
    scatter = max(1.4826 * float(np.median(size[usable])), 1.0) if usable.any() else 1.0
    return np.minimum(1.0, ROBUST * scatter / np.maximum(size, 1e-12))
