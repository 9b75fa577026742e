from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.board.designators import expand_designators
from overlay.board.model import Component, Rating
from overlay.board.parts import PartsTable, rate, read_parts
from overlay.errors import Problem


def table(tmp_path: Path, text: str) -> tuple[PartsTable, list[Problem]]:
    path = tmp_path / "parts.csv"
    path.write_text(text, encoding="utf-8")
    return read_parts(path, "parts.csv")


def part(refdes: str, part_number: str = "") -> Component:
    return Component(refdes, (0.0, 0.0), 0.0, "top", "", part_number, part_number, False, 2)


def rated(tmp_path: Path, text: str, *parts: Component) -> tuple[dict[str, Rating | None], list[Problem]]:
    ratings, problems = table(tmp_path, text)
    components, found = rate(parts, ratings)
    return {component.refdes: component.rating for component in components}, problems + found


@pytest.mark.parametrize(
    ("cell", "names"),
    [
        ("R1", "R1"),
        ("R1, R2 R5;C3", "R1 R2 R5 C3"),
        ("R1-R4", "R1 R2 R3 R4"),
        ("R1–R4", "R1 R2 R3 R4"),
        ("R1..R4", "R1 R2 R3 R4"),
        ("R1 - R4", "R1 R2 R3 R4"),
        ("R1 .. R3, R7", "R1 R2 R3 R7"),
        ("R1 to R3", "R1 R2 R3"),
        ("R08-R11", "R08 R09 R10 R11"),
        ("R1-R3, R2", "R1 R2 R3"),
        ("R5-R5", "R5"),
        ("U1-A", "U1-A"),
        ("R1-C4", "R1-C4"),
        ("", ""),
    ],
)
def test_a_cell_names_designators_lists_and_ranges(cell: str, names: str) -> None:
    assert expand_designators(cell) == tuple(names.split())


@pytest.mark.parametrize("cell", ["R4-R1", "R1-R10001", "R1-R999999999999", "R1-R" + "9" * 5000])
def test_a_range_that_makes_no_sense_is_an_error(tmp_path: Path, cell: str) -> None:
    ratings, problems = table(tmp_path, f"refdes,limit_c\n{cell},100\nR1,90\n")
    assert [(problem.severity, problem.line) for problem in problems] == [("error", 2)]
    assert list(ratings.by_refdes) == ["R1"]


def test_all_columns_are_read(tmp_path: Path) -> None:
    text = (
        "refdes,part_number,kind,limit_c,limit_at,psi_jt_k_per_w,power_w,power_u_w,height_mm,emissivity,emissivity_u,"
        "note,rated_power_w,endurance_h,endurance_c\n"
        'U1,X,LDO,125,Junction,6,0.85,0.05,1.75,0.94,0.02,"hot, mind",,2000,105\n'
    )
    ratings, problems = table(tmp_path, text)
    assert problems == []
    assert ratings.by_refdes["U1"] == Rating(
        2, "regulator", 125.0, "junction", 6.0, 0.85, 0.05, 1.75, 0.94, 0.02, "hot, mind", None, 2000.0, 105.0
    )


def test_a_part_number_matches_regardless_of_case_and_blanks(tmp_path: Path) -> None:
    ratings, problems = rated(
        tmp_path, "part_number,limit_c\nlm317T ,125\n", part("U1", " LM317t"), part("U2", "other")
    )
    assert problems == []
    assert ratings["U1"] is not None
    assert ratings["U1"].limit_c == 125.0
    assert ratings["U2"] is None


def test_a_row_by_refdes_wins_cell_by_cell(tmp_path: Path) -> None:
    text = "refdes,part_number,limit_c,power_w,height_mm\n,ABC,155,0.25,0.5\nR1,,,0.10,\n"
    ratings, problems = rated(tmp_path, text, part("R1", "ABC"), part("R2", "ABC"))
    assert problems == []
    one, two = ratings["R1"], ratings["R2"]
    assert one is not None
    assert two is not None
    assert (one.line, one.limit_c, one.power_w, one.height_mm) == (3, 155.0, 0.10, 0.5)
    assert (two.line, two.power_w) == (2, 0.25)


