import math

import numpy as np
import pytest
from GTC import ureal  # type: ignore[import-untyped]

from overlay.margin.budget import Distribution, coverage_factor, drawn, freedom_of
from overlay.uncertainty import Term, TermName, combined_k


def test_a_budgets_draws_have_its_standard_uncertainty_and_its_shapes() -> None:
    rng = np.random.default_rng(3)
    budget = (Term(TermName.CAMERA, -1.2, "camera:a"), Term(TermName.NOISE, 0.4))
    draws = drawn(budget, rng, 200_000)
    assert draws.mean() == pytest.approx(0.0, abs=0.01)
    assert draws.std() == pytest.approx(combined_k(budget), rel=0.01)
    limits_of_error = drawn(budget[:1], rng, 10_000)
    assert np.abs(limits_of_error).max() <= 1.2 * math.sqrt(3.0)
    assert drawn((), rng, 5).tolist() == [0.0] * 5


def test_degrees_of_freedom_agree_with_another_library() -> None:
    budget = (Term(TermName.NOISE, 3.0), Term(TermName.CAMERA, -4.0, "c"), Term(TermName.POSITION, 1.0))
    known = {TermName.NOISE: 8.0, TermName.CAMERA: 5.0}
    one, two, three = ureal(0.0, 3.0, 8), ureal(0.0, 4.0, 5), ureal(0.0, 1.0)
    assert freedom_of(budget, known) == pytest.approx((one + two + three).df, rel=1e-6)
    assert math.isinf(freedom_of(budget))


def test_a_small_parts_model_has_few_degrees_of_freedom() -> None:
    assert freedom_of((Term(TermName.FILL_AND_BLUR, 2.0),)) == pytest.approx(4.0)
    assert freedom_of((Term(TermName.FILL_AND_BLUR, 1.0), Term(TermName.CAMERA, 1.0, "c"))) == pytest.approx(16.0)


def test_coverage_factors_are_those_of_a_bound_on_one_side() -> None:
    assert coverage_factor(0.95) == pytest.approx(1.6449, abs=5e-5)
    assert coverage_factor(0.95, 4.7) == pytest.approx(2.1318, abs=5e-5)  # Student's t, four degrees of freedom


def test_draws_without_a_value_never_count_as_within() -> None:
    distribution = Distribution(np.sort(np.array([1.0, 2.0, np.nan, np.nan])))
    assert distribution.probability_up_to(1.5) == 0.25
    assert distribution.probability_up_to(99.0) == 0.5
    assert distribution.probability_up_to(2.0) == 0.5
