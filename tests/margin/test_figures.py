import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.margin.figures import LONGEST_LIFE_H, electrolytic_life_h


@given(st.floats(100.0, 20_000.0), st.floats(60.0, 150.0), st.floats(-100.0, 200.0))
def test_life_never_exceeds_fifteen_years_and_halves_every_ten_kelvin(
    endurance_h: float, endurance_c: float, case_c: float
) -> None:
    life, hotter = (electrolytic_life_h(endurance_h, endurance_c, c) for c in (case_c, case_c + 10.0))
    assert 0.0 < hotter <= life <= LONGEST_LIFE_H
    if life < LONGEST_LIFE_H:
        assert hotter == pytest.approx(life / 2.0)
