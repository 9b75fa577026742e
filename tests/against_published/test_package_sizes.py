"""Body sizes against a second library's drawn bodies and against the standards' figures.

Libraries agree within 0.05 mm on most families and split between nominal and largest sizes on small moulded diodes and
transistors: 0.4 mm or 15 %, whichever is larger, is allowed there. Second library: body outlines drawn on the
fabrication layer of an open footprint library (a Linux distribution's package, release 6.0.11).
"""

import pytest

from overlay.board.bodies import body_from_package
from overlay.board.packages.sizes import chips_by_inch, chips_by_metric, ics, packages, tantalums

# inch code, metric code, length, width as drawn
CHIPS = [
    ("01005", "0402", 0.40, 0.20),
    ("0201", "0603", 0.60, 0.30),
    ("0402", "1005", 1.05, 0.54),
    ("0603", "1608", 1.60, 0.825),
    ("0805", "2012", 2.00, 1.25),
    ("1206", "3216", 3.20, 1.60),
    ("1210", "3225", 3.20, 2.49),
    ("1218", "3246", 3.20, 4.60),
    ("1806", "4516", 4.50, 1.60),
    ("1812", "4532", 4.50, 3.20),
    ("2010", "5025", 5.00, 2.50),
    ("2512", "6332", 6.30, 3.20),
    ("2816", "7142", 7.10, 4.20),
    ("4020", "10251", 10.20, 5.10),
    ("1008", "2520", 2.50, 2.00),
]

# name, x, y as drawn at level A
DRAWN = [
    ("SMA", 4.6, 3.0),
    ("SMB", 4.6, 4.0),
    ("SMC", 7.1, 6.2),
    ("SOD-123", 2.8, 1.8),
    ("SOD-323", 1.8, 1.4),
    ("SOD-523", 1.3, 0.9),
    ("SOD-923", 0.8, 0.6),
    ("SOT-23", 1.3, 2.9),
    ("SC-70", 1.35, 2.2),
    ("SOT-563", 1.3, 1.7),
    ("SOT-223", 3.7, 6.7),
    ("SOT-89", 2.5, 4.5),
    ("MELF", 5.2, 2.6),
    ("MiniMELF", 3.3, 1.6),
    ("R_MELF", 5.8, 2.2),
    ("R_MiniMELF", 3.6, 1.4),
    ("R_MicroMELF", 2.2, 1.1),
    ("MicroMELF", 1.9, 1.15),
    ("PLCC-2", 3.5, 2.8),
    ("LQFP-48", 7.0, 7.0),
    ("MSOP-8", 3.0, 3.0),
]


@pytest.mark.parametrize(("inch", "metric", "length", "width"), CHIPS)
def test_chip_codes_agree_with_drawn_bodies(inch: str, metric: str, length: float, width: float) -> None:
    chip = chips_by_inch()[inch]
    assert chip is chips_by_metric()[metric]
    assert (chip.length_mm, chip.width_mm) == pytest.approx((length, width), abs=0.051)


@pytest.mark.parametrize(("name", "x", "y"), DRAWN)
def test_families_agree_with_drawn_bodies(name: str, x: float, y: float) -> None:
    body = body_from_package(name)
    assert body is not None
    assert abs(body.length_mm - x) <= max(0.4, 0.15 * x)
    assert abs(body.width_mm - y) <= max(0.4, 0.15 * y)


def test_an_inch_code_is_looked_up_rather_than_computed() -> None:
    # 0603 by inches would be 1.52 × 0.76 mm; IEC metric code 1608 says what it is
    body = body_from_package("R0603")
    assert body is not None
    assert (body.length_mm, body.width_mm) == (1.60, 0.80)


def test_look_alike_codes_stay_apart() -> None:
    sizes = {code: body_from_package(code) for code in ("2012", "2010", "2512", "2520")}
    # metric 2.0 × 1.25, inch 5.0 × 2.5, inch 6.35 × 3.2, metric 2.5 × 2.0 (EIA and IEC chip sizes)
    assert {code: body and (body.length_mm, body.width_mm) for code, body in sizes.items()} == {
        "2012": (2.0, 1.25),
        "2010": (5.0, 2.5),
        "2512": (6.35, 3.2),
        "2520": (2.5, 2.0),
    }


