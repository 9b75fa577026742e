"""Errors, tables, files and uncertainty terms: what every room stands on."""

import json
import math
import pickle
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.errors import InputError, Problem, raise_errors
from overlay.files import write_all, write_whole
from overlay.reading.model import ReadingCode
from overlay.reasons import Reason
from overlay.tables import parse_number, read_table
from overlay.uncertainty import Term, TermName, combined_k, covariance_k2, difference_k, largest, scaled


def test_a_problem_reads_place_what_and_remedy() -> None:
    problem = Problem("error", "parts.csv", 14, "limit_c 'hot' is not a number", "write a plain number such as 12.5")
    assert str(problem) == "parts.csv:14: limit_c 'hot' is not a number; write a plain number such as 12.5"
    assert str(Problem("error", "a.png", None, "is a picture", "export °C")) == "a.png: is a picture; export °C"


def test_an_input_error_returns_whole_from_a_worker_process() -> None:
    error = InputError([Problem("error", "a.csv", 1, "x", "y"), Problem("warning", "b.csv", None, "z", "w", "c", "v")])
    assert pickle.loads(pickle.dumps(error)).problems == error.problems


def test_only_errors_stop_a_job_and_then_all_problems_are_told() -> None:
    warning = Problem("warning", "a.csv", 1, "odd", "look")
    raise_errors([warning])
    with pytest.raises(InputError) as caught:
        raise_errors([warning, Problem("error", "a.csv", 2, "wrong", "mend")])
    assert len(caught.value.problems) == 2


@pytest.mark.parametrize(
    ("text", "value"),
    [("12.5", 12.5), ("-.5", -0.5), ("+3", 3.0), ("1e-3", 1e-3), ("−4", -4.0), ("7.", 7.0)],
)
def test_plain_numbers_are_read(text: str, value: float) -> None:
    assert parse_number(text) == value


@pytest.mark.parametrize("text", ["", "nan", "inf", "1_000", "0x10", "12,5", "1e999", "5 mm", "--1", "1.2.3"])
def test_what_is_no_plain_number_is_none(text: str) -> None:
    assert parse_number(text) is None


def test_a_decimal_comma_counts_only_where_it_is_allowed() -> None:
    assert parse_number("12,5", decimal_comma=True) == 12.5
    assert parse_number("1,234.5", decimal_comma=True) is None


@pytest.mark.parametrize(
    "text",
    [
        "package,length_mm\nA,1.5\n",
        "package;length_mm\nA;1,5\n",
        "package\tlength_mm\nA\t1,5\n",
        "\ufeffPackage , Length mm\n# a remark, with commas\n\nA , 1.5\n",
    ],
)
def test_delimiters_and_decimal_commas_are_found(tmp_path: Path, text: str) -> None:
    path = tmp_path / "bodies.csv"
    path.write_text(text, encoding="utf-8")
    table = read_table(path, "bodies.csv", ("package", "length_mm"))
    problems: list[Problem] = []
    assert [(row.text("package"), row.number("length_mm", problems)) for row in table.rows] == [("A", 1.5)]
    assert not problems


