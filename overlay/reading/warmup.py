"""Settled temperatures from a board that is still warming up.

A board with constant powers and constant cooling answers as a sum of exponentials whose time constants belong to
the whole board: ``T_i(t) = T_i∞ − Σ_m a_im · exp(−t/τ_m)``. So the curves of all parts are fitted together: few
common time constants, amplitudes and settled values of each part (separable least squares, Golub & Pereyra, SIAM
J. Numer. Anal. 10 (1973) 413, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, read_only

MOST_MODES = 4  # body, board, casing and room: more cannot be told apart in one record
# A slower mode may hide behind the slowest that was found. Every time constant up to this many lengths of the record is
# tried as the slowest one; whatever fits as well as the best, within so many standard deviations of what chance does to
# the fit, is as likely (tuned on boards of four time constants, 20 to 3000 s, and records of 600 to 15 000 s).
_SLOWEST_TRIED = 12.0
_TRIED = 9
_AS_GOOD_SIGMAS = 1.0
_FARTHEST_SHARE = 0.5
_AS_LIKELY_BIC = 10.0  # very strong evidence from here (Kass & Raftery 1995, from memory)
_LEAST_SETTLED_U_K = 0.05  # own estimate
# A slowest mode of more than this share of the record may hide a slower one behind it: its end would be a guess …
_LONGEST_TAU_SHARE = 0.6
# … and so would a rise still to come that most parts know to no better than half (common practice: a ratio of
# successive equal steps above 0.9 is ill-conditioned).
_VAGUE_SHARE = 0.5
_VAGUE_LEAST_K = 3.0
# A board's casing and the room around it may warm up with it, too slowly for the record to show: a mode of up to two
# hours, that holds back a tenth of the median part's rise (own estimates). What the record leaves possible of it widens
# every settled value.
_SLOWEST_KNOWN_S = 7200.0
_HIDDEN_SHARE = 0.1
_HIDDEN_TRIED = 5
_LEAST_APART = math.log(1.6)  # time constants nearer to each other cannot be told apart
_NOT_APART = 1e30  # the cost of what is refused
_STEPS_WITHIN_TAU = 8.0  # a mode as quick as this fraction of a step is over by the next page


@dataclass(frozen=True, slots=True, eq=False)
class WarmUp:
    """Settled values of n parts and the time constants they share.

    ``settled_c`` and ``settled_u_c`` are (n,); ``common_k`` is (n, modes): what one standard uncertainty of each time
    constant does to each settled value, so that parts stay correlated. ``own_u_c`` is what is left private.
    """

    tau_s: Array
    tau_u_s: Array
    settled_c: Array
    settled_u_c: Array
    common_k: Array
    own_u_c: Array
    last_c: Array  # the fitted curves at the last page

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def remaining_k(self) -> Array:
        """What is still to come of each part's rise, (n,)."""
        return self.settled_c - self.last_c


