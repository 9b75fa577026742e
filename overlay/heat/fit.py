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

from overlay.arrays import Array, Index, read_only
from overlay.heat.network import Network, Solved, foot_k_per_w, solved
from overlay.heat.nonnegative import nonnegative
from overlay.heat.plate import FINEST_MM

# Priors, as standard deviations of logarithms unless a unit is given (tuned on simulated boards; the widths are those
# of a study on boards with one and two layers of copper).
SCALE_U = 0.25
KNOT_MEAN_W_PER_K, KNOT_MEAN_U = 0.010, 1.2  # half an ounce to two of copper, in part of the area (common practice)
KNOT_STEP_U = 0.5
FOOT_U = 0.45
OFFSET_U_K = 1.1
CELL_U_K = 1.0  # of a place of board, for cells of the finest size: a correlated pattern counted once
RISE_SHARE_U = 0.02
MODEL_SHARE_U = 0.26  # of each power, beside the posterior: the board is no single layer, a body no single node

_ROUNDS = 7  # Gauss–Newton steps at most: it ends earlier where settled
_SETTLED = 0.03  # of a logarithm: 3 % of a power, far inside its uncertainty
_WORSE, _WORTH = 1e-3, 1e-2  # shares of the cost: what a step may add, and what it must take to be followed by another
_MOST_HALVINGS = 4  # a step below a sixteenth of its length gains nothing more
_MOST_STEP = 1.0  # of a logarithm: a power grows by less than three times a round, so that no step overshoots
PATCH_MM = 6.0  # the smallest area of unlisted heat that the board does not blur away
_MOST_PATCHES = 4  # the largest; what is left is less than the fit can tell
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
class _Board:
    """What all states have in common."""

    ln_scale: float
    ln_k: Array  # (m,)
    ln_foot: dict[str, float]
    offset_k: Array  # (states,)

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class _Point:
    """One guess of the board and of every state's powers, and how badly it explains what is seen."""

    board: _Board
    powers: tuple[Array, ...]
    solved: tuple[Solved, ...]
    cost: float  # what is left to explain, and the priors' pull, in squares of standard deviations

    @classmethod
    def of(cls, networks: Sequence[Network], board: _Board, powers: Sequence[Array]) -> _Point:
        states, cost = [], _prior(networks, board)[2]
        for k, (network, power) in enumerate(zip(networks, powers, strict=True)):
            foot = np.exp([board.ln_foot[body.refdes] for body in network.state.bodies])
            state = solved(network, float(np.exp(board.ln_scale)), board.ln_k, foot, power)
            left = (_seen(network) - board.offset_k[k] - state.look(state.now)) / _widths(network)
            states.append(state)
            cost += float((left**2).sum())
        return cls(board, tuple(powers), tuple(states), cost)


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """One state's rows over their standard deviations, o of them."""

    by_board: Array  # (o, p)
    by_power: Array  # (o, n + g)
    left: Array  # (o,) what is to be explained by the powers and a step of the board

    def __post_init__(self) -> None:
        read_only(self)


def fit_heat(networks: Sequence[Network]) -> list[Fit]:
    """Fit all states of one board together, free sources included."""
    patches = _lattice(networks[0])
    point = _settle(_Point.of(networks, _start(networks), [_first_power(network) for network in networks]))
    rows = _rows(point)
    for _ in range(_MOST_PATCHES):
        more = _with_patch(point, rows, patches)
        if more is None:
            break
        tried = _settle(*more, rounds=3)
        total = sum(float(power.sum()) for power in tried.powers)
        if sum(float(power[-1]) for power in tried.powers) < _LEAST_PATCH_SHARE * total:
            break
        point, rows = tried, _rows(tried)
    return _fits(point, rows)


def _start(networks: Sequence[Network]) -> _Board:
    feet: dict[str, float] = {}
    for network in networks:
        for body, value in zip(network.state.bodies, foot_k_per_w(network), strict=True):
            feet.setdefault(body.refdes, float(np.log(value)))
    knots = np.full(networks[0].plate.knots, np.log(KNOT_MEAN_W_PER_K))
    return _Board(0.0, knots, feet, np.zeros(len(networks)))


def _first_power(network: Network) -> Array:
    """The step from each body to the board beneath it over its resistance: a quick look that needs no fit."""
    from scipy.spatial import cKDTree

    centers = np.array([body.center_mm for body in network.state.bodies]).reshape(-1, 2)
    rise = np.array([body.rise_k for body in network.state.bodies])
    _, near = cKDTree(network.state.places_mm).query(centers, k=min(8, len(network.state.places_mm)))
    beneath = network.state.rise_k[near].reshape(len(rise), -1).mean(axis=1)
    first = np.maximum(rise - beneath, 0.0) / foot_k_per_w(network) + network.air * rise * (rise > beneath)
    return np.asarray(first)


