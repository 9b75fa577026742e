"""Words of placement files: units and sides in prose and names, headings, marks, numbers."""

import pytest

from overlay.board.placement.headings import column_of
from overlay.board.placement.marks import is_mechanical, is_unassigned, looks_like_refdes
from overlay.board.placement.numbers import number_style, parse_angle, parse_figure
from overlay.board.placement.sides import legend, side_of_name, side_of_word, stated_side
from overlay.board.placement.units import stated_unit


@pytest.mark.parametrize(
    ("line", "unit"),
    [
        ("Units used: mil", "mil"),
        ("## Unit = mm, Angle = deg.", "mm"),
        ("## Unit = inches, Angle = deg.", "inch"),
        ("Units: Inches", "inch"),
        ("UNITS  = INCH", "inch"),
        ("UUNITS = MILLIMETERS", "mm"),
        ("# all dimensions in millimeters", "mm"),
        ("All dimensions are in mm unless otherwise noted", "mm"),
        ("# X,Y in mils.  rotation in degrees.", "mil"),
        ("*Coordinates in mm, always center of component", "mm"),
        ("Metric", "mm"),
        ("(mil)", "mil"),
        ('"Units","mm"', "mm"),
        ("Unit of measure: thou", "mil"),
        ("Units: 1/1000 inch", "mil"),
        ('Units: 0.001"', "mil"),
        ("Units: 0.01 mm", "0.01 mm"),
        ("单位: 毫米", "mm"),
        ("Einheit: mm", "mm"),
        ("Measurement system: metric", "mm"),
        ("Units (mm/mil): mil", "mil"),
        ("mm units", "mm"),
        ("Coordinate origin: lower left (mm)", "mm"),
        ("Units: in", "inch"),
        ("Placement positions are given in microns", "um"),
    ],
)
def test_a_line_states_the_unit(line: str, unit: str) -> None:
    found = stated_unit(line)
    assert found is not None
    assert found.name == unit


@pytest.mark.parametrize(
    "line",
    [
        "Board thickness 1.6 mm",
        "Board dimensions: 100 x 80 mm",
        "Minimum track: 6 mil",
        "Drill units: inch",
        "Hole size units: mm",
        "Origin: 1204.72, 1204.72 mill",
        "Paste stencil thickness: 0.1mm",
        "C:\\jobs\\mm\\board.brd",
        "10 mil stencil",
        "Grid: 50 mil",
        "Title: 5mm LED board",
        "Units: mm or mil",
        "Units: as in the heading",
        "Units: 12",
        "The coordinates in the table are centres",
        "Placed in one pass",
        "",
    ],
)
def test_a_unit_word_for_another_thing_states_nothing(line: str) -> None:
    assert stated_unit(line) is None


@pytest.mark.parametrize(
    ("line", "side"),
    [
        ("## Side : top", "top"),
        ("## Side : bottom", "bottom"),
        ("## Side : All", "both"),
        ("# Board Side:          Top + Bottom", "both"),
        ("Layer: TopLayer", "top"),
        ("TOP SIDE", "top"),
        ("Bottom Side Placement", "bottom"),
        ("--- Bottom ---", "bottom"),
        ("[TOP]", "top"),
        ("Component placement list - TOP", "top"),
        ("Solder side", "bottom"),
        ("Component side", "top"),
        ('"Side","Bottom"', "bottom"),
        ("面: 底层", "bottom"),
    ],
)
def test_a_line_states_the_side(line: str, side: str) -> None:
    assert stated_side(line) == side


@pytest.mark.parametrize(
    "line",
    [
        "Origin: bottom left",
        "Viewed from the top",
        "C:\\jobs\\top\\board.brd",
        "Title: Top drive controller",
        "Component list",
        "Placement of the top board",
        "Laptop power",
        "B",
        "",
    ],
)
def test_a_side_word_for_another_thing_states_nothing(line: str) -> None:
    assert stated_side(line) is None


