"""All parts of a frame and the board around them, told apart at once.

A pixel mixes what its blur takes in: bodies, their metal, their walls, bare board. The frame is written as that
mixture with everything unknown about it (each part's radiance, a smooth board, and where and how large things
truly are) and solved by least squares with priors: linearise, solve, move, and again. What geometry leaves open
thereby stands in the covariance of the temperatures, where it belongs. Radiances throughout; never °C.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Mask, read_only
from overlay.board import anatomy
from overlay.frames.emissivity import SHINY_BELOW
from overlay.frames.optics import gaussian_fwhm_px, gaussian_sigma_px
from overlay.registration.model import Registration
from overlay.unmixing import priors
from overlay.unmixing.board import board_field
from overlay.unmixing.judge import around, clipped, faults, inseparable, refined, too_far, widened
from overlay.unmixing.normal import Mixture, Picture, normal_equations, picture_of
from overlay.unmixing.solids import Outlines, Solids, outlines, solids_of
from overlay.unmixing.solve import Prior, Solution, prior_of, solve, state_of, vector_of
from overlay.unmixing.state import State, columns_of, layout_of
from overlay.view.model import View

MOST_ROUNDS = 6
"""Linear first, then with geometry, each from where the last one ended …"""
SETTLED_K = 0.4
"""… until nearly all small top faces move less than this."""
_BARE_FROM_SHARE = 0.5
"""Share of a pixel's signal that must be the board's for what is left of it to be called the board."""
ROBUST = 3.0
"""Residuals beyond this many of their own standard deviations lose weight: traces, holes, labels."""


@dataclass(frozen=True, slots=True, eq=False)
class Unmixed:
    """What the joint solution says; n bodies, radiances in the unit of ``View.leaving_radiance``."""

    refdes: tuple[str, ...]
    leaving: Array  # (n,) mean leaving radiance of the visible top face without its metal ends
    leaving_u: Array  # (n,) its standard uncertainty
    covariance: Array  # (n, n)
    beneath: Array  # (n,) of the board around the part
    beneath_high: Array  # (n,) highest of eight places around it
    short_px: Array  # (n,) short side of the fitted top face
    shift_mm: Array  # (n, 2) along the frame's columns and rows
    clipped: tuple[bool, ...]
    inseparable: tuple[tuple[str, ...], ...]
    bare: Array  # (rows, cols) the frame without what stands on the board; nan where little of the board is seen
    board_share: Array  # (rows, cols) how much of a pixel's signal is the bare board's
    registration: Registration
    refined: bool
    blur_px: float
    blur_source: str
    notes: tuple[str, ...]

    def __post_init__(self) -> None:
        read_only(self)


def unmix(view: View) -> Unmixed:
    """Solve for all bodies of a frame that have something left to see.

    Cost grows about linearly with pixels and parts.
    """
    bodies = solids_of(view)
    if len(bodies) == 0:
        return _nothing(view)
    from threadpoolctl import threadpool_limits

    with threadpool_limits(1, user_api="blas"):  # on thousands of tiny products threads only wait for each other
        task = _task(view, bodies)
        result = _solve(task, still=False)
        notes: tuple[str, ...] = ()
        if too_far(result.state):
            notes = ("the frame's own edges contradict the control points: check them; the pose stays as it was given",)
            result = _solve(task, still=True)
        return _unmixed(task, result, notes)


@dataclass(frozen=True, slots=True, eq=False)
class _Task:
    view: View
    mixture: Mixture
    prior: Prior
    start: State
    usable: Mask  # (rows, cols)
    variance: Array  # (rows, cols) of a pixel about the model
    pose_factor: Array  # (p, unknowns of the pose): standard deviations to the registration's parameters
    k_in_radiance: float  # radiance of one kelvin at the frame's typical temperature

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class _Result:
    state: State
    solution: Solution
    picture: Picture


def _task(view: View, bodies: Solids) -> _Task:
    sigma, sigma_u = _blur_prior(view)
    field = board_field(view.registration, view.board.outline, sigma)
    pose_factor = _root(view.registration.covariance)
    layout = layout_of(bodies, field.knots, pose_factor.shape[1])
    usable = field.inside & np.isfinite(view.leaving_radiance) & np.isfinite(view.apparent_c)
    typical_c = float(np.median(view.apparent_c[usable])) if usable.any() else view.ambient_c
    k_in_radiance = float(view.band.slope(typical_c))
    mixture = Mixture(
        bodies=bodies,
        field=field,
        layout=layout,
        observed=np.where(usable, view.leaving_radiance, 0.0),
        reflected=float(view.band.radiance(view.reflected_c)),
        board_metal_ratio=priors.METAL_EMISSIVITY / view.board_emissivity.value,
    )
    level = float(np.median(mixture.observed[usable])) if usable.any() else float(view.band.radiance(view.ambient_c))
    wide = np.array([2.0 if view.emissivity[f.component.refdes].value < SHINY_BELOW else 1.0 for f in bodies.faces])
    prior = prior_of(mixture, k_in_radiance, level - mixture.reflected, wide, sigma, sigma_u)
    start = _start(mixture, level, sigma)
    return _Task(view, mixture, prior, start, usable, _variance(view, k_in_radiance), pose_factor, k_in_radiance)


def _solve(task: _Task, *, still: bool) -> _Result:
    """Linearise, solve and move until it settles; ``still``: the pose stays."""
    mixture, state = task.mixture, task.start
    layout, bodies = mixture.layout, mixture.bodies
    pose_px = bodies.by_pose @ task.pose_factor
    single = layout.tops[:-1][np.diff(layout.tops) == 1]
    for number in range(MOST_ROUNDS):
        geometry = number > 0
        picture = picture_of(mixture, state, _outlines(task, state), geometry=geometry)
        weight = np.where(task.usable, 1.0 / task.variance, 0.0)
        if geometry:
            weight = weight * _robust((mixture.observed - picture.model) * np.sqrt(weight), task.usable)
        columns = columns_of(bodies, layout, pose_px, geometry=geometry)
        normal, right = normal_equations(mixture, picture, weight, columns)
        fixed = np.zeros(layout.count, dtype=bool)
        fixed[layout.pose] = still
        if not geometry:
            for places in (layout.shift, layout.grown):
                fixed[places[places >= 0]] = True
            fixed[layout.local :] = True
        now = vector_of(mixture, state)
        right = right + task.prior.precision @ (task.prior.middle - now)
        solution = solve(normal + task.prior.precision, right, layout.local, fixed)
        state = state_of(mixture, now + solution.step, state)
        moved = np.abs(solution.step[layout.top][single])
        if number > 1 and (not len(moved) or np.percentile(moved, 98) < SETTLED_K * task.k_in_radiance):
            break
    return _Result(state, solution, picture)


def _outlines(task: _Task, state: State) -> Outlines:
    bodies = task.mixture.bodies
    parameters = task.view.registration.parameters + task.pose_factor @ state.pose
    shapes = state.shift_px, state.grown_mm, state.cap_of(bodies), state.pad_of(bodies)
    return outlines(bodies, task.view, parameters, *shapes)


def _blur_prior(view: View) -> tuple[float, float]:
    """Standard deviation of the blur in px, and its relative uncertainty."""
    if view.blur_px is None:
        return gaussian_sigma_px(priors.BLUR_UNKNOWN_PX), priors.BLUR_UNKNOWN_U
    return max(gaussian_sigma_px(view.blur_px), 0.2), priors.BLUR_DECLARED_U


def _root(covariance: Array) -> Array:
    """A matrix F with F·Fᵀ = covariance, without the directions that have no width."""
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2.0)
    kept = values > 1e-14 * max(float(values.max(initial=0.0)), 1e-300)
    return np.asarray(vectors[:, kept] * np.sqrt(values[kept]))


def _variance(view: View, k_in_radiance: float) -> Array:
    """Variance of each pixel about the model: noise, the model's own faults, edges drawn a little aside."""
    frame = view.leaving_radiance
    rise = np.hypot(*np.gradient(frame)) if min(frame.shape) > 1 else np.zeros_like(frame)
    noise = view.noise_c * float(view.band.slope(30.0)) / view.sight.gain
    variance = noise**2 + (priors.FLOOR_K * k_in_radiance) ** 2 + (priors.FLOOR_EDGE_PX * rise) ** 2
    return np.where(np.isfinite(variance), variance, 1.0)


