"""Sizes within ordering codes."""

import pytest

from overlay.board.packages.order_codes import chip_of_order_code, outline_of_order_code


@pytest.mark.parametrize(
    ("code", "length_mm"),
    [
        ("RC0402FR-0710KL", 1.0),
        ("CC0603KRX7R9BB104", 1.6),
        ("08055C103KAT2A", 2.0),
        ("0402WGF1002TCE", 1.0),
        ("C0805C331J5GACTU", 2.0),
        ("GRM155R71C104KA88D", 1.0),
        ("GRM31CR71C106MA12L", 3.2),
        ("C0603C104K5RACTU", 1.6),
        ("C0603X5R0J105M030BC", 0.6),
        ("LMK316ABJ226KL-T", 3.2),
        ("CL05B104KO5NNNC", 1.0),
        ("C1608X5R1E106M080AC", 1.6),
        ("ERJ-3EKF1002V", 1.6),
    ],
)
def test_chips_by_their_ordering_code(code: str, length_mm: float) -> None:
    named = chip_of_order_code(code, "capacitor")
    assert named is not None
    assert named.body.length_mm == length_mm


@pytest.mark.parametrize(
    "code", ["10k", "100nF/16V", "0402", "885012206095", "10k 0402 1%", "1206", "LM358", "WSL25120"]
)
def test_other_texts_tell_no_chip(code: str) -> None:
    assert chip_of_order_code(code, "resistor") is None


@pytest.mark.parametrize(
    ("code", "sides"), [("TXB0108RGYR", (3.5, 4.5)), ("TPS54331DGKR", (3.0, 3.0)), ("LM5141RGER", (4.0, 4.0))]
)
def test_outline_codes_end_ordering_codes(code: str, sides: tuple[float, float]) -> None:
    named = outline_of_order_code(code)
    assert named is not None
    assert (named.body.length_mm, named.body.width_mm) == sides


@pytest.mark.parametrize("code", ["LM358D", "STM32F103C8T6", "ORDER", "DRV8835", "RGE"])
def test_other_codes_tell_no_outline(code: str) -> None:
    assert outline_of_order_code(code) is None
