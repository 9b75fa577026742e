from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.board.bodies import body_from_package, body_of, read_bodies
from overlay.board.model import Body, Component
from overlay.errors import Problem, Source


def table(tmp_path: Path, text: str, zero_orientation: str = "A") -> tuple[dict[str, Body], list[Problem]]:
    path = tmp_path / "bodies.csv"
    path.write_text(text, encoding="utf-8")
    return read_bodies(path, "bodies.csv", zero_orientation)


def part(refdes: str, package: str, *, mechanical: bool = False) -> Component:
    return Component(refdes, (0.0, 0.0), 0.0, "top", package, "", "", mechanical, 2)


def test_a_row_becomes_a_body_that_names_its_line(tmp_path: Path) -> None:
    text = "package,length_mm,width_mm,height_mm,shape,emissivity,emissivity_u\n# mine\nCAN-8,8,8,11.5,round,0.1,0.02\n"
    bodies, problems = table(tmp_path, text)
    assert problems == []
    row = Source("bodies.csv", 3)
    assert bodies["can-8"] == Body(8.0, 8.0, 11.5, "bodies.csv, line 3", "round", False, "unknown", 0.1, 0.02, row)


def test_semicolons_and_decimal_commas_are_read(tmp_path: Path) -> None:
    bodies, problems = table(tmp_path, "package;length_mm;width_mm;height_mm\nMY-IC;3,9;4,9;1,75\n")
    assert problems == []
    assert (bodies["my-ic"].length_mm, bodies["my-ic"].height_mm) == (3.9, 1.75)


def test_the_table_wins_over_the_name_regardless_of_case_and_blanks(tmp_path: Path) -> None:
    bodies, _ = table(tmp_path, "package,length_mm,width_mm,height_mm\nr0603,1.7,0.9,0.5\n")
    body = body_of(part("R1", " R0603 "), bodies)
    assert body is not None
    assert (body.length_mm, body.source) == (1.7, "bodies.csv, line 2")
    # where metal shows is still known from the name
    assert body.terminals == "ends"


def test_leads_follow_the_tables_orientation(tmp_path: Path) -> None:
    bodies, _ = table(tmp_path, "package,length_mm,width_mm,height_mm\nSOIC-8,4.9,3.9,1.75\nSO14,3.9,8.6,\n")
    assert bodies["soic-8"].terminals == "leads_y"
    assert bodies["so14"].terminals == "leads_x"


def test_a_missing_height_is_taken_from_the_name(tmp_path: Path) -> None:
    bodies, problems = table(tmp_path, "package,length_mm,width_mm\nSO14,3.9,8.6\nSECRET,3,3\n")
    assert problems == []
    assert bodies["so14"].height_mm == 1.75
    assert bodies["secret"].height_mm is None


def test_a_row_with_an_emissivity_alone_keeps_the_body_of_the_name(tmp_path: Path) -> None:
    text = "package,length_mm,width_mm,height_mm,emissivity\nSOIC-8,,,,0.95\n"
    assert table(tmp_path, text)[0]["soic-8"].length_mm == 3.9
    turned = table(tmp_path, text, "B")[0]["soic-8"]
    assert (turned.length_mm, turned.emissivity, turned.terminals) == (4.9, 0.95, "leads_y")


def test_a_row_with_an_emissivity_alone_for_an_unknown_package_is_an_error(tmp_path: Path) -> None:
    bodies, problems = table(tmp_path, "package,length_mm,width_mm,emissivity\nSECRET,,,0.95\n")
    assert bodies == {}
    assert [(problem.severity, problem.line) for problem in problems] == [("error", 2)]


def test_a_package_twice_is_an_error_that_names_both_lines(tmp_path: Path) -> None:
    bodies, problems = table(tmp_path, "package,length_mm,width_mm\nA,1,1\nB,2,2\n a ,3,3\n")
    assert len(problems) == 1
    assert problems[0].line == 4
    assert "line 2 and in line 4" in problems[0].what
    assert bodies["a"].length_mm == 1.0


@pytest.mark.parametrize(
    ("row", "word"),
    [
        ("A,0,1,1,,,", "length_mm"),
        ("A,-1,1,1,,,", "length_mm"),
        ("A,501,1,1,,,", "length_mm"),
        ("A,1,,1,,,", "width_mm"),
        ("A,1,x,1,,,", "width_mm"),
        ("A,1,1,0,,,", "height_mm"),
        ("A,1,1,1,ball,,", "shape"),
        ("A,1,2,1,round,,", "differ"),
        ("A,1,1,1,,1.1,", "emissivity"),
        ("A,1,1,1,,0,", "emissivity"),
        ("A,1,1,1,,,0.02", "without an emissivity"),
        ("A,1,1,1,,0.9,-1", "emissivity_u"),
        (",1,1,1,,,", "package"),
    ],
)
def test_what_cannot_be_is_an_error_with_its_line(tmp_path: Path, row: str, word: str) -> None:
    text = f"package,length_mm,width_mm,height_mm,shape,emissivity,emissivity_u\nGOOD,1,1,1,,,\n{row}\n"
    bodies, problems = table(tmp_path, text)
    assert list(bodies) == ["good"]
    assert [(problem.severity, problem.file, problem.line) for problem in problems] == [("error", "bodies.csv", 3)]
    assert word in problems[0].what
    assert problems[0].remedy


def test_all_problems_are_found_at_once(tmp_path: Path) -> None:
    _, problems = table(tmp_path, "package,length_mm,width_mm\nA,x,y\nB,1,\n")
    assert [problem.line for problem in problems] == [2, 2, 3]


def test_a_missing_file_is_a_problem(tmp_path: Path) -> None:
    bodies, problems = read_bodies(tmp_path / "none.csv", "none.csv")
    assert bodies == {}
    assert "no such file" in problems[0].what


def test_a_mechanical_item_has_a_body_only_where_the_table_says_so() -> None:
    assert body_of(part("FID1", "R0603", mechanical=True), {}) is None
    own = Body(1.0, 1.0, None, "bodies.csv, line 2")
    assert body_of(part("FID1", "R0603", mechanical=True), {"r0603": own}) is own


def test_a_chip_is_as_high_as_its_designator_says() -> None:
    heights = {name: body_of(part(name, "0805"), {}) for name in ("R1", "C1")}
    assert {name: body and body.height_mm for name, body in heights.items()} == {"R1": 0.55, "C1": 1.25}


def test_a_coaxial_connector_is_no_diode() -> None:
    assert body_of(part("J1", "SMA"), {}) is None
    assert body_of(part("D1", "SMA"), {}) == body_from_package("SMA")


def test_zero_orientation_reaches_the_body() -> None:
    a, b = (body_of(part("U1", "SOIC-8"), {}, level) for level in "AB")
    assert a is not None
    assert b is not None
    assert (a.length_mm, b.length_mm) == (3.9, 4.9)


@given(st.binary(max_size=300))
def test_any_bytes_give_bodies_or_problems(tmp_path: Path, data: bytes) -> None:
    for name, content in (("b.csv", data), ("b2.csv", b"package,length_mm,width_mm,shape\n" + data)):
        path = tmp_path / name
        path.write_bytes(content)
        bodies, problems = read_bodies(path, name)
        assert all(isinstance(body, Body) for body in bodies.values())
        assert all(problem.remedy for problem in problems)


def test_any_bytes_as_a_workbook_give_problems(tmp_path: Path) -> None:
    path = tmp_path / "b.xlsx"
    path.write_bytes(b"PK\x03\x04 nothing of the kind")
    assert read_bodies(path, "b.xlsx")[1]