def _robust(normalised: Array, usable: Mask) -> Array:
    """Weights min(1, 3·s/|r|), s the residuals' own scatter (at least as large as was expected)."""
    size = np.abs(normalised)
    scatter = max(1.4826 * float(np.median(size[usable])), 1.0) if usable.any() else 1.0
    return np.minimum(1.0, ROBUST * scatter / np.maximum(size, 1e-12))


def _faults(mixture: Mixture, state: State) -> Array:
    """Variances (shared unknowns,) that the shared unknowns have beside those of the solution."""
    layout = mixture.layout
    out = np.zeros(layout.count)
    out[layout.caps], out[layout.pads] = priors.CAP_FAULT**2, priors.PAD_FAULT**2
    out[layout.blur] = (priors.BLUR_FAULT * state.sigma_px) ** 2
    return out[layout.local :]


def _start(mixture: Mixture, level: float, sigma: float) -> State:
    bodies, layout = mixture.bodies, mixture.layout
    n, codes = len(bodies), layout.caps.stop - layout.caps.start
    return State(
        board=np.full(mixture.field.knots, level),
        tops=np.full(int(layout.tops[-1]), level),
        mirrored=np.zeros((n, 2)),
        leads=np.where(bodies.has_leads, priors.LEAD_SHARE, 0.0),
        bows=np.where(bodies.bowed, priors.BOW, 0.0),
        walls=np.full(n, priors.WALL_SHARE),
        shift_px=np.zeros((n, 2)),
        grown_mm=np.zeros((n, 2)),
        caps=np.full(codes, anatomy.CAP_SHARE),
        pads=np.ones(codes),
        sigma_px=sigma,
        pose=np.zeros(layout.pose.stop - layout.pose.start),
    )


