"""IPC-2581: the parts, the profile and the package outlines of one step.

Sources: fixtures of public readers of revisions B1 and C, and revision C's change list; the attributes of curves,
cut-outs, the bill of materials and the approved-vendor list are from memory.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array
from overlay.board.exchange.arcs import arc_points, sweep
from overlay.board.exchange.model import MM_OF_UNIT, DrawnPackage, Exchange, ExchangedPart
from overlay.board.exchange.xml import Element, read_xml
from overlay.board.model import Side
from overlay.errors import InputError, Problem, input_error

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

_UNITS = {"MILLIMETER": "mm", "MICRON": "um", "INCH": "inch"}
# copper, drawings and nets, the bulk of a file: nothing of them is asked for
_PASSED_OVER = frozenset(
    (
        *("LayerFeature", "PhyNetGroup", "LogicalNet", "PadStackDef", "PadStack", "LandPattern", "SilkScreen"),
        *("AssemblyDrawing", "Pin", "DictionaryColor", "DictionaryLineDesc", "DictionaryFillDesc"),
        *("DictionaryStandard", "DictionaryUser", "HistoryRecord"),
    )
)
_FARTHEST_MM = 1e7  # no board lies ten kilometres away: such a number is a fault of the file


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
        return replace(exchange, edge=_edge(profile, file, unit_mm))
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
    packages, found = _packages(step, file, unit_mm)
    problems += found
    if not packages:  # some exporters keep them in a step of their own
        for other in _named(root, "Step"):
            packages = packages or _packages(other, file, unit_mm)[0]
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
    x, y = _number(place, "x"), _number(place, "y")
    off_x, off_y = _number(turn, "xOffset", 0.0), _number(turn, "yOffset", 0.0)
    rotation = _number(turn, "rotation", 0.0)
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
    if max(map(abs, xy_mm)) > _FARTHEST_MM:
        what = f"{refdes} lies out of range"
        return None, [Problem("error", context.file, component.line, what, "export its place again")]
    value = _own_value(component) or context.values.get(refdes, "")
    number = component.get("part")
    height = _number(component, "height")
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


def _number(element: Element | None, name: str, default: float | None = None) -> float | None:
    if element is None or not element.get(name):
        return default
    try:
        value = float(element.get(name))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


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


def _packages(step: Element, file: str, unit_mm: float) -> tuple[dict[str, DrawnPackage], list[Problem]]:
    found: dict[str, DrawnPackage] = {}
    problems = []
    for package in (child for child in step.children if child.tag == "Package"):
        outline = next((child for child in package.children if child.tag == "Outline"), None)
        rings = [] if outline is None else [each for each in outline.children if each.tag == "Polygon"]
        try:
            points = [ring for each in rings if len(ring := ring_mm(each, unit_mm)) > 2]
        except (ValueError, OverflowError):
            what = f"the outline of package {package.get('name')!r} cannot be read"
            problems.append(Problem("warning", file, package.line, what, "its body is taken from elsewhere"))
            continue
        if not points:
            continue
        corners = np.concatenate(points)
        (west, south), (east, north) = corners.min(axis=0), corners.max(axis=0)
        if east - west < 1e-6 or north - south < 1e-6:
            continue
        height = _number(package, "height")
        found[package.get("name")] = DrawnPackage(
            float(east - west),
            float(north - south),
            (float(west + east) / 2, float(south + north) / 2),
            height * unit_mm if height is not None and height > 0 else None,
            f"{file}, line {package.line}",
        )
    return found, problems


def _edge(profile: Element, file: str, unit_mm: float) -> Polygon | MultiPolygon:
    import shapely

    outer: list[object] = []
    cut: list[object] = []
    errors: list[Problem] = []
    for child in profile.children:
        if child.tag in ("Polygon", "Cutout"):
            try:
                ring = ring_mm(child, unit_mm)
            except (ValueError, OverflowError):
                what = f"<{child.tag}> of the profile cannot be read"
                errors.append(Problem("error", file, child.line, what, "export it again"))
                continue
            shape = shapely.make_valid(shapely.Polygon(ring)) if len(ring) > 3 else shapely.Polygon()
            (outer if child.tag == "Polygon" else cut).append(shape)
    if errors:
        raise InputError(errors)
    area = shapely.union_all(outer).difference(shapely.union_all(cut))
    parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]
    if not parts:
        raise input_error(file, profile.line, "its profile encloses nothing", "export it with the board's profile")
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def ring_mm(polygon: Element, unit_mm: float) -> Array:
    """Points of a polygon, shape (n, 2), in mm; ValueError where a coordinate cannot be read."""
    parts: list[Array] = []
    at: Sequence[float] | None = None
    for child in polygon.children:
        if child.tag == "PolyBegin":
            at = _point(child, "x", "y", unit_mm)
        elif child.tag in ("PolyStepSegment", "PolyStepCurve"):
            end = _point(child, "x", "y", unit_mm)
            if at is None:
                raise ValueError("a polygon without its beginning")
            if child.tag == "PolyStepSegment":
                parts.append(np.array([at, end]))
            else:
                center = _point(child, "centerX", "centerY", unit_mm)
                clockwise = child.get("clockwise").lower() in ("true", "1")
                parts.append(arc_points(at, end, center, sweep(at, end, center, clockwise=clockwise)))
            at = end
    return np.concatenate(parts) if parts else np.zeros((0, 2))


def _point(element: Element, x: str, y: str, unit_mm: float) -> tuple[float, float]:
    values = float(element.get(x)) * unit_mm, float(element.get(y)) * unit_mm
    if not max(map(abs, values)) < _FARTHEST_MM:
        raise ValueError("out of range")
    return values
