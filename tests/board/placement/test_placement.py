"""What placements are refused or warned about, conventions of the bottom side, containers other than text."""

import io
import zipfile
from pathlib import Path

import openpyxl
import pytest

from overlay.board.model import Placement
from overlay.board.placement.read import read_placement
from overlay.errors import Problem


def read(
    tmp_path: Path,
    content: str | bytes,
    file: str = "board.csv",
    *,
    units: str | None = None,
    bottom_rotation: str = "top-view",
    bottom_x: str = "as-is",
) -> tuple[Placement | None, list[Problem]]:
    path = tmp_path / "placement"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_placement(path, file, units=units, bottom_rotation=bottom_rotation, bottom_x=bottom_x)


HEAD = "Ref,X(mm),Y(mm),Rot,Side,Package\n"

REFUSED = {
    "no unit, though other lengths are named": (
        "Board thickness 1.6 mm, smallest track 6 mil\nRef,X,Y,Rot,Side,Value\nR1,10,20,90,top,5mm LED\n",
        2,
        "the unit of 'X' and 'Y' is stated nowhere in the file",
        "placement_units",
    ),
    "heading and preamble disagree": (
        "Units used: mil\nRef,X(mm),Y(mm),Rot,Side\nR1,10,20,90,top\n",
        1,
        "heading of column 'X(mm)' says mm, but line 1 'Units used: mil' says mil",
        "correct",
    ),
    "two lines of prose disagree": (
        "Units: mm\nplaced by hand\nUnits: mil\nRef;X;Y;Rot;Side\nR1;1;2;0;top\n",
        3,
        "state different units",
        "correct",
    ),
    "x and y in different units": ("Ref,X(mm),Y(mil),Rot,Side\nR1,1,2,0,top\n", 1, "in different units", "heading"),
    "imperial may be mil or inch": (
        "Units: Imperial\nRef,X,Y,Rot,Side\nR1,1,2,0,top\n",
        2,
        "mil or inch",
        "placement_units",
    ),
    "a suffix against the heading": (
        HEAD + "R1,400mil,2,0,top,\n",
        2,
        "'400mil' is in mil, but the file states mm",
        "correct",
    ),
    "one cell without the suffix of the others": (
        "Ref,X,Y,Rot,Side\nR1,4mm,2mm,0,top\nR2,5,2mm,0,top\n",
        3,
        "'5' carries no unit, unlike other cells",
        "write the unit",
    ),
    "nothing tells the side": (
        "Ref,X(mm),Y(mm),Rot\nR1,1,2,0\n",
        2,
        "nothing tells the side of 1 parts",
        "column Side",
    ),
    "a front panel is no front side": (
        "Ref,X(mm),Y(mm),Rot\nR1,1,2,0\n",
        2,
        "nothing tells the side",
        "column Side",
    ),
    "sides as numbers without a legend": (
        "Ref,X(mm),Y(mm),Rot,Layer\nR1,1,2,0,1\n",
        2,
        "Layer '1' names no side",
        "top or bottom",
    ),
    "an inner side": (HEAD + "R1,1,2,0,inner,\n", 2, "'inner' names no side", "top or bottom"),
    "a blank side": (HEAD + "R1,1,2,0,top,\nR2,1,3,0,,\n", 3, "R2 has no Side", "top or bottom"),
    "a mirrored angle on the top": (HEAD + "R1,1,2,MR90,top,\n", 2, "the sides contradict each other", "correct"),
    "no x": (HEAD + "R1,,2,0,top,\n", 2, "R1 has no X(mm)", "coordinate"),
    "an unreadable y": (HEAD + "R1,1,1.2.3,0,top,\n", 2, "Y(mm) '1.2.3' is not a number", "number"),
    "no rotation": (HEAD + "R1,1,2,,top,\n", 2, "R1 has no Rot", "degrees"),
    "an unreadable rotation": (HEAD + "R1,1,2,north,top,\n", 2, "Rot 'north' is not an angle", "degrees"),
    "tenths of degrees": (HEAD + "R1,1,2,900,top,\n", 2, "'900' is no angle between -360° and 360°", "tenths"),
    "a row cut short": (HEAD + "R7,1.2\n", 2, "R7 has no Y(mm)", "coordinate"),
    "no rotation column": ("Ref,X(mm),Y(mm),Side\nR1,1,2,top\n", 1, "no column holds the rotation", "Rotation"),
    "only pin 1": ("Ref,Pad X(mm),Pad Y(mm),Rot,Side\nR1,1,2,0,top\n", 1, "only coordinates of pin 1", "Mid X"),
    "no designators": (
        "Thing,X(mm),Y(mm),Rot,Side\nred,1,2,0,top\n",
        1,
        "no column holds reference designators",
        "Designator",
    ),
    "a heading without rows": (HEAD, 1, "no row of a part follows the heading", "export"),
    "a comma in an unquoted value that may stand in two columns": (
        "Ref,Val,X(mm),Y(mm),Rot,Description\nR1,4,7,10.0,20.0,90,res\n",
        2,
        "cannot be divided into the 6 columns",
        "quotes",
    ),
    "decimal commas between commas": (
        HEAD + "R1,1,5,2,5,0,top,\n",
        2,
        "cannot be divided into the 6 columns",
        "quotes",
    ),
    "a decimal comma between commas that makes a cell too many": (
        "Ref,X(mm),Y(mm),Rot,Package\nR1,1,5,2,90,R0603\nR2,3.5,2,90,R0603\n",
        2,
        "cannot be divided into the 5 columns",
        "quotes",
    ),
    "decimal comma or thousands": (
        "Ref;X [mil];Y [mil];Rot;Layer\nR1;1,204;3,500;90;Top\n",
        1,
        "whether the comma in '1,204' is a decimal mark",
        "decimal point",
    ),
    "no heading and angles like places": (
        "R1,0603,10k,90,45,90,T\nC1,0603,100n,0,45,45,B\n",
        1,
        "which of the 3 columns of numbers are X, Y and rotation cannot be told",
        "heading row",
    ),
    "two pairs that disagree": (
        "Ref;X (mm);Y (mm);X (mil);Y (mil);Rot;Side\nR1;25.4;12.7;1200;500;0;top\n",
        2,
        "place it 5.08 mm apart",
        "remove one pair",
    ),
    "two pairs under the same headings without units": (
        "Units used: mil\nRef;X;Y;X;Y;Rot;Side\nR1;1000,0;500,0;25,4;12,7;0;top\n",
        2,
        "several pairs of columns like 'X' differ and carry no units",
        "units into the headings",
    ),
    "two pairs with decimal commas that disagree": (
        "Ref;X (mm);Y (mm);X (mil);Y (mil);Rot;Side\nR1;25,40;12,70;1200,5;500,0;0;top\n",
        2,
        "mm apart",
        "remove one pair",
    ),
    "a blank x in aligned columns": (
        "Ref    Val    PosX(mm)   PosY(mm)   Rot  Side\n"
        "R1     100                  2.000   90.0  top\n"
        "R2     100      11.000      2.000   90.0  top\n"
        "R3     100      12.000      2.000   90.0  top\n",
        2,
        "R1 has no PosX(mm)",
        "coordinate",
    ),
    "nothing like a placement": ("hello\nworld\n", None, "no heading row of a placement was found", "heading row"),
    "an empty file": ("", None, "no heading row", "heading row"),
    "another XML document": (
        '<?xml version="1.0"?>\n<svg xmlns="x"/>',
        2,
        "XML document of another kind (<svg>)",
        "IPC-2581",
    ),
    "another Gerber layer": (
        "%FSLAX46Y46*%\n%MOMM*%\n%TF.FileFunction,Profile,NP*%\nM02*\n",
        3,
        "not of a component layer",
        "component",
    ),
    "a broken workbook": ("PK\x03\x04garbage", None, "cannot be read as a workbook", "XLSX"),
}


