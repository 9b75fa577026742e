import numpy as np
import pytest
from GTC import type_b, ureal  # type: ignore[import-untyped]
from uncertainties import ufloat, umath  # type: ignore[import-untyped]

from overlay.margin.budget import Distribution, Input, coverage_factor, propagate, simulate


def resistance(volt: float, ampere: float, offset: float) -> float:
    return float((volt - offset) / ampere * np.exp(0.01 * volt))


INPUTS = {
    "volt": Input(5.0, 0.03, 8),
    "ampere": Input(0.2, 0.002, 5),
    "offset": Input(0.01, 0.005),
}


def test_the_linear_law_agrees_with_two_other_libraries() -> None:
    found = propagate(resistance, INPUTS)
    volt, ampere, offset = (ufloat(quantity.value, quantity.u) for quantity in INPUTS.values())
    other = (volt - offset) / ampere * umath.exp(0.01 * volt)
    assert found.value == pytest.approx(other.nominal_value, rel=1e-12)
    assert found.u == pytest.approx(other.std_dev, rel=1e-7)
    volt, ampere, offset = (ureal(quantity.value, quantity.u, quantity.freedom) for quantity in INPUTS.values())
    from GTC import exp

    third = (volt - offset) / ampere * exp(0.01 * volt)
    assert found.u == pytest.approx(third.u, rel=1e-7)
    assert found.freedom == pytest.approx(third.df, rel=1e-6)
    assert type_b.uniform(1.0) == pytest.approx(1.0 / np.sqrt(3.0))


def test_contributions_keep_their_sign_and_an_exact_input_contributes_nothing() -> None:
    found = propagate(lambda a, b, c: a - 2.0 * b + c, {"a": Input(1, 1), "b": Input(1, 1), "c": Input(1, 0)})
    assert found.contributions["a"] == pytest.approx(1.0)
    assert found.contributions["b"] == pytest.approx(-2.0)
    assert found.contributions["c"] == 0.0
    assert np.isinf(found.freedom)


def test_monte_carlo_and_the_linear_law_agree_where_the_function_is_straight() -> None:
    inputs = {"a": Input(20.0, 0.5, shape="rectangular"), "b": Input(3.0, 0.2)}
    linear = propagate(lambda a, b: a - 3.0 * b, inputs)
    drawn = simulate(lambda a, b: a - 3.0 * b, inputs, 200_000)
    assert drawn.mean == pytest.approx(linear.value, abs=0.01)
    assert drawn.u == pytest.approx(linear.u, rel=0.01)
    assert simulate(lambda a, b: a - 3.0 * b, inputs, 500).draws.tolist() == (
        simulate(lambda a, b: a - 3.0 * b, inputs, 500).draws.tolist()
    )


def test_draws_without_a_value_never_count_as_within() -> None:
    distribution = Distribution(np.sort(np.array([1.0, 2.0, np.nan, np.nan])))
    assert distribution.probability_up_to(1.5) == 0.25
    assert distribution.probability_up_to(99.0) == 0.5
    assert distribution.probability_up_to(2.0) == 0.5


def test_few_degrees_of_freedom_widen_the_coverage_factor() -> None:
    assert coverage_factor(0.95) == pytest.approx(1.959964, abs=5e-7)
    assert coverage_factor(0.95, 4.9) == coverage_factor(0.95, 4.0) > coverage_factor(0.95, 10.0)
