"""Ratings, derating and projection against published figures; the source stands beside each."""

from pathlib import Path

import pytest

from overlay.margin.derating import Policy, Rule, read_policy
from overlay.margin.figures import (
    connector_current_a,
    dielectric_limit_c,
    electrolytic_life_h,
    junction_c,
    resistor_load,
    winding_limit_c,
    winding_rise_k,
)
from overlay.margin.model import Conditions
from overlay.margin.projection import projected_c


def policy(name: str) -> Policy:
    found = read_policy(name, Path())
    assert found is not None
    return found


def rule(name: str, kind: str, rated_c: float) -> Rule:
    found = policy(name).temperature_rule(kind, rated_c)
    assert found is not None
    return found


def test_derating_lines_of_chip_resistors() -> None:
    """General thick-film chips end at 155 °C (data sheets); MIL-PRF-55342 chips at 150 °C (maker's page)."""
    for ambient_c, share in [(85, 0.8235), (100, 0.6471), (110, 0.5294), (125, 0.3529), (155, 0.0)]:
        assert resistor_load(ambient_c, 155.0) == pytest.approx(share, abs=5e-5)
    for ambient_c, share in [(85, 0.8125), (100, 0.6250), (110, 0.5000), (125, 0.3125), (150, 0.0)]:
        assert resistor_load(ambient_c, 150.0) == pytest.approx(share, abs=5e-5)
    for ambient_c, share in [(85, 0.7273), (100, 0.4545), (110, 0.2727), (125, 0.0)]:
        assert resistor_load(ambient_c, 125.0) == pytest.approx(share, abs=5e-5)
    assert resistor_load(20.0, 155.0) == resistor_load(70.0, 155.0) == 1.0
    assert resistor_load(160.0, 155.0) == 0.0


def test_mil_std_975m_chip_resistor_line() -> None:
    """MIL-STD-975M App. A, p. A.24 (transcription)."""
    line = policy("MIL-STD-975M").load_rule("resistor")
    assert line is not None
    for ambient_c, share in [(70, 0.60), (85, 0.4125), (100, 0.225), (110, 0.100), (118, 0.0)]:
        assert line.allowed_load(ambient_c) == pytest.approx(share, abs=1e-12)


def test_film_temperature_of_thin_film_chips_at_rated_power() -> None:
    """Vishay TNPW e3 data sheet, ratings table: 1206 220 K/W, 0402 870 K/W."""
    assert junction_c(70.0, 220.0, 0.25) == pytest.approx(125.0, abs=0.05)
    assert junction_c(70.0, 870.0, 0.063) == pytest.approx(124.81, abs=0.005)


def test_life_of_electrolytic_capacitors_doubles_every_ten_kelvin() -> None:
    """Rubycon, Aluminum Electrolytic Capacitor Technical Notes, 5-1."""
    for case_c, hours in [(105, 2000), (95, 4000), (85, 8000), (75, 16000), (65, 32000), (55, 64000)]:
        assert electrolytic_life_h(2000.0, 105.0, case_c) == pytest.approx(hours, abs=0.5)
    assert electrolytic_life_h(2000.0, 105.0, 82.0) == pytest.approx(9849, abs=1)
    assert electrolytic_life_h(5000.0, 105.0, 92.0) == pytest.approx(12311, abs=0.5)
    assert electrolytic_life_h(2000.0, 105.0, 110.0) == pytest.approx(1414, abs=0.5)
    assert electrolytic_life_h(10_000.0, 105.0, 40.0) == 131_400.0  # fifteen years: a power-supply manual
    assert electrolytic_life_h(10_000.0, 105.0, -1e6) == 131_400.0


def test_junction_from_the_top_of_the_package() -> None:
    """A regulator at 115 °C, 6 K/W, 0.85 W: ROHM's article on ψ_JT; 2.6 K/W: Microchip's package table."""
    assert junction_c(115.0, 6.0, 0.85) == pytest.approx(120.1, abs=0.05)
    assert 150.0 - junction_c(115.0, 6.0, 0.85) == pytest.approx(29.9, abs=0.05)
    assert junction_c(80.0, 2.6, 0.5) == pytest.approx(81.3, abs=0.05)
    assert junction_c(70.0, 7.8, 0.2) == pytest.approx(71.6, abs=0.05)


