"""IDF, the trade's mechanical exchange: a board file (.emn) with outline and places, a library (.emp) with heights.

Source: Intermediate Data Format 3.0 and 2.0 (sections, units and the sense of arcs from memory).
"""

from __future__ import annotations

import math
import re
import shlex
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array
from overlay.board.exchange.arcs import arc_points, bulge_center
from overlay.board.exchange.model import DrawnPackage, Exchange, ExchangedPart
from overlay.board.model import Side
from overlay.errors import InputError, Problem, input_error
from overlay.tables import read_bytes

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

# the units a header may name, and millimetres of each; TNM: ten nanometres, of version 2
_UNITS = {"MM": ("mm", 1.0), "THOU": ("mil", 0.0254), "TNM": ("10 nm", 1e-5)}
_LIBRARIES = (".emp", ".EMP", ".lib", ".ldf", ".idl", ".pro")  # beside the board, under the same name
_FARTHEST_MM = 1e6  # a board does not lie a kilometre away: such a number is a fault of the file


@dataclass(frozen=True, slots=True)
class _Record:
    line: int
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Section:
    name: str
    line: int
    arguments: tuple[str, ...]
    records: tuple[_Record, ...]


def is_idf(data: bytes) -> bool:
    """Whether a file is an IDF board, panel or library file, by its first section."""
    return re.match(rb"(?:\s*#[^\n]*\n)*\s*\.HEADER\s", data[:4096], re.IGNORECASE) is not None


def read_idf(data: bytes, file: str, path: Path) -> Exchange:
    """Read outline and parts of a board file, and the packages of the library beside it.

    Parameters
    ----------
    data, file
        The board file, and its name for messages.
    path
        Where it lies: the library has the same name with another suffix.

    Raises
    ------
    InputError
        Where it is no board file, names no unit that is known, or its outline cannot be read.
    """
    sections = list(_sections(_text(data), file))
    kind, unit, unit_mm = _header(sections, file)
    if kind not in ("BOARD_FILE", "PANEL_FILE"):
        what = f"is an IDF file of another kind ({kind or 'no kind stated'})"
        raise input_error(file, sections[0].line, what, "give the board file (.emn)")
    library, library_file = _library(path)
    parts, problems = _parts(sections, file, unit_mm, library)
    edge, edge_problems = None, tuple[Problem, ...]()
    outlines = [section for section in sections if section.name in ("BOARD_OUTLINE", "PANEL_OUTLINE")]
    if outlines:
        try:
            loops = _loops(outlines[0].records[1:], file, unit_mm)  # the first record is the board's thickness
            edge = _area(loops, file, outlines[0].line)
        except InputError as error:
            edge_problems = error.problems
    if library_file is None:
        what = "no library of packages lies beside it under the same name (.emp), so it tells no bodies"
        problems.append(Problem("warning", file, None, what, "put it there to have sizes and heights"))
    source = "IDF board file" if library_file is None else f"IDF board file with {library_file}"
    units_from = f"line {sections[0].line + 2}, the header"
    return Exchange(source, unit, units_from, parts, edge, tuple(problems), edge_problems)


def _text(data: bytes) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _sections(text: str, file: str) -> Iterator[_Section]:
    name, start, records = "", 0, list[_Record]()
    arguments: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), start=1):
        words = _words(line)
        if not words or line.lstrip().startswith("#"):
            continue
        if words[0].upper().startswith(".END_"):
            if name:
                yield _Section(name, start, arguments, tuple(records))
            name, records = "", []
        elif words[0].startswith(".") and not name:
            name, start, arguments, records = words[0][1:].upper(), number, tuple(words[1:]), []
        elif name:
            records.append(_Record(number, tuple(words)))
    if name:
        what = f"ends before .END_{name} and is cut off"
        raise input_error(file, start, what, "copy or export it again")


def _words(line: str) -> list[str]:
    """Words of a record; those in quotes may hold blanks."""
    try:
        return shlex.split(line, comments=False, posix=True) if '"' in line else line.split()
    except ValueError:
        return line.replace('"', "").split()


