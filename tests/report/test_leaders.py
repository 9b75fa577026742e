"""Ways for leaders against plain means: a search of the whole lattice, and shapes that another library fills."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from overlay.arrays import Array
from overlay.report.leaders import Ways, _cheapest, _covered


def cost_from_everywhere(cost: Array, first: tuple[int, int]) -> Array:
    """What the cheapest way to each cell costs: each step half of both cells' price, times its length."""
    rows, cols = cost.shape
    begins, ends, prices = [], [], []
    for row, col in np.ndindex(rows, cols):
        for down, across in np.ndindex(3, 3):
            there = row + down - 1, col + across - 1
            if (down, across) != (1, 1) and 0 <= there[0] < rows and 0 <= there[1] < cols:
                begins.append(row * cols + col)
                ends.append(there[0] * cols + there[1])
                prices.append(0.5 * np.hypot(down - 1, across - 1) * (cost[row, col] + cost[there]))
    graph = csr_array((prices, (begins, ends)), shape=(cost.size,) * 2)
    return np.asarray(dijkstra(graph, indices=first[0] * cols + first[1]).reshape(cost.shape))


@pytest.mark.parametrize("seed", range(12))
def test_a_way_within_its_length_is_the_cheapest_of_the_whole_lattice(seed: int) -> None:
    rng = np.random.default_rng(seed)
    cost = rng.choice([1.0, 1.5, 3.0, 60.0], size=(14, 21), p=[0.6, 0.2, 0.1, 0.1])
    first, last = (np.array([rng.integers(14), rng.integers(21)]) for _ in range(2))
    truth = cost_from_everywhere(cost, tuple(first))[tuple(last)]
    _, least = _cheapest(cost, first, last, 1.05 * np.hypot(*(last - first)))
    cells, found = _cheapest(cost, first, last, least)
    assert found == pytest.approx(truth)
    way = np.concatenate([[first], cells])
    assert np.all(np.abs(np.diff(way, axis=0)).max(axis=1) == 1)
    prices = cost[tuple(way.T)]
    assert 0.5 * np.sum(np.hypot(*np.diff(way, axis=0).T) * (prices[1:] + prices[:-1])) == pytest.approx(truth)


def test_cells_in_and_beside_bodies_are_those_that_their_shapes_hold() -> None:
    rng = np.random.default_rng(3)
    shape = (40, 60)
    rings = []
    for corners in (3, 4, 4, 4, 9, 32):
        turn = np.sort(rng.uniform(0.0, 2 * np.pi, corners))
        middle, radius = rng.uniform([-2.0, -2.0], [61.0, 41.0]), rng.uniform(0.3, 9.0)
        rings.append(middle + radius * np.column_stack([np.cos(turn), np.sin(turn)]))
    ring_of, cells, inside = _covered(rings, shape)
    down, across = np.indices(shape)
    for number, ring in enumerate(rings):
        body = shapely.Polygon(ring)
        near = shapely.distance(body, shapely.points(across, down)) < 0.5
        own = ring_of == number
        assert np.array_equal(np.sort(cells[own]), np.flatnonzero(near))
        held = shapely.contains_xy(body, across, down)
        assert np.array_equal(np.sort(cells[own & inside]), np.flatnonzero(held))


def test_a_way_begins_in_its_own_body_and_goes_round_another() -> None:
    box = np.array([[-3.0, -3.0], [3.0, -3.0], [3.0, 3.0], [-3.0, 3.0]])
    ways = Ways({"own": box + [10.0, 15.0], "other": box + [20.0, 15.0]}, (0.0, 0.0, 40.0, 30.0))
    way = ways.taken((10.0, 15.0), (38.0, 15.0), "own")
    assert np.allclose(way[[0, -1]], [[10.0, 15.0], [38.0, 15.0]])
    assert not shapely.LineString(way).crosses(shapely.Polygon(box + [20.0, 15.0]))
    assert shapely.LineString(way).length < 36.0