def test_a_limit_keeps_the_place_it_was_given_for(tmp_path: Path) -> None:
    # a surface limit of one row must not become a junction limit through the other
    text = (
        "refdes,part_number,limit_c,limit_at,psi_jt_k_per_w,power_w\n,ABC,150,junction,6,0.5\nU1,,95,,,\nU3,,,,,0.8\n"
    )
    ratings, _ = rated(tmp_path, text, part("U1", "ABC"), part("U2", "ABC"), part("U3", "ABC"))
    one, two, three = ratings["U1"], ratings["U2"], ratings["U3"]
    assert one is not None
    assert two is not None
    assert three is not None
    assert (one.limit_c, one.limit_at) == (95.0, "surface")
    assert (two.limit_c, two.limit_at) == (150.0, "junction")
    assert (three.limit_c, three.limit_at, three.psi_jt_k_per_w, three.power_w) == (150.0, "junction", 6.0, 0.8)


def test_an_uncertainty_stays_with_its_value(tmp_path: Path) -> None:
    text = "refdes,part_number,emissivity,emissivity_u,power_w,power_u_w\n,ABC,0.9,0.01,1,0.1\nU1,,0.5,,2,\n"
    ratings, _ = rated(tmp_path, text, part("U1", "ABC"))
    rating = ratings["U1"]
    assert rating is not None
    assert (rating.emissivity, rating.emissivity_u, rating.power_w, rating.power_u_w) == (0.5, None, 2.0, None)


def test_a_refdes_in_two_rows_is_an_error_that_names_both_lines(tmp_path: Path) -> None:
    ratings, problems = table(tmp_path, "refdes,limit_c\nR1-R3,100\n\nr2,90\n")
    assert [(problem.severity, problem.line) for problem in problems] == [("error", 4)]
    assert "line 2 and in line 4" in problems[0].what
    assert ratings.by_refdes["R2"].limit_c == 100.0


def test_a_part_number_in_two_rows_is_an_error_that_names_both_lines(tmp_path: Path) -> None:
    _, problems = table(tmp_path, "part_number,limit_c\nABC,100\nabc,90\n")
    assert [(problem.severity, problem.line) for problem in problems] == [("error", 3)]
    assert "line 2 and in line 3" in problems[0].what


def test_beside_designators_a_part_number_is_a_remark(tmp_path: Path) -> None:
    text = "refdes,part_number,power_w\nR1,ABC,0.1\nR2,ABC,0.2\n"
    ratings, problems = rated(tmp_path, text, part("R1", "ABC"), part("R2", "ABC"), part("R3", "ABC"))
    assert problems == []
    assert ratings["R3"] is None


def test_a_refdes_that_is_not_on_the_board_is_told_with_the_nearest(tmp_path: Path) -> None:
    _, problems = rated(tmp_path, "refdes,limit_c\nR17,100\nU1,85\n", part("R71"), part("R1"), part("U1"))
    assert [(problem.severity, problem.line) for problem in problems] == [("warning", 2)]
    assert "R17 is not on the board" in problems[0].what
    assert "did you mean" in problems[0].remedy


def test_a_part_number_on_no_part_is_told_and_many_are_told_in_one(tmp_path: Path) -> None:
    _, problems = rated(tmp_path, "part_number,limit_c\nLM317,100\n", part("U1", "LM371"))
    assert "did you mean 'LM371'" in problems[0].remedy
    many = "part_number,limit_c\n" + "".join(f"P{n},100\n" for n in range(30))
    _, problems = rated(tmp_path, many, part("U1", "other"))
    assert len(problems) == 1
    assert "30 part numbers" in problems[0].what


def test_a_row_that_names_nothing_is_an_error(tmp_path: Path) -> None:
    _, problems = table(tmp_path, "refdes,part_number,limit_c\n,,100\n")
    assert [(problem.severity, problem.line) for problem in problems] == [("error", 2)]


def test_a_table_without_naming_columns_is_an_error(tmp_path: Path) -> None:
    _, problems = table(tmp_path, "kind,limit_c\nresistor,100\n")
    assert [problem.severity for problem in problems] == ["error"]


def test_a_junction_limit_without_power_cannot_be_rated_and_says_so(tmp_path: Path) -> None:
    text = "refdes,part_number,limit_c,limit_at,psi_jt_k_per_w,power_w\n,ABC,150,junction,6,\nU2,,,,,0.5\n"
    _, problems = rated(tmp_path, text, part("U1", "ABC"), part("U2", "ABC"))
    assert [(problem.severity, problem.line) for problem in problems] == [("warning", 2)]
    assert "power_w" in problems[0].what
    assert "U1" in problems[0].what
    assert "U2" not in problems[0].what