def _header(sections: Sequence[_Section], file: str) -> tuple[str, str, float]:
    header = sections[0] if sections and sections[0].name == "HEADER" else None
    if header is None or not header.records:
        raise input_error(file, 1, "has no IDF header", "export it again")
    kind = header.records[0].words[0].upper()
    unit = header.records[1].words[-1].upper() if len(header.records) > 1 else ""
    if kind == "LIBRARY_FILE":
        return kind, "", 0.0
    if unit not in _UNITS:
        line = header.records[-1].line
        raise input_error(file, line, f"the header names no unit that is known ({unit!r})", "export it in MM or THOU")
    return kind, *_UNITS[unit]


def _parts(
    sections: Sequence[_Section], file: str, unit_mm: float, library: dict[tuple[str, str], DrawnPackage]
) -> tuple[tuple[ExchangedPart, ...], list[Problem]]:
    parts: list[ExchangedPart] = []
    problems: list[Problem] = []
    for section in sections:
        if section.name != "PLACEMENT":
            continue
        for first, second in zip(section.records[::2], section.records[1::2], strict=False):
            part = _part(first, second, file, unit_mm, library)
            if isinstance(part, Problem):
                problems.append(part)
            else:
                parts.append(part)
        if len(section.records) % 2:
            what = "the last part of the placement has no second record"
            problems.append(Problem("error", file, section.records[-1].line, what, "export it again"))
    return tuple(parts), problems


def _part(
    first: _Record, second: _Record, file: str, unit_mm: float, library: dict[tuple[str, str], DrawnPackage]
) -> ExchangedPart | Problem:
    if len(first.words) < 3:
        what = "a part needs package, part number and designator"
        return Problem("error", file, first.line, f"{what}, here are {len(first.words)} words", "export it again")
    package, number, refdes = first.words[:3]
    numbers = [_number(word) for word in second.words[:4]]
    sides = [word.upper() for word in second.words[3:] if word.upper() in ("TOP", "BOTTOM")]
    # version 2 has no mounting offset: the rotation is the number before the side
    at = next((i for i, word in enumerate(second.words) if word.upper() in ("TOP", "BOTTOM")), 0)
    turn = _number(second.words[at - 1]) if at >= 3 else None
    x, y = (numbers + [None, None])[:2]
    if x is None or y is None or turn is None or not sides or max(abs(x), abs(y)) * unit_mm > _FARTHEST_MM:
        what = f"{refdes}: its place cannot be read ({' '.join(second.words)[:60]!r})"
        return Problem("error", file, second.line, what, "write x, y, offset, rotation, side and status")
    if "UNPLACED" in (word.upper() for word in second.words[at:]):
        what = f"{refdes} is not placed, it is left out"
        return Problem("warning", file, second.line, what, "place it to have it read")
    side: Side = "top" if sides[0] == "TOP" else "bottom"
    drawn = library.get((package.casefold(), number.casefold())) or library.get((package.casefold(), ""))
    return ExchangedPart(
        refdes if refdes.upper() not in ("NOREFDES", "BOARD", "PANEL") else "",
        (x * unit_mm, y * unit_mm),
        turn,
        side,
        first.line,
        package,
        "",
        number,
        drawn=drawn,
    )


