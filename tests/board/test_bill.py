"""Purchasing lists as they come: which parts a row is for, and what its cells tell."""

from pathlib import Path

import pytest

from overlay.board.bill import read_bill
from overlay.board.model import BoardFiles
from overlay.board.parts import read_parts
from overlay.board.read import read_board

# invented, in the manner of distributors' exports
BILL = """Tide gauge power board,,,,,,,
printed 2026-11-02,,,,,,,
#,Qty,Reference(s),Value,Footprint,Mfr Part #,Description,Operating Temperature,Power (Watts)
1,3,"R1-R2, R7",10k,R_0402,ABC0402-103,RES 10K 1%,-55°C ~ 155°C,"0.063W, 1/16W"
2,1,U1,,,XY1234DGKR,IC MUX,"-40°C ~ 125°C (TJ), -40°C ~ 85°C (TA)",-
3,2,"C1,C2",100n,,MLC-104,CAP CER 0.1UF 16V 0603,whatever,
4,1,R9,0R,R_0402,DNP,RES 0R DNP,,
,7,,,,,Total,,
"""


def bill_at(tmp_path: Path, text: str = BILL, name: str = "bom.csv") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_headings_are_found_below_a_title_and_by_what_they_mean(tmp_path: Path) -> None:
    bill, problems = read_bill(bill_at(tmp_path), "bom.csv")
    assert problems == []
    assert bill is not None
    assert dict(bill.understood) == {
        "Reference(s)": "designators",
        "Mfr Part #": "manufacturer's part number",
        "Footprint": "package",
        "Value": "value",
        "Description": "description",
        "Operating Temperature": "temperature rating",
        "Power (Watts)": "rated power",
    }
    assert [entry.refdes for entry in bill.entries] == [("R1", "R2", "R7"), ("U1",), ("C1", "C2"), ("R9",)]
    assert [entry.fitted for entry in bill.entries] == [True, True, True, False]


def test_each_rating_names_its_cell_and_an_unknown_basis_is_ambient(tmp_path: Path) -> None:
    table, problems = read_parts(bill_at(tmp_path), "bom.csv")
    resistor, mux = table.by_refdes["R7"], table.by_refdes["U1"]
    assert (resistor.limit_c, resistor.limit_at, resistor.rated_power_w) == (155.0, "ambient", 0.063)
    assert "bom.csv, line 4" in resistor.limit_source
    assert "'-55°C ~ 155°C'" in resistor.limit_source
    assert "taken for the ambient" in resistor.limit_source
    assert [(row.limit_c, row.limit_at) for row in mux.rows] == [(85.0, "ambient"), (125.0, "junction")]
    assert mux.rated_power_w is None
    assert "C1" not in table.by_refdes
    (problem,) = problems
    assert problem.severity == "warning"
    assert "'whatever'" in problem.what


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_other_delimiters_and_encodings(tmp_path: Path, delimiter: str) -> None:
    text = delimiter.join(["Designator", "MPN", "Max. Temperature [°C]"]) + "\n" + delimiter.join(["R1", "A-1", "155"])
    path = tmp_path / "bom.csv"
    path.write_bytes(text.encode("utf-16"))
    table, problems = read_parts(path, "bom.csv")
    assert problems == []
    assert table.by_refdes["R1"].limit_c == 155.0


def test_a_mistyped_heading_of_the_own_table_is_still_an_error(tmp_path: Path) -> None:
    table, problems = read_parts(bill_at(tmp_path, "refdes,limt_c\nR1,155\n"), "parts.csv")
    assert not table.by_refdes
    assert [problem.severity for problem in problems] == ["error"]
    assert "limit_c" in problems[0].remedy


def test_storage_and_coefficients_are_no_limits(tmp_path: Path) -> None:
    text = "Designator,MPN,Storage Temperature,Temperature Coefficient\nR1,A,-55°C ~ 155°C,±100ppm/°C\n"
    table, problems = read_parts(bill_at(tmp_path, text), "bom.csv")
    assert problems == []
    assert not table.by_refdes


def test_a_table_that_names_no_parts_is_refused(tmp_path: Path) -> None:
    _, problems = read_parts(bill_at(tmp_path, "Colour,Shade\nred,dark\n"), "bom.csv")
    assert problems
    assert problems[0].severity == "error"


