"""A board as the page draws it: rings in mm, corners and holes to point at, and all of it seen through a fit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from overlay.board.model import Board, Component, Side
from overlay.frames.frame import Array
from overlay.probes.place import pin_1_corner_mm
from overlay.registration.faces import face_polygon
from overlay.report.board_map import outline_rings

_CORNER_DEG = 20.0  # the edge turns by more: a corner to point at
_EDGE_MM = 1.0  # edges shorter than this belong to a curve
NOWHERE = -(2**31)  # stands for a coordinate that is not seen, in lists of integers


@dataclass(frozen=True, slots=True, eq=False)
class SideShapes:
    """Rings of one side in a fixed order, as one array of corners."""

    refdes: tuple[str, ...]  # of the bodies; the outline's rings follow without a name
    sizes: tuple[int, ...]  # corners of each ring
    corners_mm: Array  # (n, 3)

    def through(self, pixels: Callable[[Array], Array]) -> list[int]:
        """All corners in hundredths of a pixel: x, y, x, y, …"""
        uv_px = pixels(self.corners_mm)
        far = ~np.isfinite(uv_px) | (np.abs(uv_px) > 1e6)
        cells = np.rint(np.where(far, 0.0, uv_px) * 100.0).astype(np.int64)
        cells[far] = NOWHERE
        return [int(cell) for cell in cells.ravel()]


def side_shapes(board: Board, side: Side) -> SideShapes:
    """Top faces of a side at their heights, then the board's outline on the surface."""
    parts = [part for part in board.components if part.side == side and (part.body is not None or not part.mechanical)]
    rings = [_at_height(face_polygon(part), part.height_mm or 0.0) for part in parts]
    rings += [_at_height(ring[:-1], 0.0) for ring in outline_rings(board)]
    sizes = tuple(len(ring) for ring in rings)
    return SideShapes(tuple(part.refdes for part in parts), sizes, np.concatenate(rings) if rings else np.zeros((0, 3)))


def _at_height(ring: Array, z_mm: float) -> Array:
    return np.column_stack([ring, np.full(len(ring), z_mm)])


@dataclass(frozen=True, slots=True)
class Landmark:
    """A corner or hole of the board that can be found in a frame."""

    kind: str
    board_mm: tuple[float, float]

    @property
    def name(self) -> str:
        """How the page calls it."""
        return f"{self.kind} ({self.board_mm[0]:g}, {self.board_mm[1]:g}) mm"


def landmarks(board: Board) -> tuple[Landmark, ...]:
    """Sharp corners of the outline and the middles of its holes, rounded to a hundredth of a millimetre."""
    polygon = board.outline.polygon
    pieces = [polygon] if polygon.geom_type == "Polygon" else list(polygon.geoms)
    found = []
    for piece in pieces:
        if piece.is_empty:
            continue
        if not board.outline.from_bodies:
            ring = np.asarray(piece.exterior.simplify(0.02).coords)[:-1]
            found += [Landmark("corner", _rounded(corner)) for corner in _corners(ring)]
        for hole in piece.interiors:
            middle = hole.envelope.centroid
            found.append(Landmark("hole", _rounded(np.array([middle.x, middle.y]))))
    return tuple(dict.fromkeys(found))


def _corners(ring: Array) -> Array:
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    turn = np.degrees(
        np.abs(np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1)))
    )
    long = np.minimum(np.hypot(*before.T), np.hypot(*after.T)) > _EDGE_MM
    return np.asarray(ring[(turn > _CORNER_DEG) & long])


def _rounded(point: Array) -> tuple[float, float]:
    return round(float(point[0]), 2), round(float(point[1]), 2)


def board_json(board: Board) -> dict[str, Any]:
    """The board for the page's drawing."""
    return {
        "name": f"{board.name} {board.revision}".strip(),
        "outline": [[_cells(corner) for corner in ring] for ring in outline_rings(board)],
        "bounds": [float(value) for value in _bounds(board)],
        "parts": [
            {
                "refdes": part.refdes,
                "side": part.side,
                "kind": part.kind,
                "package": part.package,
                "center": _cells(np.array(part.center_mm)),
                "ring": [_cells(corner) for corner in face_polygon(part)],
                "known": part.body is not None,
                "height": part.height_mm,
                "pin_1": _pin_1(part),
                "mechanical": part.mechanical,
            }
            for part in board.components
        ],
        "landmarks": [
            {"kind": mark.kind, "name": mark.name, "center": list(mark.board_mm)} for mark in landmarks(board)
        ],
        "sides": {
            side: {"refdes": shapes.refdes, "sizes": shapes.sizes}
            for side in ("top", "bottom")
            for shapes in [side_shapes(board, side)]
        },
    }


def _pin_1(part: Component) -> int | None:
    """Which corner of a part's ring is at pin 1; None where the package does not tell."""
    corner = pin_1_corner_mm(part)
    if corner is None:
        return None
    return int(np.argmin(np.hypot(*(face_polygon(part) - corner).T)))


def _bounds(board: Board) -> Array:
    points = np.vstack([*outline_rings(board), *(face_polygon(part) for part in board.components)])
    low, high = points.min(axis=0), points.max(axis=0)
    return np.concatenate([low, high])


def _cells(point: Array) -> list[float]:
    return [round(float(point[0]), 3), round(float(point[1]), 3)]
