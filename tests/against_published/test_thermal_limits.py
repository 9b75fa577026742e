"""Ratings, derating and projection against published figures; the source stands beside each."""

from pathlib import Path

import pytest

from overlay.margin.derating import Policy, Rule, read_policy
from overlay.margin.figures import electrolytic_life_h, resistor_load
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


def test_life_of_electrolytic_capacitors_doubles_every_ten_kelvin() -> None:
    """Rubycon, Aluminum Electrolytic Capacitor Technical Notes, 5-1."""
    for case_c, hours in [(105, 2000), (95, 4000), (85, 8000), (75, 16000), (65, 32000), (55, 64000)]:
        assert electrolytic_life_h(2000.0, 105.0, case_c) == pytest.approx(hours, abs=0.5)
    assert electrolytic_life_h(2000.0, 105.0, 82.0) == pytest.approx(9849, abs=1)
    assert electrolytic_life_h(5000.0, 105.0, 92.0) == pytest.approx(12311, abs=0.5)
    assert electrolytic_life_h(2000.0, 105.0, 110.0) == pytest.approx(1414, abs=0.5)
    assert electrolytic_life_h(10_000.0, 105.0, 40.0) == 131_400.0  # fifteen years: a power-supply manual
    assert electrolytic_life_h(10_000.0, 105.0, -1e6) == 131_400.0


def test_ecss_fuse_line() -> None:
    """ECSS-Q-ST-30-11C Rev.2, 6.17.2, Table 6-17 (quoted in a public repository)."""
    line = policy("ECSS-Q-ST-30-11C").load_rule("fuse")
    assert line is not None
    for case_c, percent in [(85, 65.0), (90, 62.0), (97.5, 57.5), (100, 56.0), (110, 50.0), (110.1, 0.0), (111, 0.0)]:
        assert 100.0 * line.allowed_load(case_c) == pytest.approx(percent, abs=1e-9)
    assert rule("ECSS-Q-ST-30-11C", "fuse", 125.0).allowed_c(125.0) == 110.0


def test_connectors() -> None:
    """ECSS-Q-ST-30-11C Rev.2, Table 6-10 (quoted in a public repository); MIL-STD-975M, App. A, p. A.6."""
    assert rule("ECSS-Q-ST-30-11C", "connector", 105.0).allowed_c(105.0) == 75.0
    assert rule("MIL-STD-975M", "connector", 125.0).allowed_c(125.0) == 75.0


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
