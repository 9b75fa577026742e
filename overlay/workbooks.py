"""Workbooks as rows of text, read apart: their reader asks for the whole block that a sheet says it uses."""

from __future__ import annotations

import io
import zipfile

from overlay.apart import run_apart
from overlay.errors import InputError, input_error

SUFFIXES = (".xlsx", ".xlsm", ".xls", ".ods")
# Ten times the largest parts list met; an empty cell at the sheet's far corner makes billions.
MOST_CELLS = 1_000_000
# Sheets are text that packs well, some ten to one; drawings of a board never come to this.
MOST_UNPACKED_BYTES = 200_000_000
_REMEDY = "save the table alone as CSV, or delete the rows and columns beyond it"

SheetRows = tuple[str, list[list[str]]]  # its name, and rows from the first of the sheet


def is_workbook(data: bytes) -> bool:
    """Whether a file is a spreadsheet, by its first bytes and whatever its name: a ZIP or a compound document."""
    return data[:4] == b"PK\x03\x04" or data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def workbook_sheets(data: bytes, file: str, *, first_only: bool = False) -> list[SheetRows]:
    """Name and rows of every sheet of an XLSX, XLS or ODS workbook; numbers become text with a decimal point.

    Raises
    ------
    InputError
        If it is no workbook, or one that is too large to be a table of parts.
    """
    if data[:2] == b"PK":
        _check_archive(data, file)
    return run_apart(_sheets, data, file, first_only, file=file, remedy=_REMEDY)


def _check_archive(data: bytes, file: str) -> None:
    """An archive says how large it will be, and its reader stops at what was said."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            size = sum(item.file_size for item in archive.infolist())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise input_error(file, None, f"cannot be read as a workbook ({error})", "save it as XLSX or CSV") from None
    if size > MOST_UNPACKED_BYTES:
        what = f"unpacks to {size / 1e6:.0f} MB, more than {MOST_UNPACKED_BYTES / 1e6:.0f} MB"
        raise input_error(file, None, what, _REMEDY)


def _sheets(data: bytes, file: str, first_only: bool) -> list[SheetRows]:
    from python_calamine import CalamineWorkbook

    sheets, cells = [], 0
    try:
        workbook = CalamineWorkbook.from_filelike(io.BytesIO(data))
        for name in workbook.sheet_names[:1] if first_only else workbook.sheet_names:
            sheet = workbook.get_sheet_by_name(name)
            first = sheet.start or (0, 0)
            cells += (sheet.height + first[0]) * (sheet.width + first[1])
            if cells > MOST_CELLS:
                what = f"its sheets use {cells:,} cells, more than {MOST_CELLS:,}"
                raise input_error(file, None, what, _REMEDY)
            sheets.append((name, [[_text(cell) for cell in row] for row in sheet.to_python(skip_empty_area=False)]))
    except (InputError, MemoryError):
        raise
    except BaseException as error:  # a panic of the reader's own language is no Exception
        reason = (str(error).splitlines() or [""])[0][:120]
        what = f"cannot be read as a workbook ({reason})"
        raise input_error(file, None, what, "save it as XLSX or CSV") from None
    return sheets


def _text(cell: object) -> str:
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float):
        # a workbook knows no integers (603 comes as 603.0), and repr gives all digits of the rest
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    return "" if cell is None else " ".join(str(cell).split())
