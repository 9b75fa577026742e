"""A placement table: its sections, the unit of its numbers, and what was concluded from which words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from overlay.board.model import Side
from overlay.board.placement.columns import Choice, choose_columns, coordinate_texts, differ_without_unit, lists_pins
from overlay.board.placement.cut import Cut, Section
from overlay.board.placement.headless import cut_without_heading
from overlay.board.placement.numbers import Style, number_style, parse_angle
from overlay.board.placement.rows import Placed, RowReader, SideSources
from overlay.board.placement.section_units import unit_of_section
from overlay.board.placement.sections import best_cut
from overlay.board.placement.sides import legend, side_of_name
from overlay.board.placement.split import DELIMITER_NAMES
from overlay.board.placement.text import Line, Sheet, shown
from overlay.board.placement.units import UnitWords, stated_unit, unit_of_word
from overlay.errors import Problem

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

_EXPORT_HEADING = (
    "put a heading row above the parts that names at least the reference designator, X, Y, rotation and side"
)
NAME_THE_COLUMNS = "put a heading row above the parts, such as Designator,X,Y,Rotation,Side,Footprint,Value"


@dataclass(slots=True)
class TableReading:
    """Parts of a file, the unit they were in and how that is known, conclusions for the reader, problems."""

    parts: list[Placed] = field(default_factory=list)
    units: str = ""
    units_from: str = ""
    notes: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    edge: Polygon | MultiPolygon | None = None
    edge_source: str = ""


@dataclass(frozen=True, slots=True)
class Told:
    """What the job states for a file that does not."""

    units: str | None = None
    side: Side | None = None


def read_sheets(sheets: Sequence[Sheet], file: str, told: Told, encoding: str) -> TableReading:
    """Read every sheet that holds placements as one file."""
    reading = TableReading()
    cuts = [cut for sheet in sheets if (cut := best_cut(sheet)) is not None]
    if not any(section.rows for cut in cuts for section in cut.sections):
        guess = next((guess for sheet in sheets if (guess := cut_without_heading(sheet)) is not None), None)
        if isinstance(guess, Cut):
            cuts = [guess]
            reading.notes.append("there is no heading row; columns were told by what stands in them")
        elif guess is not None and not cuts:
            what = f"there is no heading row, and {guess.doubt}"
            reading.problems.append(Problem("error", file, guess.line, what, NAME_THE_COLUMNS))
            return reading
    if not cuts:
        what = "no heading row of a placement was found"
        reading.problems.append(Problem("error", file, None, what, _EXPORT_HEADING))
        return reading
    marks = [DELIMITER_NAMES.get(cut.container, repr(cut.container)) for cut in cuts if cut.container != "cells"]
    divided = f", columns divided by {', '.join(dict.fromkeys(marks))}" if marks else ", a table of cells"
    reading.notes.append(f"read as {encoding}{divided}")
    prose = [line for cut in cuts for line in cut.prose]
    sections = [section for cut in cuts for section in cut.sections]
    if any(section.rows for section in sections):
        sections = [section for section in sections if section.rows]
    reading.problems += [problem for cut in cuts for problem in _lost(cut, file)]
    return _with_sections(reading, sections, prose, file, told)


def _lost(cut: Cut, file: str) -> list[Problem]:
    """A warning for each line below a heading that holds numbers but is no row."""
    problems = []
    for line in cut.lost:
        what = f"the line holds numbers but no part that can be told, it is left out ({shown(line.text)})"
        problems.append(Problem("warning", file, line.number, what, "name the part, or remove the line"))
    for line in cut.others:
        what = f"another table without X and Y begins here, it is left out ({shown(line.text)})"
        problems.append(Problem("warning", file, line.number, what, "remove it if it holds no placements"))
    return problems


def _with_sections(
    reading: TableReading, sections: Sequence[Section], prose: Sequence[Line], file: str, told: Told
) -> TableReading:
    """The reading with the parts of all sections, their units and sides."""
    statements, problems = _statements(prose, file)
    if problems:
        return replace(reading, problems=[*reading.problems, *problems])
    stated = statements[0] if statements else None
    chosen, incomplete = [], []
    for section in sections:
        choice = choose_columns(section, stated.unit if stated else None)
        missing = _missing(section, choice, file)
        if missing:
            incomplete.append((section, choice, missing))
        else:
            chosen.append((section, choice))
    for section, choice, missing in incomplete:  # a table of feeders or the like names no parts
        problems += [_passed_over(section, file)] if chosen and choice.refdes is None else missing
    texts = coordinate_texts(chosen)
    style = number_style(texts)
    if style is None:
        sample = next(text for text in texts if "," in text)
        what = f"whether the comma in {sample!r} is a decimal mark or parts thousands cannot be told"
        problems.append(Problem("error", file, chosen[0][0].line, what, "export with a decimal point"))
        return replace(reading, problems=[*reading.problems, *problems])
    lettered = all(_lettered(section, choice, style) for section, choice in chosen)
    marks: dict[str, Side] = {}
    for text in (*(line.text for line in prose), *(column.name for section, _ in chosen for column in section.columns)):
        marks |= legend(text)
    readers, used = [], []
    for section, choice in chosen:
        assert choice.pair is not None
        unit = unit_of_section(section, choice.pair, stated, told.units, file, style)
        if isinstance(unit, Problem):
            problems.append(unit)
            continue
        used.append((unit.shown.name, unit.where))
        sides = SideSources(side_of_name(file), told.side, lettered, marks)
        readers.append(RowReader(file, section, choice, style, unit.plain, sides))
    parts = [part for reader in readers for part in reader.read()]
    problems += [problem for reader in readers for problem in reader.problems]
    notes, found = _conclusions(readers, file)
    if told.side is not None and readers and not any("placement_side" in reader.sided_by for reader in readers):
        sources = ", ".join(dict.fromkeys(source for reader in readers for source in reader.sided_by))
        what = f"placement_side is {told.side}, but every side is told by the file ({sources}), which was taken"
        found.append(Problem("warning", file, None, what, "remove placement_side"))
    return replace(
        reading,
        parts=parts,
        units=", ".join(dict.fromkeys(name for name, _ in used)),
        units_from="; ".join(dict.fromkeys(where for _, where in used)),
        notes=list(dict.fromkeys([*reading.notes, *notes])),
        problems=[*reading.problems, *problems, *found],
    )


def _passed_over(section: Section, file: str) -> Problem:
    names = ", ".join(repr(column.name) for column in section.columns if column.name)
    last = section.rows[-1].line if section.rows else section.line
    what = f"the table of lines {section.line} to {last} names no parts (its heading has {names}), it is left out"
    return Problem("warning", file, section.line, what, "add a column Designator if it holds placements")


def _lettered(section: Section, choice: Choice, style: Style) -> bool:
    """Whether every angle is written with letters."""
    if choice.rotation is None:
        return False
    cells = [row.cells[choice.rotation] for row in section.rows if row.cells is not None]
    angles = [parse_angle(cell, style) for cell in cells if cell.strip()]
    return all(angle is not None and angle.lettered for angle in angles)


def _statements(prose: Sequence[Line], file: str) -> tuple[list[UnitWords], list[Problem]]:
    """What the prose says of units, and the error where two lines disagree."""
    found = []
    for line in prose:
        unit = stated_unit(line.text)
        if unit is None and line.text.startswith("J!"):  # the job line of an extracted table
            alone = [unit_of_word(cell) for cell in line.text.split("!")]
            unit = next((each for each in alone if each is not None), None)
        if unit is not None:
            found.append(UnitWords(unit, f"line {line.number} {shown(line.text)}", line.number))
    sure = [each for each in found if each.unit.mm is not None]
    for other in sure[1:]:
        if other.unit.name != sure[0].unit.name:
            what = f"{other.where} and {sure[0].where} state different units"
            return [], [Problem("error", file, other.line, what, "correct the wrong one of them")]
    return sure or found[:1], []


def _missing(section: Section, choice: Choice, file: str) -> list[Problem]:
    """An error for each column without which no part of a section can be placed."""
    problems: list[Problem] = []
    names = ", ".join(repr(column.name) for column in section.columns if column.name)

    def miss(what: str, remedy: str) -> None:
        problems.append(Problem("error", file, section.line, f"{what} (the heading has {names})", remedy))

    if not section.rows:
        problems.append(
            Problem("error", file, section.line, "no row of a part follows the heading", "export the placement again")
        )
    elif choice.refdes is None:
        miss("no column holds reference designators", "add a column Designator")
    elif lists_pins(section, choice.refdes):
        miss("the table has a row for each pin, not for each part", "export the list of components, with their centres")
    if section.rows and choice.pair is None:
        if choice.only_pads:
            miss("only coordinates of pin 1 are given, not of the parts' centres", "export the centres (Mid X, Mid Y)")
        else:
            miss("no two columns hold X and Y", "add columns X and Y")
    if choice.pair is not None and any(differ_without_unit(section, choice.pair, rival) for rival in choice.rivals):
        name = section.columns[choice.pair.x].name
        miss(f"several pairs of columns like {name!r} differ and carry no units", "write the units into the headings")
    if section.rows and choice.rotation is None:
        miss("no column holds the rotation", "add a column Rotation, in degrees")
    return problems


def _conclusions(readers: Sequence[RowReader], file: str) -> tuple[list[str], list[Problem]]:
    """Which columns were taken and where sides came from; parts without a side are one error."""
    notes = []
    for reader in readers:
        pair, columns = reader.choice.pair, reader.section.columns
        assert pair is not None
        note = f"places from {columns[pair.x].name!r} and {columns[pair.y].name!r}"
        if pair.x == pair.y:
            note = f"places from {columns[pair.x].name!r}"
        if pair.kind == "ref":
            note += ", the reference origin of each part: no column gives its centre"
        notes.append(note)
    sources: Counter[str] = Counter()
    for reader in readers:
        sources.update(reader.sided_by)
    if sources:
        notes.append(f"sides from {', '.join(sources)}")
    sideless = sorted(line for reader in readers for line in reader.sideless)
    if not sideless:
        return notes, []
    lines = ", ".join(map(str, sideless[:8])) + (f" and {len(sideless) - 8} more" if len(sideless) > 8 else "")
    what = f"nothing tells the side of {len(sideless)} parts (lines {lines}): no column, no words, not the file's name"
    remedy = 'state it with placement_side = "top" (or bottom) in [board] of job.toml, or add a column Side'
    return notes, [Problem("error", file, sideless[0], what, remedy)]
