"""Tables and job.toml changed by hand through the page: every other byte stays."""

import tomllib

import pytest

from overlay.board.bodies import COLUMNS
from overlay.errors import InputError
from overlay.job.settings_text import with_key
from overlay.workbench.table_text import filled

TABLE = (
    b'# sizes, by callipers\r\npackage;length_mm;width_mm\r\n\r\n"A;1";  1,6 ;0,8\r\n# the odd one\r\nB2;;\r\nC3;3;3'
)


def test_a_cell_is_filled_and_every_other_byte_stays() -> None:
    changed = filled(TABLE, "bodies.csv", COLUMNS, 6, {"length_mm": "2.5", "width_mm": "1"})
    assert changed == TABLE.replace(b"B2;;\r\n", b"B2;2.5;1\r\n")


def test_a_new_column_stands_behind_the_others_and_rows_without_it_stay() -> None:
    changed = filled(TABLE, "bodies.csv", COLUMNS, 6, {"height_mm": "0.5"})
    wanted = TABLE.replace(b"length_mm;width_mm\r\n", b"length_mm;width_mm;height_mm\r\n")
    assert changed == wanted.replace(b"B2;;\r\n", b"B2;;;0.5\r\n")


def test_a_new_row_stands_at_the_end_even_behind_a_line_without_an_end() -> None:
    changed = filled(TABLE, "bodies.csv", COLUMNS, None, {"package": "D4", "length_mm": "4", "width_mm": "4"})
    assert changed == TABLE + b"\r\nD4;4;4\r\n"


def test_a_table_begins_with_the_headings_it_needs() -> None:
    changed = filled(b"", "bodies.csv", COLUMNS, None, {"package": 'X "big", y', "length_mm": "4", "width_mm": "2"})
    assert changed == b'package,length_mm,width_mm\n"X ""big"", y",4,2\n'


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_table_keeps_its_encoding(encoding: str) -> None:
    text = "package,length_mm,width_mm,height_mm\nµ-QFN,3,3,\n"
    changed = filled(text.encode(encoding), "bodies.csv", COLUMNS, 2, {"height_mm": "0.9"})
    assert changed == text.replace("3,3,", "3,3,0.9").encode(encoding)


def test_a_row_over_two_lines_is_replaced_as_one() -> None:
    data = b'package,length_mm,width_mm\n"two\nlines",1,\nB,2,2\n'
    changed = filled(data, "bodies.csv", COLUMNS, 2, {"width_mm": "5"})
    assert changed == data.replace(b'lines",1,', b'lines",1,5')


def test_a_name_that_looks_like_a_comment_is_put_in_quotes() -> None:
    changed = filled(b"package,length_mm\n", "bodies.csv", COLUMNS, None, {"package": "#5", "length_mm": "1"})
    assert changed == b'package,length_mm\n"#5","1"\n'


def test_a_table_of_comments_alone_gets_its_headings() -> None:
    data = b"# to be filled in\n"
    changed = filled(data, "bodies.csv", COLUMNS, None, {"package": "A", "length_mm": "1", "width_mm": "1"})
    assert changed == b"# to be filled in\npackage,length_mm,width_mm\nA,1,1\n"


JOB = """format = 1  # the first
[board]
placement = "p.csv"   # by the CAD

[[capture]]
name = "a"  # [capture] in a comment
frame = "a.tiff"
ambient_c = 20

[[capture]]
# frame = "old.tiff"
frame = "b.tiff"
name = "[[capture]]"
ambient_c = 21
"""


def test_a_key_stands_behind_the_line_it_belongs_to_and_nothing_else_changes() -> None:
    changed = with_key(JOB, "capture", 1, "control_points", 'b "1".csv', after="frame")
    assert tomllib.loads(changed)["capture"][1]["control_points"] == 'b "1".csv'
    assert [line for line in changed.split("\n") if "control_points" not in line] == JOB.split("\n")
    assert changed.split("\n").index('frame = "b.tiff"') + 1 == next(
        number for number, line in enumerate(changed.split("\n")) if line.startswith("control_points")
    )


def test_windows_line_ends_stay() -> None:
    changed = with_key(JOB.replace("\n", "\r\n"), "board", 0, "parts", "parts.csv", after="placement")
    assert changed == JOB.replace("CAD\n", 'CAD\nparts = "parts.csv"\n').replace("\n", "\r\n")


def test_a_job_written_in_another_manner_is_left_alone_and_the_line_is_told() -> None:
    odd = 'format = 1\nboard = { placement = "p.csv" }\ncapture = [{ name = "a", frame = "a.tiff", ambient_c = 20 }]\n'
    with pytest.raises(InputError, match="without changing the rest") as caught:
        with_key(odd, "capture", 0, "control_points", "a.csv", after="frame")
    assert 'control_points = "a.csv"' in caught.value.problems[0].remedy
