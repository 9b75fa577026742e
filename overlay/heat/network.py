"""Board and bodies as a network of conductances, and how all temperatures follow its unknowns."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, read_only
from overlay.heat.definite import inverse_definite
from overlay.heat.lines import LineFactor
from overlay.heat.plate import FINEST_MM, Plate
from overlay.heat.seen import SeenState, film_w_per_m2k

if TYPE_CHECKING:
    from scipy.sparse import csr_array

FOOT_K_PER_W, FOOT_MM2, FOOT_POWER = 28.0, 20.0, -0.4
"""Body to board: so many kelvins a watt for a footprint of so many mm², and its exponent. Tuned on simulated boards; of
packages the resistance from case to board lies within a factor of 1.6 of it (common practice)."""
CELL_U_K = 1.0  # of a place of board, for cells of the finest size: a correlated pattern counted once
RISE_SHARE_U, LEAST_U_K = 0.02, 0.1  # of a body, beside its own
_LEAST_BODY_M = 0.005  # formulae of free convection are for larger plates: smaller bodies share the air of the board


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """One state of a board: what does not change while the fit goes on. N cells, n bodies, g patches of board."""

    plate: Plate
    state: SeenState
    feet: csr_array  # (n, N) shares of each footprint on the cells
    sources: Array  # (N, n + g) the same with those of free sources after them
    film: Array  # (N,) W/K of each cell to the air
    air: Array  # (n,) W/K of each body's own surface to the air
    usual_foot: Array  # (n,) K/W from each body to the board beneath, before anything is fitted
    seen: csr_array  # (places, N) of the cells
    place_u_k: float  # standard deviation of a place about the fit
    body_k: Array  # (n,) rises of the bodies as they were read …
    body_u_k: Array  # (n,) … and their standard deviations about the fit

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def bodies(self) -> int:
        return len(self.state.bodies)

    @property
    def patches(self) -> Array:
        """Shares (N, g) of free sources on the cells."""
        return self.sources[:, self.bodies :]


@dataclass(frozen=True, slots=True, eq=False)
class Linearised:
    """How what is seen follows c unknowns, at one point: the n + g powers in watts, ln s, and ln k by knots.

    Bodies warm a place by the heat through their feet, and draw heat that others brought beneath them. So each place's
    column is that of the plate without bodies, and of each foot's column as much as there goes ``through`` it; of a
    body's own power that is beside the whole watt, which its own column has.

    A foot's derivative is the answer to heat moved through it; its column of the equations is that heat over R, and
    what the body gives off to the air, which turns it into the body's own influence.
    """

    places: Array  # (places, c) of the plate without bodies
    through: Array  # (n, c) W through each foot
    bodies: Array  # (n, c) rises of the bodies
    foot_as_power: Array  # (n,) by each body's ln R: so many times as by its power …
    foot_in_body_k: Array  # (n,) … and so much more in the body itself

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class Answers:
    """What k kinds of heat on the board do: to the plate without bodies, and by what bodies draw of it."""

    cells: Array  # (N, k) rises of the plate without bodies
    places: Array  # (places, k) of places on it
    drawn: Array  # (n, k) W that bodies draw
    bodies: Array  # (n, k) their rises

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """A network's temperatures for one guess of the board and the powers (n + g,) in it; its factor serves the rest.

    A body gives what it does not lose to the air, 1/(1 + R·s·a) of its power, to the board, and draws s·a times as much
    a kelvin from beneath it. The plate is factored without what bodies draw; that is a correction of rank n (Woodbury's
    identity, in Golub, Van Loan, Matrix Computations, ch. 2.1, from memory).
    """

    network: Network
    scale: float
    conductance: Array  # (F,)
    foot: Array  # (n,)
    factor: LineFactor  # of the plate without bodies
    alone: Array  # (N, n + g) its rises for a watt through each foot and on each patch
    beneath: Array  # (n, n + g) those beneath the bodies
    held: Array  # (n, n) W that each body draws for a kelvin that the plate without bodies would have beneath each
    rise: Array  # (N,) of the cells
    body_rise: Array  # (n,)

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def place_rise(self) -> Array:
        return np.asarray(self.network.seen @ self.rise)

    def linearised(self) -> Linearised:
        """Influence of all heat, and derivatives by all that is unknown of the board."""
        network, air, given = self.network, self.scale * self.network.air, _given(self.network, self.scale, self.foot)
        n, powers = self.beneath.shape
        cells = np.empty((network.plate.cells, powers + 1 + network.plate.knots))
        cells[:, :powers] = self.alone
        board = cells[:, powers:]
        board[:, 0] = -self.scale * network.film * self.rise
        board[:, 1:] = network.plate.by_knots(self.conductance * (self.rise[network.plate.faces] @ [1.0, -1.0]))
        self.factor.solve_in(board)
        power = np.zeros((n, cells.shape[1]))  # of the bodies
        power[:, :n], power[:, powers] = np.eye(n), -air * self.body_rise
        into = given[:, None] * power
        brought = np.concatenate([np.zeros((n, n)), self.beneath[:, n:], network.feet @ board], axis=1)
        drawn = self.held @ (brought + self.beneath[:, :n] @ into)
        bodies = drawn / air[:, None] + self.foot[:, None] * into
        into[:, :n] -= np.eye(n)
        over = network.feet @ self.rise - self.body_rise  # minus the heat through each foot, times R
        return Linearised(np.asarray(network.seen @ cells), into - drawn, bodies, over * air, -over)

    def answers(self, shares: Array) -> Answers:
        """Answers to a watt on the cells by shares (N, k)."""
        cells = np.array(shares, order="C")
        self.factor.solve_in(cells)
        drawn = self.held @ (self.network.feet @ cells)
        bodies = drawn / (self.scale * self.network.air)[:, None]
        return Answers(cells, np.asarray(self.network.seen @ cells), drawn, bodies)

    def with_patch(self, shares: Array, alone: Array) -> Solved:
        """With one patch of board more, of no power, by shares (N,) and the answer (N,) of the plate without bodies."""
        return replace(
            self,
            network=replace(self.network, sources=np.column_stack([self.network.sources, shares])),
            alone=np.column_stack([self.alone, alone]),
            beneath=np.column_stack([self.beneath, self.network.feet @ alone]),
        )


def network_of(plate: Plate, state: SeenState) -> Network:
    """Lay a state's bodies on a plate; what is seen of the board counts once a cell."""
    from scipy.sparse import csr_array

    state = _once_a_cell(plate, state)

    center_mm = np.array([body.center_mm for body in state.bodies]).reshape(-1, 2)
    size_mm = np.array([body.size_mm for body in state.bodies]).reshape(-1, 2)
    dense = plate.under(center_mm, size_mm, np.array([body.turn_deg for body in state.bodies]))
    area_mm2 = size_mm.prod(axis=1)
    covered = np.clip(dense @ area_mm2 / plate.step_mm**2, 0.0, 1.0)
    rise = state.board_k(plate.center_mm, nearest=4)
    length_m = math.sqrt(len(plate.on_board) * plate.cell_m2)
    film = film_w_per_m2k(rise, length_m, state.ambient_c, faces=2) * plate.cell_m2 * (1.0 - 0.5 * covered)
    air = [
        float(film_w_per_m2k(np.array(body.rise_k), _length_m(body.size_mm), state.ambient_c, faces=1))
        * body.surface_m2
        for body in state.bodies
    ]
    body_k = np.array([body.rise_k for body in state.bodies])
    own_u_k = np.array([body.u_k for body in state.bodies])
    return Network(
        plate=plate,
        state=state,
        feet=csr_array(dense.T),
        sources=dense,
        film=film,
        air=np.array(air),
        usual_foot=FOOT_K_PER_W * (area_mm2 / FOOT_MM2) ** FOOT_POWER,
        seen=plate.at(state.places_mm),
        place_u_k=CELL_U_K * min(1.0, FINEST_MM / plate.step_mm),
        body_k=body_k,
        body_u_k=np.maximum(np.hypot(own_u_k, RISE_SHARE_U * body_k), LEAST_U_K),
    )


