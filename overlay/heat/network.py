"""Board and bodies as a network of conductances, and how all temperatures follow its unknowns."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, read_only
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
    patches: Array  # (N, g) of free sources on them
    film: Array  # (N,) W/K of each cell to the air
    air: Array  # (n,) W/K of each body's own surface to the air
    usual_foot: Array  # (n,) K/W from each body to the board beneath, before anything is fitted
    seen: csr_array  # (places, N)
    seen_k: Array  # (o,) rises as they were read: of the places, then of the bodies
    width_k: Array  # (o,) their standard deviations about the fit

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def bodies(self) -> int:
        return len(self.state.bodies)


@dataclass(frozen=True, slots=True, eq=False)
class Linearised:
    """How what is seen (places, then bodies: o of them) follows the unknowns, at one point."""

    by_power: Array  # (o, n + g) kelvins a watt of each body's and each patch's heat
    by_scale: Array  # (o,) of ln s
    by_knots: Array  # (o, m) of ln k
    by_feet: Array  # (o, n) of ln R

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """A network's temperatures for one guess of the board and the powers (n + g,) in it; its factor serves the rest.

    A body gives what it does not lose to the air, g = 1/(1 + R·s·a) of its power, to the board, and draws s·a·g a
    kelvin from beneath it. The plate is factored without what bodies draw; that is a correction of rank n (Woodbury's
    identity, in Golub, Van Loan, Matrix Computations, ch. 2.1, from memory).
    """

    network: Network
    scale: float
    conductance: Array  # (F,)
    foot: Array  # (n,)
    factor: LineFactor  # of the plate without bodies
    alone: Array  # (N, n + g) its rises for a watt through each foot and on each patch
    drawn: Array  # (n, n) what bodies draw, in W a kelvin that the plate without them would have beneath each
    rise: Array  # (N,) of the cells
    body_rise: Array  # (n,)

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def given(self) -> Array:
        """Share (n,) of each body's power that goes into the board."""
        return _given(self.network, self.scale, self.foot)

    @property
    def look(self) -> Array:
        """What is seen (o,): places, then bodies."""
        return np.concatenate([self.network.seen @ self.rise, self.body_rise])

    def by_heat(self, shares: Array) -> Array:
        """What is seen (o, c) for a watt on the cells by shares (N, c)."""
        return self._seen(self.factor.solve(shares))

    def _seen(self, alone: Array) -> Array:
        """What is seen (o, c) where the plate without bodies would have the rises ``alone`` (N, c)."""
        network, n = self.network, self.network.bodies
        back = self.drawn @ (network.feet @ alone)
        places = network.seen @ alone - (network.seen @ self.alone[:, :n]) @ back
        return np.concatenate([places, back / (self.scale * network.air)[:, None]])

    def linearised(self) -> Linearised:
        """Influence of all heat, and derivatives by all that is unknown of the board."""
        network, n, given = self.network, self.network.bodies, self.given
        air = self.scale * network.air
        flow = self.conductance * (self.rise[network.plate.faces] @ [1.0, -1.0])
        lost = -self.scale * network.film * self.rise
        more = self.factor.solve(np.column_stack([lost, network.plate.by_knots(flow)]))
        seen = self._seen(np.concatenate([self.alone, more], axis=1))
        own, places = np.arange(n), len(seen) - n
        seen[:, :n] *= given
        seen[places + own, own] += given * self.foot
        by_power, by_scale, by_knots = np.split(seen, [self.alone.shape[1], self.alone.shape[1] + 1], axis=1)
        by_scale -= by_power[:, :n] @ (air * self.body_rise)[:, None]
        # A foot's own derivative is the answer to heat moved through it; its column of the equations is that heat over
        # R, and what the body gives off to the air, which turns it into the body's own influence.
        over = network.feet @ self.rise - self.body_rise  # minus the heat through each foot, times R
        by_feet = by_power[:, :n] * (over * air)
        by_feet[places + own, own] -= over
        return Linearised(by_power, by_scale[:, 0], by_knots, by_feet)


def network_of(plate: Plate, state: SeenState) -> Network:
    """Lay a state's bodies on a plate; what is seen of the board counts once a cell."""
    from scipy.sparse import csr_array

    state = _once_a_cell(plate, state)

    center_mm = np.array([body.center_mm for body in state.bodies]).reshape(-1, 2)
    size_mm = np.array([body.size_mm for body in state.bodies]).reshape(-1, 2)
    dense = plate.under(center_mm, size_mm, np.array([body.turn_deg for body in state.bodies]))
    area_mm2 = size_mm.prod(axis=1)
    covered = np.clip(dense @ area_mm2 / plate.step_mm**2, 0.0, 1.0)
    rise = _filled(plate, state)
    length_m = math.sqrt(len(plate.on_board) * plate.cell_m2)
    film = film_w_per_m2k(rise, length_m, state.ambient_c, faces=2) * plate.cell_m2 * (1.0 - 0.5 * covered)
    air = [
        float(film_w_per_m2k(np.array(body.rise_k), _length_m(body.size_mm), state.ambient_c, faces=1))
        * body.surface_m2
        for body in state.bodies
    ]
    body_k = np.array([body.rise_k for body in state.bodies])
    body_u_k = np.hypot([body.u_k for body in state.bodies], RISE_SHARE_U * body_k)
    cell_u_k = CELL_U_K * min(1.0, FINEST_MM / plate.step_mm)
    return Network(
        plate=plate,
        state=state,
        feet=csr_array(dense.T),
        patches=np.zeros((plate.cells, 0)),
        film=film,
        air=np.array(air),
        usual_foot=FOOT_K_PER_W * (area_mm2 / FOOT_MM2) ** FOOT_POWER,
        seen=plate.at(state.places_mm),
        seen_k=np.concatenate([state.rise_k, body_k]),
        width_k=np.concatenate([np.full(len(state.rise_k), cell_u_k), np.maximum(body_u_k, LEAST_U_K)]),
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


def _filled(plate: Plate, state: SeenState) -> Array:
    """Rise (N,) of all cells from the nearest places seen."""
    from scipy.spatial import cKDTree

    tree = cKDTree(state.places_mm)
    _, near = tree.query(plate.center_mm, k=min(4, len(state.places_mm)))
    return np.asarray(state.rise_k[near].reshape(plate.cells, -1).mean(axis=1))


def solved(network: Network, scale: float, ln_k: Array, foot: Array, power: Array) -> Solved:
    """The temperatures that powers (n + g,) make on a board of that ln k (m,), film and feet (n,) in K/W."""
    n = network.bodies
    conductance = network.plate.conductance(ln_k)
    factor = network.plate.factor(conductance, scale * network.film)
    alone = factor.solve(np.concatenate([network.feet.T.toarray(), network.patches], axis=1))
    given = _given(network, scale, foot)
    root = np.sqrt(scale * network.air * given)
    beneath = network.feet @ alone
    held = np.eye(n) + root[:, None] * beneath[:, :n] * root
    drawn = root[:, None] * np.linalg.inv(held) * root
    into = np.concatenate([given * power[:n], power[n:]])
    back = drawn @ (beneath @ into)
    into[:n] -= back
    body_rise = given * foot * power[:n] + back / (scale * network.air)
    return Solved(network, scale, conductance, foot, factor, alone, drawn, alone @ into, body_rise)


def _given(network: Network, scale: float, foot: Array) -> Array:
    """Share (n,) of each body's power that goes into the board."""
    return np.asarray(1.0 / (1.0 + foot * scale * network.air))