def test_ics_of_the_standards_have_the_standards_bodies() -> None:
    # JEDEC MS-012 AA, AB, AC; MS-013; MO-153; MO-150; MO-187; MS-026 (open generators' size files)
    table = {
        "SOIC": {8: (3.9, 4.9), 14: (3.9, 8.65), 16: (3.9, 9.9)},
        "SOICW": {14: (7.5, 9.0), 16: (7.5, 10.3), 18: (7.5, 11.55), 20: (7.5, 12.8), 24: (7.5, 15.4), 28: (7.5, 17.9)},
        "SSOP": {8: (5.3, 3.0), 14: (5.3, 6.2), 16: (5.3, 6.2), 20: (5.3, 7.2), 24: (5.3, 8.2), 28: (5.3, 10.2)},
        "MSOP": {8: (3.0, 3.0), 10: (3.0, 3.0)},
    }
    for family, pins in table.items():
        for count, sides in pins.items():
            found = next(outline for outline in ics()[family] if outline.pins == (count,))
            assert (found.x_mm, found.y_mm) == sides
    for pins, side in {32: 7, 44: 10, 48: 7, 64: 10, 80: 12, 100: 14, 144: 20, 176: 24, 208: 28}.items():
        body = body_from_package(f"LQFP-{pins}")
        assert body is not None
        assert (body.length_mm, body.width_mm) == (side, side)


def test_a_lead_span_less_the_body_is_the_same_for_every_quad_flat_pack() -> None:
    # JEDEC MS-026: leads reach 1.0 mm beyond the body on each side
    for outline in ics()["QFP"]:
        assert outline.span_mm is not None
        assert sum(outline.span_mm) / 2 - outline.x_mm == pytest.approx(2.0, abs=0.01)


def test_length_from_pins_and_pitch_is_within_the_published_error() -> None:
    # −0.7 … +0.3 mm over MS-012, MS-013 and MO-153
    for family in ("SOIC", "SOICW"):
        for outline in ics()[family]:
            assert outline.pitch_mm is not None
            assert -0.75 <= outline.pins[0] / 2 * outline.pitch_mm - outline.y_mm <= 0.3


def test_tantalum_case_numbers_are_their_own_sizes() -> None:
    # EIA 535 case numbers: tenths of length and width, then tenths of the height (2012 and 1608 within the tolerance)
    for case in tantalums():
        code, height = case.eia.split("-")
        assert case.length_mm == pytest.approx(int(code[:2]) / 10, abs=0.06)
        assert case.width_mm == pytest.approx(int(code[2:]) / 10, abs=0.16)
        assert case.height_mm == pytest.approx(int(height) / 10)


def test_only_letters_that_all_makers_share_name_a_case() -> None:
    assert {case.letter for case in tantalums()} & set("ABCD") == set("ABCD")
    for letter in "EVXY":
        assert body_from_package(f"CASE-{letter}") is None


def test_every_row_of_the_tables_names_its_source() -> None:
    assert all(outline.source for outline in packages().values())
    assert all(outline.source for family in ics().values() for outline in family)


def test_a_body_lies_inside_its_land_patterns_courtyard() -> None:
    # courtyards of an open land-pattern generator (footprinter 0.0.450), read off its output
    courtyards = {
        "0402": (1.86, 0.94), "0603": (2.96, 1.46), "0805": (3.36, 1.90), "1206": (4.56, 2.26), "1210": (4.56, 3.16),
        "2010": (6.36, 3.16), "2512": (7.66, 3.86), "SMA": (7.00, 3.50), "SMB": (7.30, 4.50), "SMC": (9.80, 6.70),
    }  # fmt: skip
    for name, (x, y) in courtyards.items():
        body = body_from_package(name)
        assert body is not None
        assert body.length_mm < x
        assert body.width_mm < y
