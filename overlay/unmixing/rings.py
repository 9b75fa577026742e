"""A body as rings of vertices: bare top, end caps, walls or silhouette, bare pads and leads."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.board import anatomy
from overlay.registration.faces import ROUND_CORNERS
from overlay.registration.model import Face

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

TOP, CAP, HULL, PAD, LEAD_X, LEAD_Y, WALL = range(7)
"""What a ring is: bare top, end cap, silhouette of the whole body, pad, leads along ±x and ±y, side wall of a chip."""
GROUPS = 7  # the kinds of ring above
LEAST_LEAN_PX = 0.05  # walls narrower than this are not drawn
_ROUND = ROUND_CORNERS
_SWELL = math.sqrt(2.0 * math.pi / _ROUND / math.sin(2.0 * math.pi / _ROUND))  # of its corners, to the circle's area


@dataclass(frozen=True, slots=True, eq=False)
class Rings:
    """Vertices of all rings, flat; edge i runs from vertex i to vertex ``following[i]``.

    Place on the board: (sx·(1 − 2·cap·share)·length/2 + pad·factor + ox, sy·width/2 + oy) in the body's axes, at z.
    """

    body: Index
    group: Index
    sx: Array
    sy: Array
    cap: Array
    pad: Array  # mm, signed
    ox: Array  # mm
    oy: Array
    z: Array  # mm
    following: Index
    ring: Index
    hole: Mask

    def __post_init__(self) -> None:
        read_only(self)


def size_of(face: Face) -> tuple[float, float]:
    body = face.component.body
    if body is None:
        across = float(np.ptp(face.polygon_mm[:, 0]))
        return across, across
    return body.length_mm, body.length_mm if body.shape == "round" else body.width_mm


def is_round(face: Face) -> bool:
    return face.component.body is None or face.component.body.shape == "round"


# corners at either end of a body: two that stay there, and two that are moved inwards or outwards
_AT_END = {side: np.array([[side, -1.0], [side, 1.0], [side, 1.0], [side, -1.0]]) for side in (-1.0, 1.0)}

_Ring = tuple[int, Array, bool]  # group, (k, 7) of sx, sy, cap, pad, ox, oy, z, and whether it is a hole


def rings_of(face: Face, terminals: str, ends: bool) -> list[_Ring]:
    """Rings of one body, in any sense of turning."""
    z = face.z_mm
    circle = is_round(face)
    if circle:
        angle = 2.0 * math.pi * np.arange(_ROUND) / _ROUND
        corners = _SWELL * np.column_stack([np.cos(angle), np.sin(angle)])
    else:
        corners = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    rings: list[_Ring] = []
    if face.hidden_by:
        return _hidden_rings(face, ends)
    if ends:
        rings.append((TOP, _ring(corners, z, cap=1.0), False))
        for side in (-1.0, 1.0):
            cap = _ring(_AT_END[side], z)
            cap[2:, 2] = 1.0
            rings.append((CAP, cap, False))
    else:
        rings.append((TOP, _ring(corners, z), False))
    lean = (face.base_px - face.polygon_px).sum(axis=0) / len(face.polygon_px)
    if math.hypot(*lean) > LEAST_LEAN_PX:
        rings += _chip_walls(face, lean) if ends else [(HULL, _silhouette(face, corners, z), False)]
    body = face.component.body
    if ends and body is not None:
        long_px = face.polygon_px[1] - face.polygon_px[0]
        for side in (-1.0, 1.0):
            # a body that leans over its pad hides its inner part
            over = z if float(lean @ long_px) * side < 0 else 0.0
            pad = _ring(_AT_END[side], 0.0)
            pad[2:, 3] = side * anatomy.pad_mm(body.length_mm)
            pad[:2, 6] = over
            rings.append((PAD, pad, False))
    for axis, group, names in ((0, LEAD_X, ("leads_x", "leads_all")), (1, LEAD_Y, ("leads_y", "leads_all"))):
        if terminals in names:
            for side in (-1.0, 1.0):
                square = _AT_END[side]
                lead = _ring(square if axis == 0 else square[:, ::-1], 0.0)
                lead[2:, 4 + axis] = side * anatomy.LEAD_MM
                rings.append((group, lead, False))
    return rings


def _ring(corners: Array, z: float, cap: float = 0.0) -> Array:
    ring = np.zeros((len(corners), 7))
    ring[:, :2], ring[:, 2], ring[:, 6] = corners, cap, z
    return ring


def _chip_walls(face: Face, lean: Array) -> list[_Ring]:
    """The two walls of a chip that face the camera: metal at its ends, ceramic between them."""
    top = face.polygon_px
    end = 1.0 if lean @ (top[1] - top[0]) > 0 else -1.0
    side = 1.0 if lean @ (top[3] - top[0]) > 0 else -1.0

    def wall(group: int, *foot: tuple[float, float, float]) -> _Ring:
        ring = _wall(*foot).copy()
        ring[2:, 6] = face.z_mm
        return group, ring, False

    caps = [wall(CAP, (s, side, 0.0), (s, side, 1.0)) for s in (-1.0, 1.0)]
    return [wall(WALL, (-1.0, side, 1.0), (1.0, side, 1.0)), *caps, wall(CAP, (end, -1.0, 0.0), (end, 1.0, 0.0))]


@functools.cache
def _wall(one: tuple[float, float, float], other: tuple[float, float, float]) -> Array:
    """A wall's ring without a height, over a foot between two places (sx, sy, cap); boards have thousands alike."""
    ring = np.zeros((4, 7))
    ring[:, :3] = one, other, other, one
    return ring


