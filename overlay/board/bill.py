"""The purchasing list of a board as it is: which parts each row is for, what they are, and what it tells of them."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from overlay.board.designators import expand_designators
from overlay.board.model import LimitAt
from overlay.board.placement.fitting import flag_says_fitted, says_unfitted
from overlay.board.placement.headings import column_of, key_of
from overlay.board.placement.text import decode
from overlay.board.quantities import TemperatureLimit, basis_of, rated_power_w, temperature_limits
from overlay.errors import InputError, Problem
from overlay.tables import note_line_end, read_bytes
from overlay.workbooks import workbook_sheets

_WORKBOOKS = (".xlsx", ".xlsm", ".xls", ".ods")
_DELIMITERS = (",", ";", "\t", "|")
_LONGEST_SHOWN = 48  # characters of a cell told in a source: enough for a range and what it belongs to
_HEADING_WITHIN = 40  # rows: title blocks of purchasing lists are shorter
_MAKERS_NUMBER = re.compile(
    r"^(?:mpn|manuf\w*part\w*|mfr?g?\w*(?:part|pn|no)\w*|manpn|makerpart\w*|herstellerteile?nr\w*|"
    r"herstellernummer|partnumber)\d*$"
)
_ALSO_REFDES = frozenset(
    ("referencedesignation", "position", "component", "componentsreferences", "customerreference", "schematicreference")
)
_ALSO_PACKAGE = frozenset(("supplierdevicepackage", "packagecase", "casepackage", "mountingpackage"))
_TEMPERATURE = re.compile(
    r"temp(?!lat|co|er?ature(?:coe|co))|^(?:tj|tc|ta|tamb|tcase|tmax|topr?|toper)(?:max)?$|junction|temperatur|温度"
)
_NO_RATING = re.compile(r"storage|lager|tcr|coefficient|tempco|solder|reflow|ppm|moisture|profile")
_POWER = re.compile(r"^(?:power|powerrating|ratedpower|wattage|watts?|leistung|nennleistung|powerdissipation|功率)")
_KIND = frozenset(("parttype", "type", "category", "componenttype", "kind", "class", "bauteiltyp"))
_DESCRIPTION = re.compile(r"desc|^details?$|^remarks?$|^comment\w*$|^notes?$|bezeichnung$|beschreibung|描述|描述信息")


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of the list: its heading as written, its text, and its line."""

    heading: str
    text: str
    line: int

    def words(self, file: str) -> str:
        """Where it stands and what it says, for a reader."""
        text = self.text
        if len(text) > _LONGEST_SHOWN:
            told = re.search(r"[°º℃]|\dW", text)
            start = max(0, (told.end() if told else 0) - _LONGEST_SHOWN // 2)
            text = ("…" if start else "") + text[start : start + _LONGEST_SHOWN] + "…"
        return f'{file}, line {self.line}, "{self.heading}": {text!r}'


@dataclass(frozen=True, slots=True)
class Entry:
    """What one row tells of its parts."""

    line: int
    refdes: tuple[str, ...]
    part_numbers: tuple[str, ...]  # the manufacturer's first
    package: str
    value: str
    description: str
    kind: str  # in the list's own words
    fitted: bool
    limits: tuple[tuple[TemperatureLimit, Cell], ...] = ()
    power: tuple[float, Cell] | None = None
    unread: tuple[Cell, ...] = ()  # cells of ratings that could not be understood


@dataclass(frozen=True, slots=True)
class Bill:
    """A purchasing list as understood."""

    file: str
    entries: tuple[Entry, ...] = ()
    understood: tuple[tuple[str, str], ...] = ()  # heading, what it was taken for
    by_refdes: Mapping[str, Entry] = field(default_factory=dict)  # designators in capitals


@dataclass(frozen=True, slots=True)
class _Columns:
    """Columns of the list by what they hold."""

    refdes: int | None
    numbers: tuple[int, ...]
    package: int | None
    value: int | None
    descriptions: tuple[int, ...]
    kind: int | None
    temperatures: tuple[int, ...]
    power: int | None


def read_bill(path: Path, file: str) -> tuple[Bill | None, list[Problem]]:
    """Read a purchasing list, CSV or workbook.

    Returns
    -------
    The list, or None where no row can be its heading (it needs a column of designators or of part numbers), and
    every problem. Nothing is raised.
    """
    try:
        tables = _tables(read_bytes(path, file), path.suffix.lower(), file)
    except InputError as error:
        return None, list(error.problems)
    best: tuple[int, list[tuple[int, list[str]]], int] | None = None
    for rows in tables:
        for place, (_, cells) in enumerate(rows[:_HEADING_WITHIN]):
            score = _score(cells)
            if score and (best is None or score > best[0]):
                best = score, rows, place
    if best is None:
        return None, []
    _, rows, place = best
    headings = [" ".join(cell.split()) for cell in rows[place][1]]
    columns = _columns(headings)
    problems: list[Problem] = []
    entries = [
        entry for line, cells in rows[place + 1 :] if (entry := _entry(line, cells, headings, columns, file, problems))
    ]
    bill = Bill(file, tuple(entries), _understood(headings, columns), _by_refdes(entries, file, problems))
    return bill, problems


def _tables(data: bytes, suffix: str, file: str) -> list[list[tuple[int, list[str]]]]:
    """Readings of the file as rows of cells with their lines: every sheet, or every delimiter."""
    if suffix in _WORKBOOKS or data[:4] == b"PK\x03\x04" or data[:4] == b"\xd0\xcf\x11\xe0":
        return [
            [(line, row) for line, row in enumerate(rows, start=1) if any(cell.strip() for cell in row)]
            for _, rows in workbook_sheets(data, file)
        ]
    text, _ = decode(data, file)
    note_line_end(text, file)
    tables = []
    for delimiter in _DELIMITERS:
        rows: list[tuple[int, list[str]]] = []
        reader = csv.reader(io.StringIO(text), delimiter=delimiter, skipinitialspace=True)
        start = 1
        try:
            for cells in reader:
                if any(cell.strip() for cell in cells) and not re.match(r"\s*#\s*\S", cells[0]):
                    rows.append((start, cells))
                start = reader.line_num + 1
        except csv.Error:
            continue
        tables.append(rows)
    return tables


def _score(cells: Sequence[str]) -> int:
    """How many different things a row names as headings; 0 where it cannot head a list of parts."""
    if sum(bool(cell.strip()) for cell in cells) < 2 or any(len(cell) > 80 for cell in cells):
        return 0
    columns = _columns([" ".join(cell.split()) for cell in cells])
    if columns.refdes is None and not columns.numbers:
        return 0
    single = (columns.refdes, columns.package, columns.value, columns.kind, columns.power)
    several = (columns.numbers, columns.descriptions, columns.temperatures)
    return sum(column is not None for column in single) + sum(bool(column) for column in several)


def _columns(headings: Sequence[str]) -> _Columns:
    keys = [key_of(re.sub(r"[(\[].*?[)\]]", "", heading)) for heading in headings]
    whole = [key_of(heading) for heading in headings]
    known = [
        column if (column := column_of(heading)).known else column_of(re.sub(r"[(\[].*?[)\]]", "", heading))
        for heading in headings
    ]

    def ranked(role: str) -> list[int]:
        found = [(rank, place) for place, column in enumerate(known) for told, rank in column.roles if told == role]
        return [place for _, place in sorted(found)]

    refdes = ranked("refdes") or [place for place, key in enumerate(keys) if key in _ALSO_REFDES]
    temperatures = tuple(
        place for place, key in enumerate(whole) if _TEMPERATURE.search(key) and not _NO_RATING.search(key)
    )
    numbers = [place for place, key in enumerate(keys) if _MAKERS_NUMBER.match(key)]
    numbers = [
        place for place in numbers if not keys[place].startswith("partn")
    ] or numbers  # the maker's, if it is there
    packages = ranked("package") or [place for place, key in enumerate(keys) if key in _ALSO_PACKAGE]
    taken = {*refdes[:1], *temperatures}
    descriptions = tuple(place for place, key in enumerate(keys) if _DESCRIPTION.search(key) and place not in taken)
    values = [place for place in ranked("value") if place not in descriptions] or ranked("value")[:1]
    power = next((place for place, key in enumerate(keys) if _POWER.match(key) and place not in taken), None)
    return _Columns(
        refdes=refdes[0] if refdes else None,
        numbers=tuple(numbers),
        package=next(iter(packages), None),
        value=next(iter(values), None),
        descriptions=descriptions,
        kind=next((place for place, key in enumerate(keys) if key in _KIND), None),
        temperatures=temperatures,
        power=power,
    )


def _understood(headings: Sequence[str], columns: _Columns) -> tuple[tuple[str, str], ...]:
    named = (
        ((columns.refdes,), "designators"),
        (columns.numbers, "manufacturer's part number"),
        ((columns.package,), "package"),
        ((columns.value,), "value"),
        (columns.descriptions, "description"),
        ((columns.kind,), "kind"),
        (columns.temperatures, "temperature rating"),
        ((columns.power,), "rated power"),
    )
    return tuple((headings[place], word) for places, word in named for place in places if place is not None)


def _entry(
    line: int, cells: Sequence[str], headings: Sequence[str], columns: _Columns, file: str, problems: list[Problem]
) -> Entry | None:
    """A row as understood; None for rows that are for no part (sums, remarks)."""

    def cell(place: int | None) -> str:
        return "" if place is None or place >= len(cells) else " ".join(cells[place].split())

    text = cell(columns.refdes)
    numbers = tuple(dict.fromkeys(number for place in columns.numbers if (number := cell(place))))
    try:
        refdes = expand_designators(text)
    except ValueError as error:
        remedy = "write a range such as R1-R4, from the lower to the higher number"
        problems.append(Problem("error", file, line, str(error), remedy, headings[columns.refdes or 0], text))
        return None
    refdes = tuple(name for name in refdes if re.match(r"[^\W\d_]", name) and len(name) <= 24)
    if not refdes and not numbers:
        return None
    description = "; ".join(cell(place) for place in columns.descriptions if cell(place))
    flags = [flag_says_fitted(key_of(heading), cell(place)) for place, heading in enumerate(headings)]
    free = [cell(place) for place in range(len(headings)) if place != columns.refdes]
    limits, power, unread = _ratings(line, cell, headings, columns, refdes)
    return Entry(
        line=line,
        refdes=refdes,
        part_numbers=numbers,
        package=cell(columns.package),
        value=cell(columns.value),
        description=description,
        kind=cell(columns.kind),
        fitted=False not in flags and (True in flags or not says_unfitted(free)),
        limits=limits,
        power=power,
        unread=unread,
    )


def _ratings(
    line: int, cell: Callable[[int | None], str], headings: Sequence[str], columns: _Columns, refdes: Sequence[str]
) -> tuple[tuple[tuple[TemperatureLimit, Cell], ...], tuple[float, Cell] | None, tuple[Cell, ...]]:
    """Limits and power that the row's cells tell, with their cells, and the cells that tell nothing understood."""
    limits: list[tuple[TemperatureLimit, Cell]] = []
    unread: list[Cell] = []
    for place in columns.temperatures:
        source = Cell(headings[place], cell(place), line)
        if re.fullmatch(r"[-–—~/.\s]*|n/?a|none|tbd", source.text, re.IGNORECASE):
            continue
        found = temperature_limits(source.text, unit=_unit(source.heading))
        stated: LimitAt | None = basis_of(re.sub(r"[_\s]+", " ", source.heading))
        limits += [(TemperatureLimit(limit.high_c, limit.at or stated), source) for limit in found]
        if not found:
            unread.append(source)
    for place in columns.descriptions if not limits else ():
        source = Cell(headings[place], cell(place), line)
        limits += [(limit, source) for limit in temperature_limits(source.text, sure=False)]
    power: tuple[float, Cell] | None = None
    powers = (columns.power, *columns.descriptions, columns.value) if _is_resistor(refdes) else ()
    for place in (place for place in powers if place is not None and cell(place)):
        source = Cell(headings[place], cell(place), line)
        watts = rated_power_w(source.text)
        if power is None and watts is not None:
            power = watts, source
        elif watts is None and place == columns.power and source.text.strip("-–—~ "):
            unread.append(source)
    return tuple(limits), power, tuple(unread)


def _is_resistor(refdes: Iterable[str]) -> bool:
    return any(re.match(r"(?:R|RN|RA|RP|RS|RSH|SH|VR|RV|RT)\d", name.upper()) for name in refdes)


def _unit(heading: str) -> str:
    match = re.search(r"[°º˚]\s*([CF])|℃|[(\[_\s]([CF])[)\]]?$", heading)
    return "" if match is None else (match[1] or match[2] or "C").upper()


def _by_refdes(entries: Sequence[Entry], file: str, problems: list[Problem]) -> dict[str, Entry]:
    """Each designator's row: the one that is fitted, where an alternative stands in another."""
    found: dict[str, Entry] = {}
    twice: dict[str, tuple[int, int]] = {}
    for entry in entries:
        for name in entry.refdes:
            before = found.get(name.upper())
            if before is not None and before.fitted == entry.fitted and before.line != entry.line:
                twice.setdefault(name, (before.line, entry.line))
            if before is None or (entry.fitted and not before.fitted):
                found[name.upper()] = entry
    if twice:
        name, (first, second) = next(iter(twice.items()))
        more = f", and {len(twice) - 1} more designators likewise" if len(twice) > 1 else ""
        what = f"{name} stands in line {first} and in line {second}{more}; the first counts"
        problems.append(Problem("warning", file, second, what, "keep one of the rows"))
    return found
