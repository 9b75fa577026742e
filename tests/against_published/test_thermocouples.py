"""Thermocouple tolerances and wire conduction against published values.

Tolerances: IEC 60584-1 classes 1 and 2. Leg conductivities: ROHM TechWeb, thermal-design articles on thermocouple
types (2023). Wire conduction: straight-fin conduction (any heat-transfer text) with h = 50 W/m²K, worked out
independently to the digits shown.
"""

import pytest

from overlay.probes.wire import fin_conductance_w_per_k, tolerance_c, wire_diameter_mm, wire_error_share


@pytest.mark.parametrize(("name", "value"), [("K1", 1.5), ("K2", 2.5), ("T1", 0.60), ("T2", 1.125)])
def test_tolerances_at_150_c(name: str, value: float) -> None:
    assert tolerance_c(name, 150.0) == pytest.approx(value)


@pytest.mark.parametrize(("name", "constant_up_to"), [("K1", 375), ("K2", 333), ("T1", 125), ("T2", 133)])
def test_the_constant_part_holds_up_to_the_published_temperature(name: str, constant_up_to: float) -> None:
    assert tolerance_c(name, constant_up_to - 1) == tolerance_c(name, 0)
    assert tolerance_c(name, constant_up_to + 1) > tolerance_c(name, 0)


@pytest.mark.parametrize(
    ("awg", "k_mw", "t_mw", "shares"),
    [
        (24, 1.26, 3.07, (52, 22, 7.0, 2.5)),
        (30, 0.444, 1.08, (28, 8.9, 2.6, 0.9)),
        (36, 0.156, 0.381, (12, 3.3, 0.9, 0.3)),
        (38, 0.110, 0.269, (8.8, 2.4, 0.7, 0.2)),
        (40, 0.078, 0.190, (6.4, 1.7, 0.5, 0.2)),
    ],
)
def test_wire_conduction(awg: int, k_mw: float, t_mw: float, shares: tuple[float, ...]) -> None:
    diameter = wire_diameter_mm(awg)
    assert 1000 * fin_conductance_w_per_k(diameter, "K") == pytest.approx(k_mw, abs=0.005 if k_mw > 1 else 0.0005)
    assert 1000 * fin_conductance_w_per_k(diameter, "T") == pytest.approx(t_mw, abs=0.005 if t_mw > 1 else 0.0005)
    for resistance, share in zip((870, 220, 60, 20), shares, strict=True):
        half_digit = 0.5 if share >= 12 else 0.05
        assert 100 * wire_error_share(diameter, resistance) == pytest.approx(share, abs=half_digit)
