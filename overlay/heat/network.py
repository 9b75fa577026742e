"""Board and bodies as a network of conductances, and how all temperatures follow its unknowns."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, read_only
from overlay.heat.plate import Plate
from overlay.heat.seen import SeenState, film_w_per_m2k

if TYPE_CHECKING:
    from scipy.sparse import csr_array
    from scipy.sparse.linalg import SuperLU

FOOT_K_PER_W, FOOT_MM2, FOOT_POWER = 28.0, 20.0, -0.4
"""Body to board: so many kelvins a watt for a footprint of so many mm², and its exponent. Tuned on simulated boards; of
packages the resistance from case to board lies within a factor of 1.6 of it (common practice)."""
_LEAST_BODY_M = 0.005  # formulae of free convection are for larger plates: smaller bodies share the air of the board


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """One state of a board: what does not change while the fit goes on. N cells, n bodies, g patches of board."""

    plate: Plate
    state: SeenState
    feet: csr_array  # (N, n) shares of each footprint on the cells
    patches: Array  # (N, g) likewise of free sources
    film: Array  # (N,) W/K of each cell to the air
    air: Array  # (n,) W/K of each body's own surface to the air
    seen: csr_array  # (places, N)
    differences: csr_array  # (F, N) of neighbouring cells

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def bodies(self) -> int:
        return len(self.state.bodies)


@dataclass(frozen=True, slots=True, eq=False)
class Linearised:
    """What is seen (places, then bodies: o of them), and how it follows the unknowns, at one point."""

    by_power: Array  # (o, n + g) kelvins a watt of each body's and each patch's heat
    by_scale: Array  # (o,) of ln s
    by_knots: Array  # (o, m) of ln k
    by_feet: Array  # (o, n) of ln R

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """A network's temperatures for one guess of the board and the powers (n + g,) in it; its factor serves the rest."""

    network: Network
    scale: float
    conductance: Array  # (F,)
    foot: Array  # (n,)
    now: Array  # (N + n,) rises of cells and bodies
    factor: SuperLU

    def __post_init__(self) -> None:
        read_only(self)

    def look(self, values: Array) -> Array:
        """What is seen (o, …) of values (N + n, …) of cells and bodies."""
        cells = self.network.plate.cells
        return np.concatenate([self.network.seen @ values[:cells], values[cells:]])

    def by_heat(self, shares: Array) -> Array:
        """What is seen (o, c) for a watt on the cells by shares (N, c)."""
        heat = np.zeros((len(self.now), shares.shape[1]), order="F")
        heat[: self.network.plate.cells] = shares
        return self.look(self.factor.solve(heat))

    def linearised(self) -> Linearised:
        """Influence of all heat, and derivatives by all that is unknown of the board."""
        from scipy.sparse import diags_array

        network, n, cells, knots = self.network, self.network.bodies, self.network.plate.cells, self.network.plate.knots
        board, body = self.now[:cells], self.now[cells:]
        source = np.zeros((len(self.now), n + network.patches.shape[1] + 1 + knots), order="F")
        source[cells + np.arange(n), np.arange(n)] = 1.0
        source[:cells, n : -1 - knots] = network.patches
        source[:cells, -1 - knots] = -self.scale * network.film * board
        source[cells:, -1 - knots] = -self.scale * network.air * body
        flow = self.conductance * (network.differences @ board)
        by_knots = network.differences.T @ (diags_array(flow) @ network.plate.knots_at_faces)
        source[:cells, -knots:] = -by_knots.toarray()
        seen = self.look(self.factor.solve(source))
        # A foot's own derivative is the answer to heat moved through it; its column of the equations is that heat over
        # R, and what the body gives off to the air, which turns it into the body's own influence.
        over = network.feet.T @ board - body  # minus the heat through each foot, times R
        by_feet = seen[:, :n] * (over * self.scale * network.air)
        by_feet[len(seen) - n + np.arange(n), np.arange(n)] -= over
        return Linearised(seen[:, : -1 - knots], seen[:, -1 - knots], seen[:, -knots:], by_feet)


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
    length_m = math.sqrt(plate.cells * plate.cell_m2)
    film = film_w_per_m2k(rise, length_m, state.ambient_c, faces=2) * plate.cell_m2 * (1.0 - 0.5 * covered)
    air = [
        float(film_w_per_m2k(np.array(body.rise_k), _length_m(body.size_mm), state.ambient_c, faces=1))
        * body.surface_m2
        for body in state.bodies
    ]
    number = np.arange(len(plate.faces))
    pairs = (np.concatenate([number, number]), np.concatenate([plate.faces[:, 0], plate.faces[:, 1]]))
    signs = np.concatenate([np.ones(len(number)), -np.ones(len(number))])
    differences = csr_array((signs, pairs), shape=(len(number), plate.cells))
    none = np.zeros((plate.cells, 0))
    return Network(plate, state, csr_array(dense), none, film, np.array(air), plate.at(state.places_mm), differences)


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


def foot_k_per_w(network: Network) -> Array:
    """Prior resistance (n,) from each body to the board beneath."""
    area = np.array([body.size_mm[0] * body.size_mm[1] for body in network.state.bodies])
    return np.asarray(FOOT_K_PER_W * (area / FOOT_MM2) ** FOOT_POWER)


def temperatures(network: Network, scale: float, conductance: Array, foot: Array, heat: Array) -> Array:
    """Rises (N + n, c) of cells and bodies for heat (N + n, c) put into them.

    ``conductance`` (F,) between neighbouring cells, ``foot`` (n,) from bodies to board in K/W, ``scale`` of the film.
    """
    return np.asarray(_factor(network, scale, conductance, foot).solve(heat))


def _factor(network: Network, scale: float, conductance: Array, foot: Array) -> SuperLU:
    from scipy.sparse import block_array, csc_array, diags_array
    from scipy.sparse.linalg import splu

    spread = network.differences.T @ diags_array(conductance) @ network.differences
    down = network.feet @ diags_array(1.0 / foot)
    cells = spread + diags_array(scale * network.film) + down @ network.feet.T
    matrix = block_array([[cells, -down], [-down.T, diags_array(1.0 / foot + scale * network.air)]])
    options = {"SymmetricMode": True}
    return splu(csc_array(matrix), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options)


def solved(network: Network, scale: float, ln_k: Array, foot: Array, power: Array) -> Solved:
    """The temperatures that powers (n + g,) make on a board of that ln k (m,), film and feet (n,) in K/W."""
    conductance = np.exp(network.plate.knots_at_faces @ ln_k)
    factor = _factor(network, scale, conductance, foot)
    heat = np.concatenate([network.patches @ power[network.bodies :], power[: network.bodies]])
    return Solved(network, scale, conductance, foot, factor.solve(heat), factor)
