"""Temperatures and powers as purchasing lists write them."""

import pytest

from overlay.board.quantities import rated_power_w, temperature_limits


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("-40°C ~ 125°C (TJ)", [(125.0, "junction")]),
        ("-40°C ~ 85°C (TA)", [(85.0, "ambient")]),
        ("-55°C ~ 150°C (TC)", [(150.0, "surface")]),
        ("-55°C to 155°C", [(155.0, None)]),
        ("-55 … +155 °C", [(155.0, None)]),
        ("−40 ºC / +105 ºC", [(105.0, None)]),
        ("-40℃~+105℃", [(105.0, None)]),
        ("-55 - 125°C", [(125.0, None)]),
        ("-40/+85", [(85.0, None)]),
        ("+105 °C", [(105.0, None)]),
        ("155C", [(155.0, None)]),
        ("max. 130 °C", [(130.0, None)]),
        ("125°C max", [(125.0, None)]),
        ("-40°C ~ 125°C (TJ), -40°C ~ 85°C (TA)", [(125.0, "junction"), (85.0, "ambient")]),
        ("-40°F ~ 257°F", [(125.0, None)]),
        ("Storage -55°C ~ 150°C; operating -40°C ~ 85°C", [(85.0, None)]),
        ("150 (junction)", []),  # no unit, and nothing that tells one
        ("85", []),
        ("0.1 µF", []),
        ("2.8V to 5.5V", []),
        ("-5 V ~ 55 V", []),
        ("RoHS", []),
        ("-", []),
        ("125°C ~ -40°C", []),
        ("1000 ppm/°C", []),
    ],
)
def test_a_cell_of_a_temperature_column(text: str, expected: list[tuple[float, str | None]]) -> None:
    assert [(limit.high_c, limit.at) for limit in temperature_limits(text)] == expected


def test_a_headings_unit_counts_for_cells_without_one() -> None:
    assert [limit.high_c for limit in temperature_limits("155", unit="C")] == [155.0]
    assert [limit.high_c for limit in temperature_limits("212", unit="F")] == [100.0]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("CAP CER 1UF 25V X5R 0402 -55°C ~ 85°C (TA)", [(85.0, "ambient")]),
        ("0.1uF ±10% X7R -55°C ~ 125°C surface mount", [(125.0, None)]),  # "surface mount" is no basis
        ("RES 10K 1-85 OHM", []),
        ("CONN 2-40 POS 105", []),
    ],
)
def test_running_text_needs_a_range_with_its_unit(text: str, expected: list[tuple[float, str | None]]) -> None:
    assert [(limit.high_c, limit.at) for limit in temperature_limits(text, sure=False)] == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1/4W", 0.25),
        ("250 mW", 0.25),
        ("0,125W", 0.125),
        ("63 mW", 0.063),
        ("0.063W, 1/16W", 0.063),
        ("1/16 W", 0.0625),
        (".25W", 0.25),
        ("2 Watts", 2.0),
        ("SMD RES 470R-5%-1/16W;0402", 0.0625),
        ("5W @ 70°C", 5.0),
        ("1W, 2W", None),
        ("10k 1%", None),
        ("5 Wide", None),
        ("0W", None),
        ("1/0W", None),
    ],
)
def test_powers(text: str, expected: float | None) -> None:
    assert rated_power_w(text) == (None if expected is None else pytest.approx(expected))
