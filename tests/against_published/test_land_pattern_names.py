"""IPC-7351 land-pattern names against public names whose dimensions are stated with them.

Sources: public board files whose package text states name and dimensions together (A below); real public names decoded
by the rules of the "IPC-7351B Naming Convention for Standard SMT Land Patterns" (excerpt) and public notes on its
number format (N); names that open generators print for given inputs (G); names put together from the grammar (F).
"""

import pytest

from overlay.board.bodies import body_from_package
from overlay.board.packages.land_names import decode_land_pattern

# name, source, numbers as the name says them: across, along, height, pitch, pins, density
DECODED = [
    ("RESC1608X55N", "N", 1.6, 0.8, 0.55, None, None, "N"),
    ("RESC1005X40N", "N", 1.0, 0.5, 0.40, None, None, "N"),
    ("CAPC2012X125", "F", 2.0, 1.2, 1.25, None, None, ""),
    ("CAPC2012X70M", "N", 2.0, 1.2, 0.70, None, None, "M"),
    ("SOIC127P600X175-8N", "A", 6.00, None, 1.75, 1.27, 8, "N"),
    ("SOIC127P600X144-14", "A", 6.00, None, 1.44, 1.27, 14, ""),
    ("SOP65P640X120-16", "A", 6.40, None, 1.20, 0.65, 16, ""),
    ("SOP64P600X175-16N", "A", 6.00, None, 1.75, 0.64, 16, "N"),
    ("SOT95P237X112-3N", "A", 2.37, None, 1.12, 0.95, 3, "N"),
    ("SOD3715X135", "A", 3.7, 1.5, 1.35, None, None, ""),
    ("SOD2514X110", "G", 2.5, 1.4, 1.10, None, None, ""),
    ("SOD1709X65", "G", 1.7, 0.9, 0.65, None, None, ""),
    ("DIOMELF3516", "A", 3.5, 1.6, None, None, None, ""),
    ("DIOM4226X229", "A", 4.2, 2.6, 2.29, None, None, ""),
    ("DIOM5226X240N", "N, G", 5.2, 2.6, 2.40, None, None, "N"),
    ("DIOM5436X265N", "N", 5.4, 3.6, 2.65, None, None, "N"),
    ("DIOM7959X250N", "N", 7.9, 5.9, 2.50, None, None, "N"),
    ("CAPAE1030X1050N", "A", 10.30, None, 10.50, None, None, "N"),
    ("CAPAE660X610N", "N", 6.60, None, 6.10, None, None, "N"),
    ("CAPAE530X610N", "N", 5.30, None, 6.10, None, None, "N"),
    ("CAPAE1350X1400N", "N", 13.50, None, 14.00, None, None, "N"),
    ("INDM7676X355N", "N", 7.6, 7.6, 3.55, None, None, "N"),
    ("INDM125125X600N", "N", 12.5, 12.5, 6.00, None, None, "N"),
    ("INDM3225X240N", "N", 3.2, 2.5, 2.40, None, None, "N"),
    ("CAPMP7343X310N", "F", 7.3, 4.3, 3.10, None, None, "N"),
    ("CAPMP3216X180N", "F", 3.2, 1.6, 1.80, None, None, "N"),
    ("SOIC127P1030X265-16", "G", 10.30, None, 2.65, 1.27, 16, ""),
    ("TQFP50P900X900X100-48", "G", 9.00, 9.00, 1.00, 0.50, 48, ""),
    ("LQFP50P2200X2200X140-144", "G", 22.00, 22.00, 1.40, 0.50, 144, ""),
    ("QFN50P500X500X100-33N", "F", 5.00, 5.00, 1.00, 0.50, 33, "N"),
    ("DFN50P300X300X80-8", "G", 3.00, 3.00, 0.80, 0.50, 8, ""),
    ("BGA256C100P16X16_1700X1700X180N", "F", 17.00, 17.00, 1.80, 1.00, 256, "N"),
    ("CAPPRD250W50D630H1100", "G", 6.30, None, 11.00, None, None, ""),
    ("TSSOP16P65_500X640X120L60X24", "G", 6.40, 5.00, 1.20, 0.65, 16, ""),
    ("TO228P991X238-3N", "F", 9.91, None, 2.38, 2.28, 3, "N"),
]

