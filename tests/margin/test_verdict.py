import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.margin.budget import coverage_factor
from overlay.margin.model import Requirement
from overlay.margin.verdict import probability_within, verdict_of

REQUIREMENT = Requirement(60.0, 10.0, 0.95, "none")


def test_the_bounds_of_undecided_belong_to_its_neighbours() -> None:
    assert verdict_of(20.0, 0.95, REQUIREMENT) == "clear"
    assert verdict_of(20.0, 0.9499, REQUIREMENT) == "undecided"
    assert verdict_of(-1.0, 0.05, REQUIREMENT) == "over"
    assert verdict_of(-1.0, 0.0501, REQUIREMENT) == "undecided"


def test_a_margin_exactly_as_wanted_is_clear_and_a_hair_less_is_near() -> None:
    assert verdict_of(10.0, 1.0, REQUIREMENT) == "clear"
    assert verdict_of(9.999999, 1.0, REQUIREMENT) == "near"
    assert verdict_of(0.0, 0.96, Requirement(60.0, 0.0, 0.95, "none")) == "clear"


def test_a_value_exactly_at_the_limit_is_within_it() -> None:
    assert probability_within(105.0, 105.0, 0.0) == 1.0
    assert probability_within(105.0, 105.0 + 1e-9, 0.0) == 0.0
    assert probability_within(105.0, 105.0, 2.5) == 0.5
    assert verdict_of(0.0, probability_within(105.0, 105.0, 0.0), REQUIREMENT) == "near"
    assert verdict_of(0.0, probability_within(105.0, 105.0, 2.5), REQUIREMENT) == "undecided"


@pytest.mark.parametrize("confidence", [0.8, 0.9, 0.95, 0.99, 0.999])
@pytest.mark.parametrize("u", [0.1, 1.0, 3.7])
def test_a_value_one_guard_band_from_the_limit_is_just_decided(confidence: float, u: float) -> None:
    requirement = Requirement(60.0, 0.0, confidence, "none")
    band = u * coverage_factor(confidence)
    below, above = 105.0 - band, 105.0 + band
    assert verdict_of(band, probability_within(105.0, below, u), requirement) == "clear"
    assert verdict_of(-band, probability_within(105.0, above, u), requirement) == "over"
    assert verdict_of(band, probability_within(105.0, below + 1e-3 * u, u), requirement) == "undecided"
    assert verdict_of(-band, probability_within(105.0, above - 1e-3 * u, u), requirement) == "undecided"


@given(st.floats(-200.0, 200.0), st.floats(0.01, 50.0), st.floats(0.01, 50.0))
def test_more_uncertainty_never_makes_a_kept_limit_surer(margin_c: float, u: float, more: float) -> None:
    sure, unsure = probability_within(margin_c, 0.0, u), probability_within(margin_c, 0.0, u + more)
    assert (unsure <= sure) if margin_c >= 0.0 else (unsure >= sure)


def test_verdicts_are_named_in_a_list_and_what_is_none_is_told() -> None:
    from overlay.errors import InputError
    from overlay.margin.verdict import verdicts_named

    assert verdicts_named("over, undecided") == {"over", "undecided"}
    assert verdicts_named("") == frozenset()
    with pytest.raises(InputError) as caught:
        verdicts_named("over,hot,cold")
    assert [problem.what for problem in caught.value.problems] == ["'hot' is no verdict", "'cold' is no verdict"]


def test_an_uncertainty_that_is_itself_uncertain_has_heavier_tails() -> None:
    from overlay.margin.verdict import probability_within

    assert probability_within(100.0, 90.0, 5.0, 4.0) == pytest.approx(0.94194, abs=5e-6)  # Student's t, ν = 4, t = 2
    assert probability_within(100.0, 90.0, 5.0, 4.0) < probability_within(100.0, 90.0, 5.0)
    assert probability_within(100.0, 100.0, 5.0, 4.0) == pytest.approx(0.5)
