"""A board's edge from DXF, through the optional ezdxf."""

from __future__ import annotations

import io
import math
from collections import Counter
from collections.abc import Iterator
from typing import Any

import numpy as np

from overlay.arrays import Array
from overlay.board.exchange.arcs import CHORD_ERROR_MM, arc_points, bulge_center, chords
from overlay.board.exchange.model import MM_OF_UNIT
from overlay.board.outline.strokes import Linework, Stroke
from overlay.errors import InputError, Problem, input_error

# drawing units by the header variable $INSUNITS, Autodesk DXF Reference (from memory)
_UNIT_MM = {
    1: 25.4,
    2: 304.8,
    4: 1.0,
    5: 10.0,
    6: 1000.0,
    8: 25.4e-6,
    9: 0.0254,
    13: 1e-3,
    14: 100.0,
}
_SOLIDS = ("REGION", "BODY", "3DSOLID", "SURFACE", "HATCH", "MPOLYGON", "SOLID", "TRACE", "MLINE")
_MOST_ENTITIES = 300_000  # a full drawing of a large board stays far below
_DEEPEST = 20  # blocks within blocks; people nest three or four


def read_dxf(data: bytes, file: str, units: str | None = None) -> Linework:
    """Read the lines of a DXF's model space; text, dimensions and hatches are passed over.

    Parameters
    ----------
    units
        For a drawing that states no unit itself.

    Raises
    ------
    InputError
        Where ezdxf is not installed, the file cannot be read, or nobody tells the unit.
    """
    try:
        from ezdxf import recover
        from ezdxf.document import Drawing as Document
        from ezdxf.lldxf.tagger import binary_tags_loader
    except ImportError:
        what = "is a DXF, and the library that reads it is not installed"
        raise input_error(file, None, what, "install it: pip install 'board-overlay[dxf]'; or export SVG") from None
    try:
        if data.startswith(b"AutoCAD Binary DXF"):
            document = Document.load(binary_tags_loader(data))
        else:
            document, _ = recover.read(io.BytesIO(data))
        code = int(document.header.get("$INSUNITS", 0))
        space = document.modelspace()
    except Exception as error:  # whatever a broken file makes the library raise
        raise input_error(file, None, f"cannot be read as DXF ({str(error)[:80]})", "export it again") from None
    if not data.rstrip(b"\0\x1a \t\r\n").endswith(b"EOF"):
        raise input_error(file, None, "ends without EOF and is cut off", "copy or export it again")
    unit_mm = _UNIT_MM.get(code, MM_OF_UNIT.get(units or "", 0.0))
    reader = _Reader(file, unit_mm or 1.0, document)
    strokes = list(reader.strokes(space))
    if not strokes:
        what = "draws no lines or arcs in its model space"
        solids = [kind.lower() for kind in _SOLIDS if reader.passed_over[kind]]
        if solids:
            what += f", only {', '.join(solids)}"
        reader.problem("error", what, "export the board's edge as lines, arcs or polylines")
    elif unit_mm == 0.0:
        reader.problem("error", *_no_unit(strokes, code))
    if units is not None and code in _UNIT_MM and abs(_UNIT_MM[code] / MM_OF_UNIT[units] - 1.0) > 1e-9:
        what = f"outline_units is {units}, but the drawing's unit is {_UNIT_MM[code]:g} mm ($INSUNITS {code})"
        reader.problem("error", what, "remove outline_units, or correct the drawing's unit and export it again")
    if any(problem.severity == "error" for problem in reader.problems):
        raise InputError(reader.problems)
    said = f"$INSUNITS {code}" if code in _UNIT_MM else f"units given as {units}"
    return Linework(tuple(strokes), f"DXF, {said}", None, tuple(reader.problems))


def _no_unit(strokes: list[Stroke], code: int) -> tuple[str, str]:
    points = np.concatenate([stroke.xy_mm for stroke in strokes])
    size = np.ptp(points, axis=0)
    what = (
        f"states no drawing unit ($INSUNITS {code}): {size[0]:.4g} × {size[1]:.4g} could be mm, "
        f"or inches ({size[0] * 25.4:.4g} × {size[1] * 25.4:.4g} mm)"
    )
    return what, 'state it with outline_units = "mm" (or um, mil, inch) in [board] of job.toml'


