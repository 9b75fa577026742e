"""Through-hole parts placed by pin 1: their bodies moved by the pattern that the name tells, or named as doubtful."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from overlay.board.model import Component, Placement
from overlay.board.packages.words import labelled_mm, normal
from overlay.errors import Problem

# footprints of this way of naming are drawn from pin 1 in a widespread open library, and its exporter gives that point
_DRAWN_FROM_PIN_1 = re.compile(
    r"^(?:CP?|L|R|D)_(?:RADIAL|AXIAL|DISC|RECT)_|^(?:S?P?C?DIP)-\d+_W\d|^PIN(?:HEADER|SOCKET)_|^LED_D\d|"
    r"^TO-(?:92|126|220|247)\S*_(?:VERTICAL|HORIZONTAL|INLINE)|^CRYSTAL_HC\S*_VERTICAL|"
    r"_\dX\d\d_P\d\S*MM_(?:VERTICAL|HORIZONTAL)|^D_DO-\S*_P\d\S*MM_"
)
_CENTERED = re.compile(r"places from .*(?:mid|cent|ctr|body)", re.IGNORECASE)
_LEAST_MM = 0.4  # smaller moves are within what bodies and placements differ by
_ROWS = re.compile(r"^PIN(?:HEADER|SOCKET)_(?P<rows>[12])X(?P<count>\d\d)_P(?P<pitch>\d\.\d+)MM_VERTICAL")
_DUAL = re.compile(r"^S?P?C?DIP-(?P<pins>\d+)_W(?P<row>\d+\.\d+)MM")
_PAIR = re.compile(
    r"^(?:CP?|L|R|D)_(?:RADIAL|AXIAL|DISC|RECT|DO-)\S*?_P(?P<pitch>\d+(?:\.\d+)?)MM(?:_HORIZONTAL)?(?!_VERT)"
)
_INLINE = re.compile(r"^TO-(?P<type>220|126|247)-(?P<pins>[2-5])_VERTICAL")
_IN_A_ROW = {"220": 2.54, "126": 2.28, "247": 5.45}  # lead pitch, JEDEC (TO-126, TO-247 from memory)


def pattern_offset_mm(package: str) -> tuple[float, float] | None:
    """From pin 1 to the body's middle in the package's own axes, by what the name tells; None where it tells none.

    >>> pattern_offset_mm("PinHeader_1x04_P2.54mm_Vertical"), pattern_offset_mm("R_0603")
    ((0.0, -3.81), None)
    """
    name = normal(package)
    if match := _ROWS.match(name):
        pitch = float(match["pitch"])
        return (int(match["rows"]) - 1) * pitch / 2, -(int(match["count"]) - 1) * pitch / 2
    if match := _DUAL.match(name):
        return float(match["row"]) / 2, -(int(match["pins"]) / 2 - 1) * 2.54 / 2
    if (match := _PAIR.match(name)) and "VERTICAL" not in name:
        return float(match["pitch"]) / 2, 0.0
    if match := _INLINE.match(name):
        return (int(match["pins"]) - 1) * _IN_A_ROW[match["type"]] / 2, 0.0
    if re.match(r"^LED_D\d", name) and "HORIZONTAL" not in name:
        return (labelled_mm(name, "P") or 2.54) / 2, 0.0
    return None


def on_their_bodies(
    placement: Placement,
    components: Sequence[Component],
    file: str,
    overlaps: Callable[[Sequence[Component]], int],
) -> tuple[tuple[Component, ...], list[Problem]]:
    """Parts with their centres on their bodies, and one warning that says which were moved, or may have to be.

    Nothing is moved nor said where the columns that were read are named for the parts' centres.

    Parameters
    ----------
    overlaps
        Counts the pairs of bodies that lie on one another: parts are left where moving them makes more of those.
    """
    components = tuple(components)
    if any(_CENTERED.search(note) for note in placement.notes):
        return components, []
    moved = tuple(_moved(part) for part in components)
    changed = [part for part, before in zip(moved, components, strict=True) if part is not before]
    if changed and overlaps(moved) > overlaps(components):
        moved, changed = components, []
    problems = []
    if changed:
        what = f"through-hole parts taken as placed by pin 1, their bodies moved by their pattern: {_listed(changed)}"
        remedy = "compare one of them with the board; if they stand on their centres, name the columns Mid X and Mid Y"
        problems.append(Problem("warning", file, changed[0].line, what, remedy))
    return moved, problems + _doubtful([part for part in moved if part.placed_mm is None], file)


def _moved(part: Component) -> Component:
    offset = None if part.mechanical or part.body is None else pattern_offset_mm(part.package)
    if offset is None or math.hypot(*offset) < _LEAST_MM or part.placed_mm is not None:
        return part
    along, across = offset if part.side == "top" else (offset[0], -offset[1])  # seen through the board
    turn = math.radians(part.rotation_deg)
    x, y = part.center_mm
    center = (
        x + along * math.cos(turn) - across * math.sin(turn),
        y + along * math.sin(turn) + across * math.cos(turn),
    )
    return replace(part, center_mm=center, placed_mm=part.center_mm)


def _doubtful(parts: Iterable[Component], file: str) -> list[Problem]:
    doubtful = [part for part in parts if not part.mechanical and _DRAWN_FROM_PIN_1.search(normal(part.package))]
    if not doubtful:
        return []
    what = f"through-hole parts may be placed by pin 1 instead of their centre: {_listed(doubtful)}"
    remedy = "compare one of them with the board; if so, export the centres, or correct these rows"
    return [Problem("warning", file, doubtful[0].line, what, remedy)]


def _listed(parts: Sequence[Component]) -> str:
    return ", ".join(part.refdes for part in parts[:8]) + (f" and {len(parts) - 8} more" if len(parts) > 8 else "")
