from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.board.model import Board, BoardFiles
from overlay.board.read import read_board
from overlay.errors import Problem

PLACEMENT = """Designator,Comment,Footprint,Mid X(mm),Mid Y(mm),Layer,Rotation
R1,10k,R0603,10,10,Top,0
U1,LM317,SOIC-8,20,20,Top,90
U2,SENSOR,SECRET,30,20,Top,0
U3,SENSOR,SECRET,35,20,Bottom,0
C1,10u,CP_Elec_6.3x5.4,30,30,Top,0
FID1,,FIDUCIAL,2,2,Top,0
"""
OUTLINE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="40mm" viewBox="0 -40 50 40">'
    '<path d="M0,0 H50 V-40 H0 Z" fill="none" stroke="black"/></svg>'
)


def board_of(folder: Path, **files: str) -> tuple[Board | None, list[Problem]]:
    """A board from the contents of files by key; names are the key with the usual suffix."""
    names = {"placement": "placement.csv", "bodies": "bodies.csv", "parts": "parts.csv", "outline": "outline.svg"}
    given = {}
    for key, text in {"placement": PLACEMENT, **files}.items():
        if key in names:
            (folder / names[key]).write_text(text, encoding="utf-8")
            given[key] = names[key]
        else:
            given[key] = text
    return read_board(folder, BoardFiles(**given))  # type: ignore[arg-type]


def test_a_board_is_put_together_from_all_its_files(tmp_path: Path) -> None:
    board, problems = board_of(
        tmp_path,
        bodies="package,length_mm,width_mm,height_mm\nsecret,3,4,1\n",
        parts="refdes,part_number,limit_c,kind\nU1,,100,regulator\n,10k,155,\nU2-U3,,85,\n",
        outline=OUTLINE,
    )
    assert problems == []
    assert board is not None
    assert board.placement_units == "mm"
    u1, u2, r1, c1 = (board.component(name) for name in ("U1", "U2", "R1", "C1"))
    assert u1.body is not None
    assert (u1.body.length_mm, u1.kind, u1.rotation_deg) == (3.9, "regulator", 90.0)
    assert u2.body is not None
    assert (u2.body.length_mm, u2.body.source) == (3.0, "bodies.csv, line 2")
    assert r1.rating is not None
    assert (r1.rating.limit_c, r1.kind) == (155.0, "resistor")
    assert c1.kind == "electrolytic"
    assert board.outline.polygon.bounds == pytest.approx((0.0, 0.0, 50.0, 40.0))


def test_an_unknown_body_is_one_warning_a_package_that_lists_its_parts(tmp_path: Path) -> None:
    board, problems = board_of(tmp_path, outline=OUTLINE)
    assert board is not None
    assert board.component("U2").body is None
    assert [(problem.severity, problem.file, problem.line) for problem in problems] == [("warning", "placement.csv", 4)]
    assert "'SECRET'" in problems[0].what
    assert "U2, U3" in problems[0].what
    assert "bodies.csv" in problems[0].remedy


def test_zero_orientation_b_turns_what_names_imply(tmp_path: Path) -> None:
    board, _ = board_of(tmp_path, zero_orientation="B")
    assert board is not None
    body = board.component("U1").body
    assert body is not None
    assert (body.length_mm, body.width_mm, body.terminals) == (4.9, 3.9, "leads_y")


def test_without_an_outline_the_hull_of_the_bodies_stands_in(tmp_path: Path) -> None:
    board, _ = board_of(tmp_path)
    assert board is not None
    assert board.outline.from_bodies


def test_problems_of_all_files_are_found_in_one_pass(tmp_path: Path) -> None:
    _, problems = board_of(
        tmp_path,
        placement=PLACEMENT.replace("10,10,Top", "ten,10,Top"),
        bodies="package,length_mm,width_mm\nSECRET,0,3\n",
        parts="refdes,limit_c\nU1,hot\n",
        outline="<svg",
    )
    assert {problem.file for problem in problems if problem.severity == "error"} == {
        "placement.csv",
        "bodies.csv",
        "parts.csv",
        "outline.svg",
    }


