"""What all states of a board have unknown in common, what is believed of it, and the equations of one step.

The board's unknowns are one vector: ln s of the film, ln k at the knots, ln R of every part's foot, and the offset of
each state's temperatures.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, read_only
from overlay.heat.network import Network, Solved, solved
from overlay.heat.nonnegative import nonnegative

# Priors, as standard deviations of logarithms unless a unit is given (tuned on simulated boards; the widths are those
# of a study on boards with one and two layers of copper).
SCALE_U = 0.25
KNOT_MEAN_W_PER_K, KNOT_MEAN_U = 0.010, 1.2  # half an ounce to two of copper, in part of the area (common practice)
KNOT_STEP_U = 0.5
FOOT_U = 0.45
OFFSET_U_K = 1.1


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """The board's p unknowns as they are believed to be before anything is fitted: m knots, r feet."""

    middle: Array  # (p,)
    precision: Array  # (p, p)
    knots: slice
    feet: tuple[Index, ...]  # of each state's bodies, (n,) places in the vector
    offsets: slice

    def __post_init__(self) -> None:
        read_only(self)

    def cost(self, board: Array) -> float:
        """How far a board is from what is believed, in squares of standard deviations."""
        off = board - self.middle
        return float(off @ self.precision @ off)

    def columns(self, state: int) -> Index:
        """Places in the vector of what one state's temperatures follow: s, k, its bodies' feet, its own offset."""
        shared = np.arange(self.knots.stop)
        return np.concatenate([shared, self.feet[state], [self.offsets.start + state]])

    def solved(self, networks: Sequence[Network], board: Array, powers: Sequence[Array]) -> tuple[Solved, ...]:
        """Every state's temperatures on a board (p,)."""
        return tuple(
            solved(network, float(np.exp(board[0])), board[self.knots], np.exp(board[feet]), power)
            for network, feet, power in zip(networks, self.feet, powers, strict=True)
        )


def belief_of(networks: Sequence[Network]) -> Belief:
    """What is believed of the board that all ``networks`` are states of."""
    usual: dict[str, float] = {}
    for network in networks:
        for body, foot in zip(network.state.bodies, network.usual_foot.tolist(), strict=True):
            usual.setdefault(body.refdes, float(np.log(foot)))
    names = sorted(usual)
    steps = networks[0].plate.knot_steps
    m, r, states = steps.shape[1], len(names), len(networks)
    knots, feet = slice(1, 1 + m), slice(1 + m, 1 + m + r)
    width = np.concatenate([[SCALE_U], np.ones(m), np.full(r, FOOT_U), np.full(states, OFFSET_U_K)])
    precision = np.diag(width**-2.0)
    # neighbours against each other, and one prior on the mean: one a knot would pull the total with it
    precision[knots, knots] = steps.T @ steps / KNOT_STEP_U**2 + 1.0 / (m * KNOT_MEAN_U) ** 2
    middle = np.zeros(len(width))
    middle[knots], middle[feet] = np.log(KNOT_MEAN_W_PER_K), [usual[name] for name in names]
    place = {name: feet.start + i for i, name in enumerate(names)}
    own = tuple(np.array([place[body.refdes] for body in net.state.bodies], dtype=np.intp) for net in networks)
    return Belief(middle, precision, knots, own, slice(feet.stop, feet.stop + states))


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """One state's rows over their standard deviations, o of them: of its powers first, then of the board's unknowns."""

    powers: int
    columns: Index  # (t,) the board's unknowns that it knows of, as places in their vector
    by: Array  # (o, powers + t)
    left: Array  # (o,) what is to be explained by the powers and a step of the board

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def by_power(self) -> Array:
        return self.by[:, : self.powers]

    def with_power(self, column: Array) -> Rows:
        """The rows with one power (o,) more."""
        by = np.concatenate([self.by_power, column[:, None], self.by[:, self.powers :]], axis=1)
        return Rows(self.powers + 1, self.columns, by, self.left)


def rows_of(belief: Belief, board: Array, states: Sequence[Solved]) -> list[Rows]:
    """How what is seen follows the unknowns around a board (p,), state by state."""
    rows = []
    for k, state in enumerate(states):
        line, network = state.linearised(), state.network
        offset = np.ones((len(network.seen_k), 1))
        by = np.concatenate([line.by_power, line.by_scale[:, None], line.by_knots, line.by_feet, offset], axis=1)
        by /= network.width_k[:, None]
        left = (network.seen_k - board[belief.offsets.start + k]) / network.width_k
        rows.append(Rows(line.by_power.shape[1], belief.columns(k), by, left))
    return rows


@dataclass(frozen=True, slots=True, eq=False)
class Equations:
    """Normal equations at one point, the board's p unknowns worked out of those of all states' q powers."""

    powers: Array  # (q, q)
    right: Array  # (q,)
    board_by_power: Array  # (p, q) how the board's step follows the powers …
    board_alone: Array  # (p,) … from the one without any
    counts: tuple[int, ...]  # of each state's powers

    def __post_init__(self) -> None:
        read_only(self)

    @classmethod
    def of(cls, belief: Belief, board: Array, rows: Sequence[Rows]) -> Equations:
        from scipy.linalg import cho_factor, cho_solve

        counts = tuple(state.powers for state in rows)
        p, q = len(board), sum(counts)
        first = p + np.concatenate([[0], np.cumsum(counts)])
        normal, right = np.zeros((p + q, p + q)), np.zeros(p + q)
        normal[:p, :p] = belief.precision
        right[:p] = belief.precision @ (belief.middle - board)
        for start, state in zip(first, rows, strict=False):
            place = np.concatenate([start + np.arange(state.powers), state.columns])
            normal[np.ix_(place, place)] += state.by.T @ state.by
            right[place] += state.by.T @ state.left
        mixed, own = normal[:p, p:], normal[p:, p:]
        own += 1e-9 * np.trace(own) / max(q, 1) * np.eye(q)
        answer = cho_solve(cho_factor(normal[:p, :p]), np.column_stack([mixed, right[:p]]))
        left_over = np.column_stack([own, right[p:]]) - mixed.T @ answer
        return cls(left_over[:, :-1], left_over[:, -1], -answer[:, :-1], answer[:, -1], counts)

    def solve(self, start: Sequence[Array]) -> tuple[Array, list[Array]]:
        """Step of the board's unknowns, and each state's powers; ``start``: powers to look from."""
        power = nonnegative(self.powers, self.right, np.concatenate(start))
        return self.board_alone + self.board_by_power @ power, self.split(power)

    def split(self, power: Array) -> list[Array]:
        """All powers (q,), state by state."""
        return np.split(power, np.cumsum(self.counts)[:-1])