def _settle(point: _Point, rows: Sequence[_Rows] | None = None, rounds: int = _ROUNDS) -> _Point:
    """Gauss–Newton steps, each halved until what is left to explain does not grow; ``rows`` where they are known."""
    networks = [state.network for state in point.solved]
    for _ in range(rounds):
        equations = _Equations.of(networks, point.board, rows or _rows(point))
        step, after = equations.solve()
        for _ in range(_MOST_HALVINGS):
            tried, moved = equations.moved(point.board, step)
            ahead = _Point.of(networks, tried, after)
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


@dataclass(frozen=True, slots=True, eq=False)
class _Equations:
    """Normal equations at one point: the board's unknowns, and every state's powers one after the other."""

    names: tuple[str, ...]
    board: Array  # (p, p) normal matrix of ln s, ln k, ln R, offsets
    mixed: Array  # (p, q)
    powers: Array  # (q, q)
    right_board: Array  # (p,)
    right_powers: Array  # (q,)
    counts: tuple[int, ...]

    def __post_init__(self) -> None:
        read_only(self)

    @classmethod
    def of(cls, networks: Sequence[Network], board: _Board, rows: Sequence[_Rows]) -> _Equations:
        precision, pull, _ = _prior(networks, board)
        counts = tuple(state.by_power.shape[1] for state in rows)
        p, q, at = len(precision), sum(counts), np.concatenate([[0], np.cumsum(counts)])
        normal, mixed, own = precision, np.zeros((p, q)), np.zeros((q, q))
        right_board, right_own = pull, np.zeros(q)
        for k, state in enumerate(rows):
            here = slice(at[k], at[k + 1])
            normal = normal + state.by_board.T @ state.by_board
            mixed[:, here] = state.by_board.T @ state.by_power
            own[here, here] = state.by_power.T @ state.by_power
            right_board = right_board + state.by_board.T @ state.left
            right_own[here] = state.by_power.T @ state.left
        own += 1e-9 * np.trace(own) / max(q, 1) * np.eye(q)
        return cls(_names(board), normal, mixed, own, right_board, right_own, counts)

    def reduced(self) -> tuple[Array, Array]:
        """Equations of the powers alone, the board's unknowns worked out of them."""
        from scipy.linalg import cho_factor, cho_solve

        factor = cho_factor(self.board)
        return (
            self.powers - self.mixed.T @ cho_solve(factor, self.mixed),
            self.right_powers - self.mixed.T @ cho_solve(factor, self.right_board),
        )

    def solve(self) -> tuple[Array, list[Array]]:
        """Step of the board's unknowns, and each state's powers."""
        matrix, right = self.reduced()
        power = nonnegative(matrix, right)
        step = np.asarray(np.linalg.solve(self.board, self.right_board - self.mixed @ power), dtype=np.float64)
        return step, np.split(power, np.cumsum(self.counts)[:-1])

    def moved(self, board: _Board, step: Array) -> tuple[_Board, float]:
        """The board after a step, held to what a linear equation can answer for, and the length of it."""
        m, r = len(board.ln_k), len(self.names)
        logs = np.abs(step[: 1 + m + r])
        step = step * min(1.0, _MOST_STEP / max(float(logs.max()), 1e-12))
        feet = {
            name: board.ln_foot[name] + float(d) for name, d in zip(self.names, step[1 + m : 1 + m + r], strict=True)
        }
        after = _Board(
            board.ln_scale + float(step[0]), board.ln_k + step[1 : 1 + m], feet, board.offset_k + step[1 + m + r :]
        )
        return after, float(logs.max())


def _names(board: _Board) -> tuple[str, ...]:
    """Bodies in the order of their columns."""
    return tuple(sorted(board.ln_foot))


def _rows(point: _Point) -> list[_Rows]:
    """How what is seen follows the unknowns around a point, state by state."""
    board, column = point.board, {name: i for i, name in enumerate(_names(point.board))}
    m, r, rows = len(board.ln_k), len(board.ln_foot), []
    for k, state in enumerate(point.solved):
        line, network = state.linearised(), state.network
        order: Index = np.array([column[body.refdes] for body in network.state.bodies], dtype=np.intp)
        by_board = np.zeros((len(line.by_scale), 1 + m + r + len(point.solved)))
        by_board[:, 0], by_board[:, 1 : 1 + m] = line.by_scale, line.by_knots
        by_board[:, 1 + m + order] = line.by_feet
        by_board[:, 1 + m + r + k] = 1.0
        width = _widths(network)
        left = (_seen(network) - board.offset_k[k]) / width
        rows.append(_Rows(by_board / width[:, None], line.by_power / width[:, None], left))
    return rows


def _seen(network: Network) -> Array:
    return np.concatenate([network.state.rise_k, [body.rise_k for body in network.state.bodies]])