def _once_a_cell(plate: Plate, state: SeenState) -> SeenState:
    """The state with the places in one cell merged into their centroid."""
    column, row = np.rint((state.places_mm - plate.origin_mm) / plate.step_mm).astype(int).T
    ny, nx = plate.index.shape
    inside = (column >= 0) & (column < nx) & (row >= 0) & (row < ny)
    cell = plate.index[row[inside], column[inside]]
    places, rise, cell = state.places_mm[inside][cell >= 0], state.rise_k[inside][cell >= 0], cell[cell >= 0]
    count = np.bincount(cell, minlength=plate.cells)
    kept = count > 0
    mean = [np.bincount(cell, v, plate.cells)[kept] / count[kept] for v in (places[:, 0], places[:, 1], rise)]
    return replace(state, places_mm=np.column_stack(mean[:2]), rise_k=mean[2])


def _length_m(size_mm: tuple[float, float]) -> float:
    return max(math.sqrt(size_mm[0] * size_mm[1]) * 1e-3, _LEAST_BODY_M)


def solved(network: Network, scale: float, ln_k: Array, foot: Array, power: Array) -> Solved:
    """The temperatures that powers (n + g,) make on a board of that ln k (m,), film and feet (n,) in K/W."""
    n, air, given = network.bodies, scale * network.air, _given(network, scale, foot)
    conductance = network.plate.conductance(ln_k)
    factor = network.plate.factor(conductance, scale * network.film)
    alone = np.array(network.sources)
    factor.solve_in(alone)
    beneath, root = network.feet @ alone, np.sqrt(air * given)
    held = root[:, None] * inverse_definite(np.eye(n) + root[:, None] * beneath[:, :n] * root) * root
    through = np.concatenate([given * power[:n], power[n:]])
    drawn = held @ (beneath @ through)
    through[:n] -= drawn
    body_rise = given * foot * power[:n] + drawn / air
    return Solved(network, scale, conductance, foot, factor, alone, beneath, held, alone @ through, body_rise)


def _given(network: Network, scale: float, foot: Array) -> Array:
    """Share (n,) of each body's power that goes into the board."""
    return np.asarray(1.0 / (1.0 + foot * scale * network.air))