def test_a_missing_placement_gives_no_board_and_still_reads_the_rest(tmp_path: Path) -> None:
    (tmp_path / "parts.csv").write_text("refdes,limit_c\nU1,hot\n")
    board, problems = read_board(tmp_path, BoardFiles("none.csv", parts="parts.csv", bodies="no_bodies.csv"))
    assert board is None
    assert {problem.file for problem in problems} == {"none.csv", "parts.csv", "no_bodies.csv"}


def test_a_row_for_a_package_that_is_not_there_is_told_with_the_nearest(tmp_path: Path) -> None:
    _, problems = board_of(tmp_path, bodies="package,length_mm,width_mm\nSECRET,3,3\nSECRETS,3,3\n", outline=OUTLINE)
    assert [(problem.severity, problem.line) for problem in problems] == [("warning", 3)]
    assert "did you mean 'SECRET'" in problems[0].remedy


def test_parts_without_a_package_are_told_once(tmp_path: Path) -> None:
    text = "RefDes,X (mm),Y (mm),Rotation,Side\nU1,1,1,0,top\nU2,9,9,0,top\n"
    board, problems = board_of(tmp_path, placement=text)
    assert board is not None
    assert len(problems) == 1
    assert "no package is given" in problems[0].what


def test_through_hole_parts_that_may_stand_on_pin_1_are_told(tmp_path: Path) -> None:
    rows = "C1,CP_Radial_D8.0mm_P3.50mm,30,30,0,top\nJ1,PinHeader_1x04_P2.54mm_Vertical,5,5,0,top\nR1,R0603,9,9,0,top\n"
    _, problems = board_of(tmp_path, placement=f"Ref,Package,PosX (mm),PosY (mm),Rot,Side\n{rows}", outline=OUTLINE)
    assert [problem.severity for problem in problems] == ["warning"]
    assert "pin 1" in problems[0].what
    assert "C1, J1" in problems[0].what
    _, problems = board_of(tmp_path, placement=f"Ref,Package,Mid X (mm),Mid Y (mm),Rot,Side\n{rows}", outline=OUTLINE)
    assert problems == []


def test_bodies_on_one_another_are_told(tmp_path: Path) -> None:
    _, problems = board_of(tmp_path, placement=PLACEMENT.replace("20,20,Top", "10.2,10.1,Top"))
    assert not any("lie on one another" in problem.what for problem in problems)  # a chip under an IC may be meant
    text = "Ref,Package,Mid X (mm),Mid Y (mm),Rot,Side\nR1,0603,1,1,0,top\nR2,0603,1.2,1.1,90,top\n"
    _, problems = board_of(tmp_path, placement=text)
    assert [problem.line for problem in problems if "lie on one another" in problem.what] == [3]


def test_a_board_larger_than_usual_is_read_whole(tmp_path: Path) -> None:
    packages = ["R0603", "C_0402_1005Metric", "SOIC-8_3.9x4.9mm_P1.27mm", "SOT-23", "QFN-32-1EP_5x5mm_P0.5mm"]
    rows = [f"{'RCUQU'[n % 5]}{n},{packages[n % 5]},{(n % 40) * 8},{n // 40 * 8},{n % 4 * 90},top" for n in range(1000)]
    board, problems = board_of(tmp_path, placement="Ref,Package,Mid X (mm),Mid Y (mm),Rot,Side\n" + "\n".join(rows))
    assert board is not None
    assert len(board.components) == 1000
    assert all(component.body is not None for component in board.components)
    assert problems == []


