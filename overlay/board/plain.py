"""A board from plain values, without any file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np

from overlay.board.bodies import body_from_package
from overlay.board.kinds import kind_of
from overlay.board.model import Board, Body, Component, Outline, Rating
from overlay.board.outline.read import outline_from_bodies

_BODY = ("length_mm", "width_mm", "height_mm", "shape")
_RATING = tuple(field.name for field in fields(Rating) if field.name not in ("line", "further", "limit_at_stated"))
_PLACE = ("refdes", "x_mm", "y_mm", "rotation_deg", "side", "package", "value", "part_number")
_KNOWN = tuple(dict.fromkeys((*_PLACE, *_BODY, *_RATING)))


def board_of(parts: Iterable[Mapping[str, Any]], outline_mm: Any = None, *, name: str = "") -> Board:
    """A board from one mapping a part.

    Parameters
    ----------
    parts
        ``refdes``, ``x_mm``, ``y_mm`` each; then, where known, ``rotation_deg``, ``side``, ``package``, ``value``,
        ``part_number``, the body (``length_mm``, ``width_mm``, ``height_mm``, ``shape``; else what the package's
        name tells), and the columns of a parts table (``limit_c``, ``limit_at``, ``emissivity``, ``kind`` …).
    outline_mm : (n, 2), optional
        Corners of the board's edge; without it the hull of the bodies.

    Raises
    ------
    ValueError
        If a mapping lacks a place or has a key that is not known.

    Examples
    --------
    >>> board = board_of([{"refdes": "R1", "x_mm": 10.0, "y_mm": 5.0, "package": "R1206", "limit_c": 155.0}])
    >>> board.component("R1").body.length_mm
    3.2
    """
    import shapely

    components = tuple(_component(index, part) for index, part in enumerate(parts, start=1))
    if outline_mm is None:
        outline = outline_from_bodies(components)
    else:
        outline = Outline(shapely.Polygon(np.asarray(outline_mm, dtype=np.float64)), "given corners")
    return Board(name, "", components, outline, Path("parts in memory"), "mm", "given in millimetres")


def _component(number: int, part: Mapping[str, Any]) -> Component:
    lacking = [key for key in _PLACE[:3] if key not in part]
    unknown = [key for key in part if key not in _KNOWN]
    if lacking or unknown:
        wrong = [f"lacks {', '.join(lacking)}"] if lacking else []
        wrong += [f"has the unknown key {', '.join(map(repr, unknown))}"] if unknown else []
        known = ", ".join(_KNOWN)
        raise ValueError(f"part {number} ({part.get('refdes', '?')}) {' and '.join(wrong)}; known keys are {known}")
    rating = {key: part[key] for key in _RATING if key in part}
    package, value = str(part.get("package", "")), str(part.get("value", ""))
    component = Component(
        refdes=str(part["refdes"]),
        center_mm=(float(part["x_mm"]), float(part["y_mm"])),
        rotation_deg=float(part.get("rotation_deg", 0.0)),
        side=part.get("side", "top"),
        package=package,
        value=value,
        part_number=str(part.get("part_number", value)),
        mechanical=False,
        line=number,
        body=_body(part, package),
        rating=Rating(number, **rating) if rating else None,
    )
    return replace(component, kind=str(part.get("kind", "")) or kind_of(component))


def _body(part: Mapping[str, Any], package: str) -> Body | None:
    if "length_mm" not in part:
        return body_from_package(package)
    height = part.get("height_mm")
    length = float(part["length_mm"])
    return Body(
        length_mm=length,
        width_mm=float(part.get("width_mm", length)),
        height_mm=None if height is None else float(height),
        source="given size",
        shape=part.get("shape", "box"),
    )