def fit_warm_up(times_s: Array, curves_c: Array, noise_c: Array) -> WarmUp | str:
    """Fit all curves together.

    Parameters
    ----------
    times_s : (pages,)
    curves_c : (n, pages) in °C
    noise_c : (n,) standard deviation of a curve's points

    Returns
    -------
    WarmUp, or a reason
        The reason, in words, where the end cannot be told from what was recorded.
    """
    pages = len(times_s)
    if pages < 5:
        return f"{pages} pages are too few to tell where the board settles; record at least 5"
    times = times_s - times_s[0]
    sigma = np.maximum(noise_c, 0.02)
    fits: list[_Fit] = []
    free: list[_Fit] = []
    for modes in range(1, min(MOST_MODES, (pages - 2) // 2) + 1):
        logs = _fit_modes(times, curves_c, sigma, modes)
        free.append(_Fit.of(times, curves_c, sigma, logs))
        for slowest in np.linspace(math.log(times[-1] / 2.0), math.log(_SLOWEST_TRIED * times[-1]), _TRIED):
            held = _fit_below(times, curves_c, sigma, modes, float(slowest))
            if len(held):
                fits.append(_Fit.of(times, curves_c, sigma, held))
    best = min(free, key=lambda fit: fit.bic)  # among equals the one of fewer modes
    model_u = np.hypot(_model_spread([*free, *fits], best), _hidden_u(times, curves_c, sigma, best))
    return _judged(times, curves_c, sigma, best.logs, model_u)


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """Time constants with the settled values that go with them."""

    logs: Array
    cost: float
    freedom: int
    bic: float  # Bayesian information criterion: the smaller, the likelier
    settled: Array

    @staticmethod
    def of(times: Array, curves: Array, sigma: Array, logs: Array) -> _Fit:
        unknowns = len(curves) * (1 + len(logs)) + len(logs)
        cost, count = _cost(times, curves, sigma, logs), curves.size
        bic = count * math.log(max(cost, 1e-12) / count) + unknowns * math.log(count)
        return _Fit(logs, cost, max(count - unknowns, 1), round(bic, 6), _solve(times, curves, logs)[0])


def _fit_below(times: Array, curves: Array, sigma: Array, modes: int, slowest: float) -> Array:
    """Logarithms of the time constants, ascending, that fit best with the slowest held.

    Empty where the others cannot be told from it.
    """
    from scipy.optimize import minimize

    if modes == 1:
        return np.array([slowest])
    step, length = float(np.min(np.diff(times))), float(times[-1])
    low, high = math.log(step / _STEPS_WITHIN_TAU), slowest - _LEAST_APART

    def cost(logs: Array) -> float:
        logs = np.sort(np.clip(logs, low, high))
        if np.any(np.diff(logs) < _LEAST_APART):
            return _NOT_APART
        return _cost(times, curves, sigma, np.append(logs, slowest))

    start = np.linspace(math.log(max(length / 30.0, step)), math.log(length / 2.0), modes)[:-1]
    found = minimize(cost, start, method="Nelder-Mead", options={"xatol": 1e-2, "fatol": 1e-2, "maxiter": 150})
    if found.fun >= _NOT_APART:
        return np.empty(0)
    return np.append(np.sort(np.clip(found.x, low, high)), slowest)


def _fit_modes(times: Array, curves: Array, sigma: Array, modes: int) -> Array:
    """Logarithms of the time constants, ascending, that fit best."""
    from scipy.optimize import minimize

    step, length = float(np.min(np.diff(times))), float(times[-1])
    low, high = math.log(step / _STEPS_WITHIN_TAU), math.log(length * 6)
    starts = [np.linspace(math.log(length / 8), math.log(length / 1.5), modes)]
    starts += [
        np.linspace(math.log(step * 1.5), math.log(length), modes),
        np.linspace(low, math.log(length / 3), modes),
    ]

    def cost(logs: Array) -> float:
        logs = np.sort(np.clip(logs, low, high))
        if np.any(np.diff(logs) < _LEAST_APART):
            return _NOT_APART
        return _cost(times, curves, sigma, logs)

    found = [
        minimize(cost, start, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-6, "maxiter": 400})
        for start in starts
    ]
    logs = np.clip(min(found, key=lambda item: float(item.fun)).x, low, high)
    return np.asarray(np.sort(logs), dtype=np.float64)


def _basis(times: Array, logs: Array) -> Array:
    """Columns 1 and −exp(−t/τ), (pages, 1 + modes)."""
    return np.column_stack([np.ones(len(times)), *(-np.exp(-times / math.exp(value)) for value in logs)])


def _solve(times: Array, curves: Array, logs: Array) -> Array:
    """Settled values and amplitudes of all curves, (1 + modes, n)."""
    coefficients, *_ = np.linalg.lstsq(_basis(times, logs), curves.T, rcond=1e-10)
    return np.asarray(coefficients, dtype=np.float64)


def _cost(times: Array, curves: Array, sigma: Array, logs: Array) -> float:
    """Sum of squared residuals in units of each curve's noise."""
    orthogonal, _ = np.linalg.qr(_basis(times, logs))
    residual = curves - (curves @ orthogonal) @ orthogonal.T
    return float(np.sum((residual / sigma[:, None]) ** 2))


def _model_spread(fits: Sequence[_Fit], chosen: _Fit) -> Array:
    """How much the settled values depend on modes that the record cannot tell apart, (n,).

    Half the largest distance of the settled values of any fit as good as the best of its number of modes, where that
    number is as likely as the chosen one; never less than the drifts of camera and ambient that no fit knows.
    """
    likely = min(fit.bic for fit in fits) + _AS_LIKELY_BIC
    near = []
    for modes in {len(fit.logs) for fit in fits}:
        same = [fit for fit in fits if len(fit.logs) == modes]
        best = min(same, key=lambda fit: fit.cost)
        if best.bic > likely:
            continue
        worst = best.cost * (1.0 + _AS_GOOD_SIGMAS * math.sqrt(2.0 / best.freedom))
        near += [fit.settled - chosen.settled for fit in same if fit.cost <= worst]
    farthest = np.max(np.abs(near), axis=0) if near else np.zeros(len(chosen.settled))
    return np.asarray(np.maximum(_FARTHEST_SHARE * farthest, _LEAST_SETTLED_U_K))


def _hidden_u(times: Array, curves: Array, sigma: Array, chosen: _Fit) -> Array:
    """What a mode slower than those that were found may do to the settled values, (n,).

    For each of several such time constants all others are fitted anew, and the settled values are those of least
    squares with the mode's amplitude known beforehand to nothing but its size: their distance from the chosen ones, and
    what is left of their own uncertainty.
    """
    first = max(math.log(times[-1] / 2.0), float(chosen.logs[-1]) + _LEAST_APART)
    last = math.log(_SLOWEST_KNOWN_S)
    if first >= last:
        return np.zeros(len(curves))
    amplitude_k = _HIDDEN_SHARE * float(np.median(np.abs(chosen.settled - curves[:, 0])))
    squares = []
    for slowest in np.linspace(first, last, _HIDDEN_TRIED):
        logs = _fit_below(times, curves, sigma, len(chosen.logs) + 1, float(slowest))
        if not len(logs):
            continue
        basis = _basis(times, logs)
        held = np.zeros((basis.shape[1], basis.shape[1]))
        held[-1, -1] = 1.0 / max(amplitude_k, _LEAST_SETTLED_U_K) ** 2
        covariance = np.linalg.pinv((basis.T @ basis)[None] / sigma[:, None, None] ** 2 + held, hermitian=True)
        settled = np.einsum("nj,jn->n", covariance[:, 0, :], basis.T @ (curves / sigma[:, None] ** 2).T)
        squares.append((settled - chosen.settled) ** 2 + covariance[:, 0, 0])
    return np.sqrt(np.mean(squares, axis=0)) if squares else np.zeros(len(curves))


def _judged(times: Array, curves: Array, sigma: Array, logs: Array, model_u: Array) -> WarmUp | str:
    """The fit with its uncertainties; a reason where it says next to nothing."""
    length = float(times[-1])
    basis = _basis(times, logs)
    coefficients = _solve(times, curves, logs)
    residual = curves - (basis @ coefficients).T
    freedom = max(len(times) - basis.shape[1], 1)
    scatter = np.sqrt(np.sum(residual**2, axis=1) / freedom)
    spread = np.maximum(scatter, sigma)
    inverse = np.linalg.pinv(basis.T @ basis)
    own = spread * math.sqrt(max(float(inverse[0, 0]), 0.0))
    covariance, shifts = _tau_effects(times, curves, spread, logs)
    root = _root(covariance)
    common = shifts @ root
    settled = coefficients[0]
    last = (basis @ coefficients)[-1]
    own_u = np.hypot(own, model_u)
    total_u = np.sqrt(own_u**2 + np.sum(common**2, axis=1))
    slowest = math.exp(float(logs[-1]))
    # a single part may be vague, and then its own uncertainty says so; the board as a whole may not
    vague = float(np.median(total_u / np.maximum(np.abs(settled - last), _VAGUE_LEAST_K))) > _VAGUE_SHARE
    if slowest > _LONGEST_TAU_SHARE * length or vague:
        return (
            f"the record of {length:.0f} s is too short to tell where the board settles (slowest time constant about "
            f"{slowest:.0f} s); record for at least {max(2 * min(slowest, 10 * length), 1.5 * length):.0f} s"
        )
    tau = np.exp(logs)
    return WarmUp(tau, tau * np.sqrt(np.diag(covariance)), settled, total_u, common, own_u, last)


def _tau_effects(times: Array, curves: Array, spread: Array, logs: Array) -> tuple[Array, Array]:
    """Covariance of the time constants' logarithms, and what each does to the settled values, (n, modes)."""
    step = 1e-3
    shifts, slopes = [], []
    for index in range(len(logs)):
        moved = [logs.copy(), logs.copy()]
        moved[0][index] += step
        moved[1][index] -= step
        high, low = (_solve(times, curves, item) for item in moved)
        shifts.append((high[0] - low[0]) / (2 * step))
        curve_high, curve_low = (_basis(times, item) @ c for item, c in zip(moved, (high, low), strict=True))
        slopes.append(((curve_high - curve_low) / (2 * step) / spread).ravel())
    jacobian = np.column_stack(slopes)
    return np.asarray(np.linalg.pinv(jacobian.T @ jacobian), dtype=np.float64), np.column_stack(shifts)


def _root(covariance: Array) -> Array:
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))