@given(st.binary(max_size=200), st.sampled_from(["placement", "bodies", "parts", "outline"]))
def test_any_bytes_in_any_file_give_a_board_or_problems(tmp_path: Path, data: bytes, damaged: str) -> None:
    texts = {
        "placement": PLACEMENT,
        "bodies": "package,length_mm,width_mm,height_mm\nSECRET,3,4,1\n",
        "parts": "refdes,limit_c\nU1,100\n",
        "outline": OUTLINE,
    }
    for key, text in texts.items():
        (tmp_path / key).write_bytes(
            text.encode()[: 40 if key == damaged else None] + (data if key == damaged else b"")
        )
    board, problems = read_board(tmp_path, BoardFiles("placement", outline="outline", parts="parts", bodies="bodies"))
    assert board is not None or any(problem.severity == "error" for problem in problems)
    assert all(problem.remedy for problem in problems)


IPC = """<?xml version="1.0" encoding="UTF-8"?>
<IPC-2581 revision="B" xmlns="http://webstds.ipc.org/2581">
<Bom name="bill"><BomItem OEMDesignNumberRef="amp"><RefDes name="U1" packageRef="HOUSE-8" populate="true"/></BomItem>
<BomItem OEMDesignNumberRef="10k"><RefDes name="R2" packageRef="R0603" populate="false"/></BomItem></Bom>
<Ecad name="d"><CadHeader units="MILLIMETER"/><CadData>
<Layer name="TOP" layerFunction="CONDUCTOR" side="TOP"/><Layer name="IN1" layerFunction="CONDUCTOR" side="INTERNAL"/>
<Layer name="BOT" layerFunction="CONDUCTOR" side="BOTTOM"/>
{steps}
</CadData></Ecad>
<Avl name="avl"><AvlItem OEMDesignNumber="amp"><AvlVmpn><AvlMpn name="QX-811"/></AvlVmpn></AvlItem></Avl></IPC-2581>"""
STEP = """<Step name="{name}" type="BOARD"><Profile><Polygon><PolyBegin x="0" y="0"/><PolyStepSegment x="40" y="0"/>
<PolyStepSegment x="40" y="{depth}"/><PolyStepSegment x="0" y="{depth}"/><PolyStepSegment x="0" y="0"/></Polygon>
<Cutout><PolyBegin x="30" y="20"/><PolyStepSegment x="34" y="20"/><PolyStepSegment x="34" y="24"/>
<PolyStepSegment x="30" y="24"/><PolyStepSegment x="30" y="20"/></Cutout></Profile>
<Package name="HOUSE-8" height="1.7"><Outline><Polygon><PolyBegin x="-1" y="-2"/><PolyStepSegment x="5" y="-2"/>
<PolyStepSegment x="5" y="2"/><PolyStepSegment x="-1" y="2"/></Polygon></Outline></Package>
<Package name="R0603" height="0.5"><Outline><Polygon><PolyBegin x="-1.5" y="-0.75"/><PolyStepSegment x="1.5" y="-0.75"/>
<PolyStepSegment x="1.5" y="0.75"/><PolyStepSegment x="-1.5" y="0.75"/></Polygon></Outline></Package>
<Component refDes="U1" packageRef="HOUSE-8" part="amp" layerRef="TOP"><Xform rotation="90"/><Location x="10" y="10"/>
</Component><Component refDes="U2" packageRef="HOUSE-8" part="amp" layerRef="BOT"><Xform rotation="0" mirror="true"/>
<Location x="20" y="10"/></Component>
<Component refDes="R1" packageRef="R0603" part="10k" layerRef="TOP"><Location x="5" y="5"/></Component>
<Component refDes="R2" packageRef="R0603" part="10k" layerRef="TOP"><Location x="5" y="8"/></Component>
<Component refDes="C1" packageRef="R0603" part="1n" layerRef="IN1"><Location x="5" y="11"/></Component></Step>"""