@pytest.mark.parametrize(
    ("name", "side"),
    [
        ("board-top-pos.csv", "top"),
        ("xyz_bottom.txt", "bottom"),
        ("amp_F.pos", "top"),
        ("amp_B.pos", "bottom"),
        ("amp-F_Cu.pos", None),
        ("PnP_amp_v1_back.csv", "bottom"),
        ("PnP_amp_front.csv", "top"),
        ("amp.mnt", "top"),
        ("amp.mnb", "bottom"),
        ("AmpTopPos.csv", "top"),
        ("pick_place_bot.txt", "bottom"),
        ("centroid_T.csv", "top"),
        ("amp_rev_B.csv", None),
        ("amp_B.csv", None),
        ("front_panel.csv", None),
        ("backplane.csv", None),
        ("top_bottom.csv", None),
        ("laptop.csv", None),
        ("placement.csv", None),
    ],
)
def test_a_file_name_tells_the_side_or_nothing(name: str, side: str | None) -> None:
    assert side_of_name(name) == side


@pytest.mark.parametrize(
    ("word", "side"),
    [
        *((word, "top") for word in ["top", "Top", "T", "TopLayer", "F.Cu", "Front", "TOP_SMT", "顶层", "oben"]),
        *((word, "bottom") for word in ["bottom", "BOT", "B", "BottomLayer", "B.Cu", "Back", "bottom_side"]),
        *((word, "bottom") for word in ["底层", "unten", "m", "はんだ面"]),
        ("Component Side", "top"),
        ("Solder Side", "bottom"),
        ("Primary Component Side", "top"),
        ("Secondary Component Side", "bottom"),
        ("Copper Bottom", "bottom"),
        ("1", None),
        ("inner", None),
        ("top/bottom", None),
        ("", None),
    ],
)
def test_a_cell_names_the_side(word: str, side: str | None) -> None:
    assert side_of_word(word) == side


def test_a_legend_explains_the_marks() -> None:
    assert legend("Side (1=top, 2=bottom)") == {"1": "top", "2": "bottom"}
    assert legend("gap=top") == {}


@pytest.mark.parametrize(
    ("heading", "role", "kind", "unit"),
    [
        ("Mid X", "x", "centre", None),
        ("Center-X(mil)", "x", "centre", "mil"),
        ("Centroid Y [mm]", "y", "centre", "mm"),
        ("SYM_CENTER_X", "x", "centre", None),
        ("PosX", "x", "pos", None),
        ("X_mm", "x", "pos", "mm"),
        ("LocationY", "y", "pos", None),
        ("X-coordinate (inches)", "x", "pos", "inch"),
        ("Ref X", "x", "ref", None),
        ("Origin Y", "y", "ref", None),
        ("Pad X", "x", "pad", None),
        ("Pin1 Y", "y", "pad", None),
        ("X坐标(mm)", "x", "pos", "mm"),
        ("中心点Y", "y", "centre", None),
        ("Y座標", "y", "pos", None),
        ("Х", "x", "pos", None),
        ("T/B", "side", "pos", None),
        ("Ref. Des.", "refdes", "pos", None),
        ("Orient.", "rotation", "pos", None),
        ("旋转", "rotation", "pos", None),
        ("封装", "package", "pos", None),
        ("Mfr. Part No.", "part", "pos", None),
    ],
)
def test_a_heading_is_understood(heading: str, role: str, kind: str, unit: str | None) -> None:
    column = column_of(heading)
    assert role in dict(column.roles)
    assert column.kind == kind
    assert (column.unit.name if column.unit else None) == unit


@pytest.mark.parametrize("heading", ["X-Size", "Height(mil)", "Pins", "SMD", "Index", "X1", ""])
def test_other_headings_mean_nothing(heading: str) -> None:
    assert not column_of(heading).known


@pytest.mark.parametrize(
    ("refdes", "package", "value", "mechanical"),
    [
        ("FID1", "", "", True),
        ("MH3", "", "", True),
        ("H1", "MountingHole_3.2mm_M3", "", True),
        ("H1", "", "", True),
        ("H2", "PinHeader_1x04_P2.54mm", "", False),
        ("H2", "HDR1X4", "", False),
        ("J1", "Socket_MountingHoles_Horizontal", "", False),
        ("P1", "Connector_2x5", "", False),
        ("TP12", "TestPoint_Pad_D1.0mm", "", True),
        ("LOGO1", "x", "", True),
        ("MK1", "Microphone", "", False),
        ("M1", "", "M3 screw", True),
        ("U1", "FIDUCIAL MARK", "", True),
        ("R1", "R_Axial_ThroughHole", "", False),
        ("HS1", "Heatsink_20x20", "", False),
        ("X1", "Crystal_3225", "", False),
        ("K1", "Relay", "", False),
    ],
)
def test_hardware_and_marks_are_told_from_parts(refdes: str, package: str, value: str, mechanical: bool) -> None:
    assert is_mechanical(refdes, package, value) is mechanical


