import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.margin.model import Conditions
from overlay.margin.projection import likely_rise_scale_u, projected_budget, projected_c, settled_c
from overlay.uncertainty import Term, TermName, combined_k, covariance_k2

BENCH = Conditions("bench", 25.0, 0.5, 24.0, 1.0, 1.0, 0.0)


@given(st.floats(-20.0, 200.0), st.floats(-20.0, 60.0), st.floats(0.1, 4.0), st.floats(-40.0, 90.0))
def test_a_rise_keeps_its_size_but_for_the_scale(
    surface_c: float, ambient_c: float, scale: float, ambient_max_c: float
) -> None:
    conditions = Conditions("x", ambient_c, 0.5, ambient_c, 1.0, scale, 0.0)
    rise = projected_c(surface_c, conditions, ambient_max_c) - ambient_max_c
    assert rise == pytest.approx((surface_c - ambient_c) * scale, abs=1e-9)


def test_two_parts_of_one_capture_share_the_ambients_error() -> None:
    one = projected_budget(80.0, (Term(TermName.NOISE, 0.1),), BENCH)
    other = projected_budget(60.0, (Term(TermName.NOISE, 0.1),), BENCH)
    assert covariance_k2(one, other) == pytest.approx(0.25)
    assert combined_k(one) == pytest.approx((0.01 + 0.25) ** 0.5)


def test_an_exact_scale_adds_no_term() -> None:
    assert [term.name for term in projected_budget(80.0, (), BENCH)] == ["ambient"]


@given(st.floats(30.0, 120.0), st.floats(5.0, 60.0), st.floats(1.0, 60.0), st.floats(1.0, 60.0))
def test_an_exponential_is_carried_to_its_end(final: float, rise: float, tau: float, interval: float) -> None:
    ratio = 2.718281828459045 ** (-interval / tau)
    readings = [final - rise, final - rise * ratio, final - rise * ratio**2]
    found = settled_c(*readings, interval)
    if 0.01 < ratio < 0.9:
        assert found is not None
        assert found[0] == pytest.approx(final, abs=1e-5)
        assert found[1] == pytest.approx(tau, rel=1e-5)
    elif ratio > 0.91:
        assert found is None


def test_a_rise_scale_other_than_one_is_never_exactly_known() -> None:
    assert likely_rise_scale_u(1.0) == 0.0
    assert likely_rise_scale_u(2.0) == pytest.approx((2.0 - 2.0**0.8) / math.sqrt(3.0))
    assert likely_rise_scale_u(0.5) == pytest.approx(0.043, abs=5e-4)
