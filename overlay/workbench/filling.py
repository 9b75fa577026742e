"""Body sizes and ratings that are missing, and their way into the tables."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from overlay.board.bodies import COLUMNS as BODY_COLUMNS
from overlay.board.bodies import read_bodies, table_key
from overlay.board.designators import expand_designators
from overlay.board.model import Board, Component
from overlay.board.parts import COLUMNS as PART_COLUMNS
from overlay.board.parts import read_parts
from overlay.errors import InputError, Problem, input_error
from overlay.job.settings import Settings
from overlay.job.settings_text import with_key
from overlay.tables import read_bytes, read_table
from overlay.workbench.folder import inside, replace_files
from overlay.workbench.table_text import filled

# columns that the page may write: all else in a table is left to its owner
BODY_CELLS = ("length_mm", "width_mm", "height_mm", "shape")
RATING_CELLS = ("limit_c", "limit_at", "psi_jt_k_per_w", "power_w", "height_mm", "kind", "emissivity")


_SIDE = r"(\d+(?:\.\d+)?)(?:mm|MM)?"
# upright cylinders are called by diameter and height (common practice of capacitor makers)
_UPRIGHT = re.compile(r"(?:^|[^A-Z])(?:CAN|RAD|RADIAL|ELCAP|ELKO|CPOL?|CYL)(?:[^A-Z]|$)", re.IGNORECASE)
_LEAST_SIDE_MM, _LARGEST_SIDE_MM = 0.2, 120.0  # 01005 chips to large modules; other numbers are rows of pins


def missing_json(board: Board) -> dict[str, Any]:
    """Packages without a body and parts without a limit, grouped as one row of a table would fill them."""
    packages: dict[str, list[Component]] = {}
    ratings: dict[tuple[str, str], list[Component]] = {}
    for part in board.components:
        if part.mechanical:
            continue
        if part.body is None and part.package.strip():
            packages.setdefault(table_key(part.package), []).append(part)
        rating = part.rating
        if rating is None or rating.limit_c is None:
            row = "" if rating is None else str(rating.line)
            ratings.setdefault((row, part.part_number.strip().casefold() or part.refdes), []).append(part)
    return {
        "bodies": [
            {
                "package": parts[0].package.strip(),
                "parts": [part.refdes for part in parts],
                "proposed": proposed_size(parts[0].package),
            }
            for parts in packages.values()
        ],
        "ratings": [
            {
                "refdes": parts[0].refdes,
                "part_number": parts[0].part_number,
                "kind": parts[0].kind,
                "parts": [part.refdes for part in parts],
                "line": None if parts[0].rating is None else parts[0].rating.line,
            }
            for parts in ratings.values()
        ],
    }


def proposed_size(package: str) -> dict[str, str]:
    """Sides in mm that a package's name seems to say (``MOD-12x8.5x2``), to be confirmed by a person; none if none."""
    match = re.search(rf"{_SIDE}\s*[xX×]\s*{_SIDE}(?:\s*[xX×]\s*{_SIDE})?", package)
    if match is None:
        return {}
    sides = [float(side) for side in match.groups() if side is not None]
    if not all(_LEAST_SIDE_MM <= side <= _LARGEST_SIDE_MM for side in sides):
        return {}
    if len(sides) == 2 and _UPRIGHT.search(package):
        across, high = (f"{side:g}" for side in sides)
        return {"length_mm": across, "width_mm": across, "height_mm": high, "shape": "round"}
    return dict(zip(("length_mm", "width_mm", "height_mm"), (f"{side:g}" for side in sides), strict=False))


def fill_body(job: Path, settings: Settings, package: str, cells: Mapping[str, str]) -> str:
    """Write a package's size into the bodies table, begun where there is none; returns the file's name."""
    file = settings.board.bodies or "bodies.csv"
    path = _table(job, file)
    line = None
    if path.exists():
        table = read_table(path, file, BODY_COLUMNS, required=("package",))
        line = next((row.line for row in table.rows if table_key(row.text("package")) == table_key(package)), None)
    known = {name: value for name, value in cells.items() if name in BODY_CELLS}
    content = filled(_bytes(path, file), file, BODY_COLUMNS, line, {"package": package, **known})
    replace_files(_contents(job, settings.board.bodies, "bodies", file, path, content))
    return file


