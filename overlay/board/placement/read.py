"""Component placement (centroid) files: whatever dialect, read to millimetres, degrees and sides, or refused.

The story of a reading: bytes become lines (`text`), lines are cut into headings and rows
(`sections`), headings say which columns hold what (`headings`, `columns`), rows
become parts (`rows`), and a table its unit (`table`). What the file does not say (its unit,
a side, which of two meanings a column has) is asked for with an error; nothing is told from how large the
numbers are.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from overlay.board.exchange.read import read_exchange
from overlay.board.model import Component, Placement, Side
from overlay.board.placement.exchanged import body_shift, reading_of
from overlay.board.placement.gerber import is_component_layer, read_component_layer
from overlay.board.placement.names import each_named_once
from overlay.board.placement.panel import find_panel, of_panel
from overlay.board.placement.records import record_sheet
from overlay.board.placement.rows import Placed
from overlay.board.placement.table import TableReading, Told, read_sheets
from overlay.board.placement.text import Sheet, decode, lines_of, page_sheets, sheets_of_workbook
from overlay.errors import InputError, Problem, input_error
from overlay.tables import note_line_end, read_bytes
from overlay.workbooks import is_workbook

_SAME_PLACE_MM = 0.02  # a middle nearer than this is where the part is placed: rounding of an export


def read_placement(
    path: Path,
    file: str,
    *,
    units: str | None = None,
    side: Side | None = None,
    panel_board: int | Literal["all"] | None = None,
    step: str | None = None,
    bottom_rotation: str = "top-view",
    bottom_x: str = "as-is",
) -> tuple[Placement | None, list[Problem]]:
    """Read a placement file: delimited or aligned text, a workbook, an HTML report, or an open interchange file.

    Parameters
    ----------
    path, file
        Where it lies, and its name for messages (which may also tell a side).
    units
        Unit for a file that states none: ``mm``, ``um``, ``mil`` or ``inch``.
    side
        Side for a file that states none.
    panel_board
        Which board of a panel, counting from 1, or ``"all"``.
    step
        Which board of an IPC-2581 document that holds several.
    bottom_rotation
        ``bottom-view``: angles of bottom parts are counter-clockwise seen from the bottom, θ_top = 180° − θ_file.
    bottom_x
        ``mirrored``: x of bottom parts is negated in the file.

    Returns
    -------
    placement : Placement or None
        What could be understood; None where no part could be placed.
    problems : list of Problem
        Everything found in one pass. Nothing is raised.
    """
    try:
        reading = _reading(read_bytes(path, file), file, path, Told(units, side), step)
    except InputError as error:
        return None, list(error.problems)
    problems = reading.problems
    parts, panel, chosen = list(reading.parts), find_panel(reading.parts), panel_board
    if panel is not None:
        parts, note, found = of_panel(panel, panel_board, file)
        reading.notes.append(note)
        problems += found
    elif panel_board not in (None, 1):
        what = f"panel_board is {panel_board!r}, but the placement holds one board"
        problems.append(Problem("error", file, None, what, "remove panel_board"))
    parts, found = each_named_once(parts, file)
    problems += found
    components = tuple(_component(part, bottom_rotation, bottom_x) for part in parts)
    problems += _bottom_x_problems(parts, file, bottom_x)
    problems.sort(key=lambda problem: (problem.line is not None, problem.line or 0))
    if not components:
        if not any(problem.severity == "error" for problem in problems):
            what = "holds no component that can be placed"
            problems.append(Problem("error", file, None, what, "export the placement again, with all components"))
        return None, problems
    placement = Placement(
        components,
        reading.units,
        reading.units_from,
        tuple(note for note in reading.notes if note),
        reading.edge,
        reading.edge_source,
        () if panel is None else panel.boards,
        chosen or 1,
    )
    return placement, problems


def _reading(data: bytes, file: str, path: Path, told: Told, step: str | None) -> TableReading:
    if is_workbook(data):
        return read_sheets(sheets_of_workbook(data, file), file, told, "workbook")
    exchange = read_exchange(data, file, path, step)
    if exchange is not None:
        return reading_of(exchange, file, told.units)
    text, encoding = decode(data, file)
    count = text.count("\n")
    if count > MOST_LINES:
        what = f"holds {count:,} lines, more than {MOST_LINES:,}"
        raise input_error(file, None, what, "export the placement of one board")
    head = text[:4000].lstrip()
    if is_component_layer(text):
        return read_component_layer(text, file, told.units)
    if _is_page(head):
        return read_sheets(page_sheets(text, file), file, told, encoding)
    if re.match(r"<\?xml|<!--|<[\w.\-]+[\s:>]", head):
        root = re.search(r"<([A-Za-z][\w.\-]*)", head)
        what = f"is an XML document of another kind (<{root.group(1) if root else '?'}>)"
        line = None if root is None else head[: root.start()].count("\n") + 1
        raise input_error(file, line, what, "export IPC-2581, or the placement as CSV")
    note_line_end(text, file)
    records = record_sheet(text)
    return read_sheets((records or Sheet(lines_of(text)),), file, told, encoding)


# Both sides of the most that a job can hold, three boards of a panel of them, at an eighth of a millisecond a line.
MOST_LINES = 40_000


def _is_page(head: str) -> bool:
    return re.search(r"<\s*(?:!doctype\s+html|html|table|body|head)\b", head, re.IGNORECASE) is not None


def _component(part: Placed, bottom_rotation: str, bottom_x: str) -> Component:
    x_mm, rotation_deg = part.x_mm, part.rotation_deg
    if part.side == "bottom":
        x_mm = -x_mm if bottom_x == "mirrored" else x_mm
        rotation_deg = 180.0 - rotation_deg if bottom_rotation == "bottom-view" else rotation_deg
    rotation_deg = rotation_deg % 360.0
    rotation_deg = 0.0 if rotation_deg >= 360.0 else rotation_deg  # -1e-17 % 360 is 360
    placed = x_mm + 0.0, part.y_mm + 0.0
    across, up = body_shift(part, bottom_rotation)
    moved = abs(across) + abs(up) > _SAME_PLACE_MM
    return Component(
        refdes=part.refdes,
        center_mm=(placed[0] + across, placed[1] + up) if moved else placed,
        rotation_deg=rotation_deg + 0.0,
        side=part.side,
        package=part.package,
        value=part.value,
        part_number=part.part_number,
        mechanical=part.mechanical,
        line=part.line,
        body=part.body,
        fitted=part.fitted,
        placed_mm=placed if moved else None,
    )


def _bottom_x_problems(parts: Sequence[Placed], file: str, bottom_x: str) -> list[Problem]:
    """Some exporters negate x of bottom parts: then all of them lie left of zero and the top parts right of it."""
    top = [part.x_mm for part in parts if part.side == "top"]
    bottom = [part.x_mm for part in parts if part.side == "bottom"]
    if not top or not bottom or bottom_x == "mirrored":
        return []
    if not (min(top) >= 0.0 and max(bottom) <= 0.0 and max(top) > 0.0 and min(bottom) < 0.0):
        return []
    what = "all parts of the bottom have x ≤ 0 and all of the top x ≥ 0"
    remedy = 'if the exporter negates x of bottom parts, set bottom_x = "mirrored" in [board]'
    return [Problem("warning", file, None, what, remedy)]
