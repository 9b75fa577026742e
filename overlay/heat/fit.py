"""The joint inverse solution: heat of every body, with an unknown board under them.

Unknown are the board's conductivity (a map), the scale of its film, each body's resistance to the board, one offset
of each state's temperatures, and heat that must not be negative. All temperatures are linear in the heat; the rest is
found by Gauss–Newton steps with priors, several states of one board together. Heat on bare board that no part explains
is looked for on a lattice of patches and taken in where it is worth it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array, read_only
from overlay.heat.definite import solved_definite
from overlay.heat.equations import Belief, Equations, Products, Rows, belief_of, rows_of
from overlay.heat.network import Network, Solved

MODEL_SHARE_U = 0.26  # of each power, beside the posterior: the board is no single layer, a body no single node

_ROUNDS = 7  # Gauss–Newton steps at most: it ends earlier where settled
_SETTLED = 0.03  # of a logarithm: 3 % of a power, far inside its uncertainty
_WORSE, _WORTH = 1e-3, 1e-2  # shares of the cost: what a step may add, and what it must take to be followed by another
_MOST_HALVINGS = 4  # a step below a sixteenth of its length gains nothing more
_MOST_STEP = 1.0  # of a logarithm: a power grows by less than three times a round, so that no step overshoots
PATCH_MM = 6.0  # the smallest area of unlisted heat that the board does not blur away
_MOST_PATCHES = 4  # the largest; what is left is less than the fit can tell
_LOOKED_AT_AGAIN = 40  # patches of the largest gain: the next one was among the first six on all boards that were tried
_LEAST_PATCH_SHARE = 0.03  # of all power, below which a patch explains noise


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """What is worked out of one state: n bodies, then g patches of board."""

    network: Network
    power: Array  # (n + g,) in units that only shares of are known
    covariance: Array  # (n + g, n + g) of the powers
    influence: Array  # (n, n + g) rise of each body for a unit of each heat
    patch_mm: Array  # (g, 2)
    residual_rms_k: float  # of the bare board

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class _Point:
    """One guess of the board and of every state's powers, and how badly it explains what is seen."""

    belief: Belief
    board: Array  # (p,)
    powers: tuple[Array, ...]
    solved: tuple[Solved, ...]
    cost: float  # what is left to explain, and the priors' pull, in squares of standard deviations

    def __post_init__(self) -> None:
        read_only(self)

    @classmethod
    def of(cls, networks: Sequence[Network], belief: Belief, board: Array, powers: Sequence[Array]) -> _Point:
        states = belief.solved(networks, board, powers)
        cost = belief.cost(board)
        for state, offset_k in zip(states, board[belief.offsets], strict=True):
            network = state.network
            places = (network.state.rise_k - offset_k - state.place_rise) / network.place_u_k
            bodies = (network.body_k - offset_k - state.body_rise) / network.body_u_k
            cost += float(places @ places + bodies @ bodies)
        return cls(belief, board, tuple(powers), states, cost)

    @property
    def networks(self) -> list[Network]:
        return [state.network for state in self.solved]

    def rows(self) -> list[Rows]:
        """How what is seen follows the unknowns around it."""
        return rows_of(self.belief, self.board, self.solved)


def fit_heat(networks: Sequence[Network]) -> list[Fit]:
    """Fit all states of one board together, free sources included."""
    patches = _lattice(networks[0])
    belief = belief_of(networks)
    first = [_first_power(network) for network in networks]
    point = _settle(_Point.of(networks, belief, belief.middle, first))
    rows = point.rows()
    for _ in range(_MOST_PATCHES):
        more = _with_patch(point, rows, patches)
        if more is None:
            break
        extended, longer, patches = more
        tried = _settle(extended, longer, rounds=3)
        total = sum(float(power.sum()) for power in tried.powers)
        if sum(float(power[-1]) for power in tried.powers) < _LEAST_PATCH_SHARE * total:
            break
        point, rows = tried, tried.rows()
    return _fits(point, rows)


def _first_power(network: Network) -> Array:
    """The step from each body to the board beneath it over its resistance: a quick look that needs no fit."""
    rise = np.array([body.rise_k for body in network.state.bodies])
    beneath = network.state.beneath_k(network.state.bodies)
    first = np.maximum(rise - beneath, 0.0) / network.usual_foot + network.air * rise * (rise > beneath)
    return np.asarray(first)


