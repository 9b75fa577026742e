"""The table of contact readings, or a filled thermocouple plan."""

from __future__ import annotations

import difflib
import math
from pathlib import Path

from overlay.board.model import Board
from overlay.errors import Problem, raise_errors
from overlay.probes.model import ContactReading
from overlay.probes.wire import class_u_c, thermocouple_classes, wire_diameter_mm
from overlay.tables import Row, read_table

COLUMNS = ("refdes", "temperature_c", "u_c", "board_x_mm", "board_y_mm", "note", "awg", "thermocouple", "at")
_TOP, _CASE = ("", "top"), ("case", "tab")
# Columns of a filled plan that are not read.
PLAN_COLUMNS = ("rank", "expected_c", "cost_at_0.5mm_k", "cost_at_1mm_k", "cost_at_2mm_k", "reason")


def read_contacts(path: Path, file: str, board: Board) -> tuple[ContactReading, ...]:
    """Read contact readings; rows whose ``temperature_c`` is still empty are left out.

    Raises
    ------
    InputError
        With every cell that cannot be used.
    """
    table = read_table(path, file, (*COLUMNS, *PLAN_COLUMNS), ("refdes", "temperature_c", "u_c"))
    names = {part.refdes.casefold(): part.refdes for part in board.parts}
    problems: list[Problem] = []
    contacts: list[ContactReading] = []
    lines: dict[tuple[str, bool], int] = {}
    for row in table.rows:
        if not row.text("temperature_c"):
            continue
        contact = _contact(row, names, problems)
        if contact is None:
            continue
        place = (contact.refdes, contact.on_case)
        if place in lines:
            what = f"{contact.refdes} was read in line {lines[place]} already"
            problems.append(Problem("error", file, row.line, what, "keep one reading for each part and state"))
        lines.setdefault(place, row.line)
        contacts.append(contact)
    raise_errors(problems)
    return tuple(contacts)


def _contact(row: Row, names: dict[str, str], problems: list[Problem]) -> ContactReading | None:
    before = len(problems)
    written = row.text("refdes")
    refdes = names.get(written.casefold())
    if refdes is None:
        near = difflib.get_close_matches(written.upper(), [name.upper() for name in names], 1)
        remedy = f"did you mean {names[near[0].casefold()]}?" if near else "write a designator of the placement"
        problems.append(row.problem("refdes", "is not on the board", remedy))
    temperature = row.number("temperature_c", problems, low=-100.0, high=1500.0, required=True)
    thermocouple = row.text("thermocouple").upper()
    u = row.number("u_c", problems, low=0.0, high=100.0, required=not thermocouple)
    u = 0.0 if u is None and thermocouple else u  # the sensor's class is all that is known
    place = row.text("at").lower()
    if place not in (*_TOP, *_CASE):
        problems.append(row.problem("at", "is no place of a bead", "write top, case or tab"))
    x = row.number("board_x_mm", problems)
    y = row.number("board_y_mm", problems)
    awg = row.number("awg", problems, low=10, high=50)
    if thermocouple and thermocouple not in thermocouple_classes():
        remedy = f"write one of {', '.join(thermocouple_classes())} (type and class), or leave it empty"
        problems.append(row.problem("thermocouple", "is not known", remedy))
    if (x is None) != (y is None) and not any(
        item.column in ("board_x_mm", "board_y_mm") for item in problems[before:]
    ):
        problems.append(row.problem("board_x_mm", "and board_y_mm belong together", "give both or neither"))
    if len(problems) > before or refdes is None or temperature is None or u is None:
        return None
    if thermocouple:
        u = math.hypot(u, class_u_c(thermocouple, temperature))
    if u == 0.0:
        problems.append(row.problem("u_c", "is 0", "state the standard uncertainty of the reading, such as 0.8"))
        return None
    return ContactReading(
        refdes=refdes,
        temperature_c=temperature,
        u_c=u,
        board_mm=None if x is None or y is None else (x, y),
        wire_diameter_mm=None if awg is None else wire_diameter_mm(int(awg)),
        note=row.text("note"),
        line=row.line,
        on_case=place in _CASE,
    )
