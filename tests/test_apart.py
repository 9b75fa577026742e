"""Foreign code run apart: whatever it does, the caller lives and is told."""

import io
import os
import time
import zipfile
from pathlib import Path

import openpyxl
import pytest

from overlay import apart
from overlay.apart import run_apart
from overlay.errors import InputError, input_error
from overlay.tables import read_bytes, read_table


def tell(data: bytes, word: str) -> tuple[str, int]:
    print("a library that talks")
    return word, len(data)


def refuse(_data: bytes) -> None:
    raise input_error("x.dat", 3, "is odd", "mend it")


def spin(_data: bytes) -> None:
    while True:
        pass


def sleep(_data: bytes) -> None:
    time.sleep(60.0)


def fill(_data: bytes) -> int:
    return len(bytearray(4_000_000_000))


def abort(_data: bytes) -> None:
    os.abort()


def leave(_data: bytes) -> None:
    os._exit(3)


def test_an_answer_comes_back_whatever_is_printed() -> None:
    assert run_apart(tell, b"abc", "word", file="x.dat", remedy="mend it") == ("word", 3)


def test_a_refusal_comes_back_as_it_was_raised() -> None:
    with pytest.raises(InputError) as caught:
        run_apart(refuse, b"", file="other.dat", remedy="other")
    assert str(caught.value) == "x.dat:3: is odd; mend it"


@pytest.mark.parametrize(
    ("step", "what"),
    [
        (spin, "takes more than"),
        (sleep, "takes more than"),
        (fill, "within 700 MB"),
        (abort, "x.dat: cannot be read"),
        (leave, "makes its reader break down"),
    ],
)
def test_what_would_not_end_or_breaks_down_is_a_refusal(step, what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, "CPU_S", 0.2)
    monkeypatch.setattr(apart, "WALL_S", 8.0)
    with pytest.raises(InputError, match=what) as caught:
        run_apart(step, b"", file="x.dat", remedy="mend it")
    assert caught.value.problems[0].file == "x.dat"


def workbook(path: Path, *cells: tuple[int, int, str]) -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    for row, column, text in cells:
        sheet.cell(row, column).value = text
    book.save(path)
    return path


def test_a_blank_in_the_last_cell_of_a_sheet_is_refused_and_named(tmp_path: Path) -> None:
    path = workbook(tmp_path / "parts.xlsx", (1, 1, "refdes"), (1, 2, "limit_c"), (1048576, 16384, " "))
    with pytest.raises(InputError, match=r"parts\.xlsx: .* delete the rows and columns beyond it"):
        read_table(path, "parts.xlsx", ["refdes", "limit_c"])


def test_more_cells_than_any_table_has_are_refused(tmp_path: Path) -> None:
    path = workbook(tmp_path / "parts.xlsx", (1, 1, "refdes"), (600_000, 2, " "))
    with pytest.raises(InputError, match="1,200,000 cells, more than 1,000,000"):
        read_table(path, "parts.xlsx", ["refdes", "limit_c"])


def test_a_table_that_starts_further_down_keeps_its_lines(tmp_path: Path) -> None:
    path = workbook(tmp_path / "parts.xlsx", (5, 3, "refdes"), (7, 3, "R1"))
    assert [row.line for row in read_table(path, "parts.xlsx", ["refdes"]).rows] == [7]


def test_a_sheet_that_unpacks_to_gigabytes_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    path = workbook(tmp_path / "parts.xlsx", (1, 1, "refdes"))
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive, archive.open("xl/big.xml", "w") as part:
        for _ in range(300):
            part.write(b" " * 1_000_000)
    with pytest.raises(InputError, match="unpacks to 300 MB"):
        read_table(path, "parts.xlsx", ["refdes"])


def test_only_regular_files_are_read(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", Path("/dev/zero"), tmp_path):
        with pytest.raises(InputError, match="is no regular file"):
            read_bytes(path, "frame.tiff")


def test_a_name_no_file_can_have_is_an_input_error(tmp_path: Path) -> None:
    for name in ("a\0b", "x" * 5000):
        with pytest.raises(InputError, match="cannot be"):
            read_bytes(tmp_path / name, "frame.tiff")


def test_the_drawing_library_keeps_still(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    from overlay.board.outline.read import read_outline

    path = tmp_path / "edge.dxf"
    path.write_text("0\nSECTION\n2\nENTITIES\n0\nNOSUCH\n8\n0\n0\nENDSEC\n0\nEOF\n")
    outline, problems = read_outline(path, "edge.dxf")
    assert outline is None
    assert problems[0].severity == "error"
    assert capfd.readouterr() == ("", "")


def test_bytes_that_are_no_workbook_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "parts.xlsx"
    with zipfile.ZipFile(io.BytesIO(), "w") as archive:
        archive.writestr("a", "b")
    for data in (b"", b"PK\x03\x04rubbish", b"\xd0\xcf\x11\xe0" + b"\0" * 600):
        path.write_bytes(data)
        with pytest.raises(InputError, match="cannot be read as a workbook"):
            read_table(path, "parts.xlsx", ["refdes"])