def _settle(point: _Point, rows: Sequence[Products] | None = None, rounds: int = _ROUNDS) -> _Point:
    """Gauss–Newton steps, each halved until what is left to explain does not grow; ``rows`` where they are known."""
    for _ in range(rounds):
        equations = Equations.of(point.belief, point.board, rows or [row.products for row in point.rows()])
        step, after = equations.solve(point.powers)
        for _ in range(_MOST_HALVINGS):
            board, moved = _moved(point, step)
            ahead = _Point.of(point.networks, point.belief, board, after)
            if ahead.cost <= point.cost * (1.0 + _WORSE):
                break
            step, after = step / 2.0, [0.5 * (a + b) for a, b in zip(point.powers, after, strict=True)]
        else:
            return point
        gained = point.cost - ahead.cost
        settled = moved < _SETTLED or gained < _WORTH * point.cost
        point, rows = ahead, None
        if settled:
            break
    return point


def _moved(point: _Point, step: Array) -> tuple[Array, float]:
    """The board after a step, held to what a linear equation can answer for, and the length of it."""
    longest = float(np.abs(step[: point.belief.offsets.start]).max())
    return point.board + step * min(1.0, _MOST_STEP / max(longest, 1e-12)), longest


def _with_patch(point: _Point, rows: Sequence[Rows], patches: Array) -> tuple[_Point, list[Products], Array] | None:
    """The point with the one patch of board more, of (N, c), that would explain most; None where none would.

    With its rows, and the patches that are worth to be looked at for the next.
    """
    if not patches.size:
        return None
    precision = np.diag(point.belief.precision)
    gain, tried = np.zeros(patches.shape[1]), []
    for state, row, power in zip(point.solved, rows, point.powers, strict=True):
        answers = state.answers(patches)
        products, size = row.times(answers)
        tried.append((answers, products, size))
        matrix, own = row.products.matrix, slice(1, 1 + row.products.powers)
        held = np.concatenate([np.where(power > 0, 1e-9, np.inf), precision[row.products.unknowns]])
        span = 1 + np.flatnonzero(np.isfinite(held))
        normal, by = matrix[np.ix_(span, span)], products[span]
        prior = held[span - 1]
        told = solved_definite(normal + np.diag(prior), by)
        left = matrix[:, 0] - matrix[:, own] @ power
        slope = np.maximum(products[0] - power @ products[own] - left[span] @ told, 0.0)
        free = size - ((by + prior[:, None] * told) * told).sum(axis=0)  # of what the others cannot do as well
        gain += slope**2 / np.maximum(free, 1e-12)
    best = int(np.argmax(gain))
    if gain[best] < 9.0:
        return None
    solved, longer = [], []
    for state, row, (answers, products, size) in zip(point.solved, rows, tried, strict=True):
        solved.append(state.with_patch(patches[:, best], answers.cells[:, best]))
        longer.append(row.products.with_power(products[:, best], size[best]))
    powers = tuple(np.append(power, 0.0) for power in point.powers)
    worth = np.argsort(-gain, kind="stable")[:_LOOKED_AT_AGAIN]
    return replace(point, powers=powers, solved=tuple(solved)), longer, patches[:, worth]


def _lattice(network: Network) -> Array:
    """Patches (N, c) on a lattice, clear of bodies: heat under a body is the body's."""
    plate = network.plate
    board = plate.center_mm[plate.on_board]
    x, y = (np.arange(a + PATCH_MM / 2, b, PATCH_MM) for a, b in zip(board.min(axis=0), board.max(axis=0), strict=True))
    centers = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    columns = plate.under(centers, np.full_like(centers, PATCH_MM), np.zeros(len(centers)))
    return columns[:, columns.any(axis=0)]


def _fits(point: _Point, rows: Sequence[Rows]) -> list[Fit]:
    equations = Equations.of(point.belief, point.board, [row.products for row in rows])
    covariance = np.linalg.inv(equations.powers)
    at = np.concatenate([[0], np.cumsum(equations.counts)])
    fits = []
    for k, (state, power, row) in enumerate(zip(point.solved, point.powers, rows, strict=True)):
        network, here = state.network, slice(at[k], at[k + 1])
        own = np.asarray(covariance[here, here] + np.diag((MODEL_SHARE_U * power) ** 2), dtype=np.float64)
        middle = network.patches.T @ network.plate.center_mm
        influence = row.bodies[:, 1 : 1 + len(power)] * network.body_u_k[:, None]
        rms = float(np.sqrt(np.mean((row.left - state.place_rise) ** 2)))
        fits.append(Fit(network, power, own, influence, np.asarray(middle), rms))
    return fits