@pytest.mark.parametrize(
    ("refdes", "package"),
    [
        ("JP1", "SolderJumper-2_P1.3mm_Open_Pad1.0x1.5mm"),
        ("JP2", "Jumper:SolderJumper-3_P1.3mm_Bridged12"),
        ("SJ1", "SMT-JUMPER_2_NC"),
        ("NT1", "NetTie-2_SMD_Pad0.5mm"),
        ("TP3", "TestPoint_Pad_D1.0mm"),
        ("J5", "TestPoint_THTPad_1.5x1.5mm_Drill0.7mm"),
        ("LOGO1", "House-Logo_5.7x6mm"),
        ("G1", "Symbol_Hot-Surface_8.5x6mm_SilkScreen"),
        ("U$1", "FIDUCIAL-1X2"),
        ("FRAME1", "FRAME-LETTER"),
    ],
)
def test_jumpers_of_solder_ties_pads_and_marks_are_mechanical(refdes: str, package: str) -> None:
    assert is_mechanical(refdes, package)


@pytest.mark.parametrize(
    ("refdes", "package"), [("JP4", "PinHeader_1x02_P2.54mm_Vertical"), ("JP5", "1X02"), ("J1", "LogoConn_1x04")]
)
def test_a_jumper_with_pins_is_a_part(refdes: str, package: str) -> None:
    assert not is_mechanical(refdes, package)


def test_designators_are_recognised() -> None:
    assert all(map(looks_like_refdes, ["R1", "c12", "U3E", "LED4", "IC7", "R_12", "J1A", "XTAL2"]))
    assert not any(map(looks_like_refdes, ["", "Total", "Page", "Rev2", "BC547", "1N4148", "0603", "mm", "R"]))
    assert all(map(is_unassigned, ["", "U?", "R?", "REF**", "G***", "~", "*"]))
    assert not any(map(is_unassigned, ["R1", "USB", "+3V3"]))


@pytest.mark.parametrize(
    ("texts", "style"),
    [
        (["12,5", "7"], "comma"),
        (["1,204.72", "3.5"], "point"),
        (["1.204,72"], "comma"),
        (["1,204,720"], "point"),
        (["1,204", "3.25"], "point"),
        (["1,204", "12047"], "comma"),
        (["0,500"], "comma"),
        (["1,204"], None),
        (["12", "13"], "point"),
    ],
)
def test_the_decimal_mark_is_told_by_all_cells(texts: list[str], style: str | None) -> None:
    assert number_style(texts) == style


@pytest.mark.parametrize(
    ("text", "value"),
    [("+12.5", 12.5), ("-.5", -0.5), ("1.2e-3", 0.0012), ("1'204.5", 1204.5), ("−3", -3.0), ("1 204.5", 1204.5)],
)
def test_numbers_are_read_as_written(text: str, value: float) -> None:
    figure = parse_figure(text, "point")
    assert figure is not None
    assert figure.value == value


@pytest.mark.parametrize("text", ["", "1.2.3", "10k", "1,5", "nan", "inf", "1e999", "0x10", "12 mV", "1_0"])
def test_what_is_no_number_is_none(text: str) -> None:
    assert parse_figure(text, "point") is None


@pytest.mark.parametrize(
    ("text", "degrees", "mirrored"),
    [
        ("90.00", 90.0, False),
        ("R90", 90.0, False),
        ("MR180", 180.0, True),
        ("SMR90", 90.0, True),
        ("SR45", 45.0, False),
        ("-90", -90.0, False),
        ("90°", 90.0, False),
        ("45 deg", 45.0, False),
    ],
)
def test_angles_are_read_as_written(text: str, degrees: float, mirrored: bool) -> None:
    angle = parse_angle(text, "point")
    assert angle is not None
    assert (angle.degrees, angle.mirrored) == (degrees, mirrored)


def test_a_list_of_units_states_that_of_x_and_y_after_a_dash() -> None:
    unit = stated_unit("Units: Rotation - degrees, X, Y - thou")
    assert unit is not None
    assert unit.name == "mil"
    assert stated_unit("Fields: Part ID, Value, Package, Layer, Rotation, X, Y") is None
