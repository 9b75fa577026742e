"""The board's edge from SVG, a Gerber profile, DXF or an interchange file, or from the bodies where none is given."""

from __future__ import annotations

import gzip
import io
import re
import zlib
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from overlay.apart import run_apart
from overlay.arrays import Array
from overlay.board.exchange.idf import is_idf
from overlay.board.exchange.read import read_exchange
from overlay.board.model import Component, Outline
from overlay.board.outline.layers import choose_layers
from overlay.board.outline.rings import edge_of, edge_round
from overlay.board.outline.strokes import Linework, Stroke
from overlay.errors import InputError, Problem, input_error, raise_errors
from overlay.tables import read_bytes

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

BODY_MARGIN_MM = 1.0  # common practice: copper and parts keep about this distance from the edge
_MOST_BYTES = 50_000_000  # ten times the largest drawings of whole boards met
_LARGE_BYTES = 100_000  # an edge alone is a tenth of that
_IN_CUT_OUTS = 0.6  # of the parts: what was taken for a cut-out is the board
_MOST_MM = 5_000.0  # no board is larger: a wrong unit


def read_outline(
    path: Path,
    file: str,
    shift_mm: tuple[float, float] = (0.0, 0.0),
    *,
    units: str | None = None,
    step: str | None = None,
    parts_mm: Array | None = None,
) -> tuple[Outline | None, list[Problem]]:
    """Read a board's edge, in millimetres with y up.

    The format is told by the content: SVG (also gzipped), Gerber, DXF (needs the optional ezdxf), IPC-2581 or IDF.

    Parameters
    ----------
    path, file
        Where it lies, and its name for messages.
    shift_mm
        Added to the coordinates.
    units
        ``mm``, ``um``, ``mil`` or ``inch`` for a drawing that does not say it itself; one that does is not overruled.
    step
        Which board of an IPC-2581 document that holds several.
    parts_mm : array of float, shape (n, 2)
        Where the board's parts lie: of a file that holds a whole drawing, the contour round them is the edge.

    Returns
    -------
    The outline, or None where an error stands among the problems; whatever the bytes are, nothing is raised.
    """
    try:
        data = read_bytes(path, file)
        more = (path, file, shift_mm, units, step, parts_mm)
        if _is_watched(data):
            return run_apart(_outline_in, data, *more, file=file, remedy="export the board's edge alone")
        return _outline_in(data, *more)
    except InputError as error:
        return None, list(error.problems)


def _is_watched(data: bytes) -> bool:
    """Whether reading may take any time: what is large, packed, repeats itself, or is read by a foreign library."""
    large = len(data) > _LARGE_BYTES and not is_idf(data)
    repeats = any(word in data for word in (b"<use", b":use", b"%SR", b"BLOCK", b"INSERT", b"ENTITIES"))
    return large or repeats or data[:2] == b"\x1f\x8b" or data.startswith(b"AutoCAD Binary DXF")


def _outline_in(
    data: bytes,
    path: Path,
    file: str,
    shift_mm: tuple[float, float],
    units: str | None,
    step: str | None,
    parts_mm: Array | None,
) -> tuple[Outline | None, list[Problem]]:
    drawing = _drawing(data, path, file, units, step)
    problems = list(drawing.problems)
    if any(problem.severity == "error" for problem in problems):
        return None, problems
    drawing, found = choose_layers(drawing, file, lambda strokes: _closes(strokes, file))
    problems += found
    edge, found = edge_of(drawing, file)
    if parts_mm is not None and (edge is None or _mostly_in_cut_outs(edge, parts_mm - shift_mm)):
        by_parts = edge_round(drawing, parts_mm - shift_mm, file)
        edge, found = (by_parts[0], [by_parts[1]]) if by_parts is not None else (edge, found)
    problems += found
    if edge is None:
        return None, problems
    west, south, east, north = edge.bounds
    if max(east - west, north - south) > _MOST_MM:
        what = f"the contour measures {east - west:.4g} × {north - south:.4g} mm, more than any board"
        return None, [*problems, Problem("error", file, None, what, "correct the drawing's units or its contour")]
    return shifted(edge, f"{file} ({drawing.source})", shift_mm), problems


def shifted(edge: Polygon | MultiPolygon, source: str, shift_mm: tuple[float, float]) -> Outline:
    """The edge in the placements' frame."""
    from shapely.affinity import translate

    return Outline(translate(edge, *shift_mm) if any(shift_mm) else edge, source)


def outline_from_bodies(components: Iterable[Component]) -> Outline:
    """The hull of all parts' bodies on both sides, 1 mm wider, where nobody gave an outline.

    Parts of unknown size count by their centre. No parts at all: a disc of 1 mm round the origin.
    """
    import shapely

    corners = [_corners(component) for component in components if not component.mechanical]
    points = np.concatenate(corners) if corners else np.zeros((1, 2))
    hull = shapely.MultiPoint(points).convex_hull
    return Outline(hull.buffer(BODY_MARGIN_MM, quad_segs=16), "the hull of the bodies", from_bodies=True)


