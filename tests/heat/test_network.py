"""Facts about the network of a board and its bodies, beside plainer ways to the same numbers."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from overlay.heat.lines import factored
from overlay.heat.network import Network, network_of, solved
from overlay.heat.plate import plate_of
from overlay.heat.seen import SeenBody, SeenState

BODIES = (
    SeenBody("R1", (11.0, 15.0), (3.0, 2.0), 0.0, 0.6, 30.0, 0.5),
    SeenBody("U1", (20.0, 8.0), (6.0, 6.0), 30.0, 1.5, 40.0, 0.5),
    SeenBody("J1", (70.0, 8.0), (6.0, 6.0), 0.0, 1.5, 5.0, 0.5),  # off the board
)
CUT = shapely.Polygon([(0, 0), (35, 0), (35, 12), (22, 20), (0, 20)]).difference(shapely.box(5, 3, 9, 7))


def laid() -> Network:
    random = np.random.default_rng(4)
    places = random.uniform((0, 0), (35, 20), (200, 2))
    places = places[shapely.contains_xy(CUT, *places.T)]
    network = network_of(plate_of(CUT, 1500), SeenState(("a",), BODIES, places, 5 + places[:, 0] / 3, 23.0))
    return replace(network, patches=network.plate.under(np.array([[28.0, 6.0]]), np.full((1, 2), 4.0), np.zeros(1)))


@pytest.mark.parametrize("shape", [(2, 2), (9, 4), (5, 7)])
def test_lines_give_the_answer_of_the_whole_matrix(shape: tuple[int, int]) -> None:
    random = np.random.default_rng(3)
    number = np.arange(np.prod(shape)).reshape(shape)
    across, along = random.uniform(0, 2, (shape[0], shape[1] - 1)), random.uniform(0, 2, (shape[0] - 1, shape[1]))
    across[0, 0] = 0.0  # no face there
    whole = np.zeros((number.size,) * 2)
    for one, other, between in (
        (number[:, :-1], number[:, 1:], across),
        (number[:-1], number[1:], along),
    ):
        whole[one.ravel(), other.ravel()] = whole[other.ravel(), one.ravel()] = -between.ravel()
    diagonal = random.uniform(0.01, 0.1, number.size) - whole.sum(axis=1)
    right = random.normal(size=(number.size, 3))
    answer = factored(diagonal.reshape(shape), across, along).solve(right)
    assert answer == pytest.approx(np.linalg.solve(whole + np.diag(diagonal), right), rel=1e-9)


def test_board_and_bodies_are_in_balance() -> None:
    """Every cell and every body passes on what it gets, by Kirchhoff's law written out."""
    network = laid()
    random = np.random.default_rng(5)
    scale, ln_k, foot = 1.3, np.log(0.01) + random.normal(0, 0.3, network.plate.knots), np.array([25.0, 40.0, 30.0])
    power = np.array([0.5, 0.2, 0.1, 0.3])
    state = solved(network, scale, ln_k, foot, power)
    through_foot = (state.body_rise - network.feet @ state.rise) / foot
    assert power[:3] == pytest.approx(through_foot + scale * network.air * state.body_rise, rel=1e-9)
    heat = network.feet.T @ through_foot + network.patches[:, 0] * power[3]
    one, other = network.plate.faces.T
    flow = network.plate.conductance(ln_k) * (state.rise[one] - state.rise[other])
    np.add.at(heat, one, -flow)
    np.add.at(heat, other, flow)
    assert heat == pytest.approx(scale * network.film * state.rise, abs=1e-10)
    assert not state.rise[np.setdiff1d(np.arange(network.plate.cells), network.plate.on_board)].any()


def test_derivatives_are_those_of_differences() -> None:
    network = laid()
    random = np.random.default_rng(6)
    m, n = network.plate.knots, network.bodies
    power = np.array([0.5, 0.2, 0.1, 0.3])
    at = np.concatenate([[0.2], np.log(0.01) + random.normal(0, 0.3, m), np.log([25.0, 40.0, 30.0]), power])

    def look(x: np.ndarray) -> np.ndarray:
        return solved(network, np.exp(x[0]), x[1 : 1 + m], np.exp(x[1 + m : 1 + m + n]), x[1 + m + n :]).look

    tiny = 1e-5
    slopes = np.array([(look(at + tiny * d) - look(at - tiny * d)) / (2 * tiny) for d in np.eye(len(at))]).T
    line = solved(network, np.exp(at[0]), at[1 : 1 + m], np.exp(at[1 + m : 1 + m + n]), power).linearised()
    told = np.concatenate([line.by_scale[:, None], line.by_knots, line.by_feet, line.by_power], axis=1)
    assert told == pytest.approx(slopes, abs=1e-6 * np.abs(slopes).max())


def test_heat_on_the_board_is_seen_as_that_of_a_patch_there() -> None:
    network = laid()
    at = 1.0, np.full(network.plate.knots, np.log(0.01)), np.full(3, 30.0)
    with_patch = solved(network, *at, np.array([0.0, 0.0, 0.0, 1.0]))
    without = solved(replace(network, patches=np.zeros((network.plate.cells, 0))), *at, np.zeros(3))
    assert without.by_heat(network.patches)[:, 0] == pytest.approx(with_patch.look, rel=1e-10)
