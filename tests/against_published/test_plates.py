"""Thin plates and fins with heat sources, against closed forms; non-negative least squares against SciPy.

Disc: the fin equation in polar coordinates on an endless plate, m² = h/k (k: conductivity times thickness). Fin with an
adiabatic tip: Incropera, DeWitt, Fundamentals of Heat and Mass Transfer, ch. 3 (from memory). Reciprocity: the matrix
of a network of conductances is symmetric. Lawson, Hanson, Solving Least Squares Problems, 1974, ch. 23.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import nnls
from scipy.special import i0, i1, k0, k1

from overlay.heat.network import Network, Solved, network_of, solved
from overlay.heat.nonnegative import nonnegative
from overlay.heat.plate import plate_of
from overlay.heat.seen import SeenBody, SeenState

K_W_PER_K, FILM_W_PER_M2K = 0.008, 20.0


def network(outline: shapely.Polygon, bodies: tuple[SeenBody, ...] = (), cells: int = 20_000) -> Network:
    """A network with the same film everywhere."""
    places = np.array([outline.centroid.coords[0]])
    state = SeenState(("a",), bodies, places, np.array([10.0]), 23.0)
    laid = network_of(plate_of(outline, cells), state)
    return replace(laid, film=np.full(laid.plate.cells, FILM_W_PER_M2K * laid.plate.cell_m2))


def uniform(laid: Network, power: np.ndarray, times: float = 1.0) -> Solved:
    """Its temperatures where all conductances are the same, or so many times that."""
    ln_k = np.full(laid.plate.knots, np.log(times * K_W_PER_K))
    return solved(laid, times, ln_k, np.full(laid.bodies, 20.0 / times), power)


def rises(laid: Network, heat: np.ndarray) -> np.ndarray:
    """Rises (N,) of the cells of a bare board for heat (N,) put into them."""
    return uniform(replace(laid, sources=heat[:, None]), np.ones(1)).rise


def test_a_disc_of_heat_on_a_wide_plate() -> None:
    radius_mm, power_w = 5.0, 1.0
    laid = network(shapely.box(0, 0, 160, 160))
    cells = laid.plate.center_mm
    away = np.hypot(*(cells - 80.0).T)
    line = (np.arange(8) + 0.5) / 8 - 0.5
    u, v = (a.ravel() * laid.plate.step_mm for a in np.meshgrid(line, line))
    near = away < radius_mm + 2
    share = np.zeros(len(cells))
    share[near] = (np.hypot(cells[near, :1] - 80 + u, cells[near, 1:] - 80 + v) <= radius_mm).mean(axis=1)
    share /= share.sum()
    rise = rises(laid, share * power_w)
    m, a = np.sqrt(FILM_W_PER_M2K / K_W_PER_K), radius_mm * 1e-3
    per_area = power_w / (np.pi * a**2 * FILM_W_PER_M2K)
    mean = per_area * (1 - 2 * i1(m * a) * k1(m * a))
    assert share @ rise == pytest.approx(mean, rel=2e-3)
    for distance_mm in (10.0, 20.0, 35.0):
        ring = np.abs(away - distance_mm) < 0.7
        outside = per_area * m * a * i1(m * a) * k0(m * away[ring] * 1e-3)
        assert rise[ring].mean() == pytest.approx(outside.mean(), rel=1e-2)
    inside = away < 3.0
    exact = per_area * (1 - m * a * k1(m * a) * i0(m * away[inside] * 1e-3))
    assert rise[inside] == pytest.approx(exact, rel=1e-2)


def test_a_straight_fin_with_an_adiabatic_tip() -> None:
    length_mm, width_mm, power_w = 100.0, 12.5, 0.3
    laid = network(shapely.box(0, 0, length_mm, width_mm))
    x = laid.plate.center_mm[:, 0]
    first = x < laid.plate.step_mm
    rise = rises(laid, np.where(first, power_w / first.sum(), 0.0))
    m = np.sqrt(FILM_W_PER_M2K / K_W_PER_K)
    w, long = width_mm * 1e-3, length_mm * 1e-3
    base = power_w / (w * np.sqrt(FILM_W_PER_M2K * K_W_PER_K))
    # the first cells take the heat at their middle
    start = laid.plate.step_mm / 2 * 1e-3
    exact = base * np.cosh(m * (long - np.maximum(x * 1e-3, start))) / np.sinh(m * long)
    far = x > 5
    assert rise[far] == pytest.approx(exact[far], rel=3e-3)


BODIES = (
    SeenBody("R1", (20.0, 15.0), (3.0, 2.0), 0.0, 0.6, 30.0, 0.5),
    SeenBody("U1", (40.0, 25.0), (6.0, 6.0), 30.0, 1.5, 40.0, 0.5),
    SeenBody("L1", (12.0, 30.0), (8.0, 8.0), 0.0, 4.0, 20.0, 0.5),
)


def influence(times: float = 1.0) -> tuple[Network, list[Solved]]:
    """What a watt of each body does, one by one."""
    laid = network(shapely.Polygon([(0, 0), (60, 0), (60, 30), (45, 40), (0, 40)]), BODIES, 2000)
    return laid, [uniform(laid, times * power, times) for power in np.eye(3)]


def test_what_one_body_does_to_another_the_other_does_to_it() -> None:
    _, each = influence()
    matrix = np.array([one.body_rise for one in each])
    assert matrix == pytest.approx(matrix.T, rel=1e-10)
    assert np.all(np.diag(matrix) > 0)


def test_all_heat_that_is_put_in_leaves_through_the_film() -> None:
    laid, each = influence()
    leaving = [laid.film @ one.rise + laid.air @ one.body_rise for one in each]
    assert leaving == pytest.approx(np.ones(3), rel=1e-9)


def test_twice_the_heat_through_twice_the_conductances_leaves_every_temperature() -> None:
    for one, twice in zip(influence()[1], influence(2.0)[1], strict=True):
        assert twice.rise == pytest.approx(one.rise, rel=1e-9)
        assert twice.body_rise == pytest.approx(one.body_rise, rel=1e-9)


@given(st.integers(1, 12), st.integers(0, 2**31))
def test_nonnegative_least_squares_agrees_with_scipy(n: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    a, b = random.normal(size=(n + 6, n)), random.normal(size=n + 6)
    exact = nnls(a, b)[0]
    assert nonnegative(a.T @ a, a.T @ b) == pytest.approx(exact, abs=1e-7)
    guess = np.maximum(random.normal(size=n), 0.0)
    assert nonnegative(a.T @ a, a.T @ b, guess) == pytest.approx(exact, abs=1e-7)
