"""IPC-2581: the parts, the profile and the package outlines of one step.

Sources: fixtures of public readers of revisions B1 and C, and revision C's change list; the attributes of curves,
cut-outs, the bill of materials and the approved-vendor list are from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from overlay.board.exchange.ipc2581_shapes import FARTHEST_MM, edge_of_profile, number_of, packages_of
from overlay.board.exchange.model import MM_OF_UNIT, DrawnPackage, Exchange, ExchangedPart
from overlay.board.exchange.xml import Element, read_xml
from overlay.board.model import Side
from overlay.errors import InputError, Problem, input_error

if TYPE_CHECKING:
    pass

_UNITS = {"MILLIMETER": "mm", "MICRON": "um", "INCH": "inch"}
# copper, drawings and nets, the bulk of a file: nothing of them is asked for
_PASSED_OVER = frozenset(
    (
        *("LayerFeature", "PhyNetGroup", "LogicalNet", "PadStackDef", "PadStack", "LandPattern", "SilkScreen"),
        *("AssemblyDrawing", "Pin", "DictionaryColor", "DictionaryLineDesc", "DictionaryFillDesc"),
        *("DictionaryStandard", "DictionaryUser", "HistoryRecord"),
    )
)


def is_ipc2581(data: bytes) -> bool:
    """Whether a file is such a document, by the first element it holds."""
    head = data[:65536].replace(b"\0", b"")
    return re.search(rb"<(?:[\w.\-]+:)?IPC-2581[\s>]", head) is not None


def read_ipc2581(data: bytes, file: str, step: str | None = None) -> Exchange:
    """Read parts, edge and package outlines of one step, all of the same.

    Parameters
    ----------
    data, file
        The document, and its name for messages.
    step
        Name of the step to take. Without it the one board with parts is taken, else the one with a profile.

    Raises
    ------
    InputError
        Where it is no such document, states no unit, or leaves open which step is meant.
    """
    root = read_xml(data, file, _PASSED_OVER)
    if root.tag != "IPC-2581":
        what = f"is an XML document of another kind (<{root.tag}>)"
        raise input_error(file, root.line, what, "export IPC-2581, or the placement as CSV")
    header = next(_named(root, "CadHeader"), None)
    word = "" if header is None else header.get("units").upper()
    if header is None or word not in _UNITS:
        what = f"CadHeader states no unit that is known: {word!r}" if word else "no CadHeader states the unit"
        raise input_error(file, None if header is None else header.line, what, "export it again with units")
    unit_mm = MM_OF_UNIT[_UNITS[word]]
    taken = _step(root, file, step)
    parts, problems = _parts(root, taken, file, unit_mm)
    profile = next((child for child in taken.children if child.tag == "Profile"), None)
    source = f"IPC-2581, step {taken.get('name')!r}"
    exchange = Exchange(source, _UNITS[word], f"CadHeader units {word!r}", parts, None, tuple(problems))
    if profile is None:
        return exchange
    try:
        return replace(exchange, edge=edge_of_profile(profile, file, unit_mm))
    except InputError as error:
        return replace(exchange, edge_problems=error.problems)


def _named(root: Element, tag: str) -> Iterator[Element]:
    return (element for element in root.walk() if element.tag == tag)


def _step(root: Element, file: str, name: str | None) -> Element:
    """The step that is meant; a panel that only repeats it is none."""
    steps = list(_named(root, "Step"))
    if name is not None:
        for step in steps:
            if step.get("name") == name:
                return step
        named = ", ".join(repr(step.get("name")) for step in steps) or "none"
        raise input_error(file, None, f"holds no step {name!r}", f"set step in [board] to one of its steps: {named}")
    populated = [step for step in steps if any(child.tag == "Component" for child in step.children)]
    found = populated or [step for step in steps if any(child.tag == "Profile" for child in step.children)]
    boards = [step for step in found if step.get("type").upper() == "BOARD"] or found
    meant = {reference.get("name") for reference in _named(root, "StepRef")}
    boards = [step for step in boards if step.get("name") in meant] or boards
    if not boards:
        what = "holds no board: none of its steps has components or a profile"
        raise input_error(file, root.line, what, "export it with its components")
    if len(boards) > 1:
        named = ", ".join(
            f"{step.get('name')!r} ({sum(child.tag == 'Component' for child in step.children)} components)"
            for step in boards
        )
        what = f"holds {len(boards)} boards: {named}"
        remedy = f'say which with step = "{boards[0].get("name")}" in [board] of job.toml'
        raise input_error(file, boards[1].line, what, remedy)
    return boards[0]


@dataclass(frozen=True, slots=True)
class _Context:
    """What the parts of a step refer to."""

    file: str
    unit_mm: float
    sides: dict[str, str]  # of each layer: TOP, BOTTOM, INTERNAL …
    packages: dict[str, DrawnPackage]
    values: dict[str, str]  # by refdes, from the bill of materials
    makers: dict[str, str]  # manufacturer's part number by the design's
    unfitted: frozenset[str]


def _parts(root: Element, step: Element, file: str, unit_mm: float) -> tuple[tuple[ExchangedPart, ...], list[Problem]]:
    problems: list[Problem] = []
    sides = {layer.get("name"): _side_of_layer(layer) for layer in _named(root, "Layer")}
    packages, found = packages_of(step, file, unit_mm)
    problems += found
    if not packages:  # some exporters keep them in a step of their own
        for other in _named(root, "Step"):
            packages = packages or packages_of(other, file, unit_mm)[0]
    values, unfitted = _bill(root)
    context = _Context(file, unit_mm, sides, packages, values, _makers(root), unfitted)
    parts = []
    for component in step.children:
        if component.tag != "Component":
            continue
        part, found = _part(component, context)
        problems += found
        if part is not None:
            parts.append(part)
    return tuple(parts), problems


def _part(component: Element, context: _Context) -> tuple[ExchangedPart | None, list[Problem]]:
    refdes, layer = component.get("refDes"), component.get("layerRef")
    children = {child.tag: child for child in component.children}
    place, turn = children.get("Location"), children.get("Xform")
    x, y = number_of(place, "x"), number_of(place, "y")
    off_x, off_y = number_of(turn, "xOffset", 0.0), number_of(turn, "yOffset", 0.0)
    rotation = number_of(turn, "rotation", 0.0)
    said = context.sides.get(layer) or _side_of_name(layer)
    if said in ("INTERNAL", "INNER"):
        what = f"{refdes} lies inside the board (layer {layer!r}), where no camera sees it: it is left out"
        return None, [Problem("warning", context.file, component.line, what, "nothing, if it is embedded")]
    side: Side | None = "top" if said == "TOP" else "bottom" if said == "BOTTOM" else None
    problems = [
        Problem("error", context.file, component.line, f"{refdes} {what}", remedy)
        for bad, what, remedy in (
            (None in (x, y, off_x, off_y), "has no readable Location", "export its place"),
            (rotation is None, "has an unreadable rotation", "export it in degrees"),
            (side is None, f"lies on layer {layer!r}, whose side is not stated", "export layer sides"),
        )
        if bad
    ]
    if side is None or x is None or y is None or off_x is None or off_y is None or rotation is None:
        return None, problems
    xy_mm = (x + off_x) * context.unit_mm, (y + off_y) * context.unit_mm
    if max(map(abs, xy_mm)) > FARTHEST_MM:
        what = f"{refdes} lies out of range"
        return None, [Problem("error", context.file, component.line, what, "export its place again")]
    value = _own_value(component) or context.values.get(refdes, "")
    number = component.get("part")
    height = number_of(component, "height")
    part = ExchangedPart(
        refdes,
        xy_mm,
        rotation,
        side,
        component.line,
        component.get("packageRef"),
        value,
        context.makers.get(number) or number or value,
        fitted=refdes not in context.unfitted,
        drawn=context.packages.get(component.get("packageRef")),
        height_mm=None if not height or height < 0 else height * context.unit_mm,
    )
    return part, []


def _side_of_layer(layer: Element) -> str:
    """TOP, BOTTOM, INTERNAL … as the layer states it, else as its function or name says; blank where nothing does."""
    stated = layer.get("side").upper()
    if stated in ("TOP", "BOTTOM", "INTERNAL"):
        return stated
    return _side_of_name(layer.get("layerFunction")) or _side_of_name(layer.get("name"))


def _side_of_name(name: str) -> str:
    top = re.search(r"(?<![a-z])top|^F[._]", name, re.IGNORECASE) is not None
    bottom = re.search(r"(?<![a-z])bot(?:tom)?|^B[._]", name, re.IGNORECASE) is not None
    return "" if top == bottom else "TOP" if top else "BOTTOM"


def _own_value(component: Element) -> str:
    for element in component.walk():
        if element.tag in ("NonstandardAttribute", "Textual") and _name_of(element) in ("value", "val"):
            return element.get("value") or element.get("textualCharacteristicValue")
    return ""


def _name_of(element: Element) -> str:
    return (element.get("name") or element.get("textualCharacteristicName")).casefold()


def _bill(root: Element) -> tuple[dict[str, str], frozenset[str]]:
    """Values by designator, and the designators that are not populated, from the bill of materials."""
    values, unfitted = {}, set()
    for item in _named(root, "BomItem"):
        value = _own_value(item)
        for name in (child for child in item.children if child.tag == "RefDes"):
            if value:
                values[name.get("name")] = value
            if name.get("populate").casefold() in ("false", "0"):
                unfitted.add(name.get("name"))
    return values, frozenset(unfitted)


def _makers(root: Element) -> dict[str, str]:
    """The first manufacturer's part number of each design part, from the approved-vendor list."""
    found: dict[str, str] = {}
    for item in _named(root, "AvlItem"):
        number = next((part.get("name") for part in item.walk() if part.tag == "AvlMpn" and part.get("name")), "")
        if number:
            found.setdefault(item.get("OEMDesignNumber"), number)
    return found
