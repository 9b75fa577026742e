"""The unit of a section's coordinates: from headings, a row or column of units, prose, suffixes, or the job."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

from overlay.board.placement.columns import Pair, split_pair
from overlay.board.placement.cut import Section
from overlay.board.placement.numbers import parse_figure
from overlay.board.placement.units import Unit, UnitWords, known_unit, unit_of_word
from overlay.errors import Problem

STATE_UNITS = 'state it with placement_units = "mm" (or um, mil, inch) in [board] of job.toml'


@dataclass(frozen=True, slots=True)
class SectionUnit:
    """The unit of cells without a suffix (None: only suffixes tell), the one to show, and where it was told."""

    plain: Unit | None
    shown: Unit
    where: str


def unit_of_section(
    section: Section,
    pair: Pair,
    stated: UnitWords | None,
    units: str | None,
    file: str,
    style: str,
) -> SectionUnit | Problem:
    """The unit of a section's coordinates, or why it cannot be known."""
    name_x, name_y = section.columns[pair.x].name, section.columns[pair.y].name

    def fail(what: str, remedy: str, line: int = section.line) -> Problem:
        return Problem("error", file, line, what, remedy)

    if _differ(pair.unit_x, pair.unit_y):
        return fail(f"the columns {name_x!r} and {name_y!r} are in different units", "correct the heading")
    of_heading = pair.unit_x or pair.unit_y
    where = f"heading of column {name_x!r}"
    if of_heading is None and (of_column := _unit_column(section)) is not None:
        of_heading, where = of_column
    elif of_heading is not None and section.columns[pair.x].unit is None and section.columns[pair.y].unit is None:
        where = f"line {section.units_line}, the units below column {name_x!r}"
    if of_heading is not None and stated is not None and _differ(of_heading, stated.unit):
        what = f"{where} says {of_heading.name}, but {stated.where} says {stated.unit.name}"
        return fail(what, "correct the wrong one of them", stated.line)
    declared = of_heading or (stated.unit if stated is not None else None)
    where = where if of_heading is not None else stated.where if stated is not None else ""
    suffixes = _suffixes(section, pair, style)
    if declared is not None and declared.mm is None:
        if units in ("mil", "inch"):
            return SectionUnit(
                known_unit(units), known_unit(units), f"placement_units ({where} leaves mil or inch open)"
            )
        if not suffixes:
            return fail(f"{where} says {declared.name}, which may be mil or inch", STATE_UNITS)
        declared = None
    said = declared if declared is not None else known_unit(suffixes[0]) if len(suffixes) == 1 else None
    if units is not None and said is not None and said.name != units:
        where = where or f"suffix of the cells in column {name_x!r}"
        return fail(
            f"placement_units is {units}, but {where} says {said.name}", "remove placement_units, or correct it"
        )
    if declared is not None:
        return SectionUnit(declared, declared, where)
    if suffixes:
        shown = Unit(", ".join(suffixes), None)
        return SectionUnit(None, shown, f"suffix of the cells in column {name_x!r}")
    if units is not None:
        return SectionUnit(known_unit(units), known_unit(units), "placement_units")
    return fail(f"the unit of {name_x!r} and {name_y!r} is stated nowhere in the file", STATE_UNITS)


def _unit_column(section: Section) -> tuple[Unit, str] | None:
    """The unit that a column of its own states, the same in every row."""
    for index, column in enumerate(section.columns):
        if not re.fullmatch(r"(?:\w+[\s_])?(?:units?|uom|einheit|unité|unidad|单位|単位)", column.name, re.IGNORECASE):
            continue
        cells = {row.cells[index].strip().casefold() for row in section.rows if row.cells is not None} - {""}
        unit = unit_of_word(cells.pop()) if len(cells) == 1 else None
        if unit is not None:
            return unit, f"column {column.name!r}"
    return None


def _differ(one: Unit | None, other: Unit | None) -> bool:
    if one is None or other is None:
        return False
    if one.mm is None or other.mm is None:  # imperial agrees with mil and inch alike
        return (one.name if one.mm is not None else other.name) not in ("mil", "inch", "imperial", "english", "英制")
    return one.mm != other.mm


def _suffixes(section: Section, pair: Pair, style: str) -> list[str]:
    """Names of the units written behind the numbers of a pair, the commonest first."""
    found: Counter[str] = Counter()
    for row in section.rows:
        if row.cells is None:
            continue
        texts = (split_pair(row.cells[pair.x]) or ()) if pair.x == pair.y else (row.cells[pair.x], row.cells[pair.y])
        for text in texts:
            figure = parse_figure(text, "comma" if style == "comma" else "point")
            if figure is not None and figure.unit is not None:
                found[figure.unit.name] += 1
    return [name for name, _ in found.most_common()]