def test_rows_remember_their_line_past_comments_and_quoted_line_ends(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text('a,b\n# remark\n"one\ntwo",1\n\nx,2\n')
    assert [row.line for row in read_table(path, "t.csv", ("a", "b")).rows] == [3, 6]


def test_every_problem_of_a_heading_is_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("pakage,length_mm,length_mm\n1,2,3,4\n")
    with pytest.raises(InputError) as caught:
        read_table(path, "t.csv", ("package", "length_mm"), ("package",))
    whats = [problem.what for problem in caught.value.problems]
    assert len(whats) == 4
    assert "did you mean 'package'?" in [problem.remedy for problem in caught.value.problems]


def test_a_workbook_reads_like_a_csv_and_keeps_text(tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    book.active.append(["package", "length_mm"])
    book.active.append(["00603", 1.6])
    book.active.append([603, 2])
    book.save(tmp_path / "t.xlsx")
    rows = read_table(tmp_path / "t.xlsx", "t.xlsx", ("package", "length_mm")).rows
    assert [(row.line, row.text("package"), row.text("length_mm")) for row in rows] == [
        (2, "00603", "1.6"),
        (3, "603", "2"),
    ]


@given(data=st.binary(max_size=300), suffix=st.sampled_from([".csv", ".xlsx"]))
def test_any_bytes_as_a_table_give_rows_or_an_input_error(
    tmp_path_factory: pytest.TempPathFactory, data: bytes, suffix: str
) -> None:
    path = tmp_path_factory.mktemp("table") / f"t{suffix}"
    path.write_bytes(data)
    try:
        read_table(path, path.name, ("package", "length_mm"))
    except InputError as error:
        assert error.problems


def test_a_file_is_written_whole_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    write_whole(tmp_path / "new" / "a.txt", b"one")
    write_whole(tmp_path / "new" / "a.txt", b"two")
    assert (tmp_path / "new" / "a.txt").read_bytes() == b"two"
    assert [path.name for path in (tmp_path / "new").iterdir()] == ["a.txt"]


def test_of_several_files_none_is_replaced_when_one_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_bytes(b"good")
    (tmp_path / "blocked").write_bytes(b"a file where a folder is wanted")
    with pytest.raises(OSError, match="blocked"):
        write_all({tmp_path / "a.txt": b"new", tmp_path / "blocked" / "b.txt": b"new"})
    assert (tmp_path / "a.txt").read_bytes() == b"good"
    assert {path.name for path in tmp_path.iterdir()} == {"a.txt", "blocked"}


def test_private_terms_add_in_squares_and_shared_ones_in_line() -> None:
    budget = (Term(TermName.CAMERA, 1.0, "camera:a"), Term(TermName.CAMERA, 2.0, "camera:a"), Term(TermName.NOISE, 4.0))
    assert combined_k(budget) == pytest.approx(math.hypot(3.0, 4.0))


def test_a_common_error_cancels_in_a_difference() -> None:
    one = (Term(TermName.CAMERA, 1.2, "camera:a"), Term(TermName.NOISE, 0.3))
    other = (Term(TermName.CAMERA, 1.2, "camera:a"), Term(TermName.NOISE, 0.4))
    assert difference_k(one, other) == pytest.approx(0.5)
    assert covariance_k2(one, other) == pytest.approx(1.44)
    opposite = (Term(TermName.CAMERA, -1.2, "camera:a"),)
    assert difference_k(one, opposite) == pytest.approx(math.hypot(2.4, 0.3))


def test_terms_of_different_captures_do_not_cancel() -> None:
    one, other = Term(TermName.CAMERA, 1.0, "camera:a"), Term(TermName.CAMERA, 1.0, "camera:b")
    assert difference_k((one,), (other,)) == pytest.approx(math.sqrt(2))


def test_scaling_a_value_scales_its_uncertainty() -> None:
    assert combined_k(scaled((Term(TermName.NOISE, 0.5), Term(TermName.CAMERA, 1.0, "c")), -2.0)) == pytest.approx(
        2 * math.hypot(0.5, 1.0)
    )


def test_the_largest_terms_come_first_with_like_terms_added() -> None:
    noise = (Term(TermName.NOISE, 3.0), Term(TermName.NOISE, 4.0))
    budget = (*noise, Term(TermName.CAMERA, 2.0, "c"), Term(TermName.CAMERA, 4.0, "c"))
    assert [(term.name, term.contribution_k) for term in largest(budget, 2)] == [("camera", 6.0), ("noise", 5.0)]


def test_a_reason_prints_as_its_sentence_keeps_its_code_and_crosses_processes() -> None:
    reason = Reason(ReadingCode.SHINY, "shiny")
    again = pickle.loads(pickle.dumps(reason))
    assert (f"{again}", again.code, again == reason) == ("shiny", ReadingCode.SHINY, True)
    assert json.dumps([reason]) == '["shiny"]'


def test_a_long_cell_takes_no_more_time_than_its_length_asks_for() -> None:
    begun = time.process_time()
    assert parse_number("9" * 40_000 + "x") is None
    assert parse_number("9" * 300) == float("9" * 300)
    assert time.process_time() - begun < 0.5
