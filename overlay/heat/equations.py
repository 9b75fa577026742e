"""What all states of a board have unknown in common, what is believed of it, and the equations of one step.

The board's unknowns are one vector: ln s of the film, ln k at the knots, ln R of every part's foot, and the offset of
each state's temperatures.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, read_only
from overlay.heat.definite import solved_definite
from overlay.heat.network import Answers, Linearised, Network, Solved, solved
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

    def unknowns(self, state: int) -> Index:
        """Places in the vector of what one state's temperatures follow: s, k, its own offset, its bodies' feet."""
        shared = np.arange(self.knots.stop)
        return np.concatenate([shared, [self.offsets.start + state], self.feet[state]])

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
class Products:
    """Products of all columns of one state's rows with each other, over the variances of what is seen.

    The columns: what powers and a step of the board are to explain, q powers, t unknowns of the board.
    """

    powers: int
    unknowns: Index  # (t,) places in the board's vector
    matrix: Array  # (1 + q + t,) * 2

    def __post_init__(self) -> None:
        read_only(self)

    def with_power(self, products: Array, size: float) -> Products:
        """With one power more, of products (1 + q + t,) with all others and ``size`` with itself."""
        at = 1 + self.powers
        wider = np.insert(self.matrix, at, products, axis=1)
        return Products(self.powers + 1, self.unknowns, np.insert(wider, at, np.insert(products, at, size), axis=0))


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """How what one state shows follows its q powers and t unknowns of the board, at one point.

    The places' columns are told by c + 2 plainer ones: what is to be explained, those of the plate without bodies, and
    the offset, one for each unknown but the bodies' feet; and by the heat that goes ``through`` the feet beside.
    """

    network: Network
    plain: Array  # (places, c)
    left: Array  # (places,) what is to be explained of them
    plain_products: Array  # (c + 2, c + 2)
    through: Array  # (n, 1 + q + t)
    bodies: Array  # (n, 1 + q + t) their rises over their standard deviations
    products: Products

    def __post_init__(self) -> None:
        read_only(self)

    @classmethod
    def of(cls, network: Network, line: Linearised, unknowns: Index, offset_k: float) -> Rows:
        n, left = network.bodies, network.state.rise_k - offset_k
        ends = np.stack([left, np.ones(len(left))])
        across, corner, inner = ends @ line.places, ends @ ends.T, line.places.T @ line.places
        plain = np.block(
            [
                [corner[:1, :1], across[:1], corner[:1, 1:]],
                [across[:1].T, inner, across[1:].T],
                [corner[1:, :1], across[1:], corner[1:, 1:]],
            ]
        )
        plain /= network.place_u_k**2
        none, one = np.zeros((n, 1)), np.ones((n, 1))
        feet = (line.through[:, :n] + np.eye(n)) * line.foot_as_power
        through = np.concatenate([none, line.through, none, feet], axis=1)
        feet = line.bodies[:, :n] * line.foot_as_power + np.diag(line.foot_in_body_k)
        bodies = np.concatenate([(network.body_k - offset_k)[:, None], line.bodies, one, feet], axis=1)
        bodies /= network.body_u_k[:, None]
        normal = bodies.T @ bodies + _spread(_spread(plain, through).T, through)
        products = Products(network.sources.shape[1], unknowns, normal)
        return cls(network, line.places, left, plain, through, bodies, products)

    def times(self, answers: Answers) -> tuple[Array, Array]:
        """Products (1 + q + t, k) with the columns of k more powers, and of these with themselves (k,)."""
        variance, drawn = self.network.place_u_k**2, answers.drawn
        feet, bodies = slice(1, 1 + self.network.bodies), answers.bodies / self.network.body_u_k[:, None]
        ends = np.stack([self.left, np.ones(len(self.left))]) @ answers.places
        by = np.concatenate([ends[:1], self.plain.T @ answers.places, ends[1:]]) / variance
        less = self.plain_products[:, feet] @ drawn
        size = (answers.places**2).sum(axis=0) / variance + (bodies**2).sum(axis=0)
        size += ((less[feet] - 2.0 * by[feet]) * drawn).sum(axis=0)
        return _spread(by - less, self.through) + self.bodies.T @ bodies, size


def _spread(plain: Array, through: Array) -> Array:
    """Rows (1 + q + t, k) of all columns, from those (c + 2, k) of the plainer ones."""
    out = through.T @ plain[1 : 1 + len(through)]
    out[: len(plain)] += plain
    return np.asarray(out)


def rows_of(belief: Belief, board: Array, states: Sequence[Solved]) -> list[Rows]:
    """How what is seen follows the unknowns around a board (p,), state by state."""
    offset_k = board[belief.offsets].tolist()
    return [
        Rows.of(state.network, state.linearised(), belief.unknowns(k), offset_k[k]) for k, state in enumerate(states)
    ]


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
    def of(cls, belief: Belief, board: Array, rows: Sequence[Products]) -> Equations:
        counts = tuple(state.powers for state in rows)
        ends = np.cumsum(counts)
        board_by_board, right_board = belief.precision.copy(), belief.precision @ (belief.middle - board)
        mixed, own = np.zeros((len(board), ends[-1])), np.zeros((ends[-1], ends[-1]))
        for end, state in zip(ends, rows, strict=True):
            here, powers = slice(end - state.powers, end), slice(1, 1 + state.powers)
            told = state.matrix[powers.stop :]
            own[here, here] = state.matrix[powers, powers]
            mixed[state.unknowns, here] = told[:, powers]
            right_board[state.unknowns] += told[:, 0]
            board_by_board[np.ix_(state.unknowns, state.unknowns)] += told[:, powers.stop :]
        # a trace of a prior, so that twins which no temperature tells apart share alike
        own.flat[:: ends[-1] + 1] += 1e-9 * np.trace(own) / ends[-1]
        right_own = np.concatenate([state.matrix[1 : 1 + state.powers, 0] for state in rows])
        both = np.column_stack([mixed, right_board])
        answer = solved_definite(board_by_board, both)
        less = mixed.T @ answer
        return cls(own - less[:, :-1], right_own - less[:, -1], -answer[:, :-1], answer[:, -1], counts)

    def solve(self, start: Sequence[Array]) -> tuple[Array, list[Array]]:
        """Step of the board's unknowns, and each state's powers; ``start``: powers to look from."""
        power = nonnegative(self.powers, self.right, np.concatenate(start))
        return self.board_alone + self.board_by_power @ power, np.split(power, np.cumsum(self.counts)[:-1])
