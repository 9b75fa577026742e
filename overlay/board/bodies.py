"""Body sizes: from the bodies table, else from what the package's name implies, else unknown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from overlay.board.kinds import kind_of_refdes
from overlay.board.model import Body, Component, Level, Shape
from overlay.board.packages.names import laid, named_package, quarter_turned
from overlay.errors import InputError, Problem, Source
from overlay.tables import Row, read_table

COLUMNS = ("package", "length_mm", "width_mm", "height_mm", "shape", "emissivity", "emissivity_u", "zero_orientation")
LARGEST_MM = 500.0  # no body on a board is larger: a wrong unit


def read_bodies(path: Path, file: str, zero_orientation: Level = "A") -> tuple[dict[str, Body], list[Problem]]:
    """Read a bodies table.

    A row without a height takes the height that the package's name implies, if any. A row with an emissivity and no
    sizes takes the whole body from the name, and is an error where the name tells none; so does one that only says how
    the package lies (``zero_orientation``).

    Parameters
    ----------
    path, file
        Where it lies, and its name for messages.
    zero_orientation
        ``"A"`` or ``"B"``: how two-row packages lie where the body comes from the name.

    Returns
    -------
    Bodies by package (`table_key`), and every problem; nothing is raised, rows in error are left out.
    """
    try:
        table = read_table(path, file, COLUMNS, required=("package",))
    except InputError as error:
        return {}, list(error.problems)
    problems: list[Problem] = []
    bodies: dict[str, Body] = {}
    lines: dict[str, int] = {}
    for row in table.rows:
        package = row.text("package")
        key = table_key(package)
        if not key:
            problems.append(row.problem("package", "is empty", "write the package as the placement has it"))
            continue
        if key in lines:
            what = f"package {package!r} stands in line {lines[key]} and in line {row.line}"
            problems.append(Problem("error", file, row.line, what, "keep one of the rows", "package", package))
            continue
        lines[key] = row.line
        body = _row_body(row, package, zero_orientation, problems)
        if body is not None:
            bodies[key] = body
    return bodies, problems


def body_from_package(package: str, zero_orientation: Level = "A", *, kind: str = "") -> Body | None:
    """The body that a package's name implies, None where it implies none.

    Parameters
    ----------
    zero_orientation
        ``"A"``: pin rows stand upright at rotation 0, so ``length_mm`` is the width across them; ``"B"``: a quarter
        turn for packages with pin rows (two-row ICs, SOT and tab packages, pin headers). Two-terminal parts lie
        along x, and quads as their name has them, under both (IPC-7351A, IEC 61188-7).
    kind
        Kind of part, where something else than the name tells it: it decides how high a bare ``0603`` is.
    """
    named = named_package(package, kind)
    if named is None:
        return None
    return laid(named, zero_orientation)


def body_of(component: Component, table: Mapping[str, Body], zero_orientation: Level = "A") -> Body | None:
    """A component's body: from the table, else from its package's name; None where neither tells."""
    key = table_key(component.package)
    if key in table:
        return table[key]
    if component.mechanical:
        return None
    kind = kind_of_refdes(component.refdes)
    body = body_from_package(component.package, zero_orientation, kind=kind)
    # "SMA" names a diode's package and a coaxial connector, "SMC_B" also a capacitor's; the designator tells which
    named = named_package(component.package, kind)
    if named is not None and named.kind == "diode" and kind in ("connector", "capacitor", "inductor", "crystal"):
        return None
    return body


def table_key(package: str) -> str:
    """A package as the table looks it up: without blanks around it and regardless of case."""
    return package.strip().casefold()


def _row_body(row: Row, package: str, zero_orientation: Level, problems: list[Problem]) -> Body | None:
    before = len(problems)
    stated = row.text("zero_orientation").upper()
    if stated not in ("", "A", "B"):
        problems.append(row.problem("zero_orientation", "is no level", "write A or B"))
    elif stated:
        zero_orientation = "A" if stated == "A" else "B"
    emissivity = row.number("emissivity", problems, low=0.01, high=1.0)
    emissivity_u = row.number("emissivity_u", problems, low=0.0, high=0.5)
    if emissivity_u is not None and not row.text("emissivity"):
        problems.append(row.problem("emissivity_u", "stands without an emissivity", "write the emissivity as well"))
    named = body_from_package(package, zero_orientation)
    shape = _shape(row, problems)
    sizeless = not row.text("length_mm") and not row.text("width_mm")
    if sizeless and (emissivity is not None or stated):
        height = _length(row, "height_mm", problems)
        if named is None:
            what = "is empty, and the package's name tells no size"
            problems.append(
                row.problem("length_mm", what, "write length_mm and width_mm, or rate it in the parts table")
            )
        if named is None or len(problems) > before:
            return None
        height = named.height_mm if height is None else height
        return replace(named, height_mm=height, emissivity=emissivity, emissivity_u=emissivity_u)
    length = _length(row, "length_mm", problems, required=True)
    width = _length(row, "width_mm", problems, required=True)
    height = _length(row, "height_mm", problems)
    if shape == "round" and length is not None and width is not None and abs(length - width) > 1e-6:
        what = f"round, but length_mm {length:g} and width_mm {width:g} differ"
        remedy = "write the diameter twice, or shape box"
        problems.append(Problem("error", row.file, row.line, what, remedy, "shape", "round"))
    if length is None or width is None or len(problems) > before:
        return None
    body = Body(
        length_mm=length,
        width_mm=width,
        height_mm=height if height is not None or named is None else named.height_mm,
        source=str(Source(row.file, row.line)),
        row=Source(row.file, row.line),
        shape=shape,
        level=zero_orientation,
        emissivity=emissivity,
        emissivity_u=emissivity_u,
    )
    if named is None or named.shape != shape:
        return body
    # where metal shows is known from the name, on whichever sides the table's orientation puts it
    return replace(body, terminals=_alike(named, body).terminals)


def _alike(named: Body, body: Body) -> Body:
    """The named body, turned if the table has it the other way round."""
    straight = abs(named.length_mm - body.length_mm) + abs(named.width_mm - body.width_mm)
    turned = abs(named.width_mm - body.length_mm) + abs(named.length_mm - body.width_mm)
    if turned >= straight:
        return named
    # caps are looked for at the ends of the x axis only: a chip drawn upright has none that are known
    return replace(quarter_turned(named), terminals="unknown") if named.terminals == "ends" else quarter_turned(named)


def _shape(row: Row, problems: list[Problem]) -> Shape:
    text = row.text("shape").lower()
    if text == "round":
        return "round"
    if text not in ("", "box"):
        problems.append(row.problem("shape", "is not known", "write box or round"))
    return "box"


def _length(row: Row, column: str, problems: list[Problem], *, required: bool = False) -> float | None:
    return row.number(column, problems, low=0.01, high=LARGEST_MM, required=required)
