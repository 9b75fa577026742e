"""Placements written as records; all boards are invented."""

from pathlib import Path

import pytest

from overlay.board.placement.read import read_placement

REPORT = """### Footprint report - created by hand ###
## Unit = mm, Angle = deg.
$BeginDESCRIPTION
$EndDESCRIPTION

$MODULE "R1"
reference "R1"
value "10k 1%"
footprint "R_0603"
attribut smd
position 12.5000 -3.4000 orientation 90.00
layer front
$PAD "1"
position -0.7 0.0 size 0.8 0.9 orientation 90.00
$EndPAD
$EndMODULE "R1"

$MODULE U2
reference "U2"
value "amp"
footprint "SOIC-8"
position 22.5000 -13.4000 orientation 0.00
layer back
$EndMODULE U2
"""
GENCAD = """$HEADER
GENCAD 1.4
UNITS {units}
$ENDHEADER
$SHAPES
SHAPE R0603
LINE 0 0 1 1
$ENDSHAPES
$COMPONENTS
COMPONENT R1
DEVICE 10k
PLACE {x} {y}
LAYER TOP
ROTATION 90
SHAPE "R_0603" 0 0
COMPONENT U2
DEVICE amp
PLACE 0 0
LAYER BOTTOM
ROTATION 0.0
SHAPE SOIC-8 MIRRORY FLIP
$ENDCOMPONENTS
"""


def test_a_report_of_footprints_is_read(tmp_path: Path) -> None:
    (tmp_path / "board.rpt").write_text(REPORT)
    placement, problems = read_placement(tmp_path / "board.rpt", "board.rpt")
    assert placement is not None
    assert not problems
    assert [
        (part.refdes, part.center_mm, part.rotation_deg, part.side, part.package, part.value, part.line)
        for part in placement.components
    ] == [
        ("R1", (12.5, -3.4), 90.0, "top", "R_0603", "10k 1%", 6),
        ("U2", (22.5, -13.4), 0.0, "bottom", "SOIC-8", "amp", 18),
    ]


@pytest.mark.parametrize(
    ("units", "x", "y"), [("MM", 12.7, 2.54), ("INCH", 0.5, 0.1), ("THOU", 500, 100), ("USER 1000", 500, 100)]
)
def test_the_components_of_gencad_are_read(units: str, x: float, y: float, tmp_path: Path) -> None:
    (tmp_path / "board.cad").write_text(GENCAD.format(units=units, x=x, y=y))
    placement, problems = read_placement(tmp_path / "board.cad", "board.cad")
    assert placement is not None
    assert not problems
    first, second = placement.components
    assert first.center_mm == pytest.approx((12.7, 2.54))
    assert (first.rotation_deg, first.side, first.package, first.value, first.line) == (
        90.0,
        "top",
        "R_0603",
        "10k",
        10,
    )
    assert (second.refdes, second.side) == ("U2", "bottom")


def test_a_report_without_its_unit_is_asked(tmp_path: Path) -> None:
    (tmp_path / "board.rpt").write_text(REPORT.replace("## Unit = mm, Angle = deg.\n", ""))
    _, problems = read_placement(tmp_path / "board.rpt", "board.rpt")
    assert "unit" in problems[0].what