def test_ecss_fuse_line() -> None:
    """ECSS-Q-ST-30-11C Rev.2, 6.17.2, Table 6-17 (quoted in a public repository)."""
    line = policy("ECSS-Q-ST-30-11C").load_rule("fuse")
    assert line is not None
    for case_c, percent in [(85, 65.0), (90, 62.0), (97.5, 57.5), (100, 56.0), (110, 50.0), (110.1, 0.0), (111, 0.0)]:
        assert 100.0 * line.allowed_load(case_c) == pytest.approx(percent, abs=1e-9)
    assert rule("ECSS-Q-ST-30-11C", "fuse", 125.0).allowed_c(125.0) == 110.0


def test_connectors() -> None:
    """Published pairs of base and usable current (ERNI derating sheets, IEC 60512-5-2); ECSS Table 6-10."""
    pairs = [(15.8, 12.64), (15.3, 12.24), (14.6, 11.68), (13.8, 11.04), (13, 10.40), (12.1, 9.68), (11, 8.80)]
    for base_a, usable_a in [*pairs, (9.8, 7.84), (8.2, 6.56), (6.3, 5.04), (3.3, 2.64)]:
        assert connector_current_a(base_a) == pytest.approx(usable_a, abs=0.005)
    assert rule("ECSS-Q-ST-30-11C", "connector", 105.0).allowed_c(105.0) == 75.0
    assert rule("MIL-STD-975M", "connector", 125.0).allowed_c(125.0) == 75.0


def test_windings() -> None:
    """Resistance method with 234.5 for copper (UL 1029 as quoted); class B by a sensor: IEC 62368-1 (from memory)."""
    assert winding_rise_k(1.000, 1.200, 25.0, 25.0) == pytest.approx(51.9, abs=0.05)
    assert winding_rise_k(1.00, 1.25, 22.0, 26.0) == pytest.approx(60.1, abs=0.05)
    assert winding_limit_c("B", on_surface=True) == 110.0
    assert winding_limit_c("B", on_surface=False) == 120.0


def test_ceramic_dielectrics() -> None:
    """EIA codes as printed by TDK (FAQ) and Holy Stone (p. 53)."""
    codes = {"X5R": 85.0, "X6S": 105.0, "X7R": 125.0, "X8R": 150.0, "Y5V": 85.0, "Z5U": 85.0, "C0G": 125.0}
    for code, limit_c in codes.items():
        assert dielectric_limit_c(code) == limit_c
    assert dielectric_limit_c("Q9Z") is None


def test_projection_to_the_hottest_ambient() -> None:
    """Worked out: 71 °C at 23 °C, for an electrolytic capacitor of 105 °C in 50 °C."""
    found = projected_c(71.0, Conditions("", 23.0, 0.0, 23.0, 0.0, 1.0, 0.0), 50.0)
    assert found == pytest.approx(98.0, abs=0.05)
    assert 105.0 - found == pytest.approx(7.0, abs=0.05)
    allowed = rule("RAC severe", "electrolytic", 105.0).allowed_c(105.0)
    assert allowed is not None
    assert allowed - found == pytest.approx(-13.0, abs=0.05)


def test_mil_std_975m_temperatures() -> None:
    """MIL-STD-975M App. A, pp. A.4, A.10, A.14, A.16, A.18, A.29, A.31, A.33 (transcription)."""
    expected = [("inductor", 125, 105), ("transformer", 130, 105), ("ic", 150, 100), ("regulator", 125, 100)]
    expected += [("diode", 175, 125), ("transistor", 150, 125), ("capacitor", 125, 110), ("thermistor", 150, 100)]
    expected += [("inductor", 85, 65), ("inductor", 105, 85), ("inductor", 150, 130)]
    expected += [
        ("transformer", 85, 65),
        ("transformer", 105, 85),
        ("transformer", 155, 130),
        ("transformer", 170, 155),
    ]
    for kind, rated_c, allowed_c in expected:
        assert rule("MIL-STD-975M", kind, rated_c).allowed_c(rated_c) == allowed_c


def test_a_naval_example_of_microcircuits() -> None:
    """MIL-DTL-917, p. 60: 60 to 45 °C."""
    assert rule("MIL-DTL-917", "ic", 60.0).allowed_c(60.0) == 45.0
