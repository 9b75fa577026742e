"""Placement from an interchange file: its parts as placed ones, with the bodies it draws."""

from __future__ import annotations

import math
from dataclasses import replace

from overlay.board.exchange.model import DrawnPackage, Exchange, ExchangedPart
from overlay.board.model import Body
from overlay.board.placement.fitting import says_unfitted
from overlay.board.placement.marks import is_mechanical, is_unassigned
from overlay.board.placement.rows import Placed
from overlay.board.placement.table import TableReading
from overlay.errors import Problem, input_error


def reading_of(exchange: Exchange, file: str, units: str | None) -> TableReading:
    """The parts of an interchange file.

    Raises
    ------
    InputError
        Where ``units`` contradicts the file, which always states its own.
    """
    if units is not None and units != exchange.units:
        what = f"placement_units is {units}, but {exchange.units_from} says {exchange.units}"
        raise input_error(file, None, what, "remove placement_units, or correct it")
    # an edge that cannot be used is no obstacle to the places: an outline may come from elsewhere
    parts = []
    problems = [*exchange.problems, *(replace(problem, severity="warning") for problem in exchange.edge_problems)]
    for part in exchange.parts:
        if is_unassigned(part.refdes):
            what = f"reference designator {part.refdes!r} is not assigned, the component is left out"
            problems.append(Problem("warning", file, part.line, what, "annotate the part to have it read"))
        else:
            parts.append(_placed(part))
    note = f"{exchange.source}, which tells the sides"
    return TableReading(parts, exchange.units, exchange.units_from, [note], problems, exchange.edge, exchange.source)


def _placed(part: ExchangedPart) -> Placed:
    return Placed(
        part.refdes,
        part.xy_mm[0],
        part.xy_mm[1],
        part.rotation_deg,
        part.side,
        part.package,
        part.value,
        part.part_number,
        is_mechanical(part.refdes, part.package, part.value),
        part.line,
        fitted=part.fitted and not says_unfitted([part.value]),
        body=None if part.drawn is None else _body(part.drawn, part.height_mm),
        body_center_mm=(0.0, 0.0) if part.drawn is None else part.drawn.center_mm,
    )


def _body(drawn: DrawnPackage, height_mm: float | None) -> Body:
    return Body(
        drawn.length_mm,
        drawn.width_mm,
        drawn.height_mm if height_mm is None else height_mm,
        f"package outline, {drawn.where}",
    )


def body_shift(part: Placed, bottom_rotation: str) -> tuple[float, float]:
    """From the point by which a part is placed to the middle of its body, on the board seen from the top.

    A package of the bottom is turned over about its y axis: before its rotation where that is counted seen
    from the top, after it where it is counted seen from the bottom.
    """
    x, y = part.body_center_mm
    turn = math.radians(part.rotation_deg)
    if part.side == "bottom" and bottom_rotation != "bottom-view":
        x = -x
    across = x * math.cos(turn) - y * math.sin(turn)
    up = x * math.sin(turn) + y * math.cos(turn)
    if part.side == "bottom" and bottom_rotation == "bottom-view":
        across = -across
    return across, up