def test_a_designator_in_two_rows_counts_where_it_is_fitted(tmp_path: Path) -> None:
    text = "Designator,MPN,DNP\nR1,A,x\nR1,B,\nR2,C,\nR2,D,\n"
    bill, problems = read_bill(bill_at(tmp_path, text), "bom.csv")
    assert bill is not None
    assert bill.by_refdes["R1"].part_numbers == ("B",)
    assert bill.by_refdes["R2"].part_numbers == ("C",)
    assert [problem.line for problem in problems] == [5]


def test_the_list_adds_packages_numbers_and_what_is_not_fitted(tmp_path: Path) -> None:
    (tmp_path / "placement.csv").write_text(
        "Designator,Mid X(mm),Mid Y(mm),Rotation,Layer,Comment\n"
        "R1,1,1,0,Top,10k\nR9,5,5,0,Top,0R\nC1,9,9,0,Top,100n\nU1,20,20,0,Top,XY1234DGKR\n",
        encoding="utf-8",
    )
    bill_at(tmp_path)
    board, _ = read_board(tmp_path, BoardFiles(placement="placement.csv", parts="bom.csv"))
    assert board is not None
    r1, c1, u1 = (board.component(name) for name in ("R1", "C1", "U1"))
    assert r1.package == "R_0402"
    assert r1.part_number == "ABC0402-103"
    assert r1.body is not None
    assert (r1.body.length_mm, r1.body.width_mm) == (1.0, 0.5)
    assert c1.body is not None  # from the description
    assert (c1.body.length_mm, c1.body.width_mm, c1.kind) == (1.6, 0.8, "capacitor")
    assert "bom.csv, line 6" in c1.body.source
    assert u1.body is not None  # from the ordering code
    assert (u1.body.length_mm, u1.body.width_mm) == (3.0, 3.0)
    assert [part.refdes for part in board.unfitted] == ["R9"]


@pytest.mark.parametrize(
    ("text", "refdes", "limit", "watts", "number"),
    [
        (
            "Bezeichner;Wert;Gehäuse;Herstellernummer;Betriebstemperatur;Leistung;Bestückt\n"
            "R1;10k;0402;ABC-1;-55°C...155°C;0,063 W;ja\n",
            "R1",
            (155.0, "ambient"),
            0.063,
            "ABC-1",
        ),
        (
            "Index,Quantity,Part Number,Manufacturer Part Number,Description,Customer Reference,Operating Temperature\n"
            "1,1,123-ND,XYZ-3,IC REG BUCK,U1,-40°C ~ 150°C (TJ)\n",
            "U1",
            (150.0, "junction"),
            None,
            "XYZ-3",
        ),
        (
            'Comment,Description,Designator,Footprint,Max Temp,Rated Power\n10k,"Chip","R1, R2",0603,155 °C,100mW\n',
            "R2",
            (155.0, "ambient"),
            0.1,
            None,
        ),
        (
            "Designator,MPN,Maximum Junction Temperature\nQ1,A,150 °C\n",
            "Q1",
            (150.0, "junction"),
            None,
            "A",
        ),
    ],
)
def test_lists_of_many_houses(
    tmp_path: Path, text: str, refdes: str, limit: tuple[float, str], watts: float | None, number: str | None
) -> None:
    table, problems = read_parts(bill_at(tmp_path, text), "bom.csv")
    assert problems == []
    rating = table.by_refdes[refdes]
    assert (rating.limit_c, rating.limit_at, rating.rated_power_w) == (*limit, watts)
    assert table.bill is not None
    assert table.bill.by_refdes[refdes].part_numbers == (() if number is None else (number,))


def test_of_several_cells_for_one_place_the_tightest_counts(tmp_path: Path) -> None:
    text = "Designator,MPN,Operating Temperature,Maximum Junction Temperature\nQ1,A,-55°C ~ 175°C (TJ),150 °C\n"
    table, _ = read_parts(bill_at(tmp_path, text), "bom.csv")
    assert [(row.limit_c, row.limit_at) for row in table.by_refdes["Q1"].rows] == [(150.0, "junction")]