def _corners(component: Component) -> Array:
    center: Array = np.asarray(component.center_mm, dtype=float)
    body = component.body
    if body is None:
        return center[None, :]
    if body.shape == "round":
        angle = np.linspace(0.0, 2 * np.pi, 32, endpoint=False)
        rim: Array = center + body.length_mm / 2 * np.column_stack([np.cos(angle), np.sin(angle)])
        return rim
    turn = np.radians(component.rotation_deg)
    x = np.array([1, 1, -1, -1]) * body.length_mm / 2
    y = np.array([1, -1, -1, 1]) * body.width_mm / 2
    cos, sin = np.cos(turn), np.sin(turn)
    corners: Array = center + np.column_stack([x * cos - y * sin, x * sin + y * cos])
    return corners


def _mostly_in_cut_outs(edge: Polygon | MultiPolygon, parts_mm: Array) -> bool:
    import shapely

    x, y = parts_mm.T
    filled = shapely.union_all([shapely.Polygon(part.exterior) for part in shapely.get_parts(edge)])
    within = shapely.contains_xy(filled, x, y)
    return bool(within.any() and (within & ~shapely.contains_xy(edge, x, y)).mean() > _IN_CUT_OUTS)


def _closes(strokes: Sequence[Stroke], file: str) -> bool:
    edge, _ = edge_of(Linework(tuple(strokes), ""), file)
    return edge is not None


def _drawing(data: bytes, path: Path, file: str, units: str | None, step: str | None) -> Linework:
    """Read by the format that the content shows; InputError where it shows none."""
    if data[:2] == b"\x1f\x8b":
        data = _unpacked(data, file)
    if not data.strip():
        raise input_error(file, None, "is empty", "export the outline again")
    if len(data) > _MOST_BYTES:
        raise input_error(file, None, "is larger than 50 MB", "export the board's edge alone")
    exchange = read_exchange(data, file, path, step)
    if exchange is None:
        return _reader(data, path.suffix.lower(), file, units)()
    raise_errors(exchange.edge_problems)
    if exchange.edge is None:
        raise input_error(file, None, "holds no profile of a board", "export it with the board's profile")
    return Linework((), exchange.source, exchange.edge)


def _reader(data: bytes, suffix: str, file: str, units: str | None) -> Callable[[], Linework]:
    head = data[:4096]
    plain = head.replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n").lower()
    if data.startswith(b"AutoCAD Binary DXF") or re.match(rb"(999\s+[^\n]*\n\s*)*0\s+section", plain):
        return lambda: _dxf(data, file, units)
    if plain.startswith(b"<"):
        whole = data.replace(b"\0", b"").lower() if len(data) < 20_000_000 else plain
        if re.search(rb"<([\w-]+:)?svg[\s>/]", plain) or re.search(rb"<([\w-]+:)?svg[\s>/]", whole):
            return lambda: _svg(data, file, units)
        raise input_error(
            file, None, "is XML, but neither SVG nor IPC-2581", "export the outline as SVG, Gerber or DXF"
        )
    if plain.startswith(b"m48") or b"\nm48" in plain:
        raise input_error(file, None, "is a drill file", "give the board's edge: an SVG, a Gerber profile or a DXF")
    if plain.startswith((b"%pdf", b"%!ps")) or data.startswith((b"PK\x03\x04", b"\x89PNG", b"AC10")):
        kind = {b"%P": "PDF", b"%!": "PostScript", b"PK": "an archive", b"\x89P": "a picture"}.get(data[:2], "DWG")
        raise input_error(file, None, f"is {kind}, not an outline", "export the board's edge as SVG, Gerber or DXF")
    if re.search(rb"%\s*(fs|mo|ad|am|tf|lp|ln|in|as|sr|of|sf|mi|ip|ir)|\*\s*(%|[\r\n])|^g0?4[^\r\n]*\*", plain):
        return lambda: _gerber(data, file)
    if suffix == ".dxf":
        return lambda: _dxf(data, file, units)
    raise input_error(
        file, None, "is neither SVG, Gerber, DXF, IPC-2581 nor IDF", "export the board's edge as SVG, Gerber or DXF"
    )


def _unpacked(data: bytes, file: str) -> bytes:
    try:
        with gzip.open(io.BytesIO(data)) as stream:
            return stream.read(_MOST_BYTES + 1)
    except (OSError, EOFError, zlib.error) as error:
        raise input_error(file, None, f"cannot be unpacked ({error})", "export the outline again") from None


# the readers are imported when needed: each brings a library that takes time to start
def _svg(data: bytes, file: str, units: str | None) -> Linework:
    from overlay.board.outline.svg import read_svg

    return read_svg(data, file, units=units)


def _gerber(data: bytes, file: str) -> Linework:
    from overlay.board.outline.gerber import read_gerber

    return read_gerber(data, file)


def _dxf(data: bytes, file: str, units: str | None) -> Linework:
    from overlay.board.outline.dxf import read_dxf

    return read_dxf(data, file, units)
