"""The parts table: which part may get how hot, by reference designator or by part number."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, fields, replace
from pathlib import Path

from overlay.board.bill import Bill, read_bill
from overlay.board.designators import expand_designators
from overlay.board.model import LIMIT_CELLS, Component, Rating
from overlay.board.ratings import rating_of_entry, rating_of_row, unread_problems
from overlay.errors import InputError, Problem, Severity
from overlay.tables import Row, read_table

COLUMNS = (
    "refdes",
    "part_number",
    "kind",
    "limit_c",
    "limit_at",
    "psi_jt_k_per_w",
    "power_w",
    "power_u_w",
    "height_mm",
    "emissivity",
    "emissivity_u",
    "note",
    "rated_power_w",
    "endurance_h",
    "endurance_c",
    "psi_u_k_per_w",
    "limit_u_c",
    "limit_source",
    "derates_by",
    "derating_points",
    "current_a",
    "rated_current_a",
    "theta_jc_k_per_w",
    "theta_u_k_per_w",
)
_MOST_NAMED = 10  # rows that fit no part, told one by one; more are told in one sentence

# cells that mean something only together: filled from one row, never from two
_TOGETHER = (
    ("limit_c", LIMIT_CELLS[1:]),
    ("power_w", ("power_u_w",)),
    ("psi_jt_k_per_w", ("psi_u_k_per_w",)),
    ("theta_jc_k_per_w", ("theta_u_k_per_w",)),
    ("emissivity", ("emissivity_u",)),
    ("endurance_h", ("endurance_c",)),
)


MOST_DESIGNATORS = 100_000  # no board has a tenth of that; ranges write millions in a few letters


@dataclass(frozen=True, slots=True)
class PartsTable:
    """Ratings as the table gives them, before they meet a board."""

    file: str
    by_refdes: dict[str, Rating] = field(default_factory=dict)  # designators in capitals
    by_part_number: dict[str, Rating] = field(default_factory=dict)  # case folded
    named: tuple[tuple[int, tuple[str, ...], str], ...] = ()  # of each row: line, designators, part number
    bill: Bill | None = None  # the purchasing list that the ratings come from, where the table is one


def read_parts(path: Path, file: str) -> tuple[PartsTable, list[Problem]]:
    """Read a parts table, CSV or XLSX.

    A row names parts by ``refdes`` (one, a list, ranges such as ``R1-R4``) or, where that is empty, by
    ``part_number``; beside designators a part number is a remark. Besides the ratings known everywhere there are
    ``rated_power_w`` (for resistors' derating lines), ``endurance_h`` and ``endurance_c`` (life of electrolytics).
    A table with none of these headings is read as a purchasing list (`overlay.board.bill`).

    Returns
    -------
    The table without the rows that are in error, and every problem; nothing is raised.
    """
    try:
        table = read_table(path, file, COLUMNS)
    except InputError as error:
        bill, found = read_bill(path, file)
        headings = set() if bill is None else {heading.lower() for heading, _ in bill.understood}
        mistyped = any(_is_own(problem.value or "") for problem in error.problems)
        if mistyped and (bill is None or headings & {"refdes", "part_number"}):
            return PartsTable(file), list(error.problems)
        if bill is None:
            return PartsTable(file), found or list(error.problems)
        return _of_bill(bill), found + unread_problems(bill)
    problems: list[Problem] = []
    if not {"refdes", "part_number"} & set(table.headings):
        what = "has neither a heading refdes nor part_number"
        problems.append(Problem("error", file, table.heading_line, what, "add one of the two columns"))
        return PartsTable(file), problems
    by_refdes: dict[str, Rating] = {}
    by_part_number: dict[str, Rating] = {}
    named: list[tuple[int, tuple[str, ...], str]] = []
    count = 0
    for row in table.rows:
        designators = _designators(row, problems)
        part_number = row.text("part_number")
        if designators is None:
            rating_of_row(row, problems)
            continue
        if not designators and not part_number:
            remedy = "write the designators or the part number that the row is for"
            problems.append(Problem("error", file, row.line, "names neither refdes nor part_number", remedy))
            continue
        count += len(designators)
        if count > MOST_DESIGNATORS:
            what = f"its rows up to here name more than {MOST_DESIGNATORS:,} designators"
            return PartsTable(file), [Problem("error", file, row.line, what, "write the ranges that the board has")]
        rating = rating_of_row(row, problems)
        named.append((row.line, designators, part_number))
        if designators:
            problems += _entered("refdes", [name.upper() for name in designators], by_refdes, rating, row)
        else:
            problems += _entered("part_number", [part_number.casefold()], by_part_number, rating, row)
    return PartsTable(file, by_refdes, by_part_number, tuple(named)), problems


def _is_own(heading: str) -> bool:
    """Whether an unknown heading is one of this table's own, mistyped: purchasing lists write no such names."""
    own = [column for column in COLUMNS if "_" in column and column != "part_number"]
    return "_" in heading and bool(difflib.get_close_matches(heading.lower(), own, 1, 0.8))


def _of_bill(bill: Bill) -> PartsTable:
    """Ratings as a purchasing list tells them, each with the cell it comes from."""
    by_refdes = {
        name: rating for name, entry in bill.by_refdes.items() if (rating := rating_of_entry(entry, bill.file))
    }
    by_number: dict[str, Rating] = {}
    for entry in bill.entries:
        rating = None if entry.refdes else rating_of_entry(entry, bill.file)
        if rating is not None:
            by_number.update({number.casefold(): rating for number in entry.part_numbers})
    return PartsTable(bill.file, by_refdes, by_number, bill=bill)


def rate(components: Iterable[Component], table: PartsTable) -> tuple[tuple[Component, ...], list[Problem]]:
    """Components with their ratings, and what does not fit together.

    A row by refdes wins over one by part number cell by cell: what it leaves blank comes from the other row. Cells
    that mean something only together (a limit and where it holds, a power, an emissivity, an endurance and their
    companions) come from one row.
    """
    components = tuple(components)
    rated: list[Component] = []
    for component in components:
        name = component.refdes.strip().upper()
        # R96@2 is R96 of a panel's second board
        own = table.by_refdes.get(name) or table.by_refdes.get(name.partition("@")[0])
        own = own or table.by_refdes.get(component.designator.strip().upper())
        number = component.part_number.strip().casefold()
        common = table.by_part_number.get(number) if number else None
        rating = _merged(own, common)
        rated.append(component if rating is None else replace(component, rating=rating))
    return tuple(rated), _unmatched(components, table) + _junctions(rated, table.file)


def _designators(row: Row, problems: list[Problem]) -> tuple[str, ...] | None:
    try:
        return expand_designators(row.text("refdes"))
    except ValueError as error:
        remedy = "write a range such as R1-R4, from the lower to the higher number"
        problems.append(Problem("error", row.file, row.line, str(error), remedy, "refdes", row.text("refdes")))
        return None


def _entered(column: str, keys: Sequence[str], ratings: dict[str, Rating], rating: Rating, row: Row) -> list[Problem]:
    """Enter a row under its keys; a second row of a part must have its limit elsewhere than those before."""
    by_line: dict[int, list[str]] = {}
    for key in keys:
        before = ratings.get(key)
        if before is None:
            ratings[key] = rating
            continue
        same = next((one for one in (before, *before.further) if one.limit_at == rating.limit_at), None)
        if same is None:
            ratings[key] = replace(before, further=(*before.further, rating))
        elif same is not rating:  # a list may name a part twice
            by_line.setdefault(same.line, []).append(key)
    shown = {key: key for key in keys}
    if column == "refdes":
        shown = {name.upper(): name for name in expand_designators(row.text("refdes"))}
    return [
        Problem(
            "error",
            row.file,
            row.line,
            f"{column} {_listed([shown[key] for key in same])} stands in line {line} and in line {row.line}",
            "keep one of the rows, or give them different limit_at",
            column,
            row.text(column),
        )
        for line, same in by_line.items()
    ]


def _merged(own: Rating | None, common: Rating | None) -> Rating | None:
    if own is None or common is None:
        return own or common
    cells: dict[str, object] = {item.name: getattr(own, item.name) for item in fields(Rating)}
    companions = {companion for _, together in _TOGETHER for companion in together}
    for name, value in cells.items():
        if name not in companions and name not in ("line", "further") and value in (None, "", ()):
            cells[name] = getattr(common, name)
    for leader, together in _TOGETHER:
        if getattr(own, leader) is None:
            cells |= {companion: getattr(common, companion) for companion in together}
    if own.limit_c is None and not own.further:
        cells["further"] = common.further
    return Rating(**cells)  # type: ignore[arg-type]


def _unmatched(components: Sequence[Component], table: PartsTable) -> list[Problem]:
    """Rows that are for no placed part; a table shared by many boards is told in one sentence."""
    names = [name for component in components for name in (component.designator, component.refdes)]
    placed = {name.strip().upper(): name for name in names}
    numbers = {component.part_number.strip().casefold(): component.part_number for component in components}
    problems: list[Problem] = []
    unplaced: list[tuple[int, str]] = []
    for line, designators, part_number in table.named:
        missing = [name for name in designators if name.upper() not in placed]
        if missing:
            what = f"{_listed(missing)} {'is' if len(missing) == 1 else 'are'} not on the board"
            problems.append(_warning(table.file, line, what, _nearest(missing, placed, str.upper), "refdes"))
        elif not designators and part_number.casefold() not in numbers:
            unplaced.append((line, part_number))
    if len(unplaced) > _MOST_NAMED:
        lines = _listed([str(line) for line, _ in unplaced])
        what = f"{len(unplaced)} part numbers are on no placed part (lines {lines})"
        problems.append(_warning(table.file, unplaced[0][0], what, "correct them or leave them", "part_number"))
    else:
        for line, number in unplaced:
            what = f"no placed part has part number {number!r}"
            problems.append(_warning(table.file, line, what, _nearest([number], numbers, str.casefold), "part_number"))
    return problems


def _junctions(components: Sequence[Component], file: str) -> list[Problem]:
    """Junction limits that no surface reading can be held against, one warning a row."""
    rows: dict[tuple[int, str], list[str]] = {}
    for component in components:
        for rating in () if component.rating is None else component.rating.rows:
            if rating.limit_c is None or rating.limit_at != "junction":
                continue
            resistance = rating.theta_jc_k_per_w if rating.psi_jt_k_per_w is None else rating.psi_jt_k_per_w
            cells = (("psi_jt_k_per_w", resistance), ("power_w", rating.power_w))
            missing = " and ".join(name for name, value in cells if value is None)
            if missing:
                rows.setdefault((rating.line, missing), []).append(component.refdes)
    return [
        _warning(
            file,
            line,
            f"junction limit without {missing}: {_listed(names)} cannot be rated by a surface temperature",
            f"fill in {missing}, or give the limit of the surface",
            "limit_at",
        )
        for (line, missing), names in rows.items()
    ]


def _warning(file: str, line: int, what: str, remedy: str, column: str) -> Problem:
    severity: Severity = "warning"
    return Problem(severity, file, line, what, remedy, column)


def _nearest(missing: Sequence[str], known: dict[str, str], fold: Callable[[str], str]) -> str:
    near = difflib.get_close_matches(fold(missing[0]), [key for key in known if key], 1) if len(missing) == 1 else []
    return f"did you mean {known[near[0]]!r}?" if near else "correct the row or take it out"


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")