def _widths(network: Network) -> Array:
    bodies = network.state.bodies
    cell = CELL_U_K * min(1.0, FINEST_MM / network.plate.step_mm)
    own = [float(np.hypot(body.u_k, RISE_SHARE_U * body.rise_k)) for body in bodies]
    return np.concatenate([np.full(len(network.state.rise_k), cell), np.maximum(own, 0.1)])


def _prior(networks: Sequence[Network], board: _Board) -> tuple[Array, Array, float]:
    """Precision (p, p) of the board's unknowns, its pull (p,) from where they are, and the cost of being there."""
    names = _names(board)
    m, r, states = len(board.ln_k), len(names), len(board.offset_k)
    precision = np.zeros((1 + m + r + states,) * 2)
    precision[0, 0] = 1.0 / SCALE_U**2
    steps = networks[0].plate.knot_steps
    # neighbours against each other, and one prior on the mean: one a knot would pull the total with it
    precision[1 : 1 + m, 1 : 1 + m] = (steps.T @ steps).toarray() / KNOT_STEP_U**2 + 1.0 / (m * KNOT_MEAN_U) ** 2
    feet = slice(1 + m, 1 + m + r)
    precision[feet, feet] = np.eye(r) / FOOT_U**2
    precision[feet.stop :, feet.stop :] = np.eye(states) / OFFSET_U_K**2
    usual = _start(networks).ln_foot
    off = np.concatenate(
        [
            [board.ln_scale],
            board.ln_k - np.log(KNOT_MEAN_W_PER_K),
            [board.ln_foot[name] - usual[name] for name in names],
            board.offset_k,
        ]
    )
    pull = precision @ off
    return precision, -pull, float(off @ pull)


def _with_patch(point: _Point, rows: Sequence[_Rows], patches: Array) -> tuple[_Point, list[_Rows]] | None:
    """The point with the one patch of board more, of (N, c), that would explain most; None where none would."""
    if not patches.size:
        return None
    networks = [state.network for state in point.solved]
    precision = np.diag(_prior(networks, point.board)[0])
    gain, by_patch = np.zeros(patches.shape[1]), []
    for state, row, power in zip(point.solved, rows, point.powers, strict=True):
        columns = state.by_heat(patches) / _widths(state.network)[:, None]
        left = row.left - row.by_power @ power
        span = np.concatenate([row.by_board, row.by_power[:, power > 0]], axis=1)
        weight = span.T @ span + np.diag(np.concatenate([precision, np.full(int((power > 0).sum()), 1e-9)]))
        free = columns - span @ np.linalg.solve(weight, span.T @ columns)
        slope = np.maximum(free.T @ left, 0.0)
        gain += slope**2 / np.maximum((free**2).sum(axis=0), 1e-12)
        by_patch.append(columns)
    best = int(np.argmax(gain))
    if gain[best] < 9.0:
        return None
    patch = patches[:, best : best + 1]
    wider = [replace(network, patches=np.concatenate([network.patches, patch], axis=1)) for network in networks]
    solved = tuple(replace(state, network=network) for state, network in zip(point.solved, wider, strict=True))
    powers = tuple(np.append(power, 0.0) for power in point.powers)
    longer = [
        replace(row, by_power=np.concatenate([row.by_power, columns[:, best : best + 1]], axis=1))
        for row, columns in zip(rows, by_patch, strict=True)
    ]
    return replace(point, powers=powers, solved=solved), longer


def _lattice(network: Network) -> Array:
    """Patches (N, c) on a lattice, clear of bodies: heat under a body is the body's."""
    plate = network.plate
    low, high = plate.center_mm.min(axis=0), plate.center_mm.max(axis=0)
    x, y = (np.arange(a + PATCH_MM / 2, b, PATCH_MM) for a, b in zip(low, high, strict=True))
    centers = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    columns = plate.under(centers, np.full_like(centers, PATCH_MM), np.zeros(len(centers)))
    return columns[:, columns.any(axis=0)]


def _fits(point: _Point, rows: Sequence[_Rows]) -> list[Fit]:
    networks = [state.network for state in point.solved]
    equations = _Equations.of(networks, point.board, rows)
    covariance = np.linalg.inv(equations.reduced()[0])
    at = np.concatenate([[0], np.cumsum(equations.counts)])
    fits = []
    for k, (network, power, row) in enumerate(zip(networks, point.powers, rows, strict=True)):
        width, places = _widths(network), len(network.state.rise_k)
        left = (row.left - row.by_power @ power) * width
        here = slice(at[k], at[k + 1])
        own = np.asarray(covariance[here, here] + np.diag((MODEL_SHARE_U * power) ** 2), dtype=np.float64)
        patches = network.patches
        middle = patches.T @ network.plate.center_mm if patches.size else np.zeros((0, 2))
        influence = row.by_power[places:] * width[places:, None]
        rms = float(np.sqrt(np.mean(left[:places] ** 2)))
        fits.append(Fit(network, power, own, influence, np.asarray(middle), rms))
    return fits
