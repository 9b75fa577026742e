import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.margin.figures import LONGEST_LIFE_H, dielectric_limit_c, electrolytic_life_h, winding_rise_k


@given(st.floats(100.0, 20_000.0), st.floats(60.0, 150.0), st.floats(-100.0, 200.0))
def test_life_never_exceeds_fifteen_years_and_halves_every_ten_kelvin(
    endurance_h: float, endurance_c: float, case_c: float
) -> None:
    life, hotter = (electrolytic_life_h(endurance_h, endurance_c, c) for c in (case_c, case_c + 10.0))
    assert 0.0 < hotter <= life <= LONGEST_LIFE_H
    if life < LONGEST_LIFE_H:
        assert hotter == pytest.approx(life / 2.0)


@pytest.mark.parametrize("code", ["", "X", "X7", "R7X", "X9R", "10uF", "X7R7"])
def test_what_is_no_dielectric_code_has_no_limit(code: str) -> None:
    assert dielectric_limit_c(code) is None


def test_a_winding_that_did_not_change_only_followed_the_room() -> None:
    assert winding_rise_k(1.0, 1.0, 25.0, 25.0) == 0.0
    assert winding_rise_k(1.0, 1.0, 25.0, 30.0) == -5.0
    assert winding_rise_k(1.0, 1.2, 25.0, 25.0, "aluminium") == pytest.approx(50.0)