def fill_rating(
    job: Path, settings: Settings, board: Board, refdes: str, cells: Mapping[str, str], *, alone: bool
) -> str:
    """Write a limit into the parts table: into the row that is for the part, else into a new one.

    Without ``alone`` a new row is for all parts of the same part number.
    """
    replace_files(rating_contents(job, settings, board, refdes, cells, alone=alone))
    return settings.board.parts or "parts.csv"


def rating_contents(
    job: Path, settings: Settings, board: Board, refdes: str, cells: Mapping[str, str], *, alone: bool
) -> dict[Path, bytes]:
    """What `fill_rating` would write: the parts table, and ``job.toml`` where that does not name it yet."""
    file = settings.board.parts or "parts.csv"
    path = _table(job, file)
    part = board.component(refdes)
    line = _row_of(path, file, part, alone) if path.exists() else None
    named = {"part_number": part.part_number} if part.part_number.strip() and not alone else {"refdes": refdes}
    known = {name: value for name, value in cells.items() if name in RATING_CELLS and value}
    content = filled(_bytes(path, file), file, PART_COLUMNS, line, {**({} if line else named), **known})
    return _contents(job, settings.board.parts, "parts", file, path, content)


def parts_of_row(job: Path, settings: Settings, board: Board, refdes: str) -> tuple[str, ...]:
    """The parts for which a value written for one part alone would count: all that its row of the table names."""
    file = settings.board.parts or "parts.csv"
    path = _table(job, file)
    line = _row_of(path, file, board.component(refdes), True) if path.exists() else None
    if line is None:
        return (refdes,)
    row = next(row for row in read_table(path, file, PART_COLUMNS).rows if row.line == line)
    named = {name.upper() for name in expand_designators(row.text("refdes"))}
    return tuple(part.refdes for part in board.parts if part.refdes.upper() in named)


def _row_of(path: Path, file: str, part: Component, alone: bool) -> int | None:
    by_number = None
    for row in read_table(path, file, PART_COLUMNS).rows:
        try:
            designators = expand_designators(row.text("refdes"))
        except ValueError:
            continue
        if part.refdes.upper() in (name.upper() for name in designators):
            return row.line
        if not designators and row.text("part_number").casefold() == part.part_number.strip().casefold():
            by_number = row.line
    return None if alone else by_number


def _table(job: Path, file: str) -> Path:
    if Path(file).suffix.lower() in (".xlsx", ".xlsm", ".xls", ".ods"):
        raise input_error(
            file, None, "is a workbook, which is not written to here", "save it as CSV, or fill it in there"
        )
    return inside(job.parent, file)


def _bytes(path: Path, file: str) -> bytes:
    return read_bytes(path, file) if path.exists() else b""


def _contents(job: Path, named: str | None, key: str, file: str, path: Path, content: bytes) -> dict[Path, bytes]:
    """A table that reads as well as before, and ``job.toml`` with its name where that does not name it yet."""
    worse = [
        problem for problem in _errors(key, content, file) if problem not in _errors(key, _bytes(path, file), file)
    ]
    if worse:
        raise InputError(worse)
    contents = {path: content}
    if named is None:
        text = job.read_bytes().decode("utf-8-sig")
        contents[job] = with_key(text, "board", 0, key, file, after="placement").encode()
    return contents


def _errors(key: str, content: bytes, file: str) -> list[Problem]:
    if not content:
        return []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "table.csv"
        path.write_bytes(content)
        problems = read_bodies(path, file)[1] if key == "bodies" else read_parts(path, file)[1]
    return [problem for problem in problems if problem.severity == "error"]