class _Reader:
    def __init__(self, file: str, unit_mm: float, document: Any) -> None:
        self.file, self.unit_mm, self.document = file, unit_mm, document
        self.problems: list[Problem] = []
        self.passed_over: Counter[str] = Counter()
        self.count = 0

    def problem(self, severity: str, what: str, remedy: str) -> None:
        self.problems.append(Problem("error" if severity == "error" else "warning", self.file, None, what, remedy))

    def strokes(self, space: Any) -> Iterator[Stroke]:
        for entity, layer in self._entities(space, None, 0):
            kind = entity.dxftype()
            try:
                lines = [line for line in self._lines(entity) if len(line) > 1]
            except Exception as error:  # one broken entity is one problem, whatever the library raises
                handle = entity.dxf.get("handle") or "?"
                what = f"{kind} #{handle} on layer {layer!r} cannot be read ({str(error)[:60]})"
                self.problem("error", what, "export the drawing again")
                continue
            for line in lines:
                xy = np.asarray(line, dtype=float)[:, :2] * self.unit_mm
                if not (np.isfinite(xy).all() and (np.abs(xy) < 1e7).all()):
                    self.problem("error", f"{kind} on layer {layer!r} lies out of range", "export the drawing again")
                    continue
                yield Stroke(xy, None, layer)

    def _entities(self, source: Any, inherited: str | None, depth: int) -> Iterator[tuple[Any, str]]:
        """Drawn entities with their layer; blocks are opened, and their layer 0 is that of the insertion."""
        for entity in source:
            self.count += 1
            if self.count > _MOST_ENTITIES or depth > _DEEPEST:
                if not any("too many" in problem.what for problem in self.problems):
                    self.problem("error", "holds too many entities", "export the board's edge alone")
                return
            layer = str(entity.dxf.get("layer", "0"))
            if layer == "0" and inherited is not None:
                layer = inherited
            if entity.dxf.get("invisible", 0) or self._hidden(layer):
                continue
            if entity.dxftype() != "INSERT":
                yield entity, layer
                continue
            try:
                copies = list(entity.multi_insert()) if entity.mcount > 1 else [entity]
                parts = [part for copy in copies for part in copy.virtual_entities()]
            except Exception as error:
                what = f"block {entity.dxf.get('name', '?')!r} cannot be read ({str(error)[:60]})"
                self.problem("error", what, "export the drawing without blocks")
                continue
            yield from self._entities(parts, layer, depth + 1)

    def _hidden(self, layer: str) -> bool:
        try:
            entry = self.document.layers.get(layer)
        except Exception:
            return False
        return bool(entry.is_off() or entry.is_frozen())

    def _lines(self, entity: Any) -> list[Any]:
        """Point lists of an entity, in the drawing's unit and world coordinates."""
        kind = entity.dxftype()
        if kind == "LINE":
            return [[tuple(entity.dxf.start), tuple(entity.dxf.end)]]
        if kind in ("ARC", "CIRCLE"):
            first, turn = 0.0, 360.0
            if kind == "ARC":
                first = float(entity.dxf.start_angle)
                turn = (float(entity.dxf.end_angle) - first) % 360.0 or 360.0
            radius = float(entity.dxf.radius)
            if radius <= 0:
                return []
            steps = chords(math.radians(turn), radius * self.unit_mm)
            points = [tuple(point) for point in entity.vertices(np.linspace(first, first + turn, steps + 1))]
            return [[*points[:-1], points[0]] if turn == 360.0 else points]
        if kind == "ELLIPSE":
            first, last = float(entity.dxf.start_param), float(entity.dxf.end_param)
            turn = (last - first) % math.tau
            turn = turn if turn > 1e-9 else math.tau
            steps = chords(turn, float(entity.dxf.major_axis.magnitude) * self.unit_mm)
            points = [tuple(point) for point in entity.vertices(np.linspace(first, first + turn, steps + 1))]
            return [[*points[:-1], points[0]] if turn == math.tau else points]
        if kind == "SPLINE":
            points = [tuple(point) for point in entity.flattening(CHORD_ERROR_MM / self.unit_mm, 4)]
            return [[*points, points[0]] if entity.closed else points]
        if kind == "LWPOLYLINE":
            flat = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
            return [self._polyline(flat, bool(entity.closed), entity, float(entity.dxf.elevation))]
        if kind == "POLYLINE" and not (entity.is_poly_face_mesh or entity.is_polygon_mesh):
            vertices = [v for v in entity.vertices if not v.dxf.get("flags", 0) & 16]  # 16: control point of a curve
            if entity.is_3d_polyline:
                points = [tuple(v.dxf.location) for v in vertices]
                return [[*points, points[0]] if entity.is_closed and points else points]
            flat = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in vertices]
            return [self._polyline(flat, bool(entity.is_closed), entity, 0.0)]
        self.passed_over[kind] += 1
        return []

    def _polyline(
        self, vertices: list[tuple[float, float, float]], closed: bool, entity: Any, elevation: float
    ) -> list[Any]:
        """Points of a polyline whose segments may be arcs, turned from its own plane into the world's."""
        if len(vertices) < 2:
            return []
        following = vertices[1:] + vertices[:1] if closed else vertices[1:]
        parts: list[Array] = []
        for start, end in zip(vertices, following, strict=False):
            if abs(start[2]) < 1e-9 or start[:2] == end[:2]:
                parts.append(np.array([start[:2], end[:2]]))
            else:
                center, turn = bulge_center(start, end, start[2])
                parts.append(arc_points(start[:2], end[:2], center, turn, self.unit_mm))
        flat = np.concatenate(parts)
        if tuple(entity.dxf.extrusion) == (0.0, 0.0, 1.0):
            return list(flat)
        return [tuple(point) for point in entity.ocs().points_to_wcs([(x, y, elevation) for x, y in flat])]
