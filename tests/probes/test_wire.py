"""What a wire draws off, and how far a thermocouple may be wrong."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.probes.wire import (
    fin_conductance_w_per_k,
    part_resistance_k_per_w,
    tolerance_c,
    wire_diameter_mm,
    wire_error_share,
)


@given(st.floats(0.05, 0.6), st.floats(1, 1000))
def test_a_thicker_wire_draws_more(diameter: float, resistance: float) -> None:
    assert wire_error_share(diameter * 1.2, resistance) > wire_error_share(diameter, resistance)
    assert 0 < wire_error_share(diameter, resistance) < 1


def test_copper_legs_conduct_more() -> None:
    assert fin_conductance_w_per_k(0.127, "T") > 2 * fin_conductance_w_per_k(0.127, "K")


def test_a_part_s_resistance_comes_from_its_own_rise_where_power_is_known() -> None:
    assert part_resistance_k_per_w(3.2, 1.6, 44.0, 0.2) == pytest.approx(220.0)
    assert part_resistance_k_per_w(3.2, 1.6, None, None) == pytest.approx(220.0)
    assert part_resistance_k_per_w(1.0, 0.5, 40.0, None) == pytest.approx(870.0)


@given(st.floats(0.4, 40), st.floats(0.2, 40))
def test_larger_parts_never_have_more_resistance(longer: float, shorter: float) -> None:
    shorter = min(shorter, longer)
    assert part_resistance_k_per_w(longer * 1.5, shorter * 1.5, None, None) <= part_resistance_k_per_w(
        longer, shorter, None, None
    ) * (1 + 1e-12)


def test_the_percentage_takes_over_where_it_is_greater() -> None:
    assert tolerance_c("K2", 300.0) == 2.5
    assert tolerance_c("K2", 400.0) == 3.0


def test_gauges_have_their_diameters() -> None:
    assert wire_diameter_mm(36) == pytest.approx(0.127)
    assert wire_diameter_mm(30) == pytest.approx(0.255, abs=5e-4)