# name, body along x, along y, height at level A; where the public file or the package's standard states it
BODIES = [
    ("RESC1608X55N", 1.60, 0.80, 0.55),
    ("CAPC2012X125", 2.00, 1.25, 1.25),
    ("SOIC127P600X175-8N", 3.90, 4.90, 1.75),
    ("SOIC127P600X144-14", 3.90, 8.65, 1.44),
    ("SOP65P640X120-16", 4.40, 5.00, 1.20),
    ("SOP64P600X175-16N", 3.90, 4.90, 1.75),
    ("SOT95P237X112-3N", 1.28, 2.86, 1.12),
    ("SOD3715X135", 2.70, 1.55, 1.35),
    ("DIOMELF3516", 3.50, 1.65, 1.65),
    ("DIOM4226X229", 4.25, 2.67, 2.29),
    ("DIOM5226X240N", 4.30, 2.60, 2.40),
    ("DIOM7959X250N", 6.85, 5.90, 2.50),
    ("CAPAE1030X1050N", 10.30, 10.30, 10.50),
    ("CAPAE660X610N", 6.3, 6.3, 6.10),
    ("CAPAE530X610N", 5.0, 5.0, 6.10),
    ("CAPAE1350X1400N", 12.5, 12.5, 14.00),
    ("INDM7676X355N", 7.62, 7.62, 3.55),
    ("INDM125125X600N", 12.497, 12.497, 6.00),
    ("CAPMP7343X310N", 7.3, 4.3, 3.1),
    ("SOIC127P1030X265-16", 7.5, 10.3, 2.65),
    ("TQFP50P900X900X100-48", 7.0, 7.0, 1.0),
    ("LQFP50P2200X2200X140-144", 20.0, 20.0, 1.4),
    ("QFN50P500X500X100-33N", 5.0, 5.0, 1.0),
    ("DFN50P300X300X80-8", 3.0, 3.0, 0.8),
    ("BGA256C100P16X16_1700X1700X180N", 17.0, 17.0, 1.8),
    ("CAPPRD250W50D630H1100", 6.3, 6.3, 11.0),
    ("TSSOP16P65_500X640X120L60X24", 4.4, 5.0, 1.2),
    ("TO228P991X238-3N", 6.10, 6.54, 2.38),
]


@pytest.mark.parametrize("row", DECODED, ids=lambda row: row[0])
def test_a_land_pattern_name_is_taken_apart(row: tuple) -> None:
    name, _, across, along, height, pitch, pins, density = row
    pattern = decode_land_pattern(name)
    assert pattern is not None
    assert (pattern.across_mm, pattern.along_mm, pattern.height_mm) == (across, along, height)
    assert (pattern.pitch_mm, pattern.pins, pattern.density) == (pitch, pins, density)


@pytest.mark.parametrize(("name", "x", "y", "height"), BODIES, ids=lambda value: str(value))
def test_the_body_behind_a_name_is_the_stated_one_within_the_libraries_spread(
    name: str, x: float, y: float, height: float
) -> None:
    body = body_from_package(name)
    assert body is not None
    # half a tenth is lost where a name truncates, and libraries draw nominal or largest sizes
    assert body.length_mm == pytest.approx(x, abs=0.11) or (abs(body.length_mm - x) <= 0.31 and body.shape == "round")
    assert body.width_mm == pytest.approx(y, abs=0.11) or (abs(body.width_mm - y) <= 0.31 and body.shape == "round")
    assert body.height_mm == pytest.approx(height, abs=0.051)
    assert "IPC-7" in body.source


@pytest.mark.parametrize(
    "name",
    [
        "RESC16085X55",
        "R_0603_1608Metric",
        "SOT-23",
        "TSSOP-16_4.4x5mm_P0.65mm",
        "CP_Elec_6.3x5.4",
        "R0603",
        "C0402",
        "0603-LED",
        "LED0603",
        "DO-214AC",
        "CAPAE-6.6X6.6H5.4",
        "",
        "SOIC",
        "RESC",
        "RESC0000X10",
    ],
)
def test_other_names_are_no_land_patterns(name: str) -> None:
    assert decode_land_pattern(name) is None


def test_a_name_without_pins_is_accepted_but_tells_no_length() -> None:
    pattern = decode_land_pattern("SOIC127P600X175")
    assert pattern is not None
    assert pattern.pins is None
    assert body_from_package("SOIC127P600X175") is None


def test_five_digits_are_a_size_code_or_nothing() -> None:
    # 4020 resistors: metric 10251, 10.2 × 5.1 mm (open footprint-generator size file)
    pattern = decode_land_pattern("RESC10251X60")
    assert pattern is not None
    assert (pattern.across_mm, pattern.along_mm) == (10.2, 5.1)
    assert decode_land_pattern("RESC16085X55") is None


def test_an_unknown_pin_count_is_estimated_and_says_so() -> None:
    # L ≈ pins / 2 · pitch misses published lengths by −0.7 to +0.3 mm (JEDEC MS-012, MS-013, MO-153)
    body = body_from_package("SOIC127P600X175-10N")
    assert body is not None
    assert body.estimated
    assert (body.length_mm, body.width_mm) == pytest.approx((3.9, 6.35))