def test_one_interchange_file_tells_places_edge_and_bodies(tmp_path: Path) -> None:
    (tmp_path / "board.xml").write_text(IPC.format(steps=STEP.format(name="b", depth=30)))
    board, problems = read_board(tmp_path, BoardFiles("board.xml"))
    assert board is not None
    assert [problem.what.split(",")[0] for problem in problems] == [
        "C1 lies inside the board (layer 'IN1')",
    ]
    assert board.outline.polygon.area == pytest.approx(40 * 30 - 16)
    u1, u2 = board.component("U1"), board.component("U2")
    assert u1.body is not None
    assert (u1.body.length_mm, u1.body.width_mm, u1.height_mm) == (6.0, 4.0, 1.7)
    assert u1.part_number == "QX-811"
    # the middle of the drawn body lies 2 mm along the package's x axis from where it is placed
    assert u1.placed_mm == (10.0, 10.0)
    assert u1.center_mm == pytest.approx((10.0, 12.0))
    assert u2.center_mm == pytest.approx((18.0, 10.0))  # turned over about its y axis
    # a name that tells a size outright wins over an outline with room around it, which still tells the height
    r1 = board.component("R1")
    assert r1.body is not None
    assert (r1.body.length_mm, r1.body.width_mm, r1.height_mm) == (1.6, 0.8, 0.5)
    assert [(part.refdes, part.body) for part in board.unfitted] == [("R2", None)]
    assert "R2" not in [part.refdes for part in board.parts]


def test_of_several_steps_the_one_named_counts_for_places_and_edge(tmp_path: Path) -> None:
    both = STEP.format(name="main", depth=30) + STEP.format(name="side", depth=50)
    (tmp_path / "board.xml").write_text(IPC.format(steps=both))
    board, problems = read_board(tmp_path, BoardFiles("board.xml"))
    assert board is None
    assert "2 boards: 'main' (5 components), 'side' (5 components)" in problems[0].what
    assert 'step = "main"' in problems[0].remedy
    board, _ = read_board(tmp_path, BoardFiles("board.xml", outline="board.xml", step="side"))
    assert board is not None
    assert board.outline.polygon.bounds == (0, 0, 40, 50)
    board, problems = read_board(tmp_path, BoardFiles("board.xml", step="third"))
    assert board is None
    assert "'main', 'side'" in problems[0].remedy


def test_a_layer_without_a_side_tells_it_by_its_name(tmp_path: Path) -> None:
    text = IPC.format(steps=STEP.format(name="b", depth=30)).replace(' side="BOTTOM"', ' side="NONE"')
    (tmp_path / "board.xml").write_text(text.replace('"BOT"', '"B.Cu"'))
    board, _ = read_board(tmp_path, BoardFiles("board.xml"))
    assert board is not None
    assert board.component("U2").side == "bottom"


def test_the_step_that_the_content_names_is_the_one_meant(tmp_path: Path) -> None:
    both = STEP.format(name="main", depth=30) + STEP.format(name="spare", depth=50)
    text = IPC.format(steps=both).replace("<Bom ", '<Content roleRef="owner"><StepRef name="spare"/></Content><Bom ')
    (tmp_path / "board.xml").write_text(text)
    board, _ = read_board(tmp_path, BoardFiles("board.xml"))
    assert board is not None
    assert board.outline.polygon.bounds == (0, 0, 40, 50)


def test_a_profile_that_cannot_be_used_does_not_sink_the_places(tmp_path: Path) -> None:
    text = IPC.format(steps=STEP.format(name="b", depth="deep"))
    (tmp_path / "board.xml").write_text(text)
    board, problems = read_board(tmp_path, BoardFiles("board.xml"))
    assert board is not None
    assert board.outline.from_bodies
    assert [problem.severity for problem in problems if "cannot be read" in problem.what] == ["warning"]


def test_more_parts_than_can_be_worked_out_are_refused_at_the_start(tmp_path: Path) -> None:
    rows = [f"R{n},R0402,{n % 80 * 2},{n // 80 * 2},0,top" for n in range(1, 6002)]
    (tmp_path / "placement.csv").write_text("\n".join(["Ref,Package,X (mm),Y (mm),Rot,Side", *rows]))
    _, problems = read_board(tmp_path, BoardFiles(placement="placement.csv"))
    (error,) = (problem for problem in problems if problem.severity == "error")
    assert "6001 parts on the top side" in error.what
