"""A reading is worth what it is expected to settle."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.probes.worth import bits_settled


def test_what_infrared_has_settled_is_worth_nothing() -> None:
    assert bits_settled(60.0, 2.0, 10.0) < 1e-6
    assert bits_settled(-40.0, 2.0, 10.0) < 1e-6


def test_an_undecided_part_is_worth_most_and_an_unread_one_more() -> None:
    assert bits_settled(0.0, 2.0, 10.0) > bits_settled(5.0, 2.0, 10.0)
    assert bits_settled(0.0, 20.0, 10.0) > bits_settled(0.0, 2.0, 10.0)


def test_a_question_is_never_worth_more_than_its_one_bit() -> None:
    assert bits_settled(0.0, 500.0, 0.0) <= 1.5


@given(st.floats(-30, 30), st.floats(0.2, 30))
def test_a_better_thermocouple_is_never_worth_less(margin: float, u: float) -> None:
    assert bits_settled(margin, u, 10.0, 0.5) >= bits_settled(margin, u, 10.0, 2.0) - 1e-3


def test_without_uncertainty_nothing_is_left_to_settle() -> None:
    assert bits_settled(0.0, 0.0, 10.0) == pytest.approx(0.0)
