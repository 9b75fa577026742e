"""The plain way, and the bounds no reading may leave: from the pixels alone."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import shift
from scipy.stats import truncnorm

from overlay.reading.plain import Around, Plain, _shifted, plain_of, within
from overlay.reading.single_pixel import fills_of, read_little
from overlay.view.tops import tops_of


def bounds(low: float, high: float, shown: float = 50.0) -> Plain:
    return Plain(None, np.inf, (0.0, 0.0), (0, 0), low, high, shown, 1.0)


@given(st.floats(-20, 120), st.floats(0.5, 200), st.floats(20, 49), st.floats(51, 90))
def test_a_value_within_bounds_is_the_mean_and_width_of_a_truncated_normal(value, u, low, high) -> None:
    a, b = (low - value) / u, (high - value) / u
    mean, left = within(value, u, bounds(low, high))
    assert low <= mean <= high
    assert left <= u or left <= (high - low) / np.sqrt(12.0)
    if a < 4 and b > -4:
        told = truncnorm(a, b, loc=value, scale=u)
        assert mean == pytest.approx(told.mean(), rel=1e-4)
        assert left == pytest.approx(told.std(), rel=2e-2, abs=1e-3 * u)


def test_wide_bounds_leave_a_value_as_it_is() -> None:
    assert within(50.0, 2.0, bounds(-100.0, 200.0)) == pytest.approx((50.0, 2.0))


def test_far_outside_only_the_bound_and_what_is_shown_are_known() -> None:
    mean, u = within(500.0, 3.0, bounds(40.0, 60.0, shown=52.0))
    assert mean == pytest.approx(56.0)
    assert u == pytest.approx(8.0 / np.sqrt(12.0))


def test_repeated_hot_and_cold_draws_come_true_as_often_as_is_said() -> None:
    """A part anywhere between its bounds, measured badly: the truncated value is right within 2u often enough."""
    random = np.random.default_rng(5)
    truth = random.uniform(40.0, 60.0, 4000)
    told = np.array([within(t + random.normal(0.0, 15.0), 15.0, bounds(40.0, 60.0)) for t in truth])
    assert np.mean(np.abs(told[:, 0] - truth) < 2 * told[:, 1]) > 0.93
    assert np.abs(told[:, 0] - truth).mean() < 5.5


@pytest.mark.parametrize("side_mm", [0.8, 1.6, 3.0])
def test_the_truth_lies_between_the_bounds_beside_a_hot_neighbour(bench, side_mm: float) -> None:
    cold = bench.part("R1", (20.0, 15.0), (side_mm, side_mm), 40.0)
    hot = bench.part("U1", (20.0 + side_mm / 2 + 3.4, 15.0), (6.0, 6.0), 95.0)
    view = bench.view(cold, hot, px_per_mm=2.0)
    top = tops_of(view.faces, 1.3)[0]
    (fills,) = fills_of([top], view.registration.shape_px, 1.3 / 2.355, 1.3 * 1.3 / 2.355)
    radiance, room = view.leaving_radiance, float(view.band.radiance(view.reflected_c))
    around = Around(np.atleast_1d(view.band.radiance(35.0)), room, float(radiance.min()))
    (plain,) = plain_of(radiance, 0.05, fills, np.array([bool(top.ends)]), around, np.array([0.1]), np.array([5.0]))
    assert plain is not None
    true = 0.94 * float(view.band.radiance(40.0)) + 0.06 * room
    assert plain.low <= true <= plain.high
    assert plain.high < float(view.band.radiance(95.0))  # and the neighbour's heat is not the part's
    if plain.leaving is not None:
        assert abs(plain.leaving - true) < 3 * plain.u


def test_shares_move_as_scipy_moves_them() -> None:
    random = np.random.default_rng(0)
    shares, distance = random.random((40, 11, 14)), random.uniform(-3.0, 3.0, 40)
    distance[:12] = [0.0, 1.0, -2.0, 10.0, -10.0, 10.5, 11.0, 14.0, -14.0, 0.3, -0.3, 1e-9]
    moved = _shifted(shares, distance)
    for before, after, by in zip(shares, moved, distance, strict=True):
        assert after == pytest.approx(shift(before, (by, 0.0), order=1, mode="constant"), abs=1e-12)


def test_a_hidden_face_whose_metal_ends_would_show_says_nothing_and_warns_of_nothing(bench) -> None:
    view = bench.view(bench.part("R1", (20.0, 15.0), (3.2, 1.6), 40.0, terminals="ends"))
    (top,) = tops_of([replace(view.faces[0], visible_px=shapely.Polygon(), visible=0.0)], 1.3)
    (fills,) = fills_of([top], view.registration.shape_px, 0.55, 0.72)
    assert fills.own.max() == 0.0
    one, radiance = np.ones(1), view.leaving_radiance
    with np.errstate(all="raise", under="ignore"):
        plain = plain_of(radiance, 0.05, fills, np.array([True]), Around(50.0 * one, 40.0, 30.0), 0.3 * one, 5.0 * one)
        little = read_little(radiance, 0.05, 50.0 * one, 40.0, 0.9 * one, fills, 0.3 * one, 0.4)
    assert plain == little == [None]
