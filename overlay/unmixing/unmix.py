"""All parts of a frame and the board around them, told apart at once.

A pixel mixes what its blur takes in: bodies, their metal, their walls, bare board. The frame is written as that
mixture with everything unknown about it (each part's radiance, a smooth board, and where and how large things
truly are) and solved by least squares with priors: linearise, solve, move, and again. What geometry leaves open
thereby stands in the covariance of the temperatures, where it belongs. Radiances throughout; never °C.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, read_only
from overlay.frames.optics import gaussian_fwhm_px
from overlay.registration.model import Registration
from overlay.unmixing import priors
from overlay.unmixing.judge import around, clipped, faults, inseparable, refined, widened
from overlay.unmixing.rounds import CROWDED, Result, looks_coated, misfit, settle
from overlay.unmixing.solids import solids_of
from overlay.unmixing.solve import vector_of
from overlay.unmixing.task import Task, task_of
from overlay.view.model import View

_BARE_FROM_SHARE = 0.5
"""Share of a pixel's signal that must be the board's for what is left of it to be called the board."""
PULLED_AWAY = "the frame's own edges contradict the control points: check them; the pose stays as it was given"
COATED = "metal ends, pads and leads look coated in the frame: they were taken as painted"
TOO_MANY = "{:,} parts in one frame: they were worked out in the pose that was registered, and in few rounds"
FAR_PX, FAR_STEPS = 60.0, 6.5
"""Parts so many pixels and so many steps of the board's knots apart have no errors of their own in common.

On boards of 28 to 600 parts correlations are below 0.001 from there on (0.00002 rms), and what they are left out of
changes by less than a ten-thousandth.
"""
UNSETTLED = "the frame's own edges do not settle on a pose: it stays as it was given"


@dataclass(frozen=True, slots=True, eq=False)
class Unmixed:
    """What the joint solution says; n bodies, radiances in the unit of ``View.leaving_radiance``."""

    refdes: tuple[str, ...]
    leaving: Array  # (n,) mean leaving radiance of the visible top face without its metal ends
    leaving_u: Array  # (n,) its standard uncertainty
    beneath: Array  # (n,) of the board around the part
    beneath_high: Array  # (n,) highest of eight places around it
    short_px: Array  # (n,) short side of the fitted top face
    shift_mm: Array  # (n, 2) along the frame's columns and rows
    clipped: tuple[bool, ...]
    settled: tuple[bool, ...]  # whose value had come to rest; the others' are no more than the last guess
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
        task = task_of(view, bodies)
        crowded = len(bodies) > CROWDED
        result = settle(task, still=crowded)
        notes: tuple[str, ...] = (TOO_MANY.format(len(bodies)),) if crowded else ()
        if looks_coated(result):
            coated = task_of(view, solids_of(view, priors.COATED_EMISSIVITY), priors.COATED_EMISSIVITY)
            other = settle(coated, still=crowded)
            if misfit(coated, other) < misfit(task, result):
                task, result, notes = coated, other, (*notes, COATED)
        if not crowded and (result.at_limit or not result.settled):
            notes += (PULLED_AWAY if result.at_limit else UNSETTLED,)
            result = settle(task, still=True)
        return _unmixed(task, result, notes)


def _blur_source(view: View) -> str:
    return "estimated from the frame" if view.blur_px is None else "camera.blur_px"


def _nothing(view: View) -> Unmixed:
    blur_px = priors.BLUR_UNKNOWN_PX if view.blur_px is None else view.blur_px
    none = np.zeros(0)
    return Unmixed(
        refdes=(),
        leaving=none,
        leaving_u=none,
        beneath=none,
        beneath_high=none,
        short_px=none,
        shift_mm=np.zeros((0, 2)),
        clipped=(),
        settled=(),
        inseparable=(),
        bare=np.array(view.leaving_radiance),
        board_share=np.ones(view.leaving_radiance.shape),
        registration=view.registration,
        refined=False,
        blur_px=blur_px,
        blur_source="assumed" if view.blur_px is None else "camera.blur_px",
        notes=(),
    )


def _unmixed(task: Task, result: Result, notes: tuple[str, ...]) -> Unmixed:
    from scipy.sparse import csr_array

    mixture, state, k = task.mixture, result.state, task.k_in_radiance
    bodies, layout = mixture.bodies, mixture.layout
    n = len(bodies)
    rows = np.repeat(np.arange(n), np.diff(layout.tops))
    weights = np.zeros(len(rows))
    for lot, on in zip(result.picture.lots, result.picture.surfaces, strict=True):
        weights[layout.tops[lot.bodies][:, None] + np.arange(on.average.shape[1])] = on.average
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
    far_px = max(FAR_PX, FAR_STEPS * mixture.field.step_mm * float(bodies.scale.max()))
    alone, covariance = result.solution.covariance(sums, faults(mixture, state), bodies.center_px, far_px)
    covariance = widened(covariance, residual, result.picture, short_px, (leaving - beneath) / k, k)
    registration, moved = refined(task.view.registration, state, result.solution, task.pose_factor, bodies)
    return Unmixed(
        refdes=tuple(face.component.refdes for face in bodies.faces),
        leaving=leaving,
        leaving_u=np.sqrt(np.diag(covariance)),
        beneath=beneath,
        beneath_high=ring.max(axis=1),
        short_px=short_px,
        shift_mm=state.shift_px / bodies.scale[:, None],
        clipped=clipped(bodies, state),
        settled=tuple(bool(result.settled or not moves) for moves in result.moving),
        inseparable=inseparable(bodies, alone, covariance, k),
        bare=bare,
        board_share=board_share,
        registration=registration,
        refined=moved,
        blur_px=gaussian_fwhm_px(state.sigma_px),
        blur_source=_blur_source(task.view),
        notes=notes,
    )
