from dataclasses import replace

import pytest

from overlay.board.bodies import body_of
from overlay.board.kinds import KINDS, SYNONYMS, kind_of, kind_of_refdes, kind_of_words, known_kind
from overlay.board.model import Component, Rating


def part(refdes: str, package: str = "", *, mechanical: bool = False) -> Component:
    component = Component(refdes, (0.0, 0.0), 0.0, "top", package, "", "", mechanical, 2)
    return replace(component, body=body_of(component, {}))


@pytest.mark.parametrize(
    ("refdes", "package", "kind"),
    [
        ("R1", "0603", "resistor"),
        ("RN3", "R_Array_Convex_4x0603", "resistor"),
        ("C1", "0603", "capacitor"),
        ("C2", "CP_Elec_6.3x5.4", "electrolytic"),
        ("C2", "CAPAE660X610N", "electrolytic"),
        ("C2", "CAPPRD250W50D630H1100", "electrolytic"),
        ("C3", "CP_EIA-3216-18_Kemet-A", "tantalum"),
        ("C3", "CAPMP7343X310N", "tantalum"),
        ("C3", "TANT-B", "tantalum"),
        ("C4", "C_Rect_L7.2mm_W2.5mm_P5.00mm", "film capacitor"),
        ("L1", "L_12x12mm_H8mm", "inductor"),
        ("FB1", "0603", "inductor"),
        ("T1", "", "transformer"),
        ("TR2", "EFD20", "transformer"),
        ("D1", "SMA", "diode"),
        ("CR5", "SOD-123", "diode"),
        ("D7", "LED_0603_1608Metric", "led"),
        ("D8", "LED_D5.0mm", "led"),
        ("LED2", "0603", "led"),
        ("Q1", "SOT-23", "transistor"),
        ("Q2", "SOIC-8", "transistor"),
        ("Q3", "TO-252-3_TabPin2", "transistor"),
        ("U1", "SOIC-8", "ic"),
        ("IC1", "QFN-32_5x5mm", "ic"),
        ("U2", "SOT-23-5", "ic"),
        ("U3", "SOT-223", "regulator"),
        ("U4", "TO-263-5", "regulator"),
        ("Y1", "Crystal_SMD_3225-4Pin_3.2x2.5mm", "crystal"),
        ("X1", "HC49-S", "crystal"),
        ("X1", "PinHeader_1x04_P2.54mm_Vertical", "connector"),
        ("J1", "SMA", "connector"),
        ("P1", "", "connector"),
        ("CN3", "JST_XH_B4B-XH-A", "connector"),
        ("SW1", "SW_SPST_TL3342", "switch"),
        ("K1", "", "relay"),
        ("F1", "Fuse_1206_3216Metric", "fuse"),
        ("RT1", "0603", "thermistor"),
        ("RT1", "R_0603_1608Metric", "thermistor"),
        ("OK1", "DIP-4_W7.62mm", "optocoupler"),
        ("ISO1", "SOIC-8", "optocoupler"),
        ("BT1", "BatteryHolder_Keystone_1060_1x2032", "battery"),
        ("U9", "ESP32-WROOM-32", "module"),
        ("HS1", "Heatsink_35x26mm", "heatsink"),
        ("SH1", "RF_Shield_20x20mm", "shield"),
        ("H1", "MountingHole_3.2mm_M3", "mechanical"),
        ("TP4", "", "mechanical"),
        ("ZZ9", "", ""),
        ("?", "", ""),
    ],
)
def test_package_and_designator_tell_the_kind(refdes: str, package: str, kind: str) -> None:
    assert kind_of(part(refdes, package)) == kind


def test_the_parts_table_wins() -> None:
    rated = replace(part("U1", "SOIC-8"), rating=Rating(2, kind="optocoupler"))
    assert kind_of(rated) == "optocoupler"


def test_a_tall_round_capacitor_is_an_electrolytic() -> None:
    assert kind_of(part("C1", "C_Radial_D10.0mm_H20.0mm_P5.00mm")) == "electrolytic"


def test_a_mechanical_item_is_mechanical() -> None:
    assert kind_of(part("R1", "0603", mechanical=True)) == "mechanical"


@pytest.mark.parametrize("refdes", ["R?", "r12", "R12A", "R_12"])
def test_letters_alone_tell_the_kind_of_a_designator(refdes: str) -> None:
    assert kind_of_refdes(refdes) == "resistor"


def test_a_kind_may_be_written_in_other_words() -> None:
    assert known_kind("MOSFET") == "transistor"
    assert known_kind(" Film  Capacitor ") == "film capacitor"
    assert known_kind("resistors") == "resistor"
    assert known_kind("flux capacitor") is None
    assert set(SYNONYMS.values()) <= set(KINDS)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("XTAL 25MHZ 18PF SMD", "crystal"),
        ("RELAY TELECOM DPDT 2A 5V", "relay"),
        ("CONN RCPT USB TYPE-C", "connector"),
        ("HEADER FOR BATTERY 2POS", "connector"),
        ("CAP ALUM 100UF 20% 35V SMD", "electrolytic"),
        ("FERRITE BEAD 600 OHM 0603", "inductor"),
        ("HEATSINK TO-220 BLACK", "heatsink"),
        ("RF SHIELD FRAME 20X20MM, SHIELDING FRAME", "shield"),
        ("IC SWITCHING REGULATOR BUCK 3A", ""),
        ("LED DRIVER 8CH I2C", ""),
        ("RES 10K OHM 1% 1/16W 0402", ""),
    ],
)
def test_words_of_a_description_tell_a_kind(text: str, kind: str) -> None:
    assert kind_of_words(text) == kind
