"""What is solved for one frame: the mixture, what is believed beforehand, and where the solution starts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Mask, read_only
from overlay.board import anatomy
from overlay.frames.emissivity import SHINY_BELOW
from overlay.frames.optics import gaussian_sigma_px
from overlay.unmixing import priors
from overlay.unmixing.board import board_field
from overlay.unmixing.masks import SHARPEST_PX
from overlay.unmixing.picture import Mixture
from overlay.unmixing.solids import Outlines, Solids, outlines
from overlay.unmixing.solve import Prior, prior_of
from overlay.unmixing.state import State, layout_of
from overlay.view.emission import METAL_EMISSIVITY
from overlay.view.model import View
from overlay.view.terms import noise_radiance

MOVES_NOTHING_PX = 0.05
"""Directions of the pose that move bodies by less than this (rms, per standard deviation) are no unknowns.

A frame cannot tell them, and undamped they run away: focal length against distance is one. Tried on thirteen kinds of
boards unlike the model's own.
"""


@dataclass(frozen=True, slots=True, eq=False)
class Task:
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


def task_of(view: View, bodies: Solids, metal_emissivity: float = METAL_EMISSIVITY) -> Task:
    sigma, sigma_u = _blur_prior(view)
    field = board_field(view.registration, view.board.outline, sigma)
    pose_factor = _moving(_root(view.registration.covariance), bodies.by_pose)
    layout = layout_of(bodies, field.knots, pose_factor.shape[1])
    usable = field.inside & np.isfinite(view.leaving_radiance) & np.isfinite(view.apparent_c)
    for mask in (view.saturated, view.left_out):
        if mask is not None:  # the end of the range and lost pixels say nothing of what mixes in them
            usable &= ~mask
    typical_c = float(np.median(view.apparent_c[usable])) if usable.any() else view.ambient_c
    k_in_radiance = float(view.band.slope(typical_c))
    mixture = Mixture(
        bodies=bodies,
        field=field,
        layout=layout,
        observed=np.where(usable, view.leaving_radiance, 0.0),
        reflected=float(view.band.radiance(view.reflected_c)),
        board_metal_ratio=metal_emissivity / view.board_emissivity.value,
    )
    level = float(np.median(mixture.observed[usable])) if usable.any() else float(view.band.radiance(view.ambient_c))
    wide = np.array([2.0 if view.emissivity[f.component.refdes].value < SHINY_BELOW else 1.0 for f in bodies.faces])
    prior = prior_of(mixture, k_in_radiance, level - mixture.reflected, wide, sigma, sigma_u)
    start = _start(mixture, level, sigma)
    return Task(view, mixture, prior, start, usable, _variance(view, k_in_radiance), pose_factor, k_in_radiance)


def outlines_of(task: Task, state: State) -> Outlines:
    bodies = task.mixture.bodies
    parameters = task.view.registration.parameters + task.pose_factor @ state.pose
    shapes = state.shift_px, state.grown_mm, state.cap_of(bodies), state.pad_of(bodies)
    return outlines(bodies, task.view, parameters, *shapes)


def _blur_prior(view: View) -> tuple[float, float]:
    """Standard deviation of the blur in px, and its relative uncertainty."""
    if view.blur_px is None:
        return gaussian_sigma_px(priors.BLUR_UNKNOWN_PX), priors.BLUR_UNKNOWN_U
    return max(gaussian_sigma_px(view.blur_px), SHARPEST_PX), priors.BLUR_DECLARED_U


def _root(covariance: Array) -> Array:
    """A matrix F with F·Fᵀ = covariance, without the directions that have no width."""
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2.0)
    kept = values > 1e-14 * max(float(values.max(initial=0.0)), 1e-300)
    return np.asarray(vectors[:, kept] * np.sqrt(values[kept]))


def _moving(pose_factor: Array, by_pose: Array) -> Array:
    """The pose's directions (p, kept) that move the bodies at all, each by one standard deviation."""
    shifts = (by_pose @ pose_factor).reshape(-1, pose_factor.shape[1])
    _, size, directions = np.linalg.svd(shifts, full_matrices=False)
    rms = size / np.sqrt(max(len(by_pose), 1))
    return np.asarray(pose_factor @ directions[rms >= MOVES_NOTHING_PX].T)


def _variance(view: View, k_in_radiance: float) -> Array:
    """Variance of each pixel about the model: noise, the model's own faults, edges drawn a little aside."""
    frame = view.leaving_radiance
    variance = noise_radiance(view) ** 2 + (priors.FLOOR_K * k_in_radiance) ** 2
    if min(frame.shape) > 1:
        down, across = np.gradient(frame)
        variance = variance + priors.FLOOR_EDGE_PX**2 * (down**2 + across**2)
    return np.where(np.isfinite(variance), variance, 1.0)


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