def _silhouette(face: Face, corners: Array, z: float) -> Array:
    """Convex hull of top and foot as they are seen."""
    import shapely

    if is_round(face) and len(face.polygon_px) != len(corners):
        return _ring(corners, z)
    seen = np.concatenate([face.polygon_px, face.base_px])
    hull = shapely.get_coordinates(shapely.MultiPoint(seen).convex_hull)[:-1]
    which = np.argmin(((hull[:, None] - seen[None]) ** 2).sum(axis=2), axis=1)
    ring = _ring(corners[which % len(corners)], z)
    ring[which >= len(corners), 6] = 0.0
    return ring


def _hidden_rings(face: Face, ends: bool) -> list[_Ring]:
    """What is left to see of a partly hidden body, in offsets from its centre: it follows shift and pose only."""
    import shapely

    top = face.polygon_px
    parts: list[tuple[int, BaseGeometry]] = [(TOP, face.visible_px)]
    if ends:
        share = anatomy.CAP_SHARE
        low = [top[0] + share * (top[1] - top[0]), top[3] + share * (top[2] - top[3])]
        high = [top[1] - share * (top[1] - top[0]), top[2] - share * (top[2] - top[3])]
        ceramic = shapely.Polygon([low[0], high[0], high[1], low[1]])
        parts = [(TOP, face.visible_px & ceramic), (CAP, face.visible_px - ceramic)]
    # from pixels to the body's axes: affine about the top face
    if is_round(face):
        middle = top.mean(axis=0)
        quarter = len(top) // 4
        columns = np.stack([top[0] - middle, top[quarter] - middle], 1)
    else:
        middle = top.mean(axis=0)
        columns = np.stack([(top[1] + top[2] - top[0] - top[3]) / 4, (top[2] + top[3] - top[0] - top[1]) / 4], 1)
    inverse = np.linalg.inv(columns)
    half = np.array(size_of(face)) / 2.0 * (_SWELL if is_round(face) else 1.0)
    rings: list[_Ring] = []
    for group, shape in parts:
        for polygon in shapely.get_parts(shape):
            if polygon.geom_type != "Polygon" or polygon.area < 1e-6:
                continue
            for number, ring in enumerate((polygon.exterior, *polygon.interiors)):
                local = (shapely.get_coordinates(ring)[:-1] - middle) @ inverse.T * half
                rows = np.zeros((len(local), 7))
                rows[:, 4:6], rows[:, 6] = local, face.z_mm
                rings.append((group, rows, number > 0))
    return rings


def joined(drawn: list[list[_Ring]]) -> Rings:
    """All rings of all bodies, by body and kind of ring."""
    owned = [(i, *ring) for i, rings in enumerate(drawn) for ring in sorted(rings, key=lambda ring: ring[0])]
    sizes = np.array([len(ring) for _, _, ring, _ in owned], dtype=np.intp)
    number = np.repeat(np.arange(len(owned)), sizes)
    place = np.arange(len(number))
    first = np.cumsum(sizes) - sizes
    last = place == (first + sizes - 1)[number]
    sx, sy, cap, pad, ox, oy, z = np.concatenate([np.zeros((0, 7)), *(ring for _, _, ring, _ in owned)]).T
    return Rings(
        body=np.array([i for i, _, _, _ in owned], dtype=np.intp)[number],
        group=np.array([kind for _, kind, _, _ in owned], dtype=np.intp)[number],
        sx=sx,
        sy=sy,
        cap=cap,
        pad=pad,
        ox=ox,
        oy=oy,
        z=z,
        following=np.where(last, first[number], place + 1),
        ring=number,
        hole=np.array([hole for _, _, _, hole in owned], dtype=bool)[number],
    )