def _number(word: str) -> float | None:
    try:
        value = float(word)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _loops(records: Sequence[_Record], file: str, unit_mm: float) -> list[tuple[int, Array]]:
    """Label and points in mm of each closed loop of an outline: label 0 is the outer one, counter-clockwise."""
    loops: list[tuple[int, list[Array]]] = []
    before: tuple[int, float, float] | None = None
    for record in records:
        values = [_number(word) for word in record.words[:4]]
        if len(values) < 4 or None in values or abs(values[1] or 0.0) * unit_mm > _FARTHEST_MM:
            what = f"a point of the outline cannot be read ({' '.join(record.words)[:60]!r})"
            raise InputError([Problem("error", file, record.line, what, "export it again")])
        label, x, y, angle = int(values[0] or 0), *((value or 0.0) for value in values[1:])
        x, y = x * unit_mm, y * unit_mm
        if before is None or before[0] != label or (angle == 0.0 and _closed(loops[-1][1])):
            loops.append((label, [np.array([[x, y]])]))
        else:
            start, end = before[1:], (x, y)
            if abs(angle) >= 360.0:  # a circle: its middle stands before a point on it
                radius = math.dist(start, end)
                turns = np.linspace(0.0, math.tau, 361)
                circle = np.column_stack([start[0] + radius * np.cos(turns), start[1] + radius * np.sin(turns)])
                loops[-1] = (label, [circle])
            elif angle and math.dist(start, end) > 0.0:
                center, sweep_rad = bulge_center(start, end, math.tan(math.radians(angle) / 4.0))
                loops[-1][1].append(arc_points(start, end, center, sweep_rad))
            else:
                loops[-1][1].append(np.array([start, end]))
        before = label, x, y
    return [(label, np.concatenate(pieces)) for label, pieces in loops]


def _closed(pieces: Sequence[Array]) -> bool:
    return len(pieces) > 2 and bool(math.dist(pieces[0][0], pieces[-1][-1]) < 1e-6)


def _area(loops: Sequence[tuple[int, Array]], file: str, line: int) -> Polygon | MultiPolygon:
    import shapely

    polygons = [(label, shapely.make_valid(shapely.Polygon(xy))) for label, xy in loops if len(xy) > 3]
    outer = [polygon for label, polygon in polygons if label == 0]
    inner = [polygon for label, polygon in polygons if label != 0]
    area = shapely.union_all(outer).difference(shapely.union_all(inner))
    parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon" and part.area > 1e-6]
    if not parts:
        raise input_error(file, line, "its outline encloses nothing", "export it with the board's outline")
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def library_beside(path: Path) -> Path | None:
    """The library of packages that lies beside a board file under the same name; None where none does."""
    for suffix in _LIBRARIES:
        beside = path.with_suffix(suffix)
        if beside != path and beside.is_file() and is_idf(beside.read_bytes()[:4096]):
            return beside
    return None


def _library(path: Path) -> tuple[dict[tuple[str, str], DrawnPackage], str | None]:
    """The packages of the library beside a board file, by geometry and part number, and its name."""
    beside = library_beside(path)
    if beside is None:
        return {}, None
    return _packages(list(_sections(_text(read_bytes(beside, beside.name)), beside.name)), beside.name), beside.name


def _packages(sections: Sequence[_Section], file: str) -> dict[tuple[str, str], DrawnPackage]:
    found: dict[tuple[str, str], DrawnPackage] = {}
    for section in sections:
        if section.name not in ("ELECTRICAL", "MECHANICAL") or not section.records:
            continue
        words = section.records[0].words
        if len(words) < 4 or words[2].upper() not in _UNITS:
            continue
        unit_mm = _UNITS[words[2].upper()][1]
        height = _number(words[3])
        points = [record for record in section.records[1:] if _number(record.words[0]) is not None]
        try:
            loops = _loops(points, file, unit_mm)
        except InputError:
            continue  # a package that cannot be read tells no body; the part is told of like any other without one
        corners = np.concatenate([xy for _, xy in loops]) if loops else np.zeros((0, 2))
        if len(corners) < 3:
            continue
        (west, south), (east, north) = corners.min(axis=0), corners.max(axis=0)
        if east - west < 1e-6 or north - south < 1e-6:
            continue
        drawn = DrawnPackage(
            float(east - west),
            float(north - south),
            (float(west + east) / 2, float(south + north) / 2),
            height * unit_mm if height is not None and height > 0 else None,
            f"{file}, line {section.line}",
        )
        found[words[0].casefold(), words[1].casefold()] = drawn
        found.setdefault((words[0].casefold(), ""), drawn)
    return found
