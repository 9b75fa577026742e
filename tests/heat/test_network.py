"""Facts about the network of a board and its bodies, beside plainer ways to the same numbers."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from overlay.heat.equations import Belief, belief_of, rows_of
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
    patch = network.plate.under(np.array([[28.0, 6.0]]), np.full((1, 2), 4.0), np.zeros(1))
    return replace(network, sources=np.column_stack([network.sources, patch]))


def test_a_narrow_frame_takes_few_cells_and_none_of_them_off_the_board_counts() -> None:
    frame = shapely.box(0, 0, 150, 100).difference(shapely.box(6, 6, 144, 94))
    plate = plate_of(frame, 1500)
    assert plate.cells < 3.1 * 1500
    assert len(plate.on_board) < 0.3 * plate.cells
    assert np.isin(plate.faces, plate.on_board).all()
    assert shapely.contains_xy(frame, *plate.center_mm[plate.on_board].T).all()
    assert plate.width == min(plate.index.shape)


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
    wider = np.column_stack([np.ones(number.size), right])
    factored(diagonal.reshape(shape), across, along).solve_in(wider[:, 1:])
    assert wider[:, 0] == pytest.approx(1.0)
    assert wider[:, 1:] == pytest.approx(np.linalg.solve(whole + np.diag(diagonal), right), rel=1e-9)


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


def point(seed: int) -> tuple[Network, Belief, np.ndarray, np.ndarray]:
    """A board, what is believed of it, a guess of its unknowns, and powers."""
    network = laid()
    belief = belief_of([network])
    random = np.random.default_rng(seed)
    return network, belief, belief.middle + random.normal(0, 0.3, len(belief.middle)), random.uniform(0.1, 0.5, 4)


def shown(network: Network, belief: Belief, board: np.ndarray, power: np.ndarray) -> np.ndarray:
    """What is seen over its standard deviations, places and bodies."""
    (state,) = belief.solved([network], board, [power])
    offset_k = board[belief.offsets]
    places, bodies = state.place_rise + offset_k, state.body_rise + offset_k
    return np.concatenate([places / network.place_u_k, bodies / network.body_u_k])


def slopes(network: Network, belief: Belief, board: np.ndarray, power: np.ndarray) -> np.ndarray:
    """Derivatives by the powers and the board's unknowns, from differences."""
    at, q, tiny = np.concatenate([power, board]), len(power), 1e-4
    return np.array(
        [
            (shown(network, belief, (at + d)[q:], (at + d)[:q]) - shown(network, belief, (at - d)[q:], (at - d)[:q]))
            / (2 * tiny)
            for d in tiny * np.eye(len(at))
        ]
    ).T


def test_products_are_those_of_what_is_seen_and_its_derivatives() -> None:
    network, belief, board, power = point(6)
    by = slopes(network, belief, board, power)
    by = by[:, np.concatenate([np.arange(4), 4 + belief.unknowns(0)])]
    offset_k = board[belief.offsets]
    read = [(network.state.rise_k - offset_k) / network.place_u_k, (network.body_k - offset_k) / network.body_u_k]
    columns = np.column_stack([np.concatenate(read), by])
    (rows,) = rows_of(belief, board, belief.solved([network], board, [power]))
    whole = columns.T @ columns
    scale = np.sqrt(np.diag(whole))
    assert rows.products.matrix / np.outer(scale, scale) == pytest.approx(whole / np.outer(scale, scale), abs=1e-5)


def test_a_patch_more_is_foreseen_as_it_comes_out() -> None:
    network, belief, board, power = point(7)
    without = replace(network, sources=network.sources[:, :3])
    (before,) = belief.solved([without], board, [power[:3]])
    (rows,) = rows_of(belief, board, [before])
    answers = before.answers(network.patches)
    products, size = rows.times(answers)
    foreseen = rows.products.with_power(products[:, 0], size[0])
    after = before.with_patch(network.patches[:, 0], answers.cells[:, 0])
    (plain,) = belief.solved([network], board, [np.append(power[:3], 0.0)])
    for one, other in ((after.alone, plain.alone), (after.beneath, plain.beneath), (after.rise, plain.rise)):
        assert one == pytest.approx(other, rel=1e-9)
    (found,) = rows_of(belief, board, [plain])
    assert foreseen.powers == 4
    assert foreseen.matrix == pytest.approx(found.products.matrix, rel=1e-8, abs=1e-9 * found.products.matrix.max())