@pytest.mark.parametrize(
    ("column", "cell", "severity"),
    [
        ("limit_c", "-61", "error"),
        ("limit_c", "1501", "error"),
        ("limit_c", "hot", "error"),
        ("limit_at", "case", "error"),
        ("kind", "resistr", "warning"),
        ("psi_jt_k_per_w", "-1", "error"),
        ("power_w", "-0.1", "error"),
        ("power_u_w", "0.1", "error"),
        ("height_mm", "0", "error"),
        ("emissivity", "1.2", "error"),
        ("emissivity_u", "0.02", "error"),
        ("rated_power_w", "0", "error"),
        ("endurance_h", "2000", "error"),
    ],
)
def test_what_cannot_be_is_told_with_its_line(tmp_path: Path, column: str, cell: str, severity: str) -> None:
    _, problems = table(tmp_path, f"refdes,note,{column}\nR1,,\nR2,,{cell}\n")
    assert [(problem.severity, problem.line, problem.column) for problem in problems] == [(severity, 3, column)]


def test_a_workbook_is_read_like_a_text_table(tmp_path: Path) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    book.active.append(["RefDes", "Part Number", "Limit C", "Power W"])
    book.active.append(["R1-R2", "", 155, 0.25])
    book.active.append(["", 603, 125, None])
    book.save(tmp_path / "parts.xlsx")
    ratings, problems = read_parts(tmp_path / "parts.xlsx", "parts.xlsx")
    assert problems == []
    assert ratings.by_refdes["R2"].limit_c == 155.0
    assert ratings.by_part_number["603"].line == 3


@given(st.binary(max_size=300))
def test_any_bytes_give_ratings_or_problems(tmp_path: Path, data: bytes) -> None:
    for name, content in (("p.csv", data), ("p2.csv", b"refdes,part_number,limit_c,limit_at\n" + data)):
        path = tmp_path / name
        path.write_bytes(content)
        ratings, problems = read_parts(path, name)
        rate([part("R1", "ABC")], ratings)
        assert all(problem.remedy for problem in problems)


@given(st.text(alphabet="R1C20-–.…, ;toU\n", max_size=30))
def test_any_refdes_cell_gives_names_or_a_reason(cell: str) -> None:
    try:
        names = expand_designators(cell)
    except ValueError as error:
        assert str(error)
    else:
        assert len(names) == len(set(names))


def test_a_part_may_have_several_limits_that_hold_at_different_places(tmp_path: Path) -> None:
    text = (
        "refdes,limit_c,limit_at,psi_jt_k_per_w,psi_u_k_per_w,power_w,limit_u_c,limit_source,derates_by\n"
        "U1,150,junction,6,1,0.85,2,data sheet rev. C,\n"
        "U1,85,ambient,,,,,grade,terminal\n"
    )
    ratings, problems = rated(tmp_path, text, part("U1"))
    assert problems == []
    rating = ratings["U1"]
    assert rating is not None
    junction, ambient = rating.rows
    assert (junction.limit_c, junction.limit_at, junction.psi_u_k_per_w, junction.limit_u_c) == (150, "junction", 1, 2)
    assert (ambient.limit_c, ambient.limit_at, ambient.limit_source, ambient.line) == (85.0, "ambient", "grade", 3)
    assert (ambient.limit_u_c, ambient.power_w) == (None, 0.85)


def test_two_limits_at_one_place_are_an_error_that_names_both_lines(tmp_path: Path) -> None:
    _, problems = table(tmp_path, "refdes,limit_c,limit_at\nU1,150,junction\nU1,85,ambient\nU1,70,ambient\n")
    assert [(problem.severity, problem.line) for problem in problems] == [("error", 4)]
    assert "line 3 and in line 4" in problems[0].what


def test_a_blank_limit_at_is_remembered_as_blank(tmp_path: Path) -> None:
    ratings, _ = table(tmp_path, "refdes,limit_c,limit_at\nU1,125,\nU2,125,surface\nD1,100,solder point\n")
    assert [ratings.by_refdes[name].limit_at_stated for name in ("U1", "U2")] == [False, True]
    assert ratings.by_refdes["D1"].limit_at == "terminal"


def test_a_row_holds_for_the_same_part_on_every_board_of_a_panel() -> None:
    part = Component("R96@2", (0.0, 0.0), 0.0, "top", "R0603", "10k", "10k", False, 2)
    (rated,), problems = rate(
        [part], PartsTable("parts.csv", {"R96": Rating(2, limit_c=155.0)}, {}, ((2, ("R96",), ""),))
    )
    assert rated.rating is not None
    assert rated.rating.limit_c == 155.0
    assert problems == []
