"""Placement from IPC-2581: components of the board's step, with packages and the layers that tell their sides.

Sources: IPC-2581 revisions B1 and C as public readers' fixtures show them; revision C's change list for ``faceUp``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from overlay.board.model import Side
from overlay.board.outline.xml import Element, read_xml
from overlay.board.placement.marks import is_mechanical, is_unassigned
from overlay.board.placement.rows import Placed
from overlay.board.placement.table import TableReading
from overlay.board.placement.units import known_unit
from overlay.errors import Problem, input_error

_UNITS = {"MILLIMETER": "mm", "MICRON": "um", "INCH": "inch"}


def read_interchange(data: bytes, file: str, units: str | None) -> TableReading:
    """Read the components of an IPC-2581 document.

    Raises
    ------
    InputError
        Where it is no such document, states no unit, or holds no step with components.
    """
    root = read_xml(data, file)
    if root.tag != "IPC-2581":
        what = f"is an XML document of another kind (<{root.tag}>)"
        raise input_error(file, root.line, what, "export IPC-2581, or the placement as CSV")
    reading = TableReading()
    header = next(_named(root, "CadHeader"), None)
    word = "" if header is None else header.get("units").upper()
    if header is None or word not in _UNITS:
        what = f"CadHeader states the unit {word!r}" if word else "no CadHeader states the unit"
        raise input_error(file, None if header is None else header.line, what, "export it again with units")
    unit = known_unit(_UNITS[word])
    if units is not None and units != unit.name:
        what = f"placement_units is {units}, but CadHeader says {unit.name}"
        raise input_error(file, header.line, what, "remove placement_units, or correct it")
    assert unit.mm is not None
    reading.units, reading.units_from = unit.name, f"CadHeader units {word!r}"
    step = _board_step(root, file)
    sides = {layer.get("name"): side for layer in _named(root, "Layer") if (side := _side(layer.get("side")))}
    for component in (child for child in step.children if child.tag == "Component"):
        part = _placed(component, sides, unit.mm, root, file, reading.problems)
        if part is not None:
            reading.parts.append(part)
    reading.notes.append(f"IPC-2581 document, step {step.get('name')!r}; sides from the layers of the components")
    return reading


def _named(root: Element, tag: str) -> Iterator[Element]:
    return (element for element in root.walk() if element.tag == tag)


def _board_step(root: Element, file: str) -> Element:
    """The one step that holds components; a panel only repeats it."""
    steps = [step for step in _named(root, "Step") if any(child.tag == "Component" for child in step.children)]
    boards = [step for step in steps if step.get("type").upper() == "BOARD"] or steps
    if len(boards) != 1:
        what = "holds no step with components" if not boards else f"holds {len(boards)} boards with components"
        line = boards[1].line if boards else root.line
        raise input_error(file, line, what, "export the one board that is to be read, with its components")
    return boards[0]


def _side(word: str) -> Side | None:
    return "top" if word.upper() == "TOP" else "bottom" if word.upper() == "BOTTOM" else None


def _number(element: Element | None, name: str, default: float | None = None) -> float | None:
    if element is None or not element.get(name):
        return default
    try:
        value = float(element.get(name))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _placed(
    component: Element, sides: dict[str, Side], unit_mm: float, root: Element, file: str, problems: list[Problem]
) -> Placed | None:
    refdes = component.get("refDes")
    if is_unassigned(refdes):
        what = f"reference designator {refdes!r} is not assigned, the component is left out"
        problems.append(Problem("warning", file, component.line, what, "annotate the part to have it read"))
        return None
    children = {child.tag: child for child in component.children}
    location, turn = children.get("Location"), children.get("Xform")
    x, y = _number(location, "x"), _number(location, "y")
    rotation = _number(turn, "rotation", 0.0)
    side = sides.get(component.get("layerRef")) or _side(component.get("layerRef"))
    for bad, what, remedy in (
        (x is None or y is None, "has no readable Location", "export its place"),
        (rotation is None, "has an unreadable rotation", "export it in degrees"),
        (side is None, f"lies on layer {component.get('layerRef')!r}, whose side is not stated", "export layer sides"),
    ):
        if bad:
            problems.append(Problem("error", file, component.line, f"{refdes} {what}", remedy))
    if x is None or y is None or rotation is None or side is None:
        return None
    package = component.get("packageRef")
    value = _value(component)
    mechanical = is_mechanical(refdes, package, value)
    part = component.get("part") or value
    return Placed(refdes, x * unit_mm, y * unit_mm, rotation, side, package, value, part, mechanical, component.line)


def _value(component: Element) -> str:
    for element in component.walk():
        if element.tag in ("NonstandardAttribute", "Textual") and element.get("name").casefold() in ("value", "val"):
            return element.get("value") or element.get("textualCharacteristicValue")
    return ""