@pytest.mark.parametrize(("content", "line", "what", "remedy"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_known_is_refused_with_line_and_remedy(
    tmp_path: Path, content: str, line: int | None, what: str, remedy: str
) -> None:
    file = "front_panel.csv" if "front panel" in what else "board.csv"
    _, problems = read(tmp_path, content, file)
    errors = [problem for problem in problems if problem.severity == "error"]
    assert errors
    found = [problem for problem in errors if what in problem.what]
    assert found, [str(problem) for problem in problems]
    assert found[0].line == line
    assert remedy in found[0].remedy
    assert found[0].file == file


def test_all_problems_of_a_file_are_told_at_once_and_the_good_rows_are_read(tmp_path: Path) -> None:
    rows = "R1,1,2,0,top,\nR2,,2,0,top,\nR3,1,x,0,top,\nR4,1,2,0,edge,\nR5,1,9,0,top,\n"
    placement, problems = read(tmp_path, HEAD + rows)
    assert [problem.line for problem in problems] == [3, 4, 5]
    assert placement is not None
    assert [part.refdes for part in placement.components] == ["R1", "R5"]


def test_units_given_are_used_only_where_the_file_says_nothing(tmp_path: Path) -> None:
    silent = "Ref,X,Y,Rot,Side\nR1,1000,500,0,top\n"
    placement, problems = read(tmp_path, silent, units="mil")
    assert placement is not None
    assert not problems
    assert placement.components[0].center_mm == pytest.approx((25.4, 12.7))
    assert (placement.units, placement.units_from) == ("mil", "placement_units")
    for text in (
        "Ref,X(mm),Y(mm),Rot,Side\nR1,1,2,0,top\n",
        "Units: mm\nRef,X,Y,Rot,Side\nR1,1,2,0,top\n",
        "Ref,X,Y,Rot,Side\nR1,1mm,2mm,0,top\n",
    ):
        placement, problems = read(tmp_path, text, units="mil")
        assert placement is None
        assert "placement_units is mil, but" in problems[0].what
        assert "says mm" in problems[0].what
        assert read(tmp_path, text, units="mm")[1] == []


def test_placement_units_settle_what_imperial_leaves_open(tmp_path: Path) -> None:
    placement, problems = read(tmp_path, "Units: Imperial\nRef,X,Y,Rot,Side\nR1,1,2,0,top\n", units="inch")
    assert placement is not None
    assert not problems
    assert placement.components[0].center_mm == pytest.approx((25.4, 50.8))


WARNED = {
    "unassigned": (HEAD + "U?,1,2,0,top,\nR1,1,2,0,top,\n", 2, "'U?' is not assigned"),
    "starred": (HEAD + "REF**,1,2,0,top,\nR1,1,2,0,top,\n", 2, "'REF**' is not assigned"),
    "blank designator": (HEAD + ",1,2,0,top,\nR1,1,2,0,top,\n", 2, "no reference designator"),
    "duplicate row": (HEAD + "R1,1,2,0,top,\nR1,1.0,2.00,360,TOP,\n", 3, "again as in line 2"),
    "two fiducials of one name": (
        HEAD + "R1,1,2,0,top,\nFID,1,2,0,top,\nFID,9,9,0,top,\n",
        4,
        "only the first is kept",
    ),
    "another table below": (HEAD + "R1,1,2,0,top,\nRef,Qty,Value\nR1,1,10k\n", 3, "another table without X and Y"),
    "column against preamble": ("Side : top\n" + HEAD + "R1,1,2,0,bottom,\n", 3, "line 1 states top"),
}


@pytest.mark.parametrize(("content", "line", "what"), WARNED.values(), ids=WARNED.keys())
def test_what_can_be_read_all_the_same_is_warned_of(tmp_path: Path, content: str, line: int, what: str) -> None:
    placement, problems = read(tmp_path, content)
    assert placement is not None
    assert "R1" in [part.refdes for part in placement.components]
    assert [(problem.severity, problem.line) for problem in problems] == [("warning", line)]
    assert what in problems[0].what


@pytest.mark.parametrize("name", ["REF**", "U?", "(unknown)", "<none>", "n/a", "", "~"])
def test_a_placeholder_does_not_sink_the_rest(tmp_path: Path, name: str) -> None:
    placement, problems = read(tmp_path, HEAD + f"R1,1,2,0,top,\n{name},5,2,0,top,R0603\nR2,3,2,0,top,\n")
    assert placement is not None
    assert [part.refdes for part in placement.components] == ["R1", "R2"]
    assert [(problem.severity, problem.line) for problem in problems] == [("warning", 3)]
    assert "left out" in problems[0].what


def test_names_that_differ_in_capitals_only_are_both_kept(tmp_path: Path) -> None:
    placement, problems = read(tmp_path, HEAD + "r1,1,2,0,top,\nR1,5,2,0,top,\n")
    assert placement is not None
    assert [part.refdes for part in placement.components] == ["r1", "R1"]
    assert [(problem.severity, problem.line) for problem in problems] == [("warning", 3)]


def test_a_side_stated_by_the_job_is_used_where_the_file_says_nothing(tmp_path: Path) -> None:
    path = tmp_path / "placement"
    path.write_text("Ref,X(mm),Y(mm),Rot\nR1,1,2,0\n")
    placement, problems = read_placement(path, "board.csv", side="bottom")
    assert placement is not None
    assert not problems
    assert placement.components[0].side == "bottom"
    assert "sides from placement_side" in placement.notes
    _, problems = read_placement(path, "board.csv")
    assert "placement_side" in problems[0].remedy


@pytest.mark.parametrize("text", ["#R9,1,2,0,top,", "#1,1,2,0,top,", "; R9,1,2,0,top,"])
def test_a_row_behind_a_comment_mark_is_named(tmp_path: Path, text: str) -> None:
    placement, problems = read(tmp_path, HEAD + f"R1,1,2,0,top,\n{text}\n# end of 2024\n")
    assert placement is not None
    assert [part.refdes for part in placement.components] == ["R1"]
    assert [(problem.line, "left out" in problem.what) for problem in problems] == [(3, True)]


def test_a_part_listed_in_two_units_is_kept_once(tmp_path: Path) -> None:
    text = "Ref,X (mm),Y (mm),Rot,Side\nR1,12.345,3.4,90,top\n\nRef,X (in),Y (in),Rot,Side\nR1,0.4860,0.1339,90,top\n"
    placement, problems = read(tmp_path, text)
    assert placement is not None
    assert [part.center_mm for part in placement.components] == [(12.345, 3.4)]
    assert ["kept once" in problem.what for problem in problems] == [True]


def test_what_the_job_states_in_vain_is_said(tmp_path: Path) -> None:
    path = tmp_path / "placement"
    path.write_text(HEAD + "R1,1,2,0,top,\n")
    placement, problems = read_placement(path, "board.csv", side="bottom")
    assert placement is not None
    assert placement.components[0].side == "top"
    assert ["placement_side is bottom" in problem.what for problem in problems] == [True]


def test_a_side_column_without_any_side_is_none(tmp_path: Path) -> None:
    text = "Ref,X(mm),Y(mm),Rot,Side\nR1,1,2,0,\nR2,3,2,0,\n"
    placement, problems = read(tmp_path, text, "amp-bottom.csv")
    assert placement is not None
    assert not problems
    assert {part.side for part in placement.components} == {"bottom"}
    _, problems = read(tmp_path, text)
    assert "placement_side" in problems[0].remedy


def test_a_table_of_unassigned_parts_only_is_an_error(tmp_path: Path) -> None:
    placement, problems = read(tmp_path, HEAD + "U?,1,2,0,top,\n")
    assert placement is None
    assert any(problem.severity == "error" for problem in problems)


def test_prose_between_rows_and_trailers_are_passed_over(tmp_path: Path) -> None:
    text = HEAD + "R1,1,2,0,top,\n\nThe next parts are placed by hand\n---\nR2,1,3,0,top,\nTotal,2\n## End\n"
    placement, problems = read(tmp_path, text)
    assert placement is not None
    assert not problems
    assert [(part.refdes, part.line) for part in placement.components] == [("R1", 2), ("R2", 6)]


def test_a_line_of_numbers_without_a_designator_does_not_vanish(tmp_path: Path) -> None:
    _, problems = read(tmp_path, "Ref  X(mm)  Y(mm)  Rot  Side\nR1  1.0  2.0  90  top\n17 18 19 20 21 22\n")
    assert [(problem.line, problem.severity) for problem in problems] == [(3, "warning")]


def test_bottom_parts_seen_from_the_bottom_are_turned_over(tmp_path: Path) -> None:
    rows = HEAD + "R1,-1,2,30,bottom,\nR2,1,2,30,top,\n"
    placement, _ = read(tmp_path, rows, bottom_rotation="bottom-view", bottom_x="mirrored")
    assert placement is not None
    bottom, top = placement.components
    assert (bottom.center_mm, bottom.rotation_deg) == ((1.0, 2.0), 150.0)
    assert (top.center_mm, top.rotation_deg) == ((1.0, 2.0), 30.0)


@pytest.mark.parametrize(("written", "read_as"), [("-90", 270.0), ("360", 0.0), ("-0", 0.0), ("-45.5", 314.5)])
def test_rotations_lie_within_one_turn(tmp_path: Path, written: str, read_as: float) -> None:
    placement, _ = read(tmp_path, HEAD + f"R1,1,2,{written},top,\n")
    assert placement is not None
    assert placement.components[0].rotation_deg == read_as


def test_negated_x_of_the_bottom_is_noticed(tmp_path: Path) -> None:
    rows = HEAD + "R1,1,2,0,top,\nR2,-5,2,0,bottom,\nR3,-7,2,0,bottom,\n"
    _, problems = read(tmp_path, rows)
    assert [problem.severity for problem in problems] == ["warning"]
    assert 'bottom_x = "mirrored"' in problems[0].remedy
    assert read(tmp_path, rows, bottom_x="mirrored")[1] == []


def test_a_rotation_called_clockwise_is_turned_round(tmp_path: Path) -> None:
    placement, _ = read(tmp_path, "Ref,X(mm),Y(mm),Rotation (CW),Side\nR1,1,2,30,top\n")
    assert placement is not None
    assert placement.components[0].rotation_deg == 330.0


def test_the_centre_is_taken_of_three_pairs_in_any_order(tmp_path: Path) -> None:
    text = "Ref,Pad X,Pad Y,Ref X,Ref Y,Mid X,Mid Y,Rot,TB\nR1,1mm,2mm,3mm,4mm,5mm,6mm,0,T\n"
    placement, _ = read(tmp_path, text)
    assert placement is not None
    assert placement.components[0].center_mm == (5.0, 6.0)
    assert "places from 'Mid X' and 'Mid Y'" in placement.notes


def test_of_two_pairs_the_one_in_the_stated_unit_is_taken(tmp_path: Path) -> None:
    table = "Ref;X (mm);Y (mm);X (mil);Y (mil);Rot;Side\nR1;25.40;12.70;1000;500;0;top\n"
    for stated, taken in (("", "X (mm)"), ("Units used: mil\n", "X (mil)")):
        placement, problems = read(tmp_path, stated + table)
        assert placement is not None
        assert not problems
        assert placement.components[0].center_mm == pytest.approx((25.4, 12.7))
        assert placement.units_from == f"heading of column '{taken}'"


def test_a_mirror_mark_is_not_swallowed_by_the_text_beside_it(tmp_path: Path) -> None:
    text = "REFDES X_COORD Y_COORD ROTATION MIRROR SYMBOL\nUNITS MILS\n"
    placement, _ = read(tmp_path, text + "C1 100.0 200.0 90 NO CAP0402\nC2 100.0 300.0 90 YES CAP0402\n")
    assert placement is not None
    assert [(part.side, part.package) for part in placement.components] == [("top", "CAP0402"), ("bottom", "CAP0402")]


def test_sections_have_their_own_sides(tmp_path: Path) -> None:
    text = "TOP SIDE\nRef;X (mm);Y (mm);Rot\nR1;1;2;0\n\nBOTTOM SIDE\nRef;X (mm);Y (mm);Rot\nR2;1;2;0\n"
    placement, _ = read(tmp_path, text)
    assert placement is not None
    assert [(part.refdes, part.side) for part in placement.components] == [("R1", "top"), ("R2", "bottom")]


def workbook(sheets: dict[str, list[list[object]]]) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_a_workbook_is_read_by_the_same_rules(tmp_path: Path) -> None:
    head = ["Designator", "Footprint", "Mid X (mm)", "Mid Y (mm)", "Rotation", "Comment"]
    data = workbook(
        {
            "Notes": [["Placement of a tide gauge", None], ["Units: as in the heading"]],
            "Top": [["Title"], [], head, ["R1", "0603", 12.5, -3, 90, "10k"], ["R2", 603, 1.25, 2, -90.0, None]],
            "Bottom": [head, ["C1", "0402", "4.5", 3, 0, "100nF"]],
        }
    )
    placement, problems = read(tmp_path, data, "board.xlsx")
    assert placement is not None
    assert not problems
    found = [(part.refdes, part.center_mm, part.rotation_deg, part.side, part.line) for part in placement.components]
    assert found == [
        ("R1", (12.5, -3.0), 90.0, "top", 4),
        ("R2", (1.25, 2.0), 270.0, "top", 5),
        ("C1", (4.5, 3.0), 0.0, "bottom", 2),
    ]


IPC = """<?xml version="1.0" encoding="UTF-8"?>
<IPC-2581 revision="C" xmlns="http://webstds.ipc.org/2581">
<Ecad name="d"><CadHeader units="{units}"/><CadData>
<Layer name="F.Cu" layerFunction="CONDUCTOR" side="TOP"/>
<Layer name="B.Cu" layerFunction="CONDUCTOR" side="BOTTOM"/>
<Step name="panel" type="PALLET"><StepRepeat stepRef="board" x="0" y="0" nx="2" ny="1" dx="50" dy="0"/></Step>
<Step name="board" type="BOARD">
<Component refDes="R1" packageRef="R0603" part="10k-1%" layerRef="B.Cu" mountType="SMT">
<Xform rotation="90"/><Location x="1.5" y="-2.5"/></Component>
<Component refDes="U1" packageRef="SOIC8" part="amp" layerRef="F.Cu"><Location x="3" y="4"/></Component>
</Step></CadData></Ecad></IPC-2581>"""


def test_components_of_ipc_2581_are_read(tmp_path: Path) -> None:
    placement, problems = read(tmp_path, IPC.format(units="INCH"), "board.xml")
    assert placement is not None
    assert not problems
    first, second = placement.components
    assert first.center_mm == pytest.approx((38.1, -63.5))
    assert (first.refdes, first.rotation_deg, first.side, first.package, first.part_number) == (
        "R1",
        90.0,
        "bottom",
        "R0603",
        "10k-1%",
    )
    assert (second.refdes, second.rotation_deg, second.side, second.line) == ("U1", 0.0, "top", 10)
    assert (placement.units, placement.units_from) == ("inch", "CadHeader units 'INCH'")


def test_ipc_2581_without_a_known_unit_is_refused(tmp_path: Path) -> None:
    placement, problems = read(tmp_path, IPC.format(units="FURLONG"), "board.xml")
    assert placement is None
    assert [(problem.line, problem.severity) for problem in problems] == [(3, "error")]


def test_entities_are_not_expanded(tmp_path: Path) -> None:
    bomb = '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "bbbb">]><IPC-2581>&b;</IPC-2581>'
    placement, problems = read(tmp_path, bomb)
    assert placement is None
    assert problems[0].severity == "error"


def test_a_missing_file_is_a_problem_too(tmp_path: Path) -> None:
    placement, problems = read_placement(tmp_path / "nowhere.csv", "nowhere.csv")
    assert placement is None
    assert problems[0].what == "no such file"


def test_a_spreadsheet_is_one_whatever_its_name(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["Designator", "Mid X (mm)", "Mid Y (mm)", "Rotation", "Layer"])  # type: ignore[union-attr]
    book.active.append(["R1", 1.5, 2, 90, "Top"])  # type: ignore[union-attr]
    stream = io.BytesIO()
    book.save(stream)
    for name in ("board.csv", "board.txt", "board.xls", "board"):
        placement, problems = read(tmp_path, stream.getvalue(), name)
        assert placement is not None
        assert not problems
        assert placement.components[0].center_mm == (1.5, 2.0)


ODS = """<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" office:version="1.2"><office:body><office:spreadsheet>
<table:table table:name="parts">{rows}</table:table></office:spreadsheet></office:body></office:document-content>"""


def test_an_open_document_spreadsheet_is_read(tmp_path: Path) -> None:
    rows = [["RefDes", "X (mm)", "Y (mm)", "Rot", "Side"], ["R1", "1.5", "-2.25", "90", "bottom"]]
    cells = "".join(
        "<table:table-row>"
        + "".join(
            f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p></table:table-cell>' for cell in row
        )
        + "</table:table-row>"
        for row in rows
    )
    stream = io.BytesIO()
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/></manifest:manifest>'
    )
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("mimetype", kind)
        archive.writestr("META-INF/manifest.xml", manifest)
        archive.writestr("content.xml", ODS.format(rows=cells))
    placement, problems = read(tmp_path, stream.getvalue(), "board.ods")
    assert placement is not None, problems
    part = placement.components[0]
    assert (part.refdes, part.center_mm, part.rotation_deg, part.side) == ("R1", (1.5, -2.25), 90.0, "bottom")