def _blur_source(view: View) -> str:
    return "estimated from the frame" if view.blur_px is None else "camera.blur_px"


def _nothing(view: View) -> Unmixed:
    blur_px = priors.BLUR_UNKNOWN_PX if view.blur_px is None else view.blur_px
    none, empty = np.zeros(0), np.zeros((0, 0))
    return Unmixed(
        refdes=(),
        leaving=none,
        leaving_u=none,
        covariance=empty,
        beneath=none,
        beneath_high=none,
        short_px=none,
        shift_mm=np.zeros((0, 2)),
        clipped=(),
        inseparable=(),
        bare=np.array(view.leaving_radiance),
        board_share=np.ones(view.leaving_radiance.shape),
        registration=view.registration,
        refined=False,
        blur_px=blur_px,
        blur_source="assumed" if view.blur_px is None else "camera.blur_px",
        notes=(),
    )


def _unmixed(task: _Task, result: _Result, notes: tuple[str, ...]) -> Unmixed:
    from scipy.sparse import csr_array

    mixture, state, k = task.mixture, result.state, task.k_in_radiance
    bodies, layout = mixture.bodies, mixture.layout
    n = len(bodies)
    rows = np.repeat(np.arange(n), np.diff(layout.tops))
    weights = np.concatenate(result.picture.averages)
    sums = csr_array((weights, (rows, layout.top.start + np.arange(len(rows)))), shape=(n, layout.count))
    leaving = np.asarray(sums @ vector_of(mixture, state))
    size = bodies.size_mm + state.grown_mm
    short_px = (size * np.linalg.norm(bodies.px_per_mm, axis=2)).min(axis=1)
    knots, share = mixture.field.at(around(bodies))
    ring = (state.board[knots] * share).sum(axis=1).reshape(n, -1)
    beneath = ring.mean(axis=1)
    board_share = result.picture.board_share
    seen = task.usable & (board_share > _BARE_FROM_SHARE)
    bare = np.where(seen, (mixture.observed - result.picture.added) / np.maximum(board_share, _BARE_FROM_SHARE), np.nan)
    residual = np.where(task.usable, (mixture.observed - result.picture.model) / np.sqrt(task.variance), np.nan)
    alone, covariance = result.solution.covariance(sums, faults(mixture, state))
    covariance = widened(covariance, residual, result.picture, short_px, (leaving - beneath) / k, k)
    registration, moved = refined(task.view.registration, state, result.solution, task.pose_factor, bodies)
    return Unmixed(
        refdes=tuple(face.component.refdes for face in bodies.faces),
        leaving=leaving,
        leaving_u=np.sqrt(np.diag(covariance)),
        covariance=covariance,
        beneath=beneath,
        beneath_high=ring.max(axis=1),
        short_px=short_px,
        shift_mm=state.shift_px / bodies.scale[:, None],
        clipped=clipped(bodies, state),
        inseparable=inseparable(bodies, alone, covariance, k),
        bare=bare,
        board_share=board_share,
        registration=registration,
        refined=moved,
        blur_px=gaussian_fwhm_px(state.sigma_px),
        blur_source=_blur_source(task.view),
        notes=notes,
    )
