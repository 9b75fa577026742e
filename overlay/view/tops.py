"""The part of each top face that can be read: without metal ends, away from its edges, not hidden."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array
from overlay.board.anatomy import CAP_SHARE, CAP_SHARE_U, PLACEMENT_U_MM, terminals_of
from overlay.registration.model import Face

if TYPE_CHECKING:
    from shapely import Polygon

# Short side from which a face is read directly, and below which it counts as small, in px.
LARGE_FROM_PX = 12.0
DIRECT_FROM_PX = 6.0
SMALL_BELOW_PX = 3.0
# How far a reading keeps from the edge: pixels for the blur (0.5 px of them for the pixel itself), and millimetres
# for placement and body tolerances. Too little costs kelvins beside hot walls, too much a tenth on a smooth face.
_MARGIN_PX = {"large": 2.5, "middle": 1.5, "little": 1.0}
_PLACEMENT_MM = 4.0 / 3.0 * PLACEMENT_U_MM  # nine parts in ten along an edge (tuned on simulated boards)
_BODY_TOLERANCE = 0.01  # of a side
HEIGHT_U_SHARE = 0.06
"""Of a height that a table or a package's name gives (common practice: nominal against greatest, 5 to 20 % apart)."""
_MARGIN_BLUR_PX = 1.3  # blur (full width at half maximum) for which the margins above are meant


@dataclass(frozen=True, slots=True, eq=False)
class Top:
    """One top face, prepared for reading. Polygons in pixels, empty where nothing is left."""

    face: Face
    short_px: float  # short side of the whole top face
    readable_px: float  # short side of what is left of it without metal ends …
    long_readable_px: float  # … and its long side
    px_per_mm: float
    seen: Polygon  # visible and without metal ends
    ends: tuple[Array, ...]  # the metal ends, (n, 2) each; none on most parts
    inner: Polygon  # what is left of ``seen`` away from its edges
    margin_px: float  # by how much it was shrunk


def tops_of(faces: Sequence[Face], blur_px: float) -> tuple[Top, ...]:
    """Prepare every face for a blur of the given full width at half maximum."""
    import shapely

    if not faces:
        return ()
    whole = [np.asarray(face.polygon_px, dtype=np.float64) for face in faces]
    sides = np.array([_sides(polygon) for polygon in whole])
    scale = np.array([_scale(face) for face in faces])
    ends = [_ends(face) for face in faces]
    readable = np.sort(sides, axis=1)
    for i, cut in enumerate(ends):
        if cut:
            readable[i] = sorted((_length_px(faces[i]) * (1.0 - 2.0 * CAP_SHARE), _width_px(faces[i])))
    visible = np.array([face.visible_px for face in faces], dtype=object)
    caps = np.array([shapely.MultiPolygon([shapely.Polygon(end) for end in cut]) for cut in ends], dtype=object)
    seen = shapely.difference(shapely.make_valid(visible), shapely.make_valid(caps))
    margin = _margins(readable[:, 0], sides.max(axis=1), scale, blur_px)
    margin = margin + HEIGHT_U_SHARE * np.array([lean_px(face) for face in faces])
    # A metal end is less certain than a body's edge: its share of the length has a tolerance of its own.
    spread = np.array(
        [2.0 * CAP_SHARE_U * _length_px(face) if cut else 0.0 for face, cut in zip(faces, ends, strict=True)]
    )
    inner = shapely.buffer(seen, -np.minimum(margin + spread, 0.45 * readable[:, 0]), join_style="mitre")
    return tuple(
        Top(
            face=faces[i],
            short_px=float(sides[i].min()),
            readable_px=float(readable[i, 0]),
            long_readable_px=float(readable[i, 1]),
            px_per_mm=float(scale[i]),
            seen=seen[i],
            ends=ends[i],
            inner=inner[i],
            margin_px=float(margin[i]),
        )
        for i in range(len(faces))
    )


def lean_px(face: Face) -> float:
    """By how much a body's foot and its top face lie apart in the frame."""
    return float(np.linalg.norm((face.base_px - face.polygon_px).mean(axis=0)))


def _margins(readable: Array, long_side: Array, scale: Array, blur_px: float) -> Array:
    """How far to keep from the edge, in px."""
    base = np.where(
        readable >= LARGE_FROM_PX,
        _MARGIN_PX["large"],
        np.where(readable >= DIRECT_FROM_PX, _MARGIN_PX["middle"], _MARGIN_PX["little"]),
    )
    wider = max(0.0, blur_px - _MARGIN_BLUR_PX)
    return np.asarray(base + wider + scale * _PLACEMENT_MM + _BODY_TOLERANCE * long_side)


def _sides(polygon: Array) -> tuple[float, float]:
    """Two sides of a projected rectangle; for any other shape its width across and along."""
    if len(polygon) == 4:
        length = np.linalg.norm(np.roll(polygon, -1, axis=0) - polygon, axis=1)
        return 0.5 * (length[0] + length[2]), 0.5 * (length[1] + length[3])
    # second moments of the corners: a projected circle is an ellipse
    spread = np.linalg.eigvalsh(np.cov(polygon.T, bias=True))
    short, long = 2.0 * np.sqrt(2.0 * np.maximum(spread, 0.0))
    return float(short), float(long)


def _scale(face: Face) -> float:
    """Pixels per millimetre on the face: the root of the ratio of its areas."""
    return float(np.sqrt(_area(face.polygon_px) / _area(face.polygon_mm)))


def _area(ring: Array) -> float:
    following = np.roll(ring, -1, axis=0)
    return float(abs(0.5 * np.sum(ring[:, 0] * following[:, 1] - following[:, 0] * ring[:, 1])))


def _along(face: Face) -> Array:
    """Which corners lie at the +x end of the package (True) and which at the −x end, shape (4,)."""
    angle = np.deg2rad(face.component.rotation_deg)
    axis = np.array([np.cos(angle), np.sin(angle)])
    return np.asarray((face.polygon_mm - np.mean(face.polygon_mm, axis=0)) @ axis > 0.0)


def _partners(face: Face) -> tuple[Array, Array]:
    """The two corners at the +x end and, in the same order, their neighbours at the −x end, in px."""
    plus = _along(face)
    corners = [i for i in range(4) if plus[i]]
    other = [(i + 1) % 4 if not plus[(i + 1) % 4] else (i - 1) % 4 for i in corners]
    return face.polygon_px[corners], face.polygon_px[other]


def _length_px(face: Face) -> float:
    """Extent of a rectangular face along the package's x axis."""
    near, far = _partners(face)
    return float(np.linalg.norm(near - far, axis=1).mean())


def _width_px(face: Face) -> float:
    near, far = _partners(face)
    return float(0.5 * (np.linalg.norm(near[0] - near[1]) + np.linalg.norm(far[0] - far[1])))


def _ends(face: Face) -> tuple[Array, ...]:
    """The metal ends of a two-terminal chip as quadrilaterals in px; none for any other body."""
    body = face.component.body
    if body is None or terminals_of(face.component) != "ends" or len(face.polygon_px) != 4 or _along(face).sum() != 2:
        return ()
    near, far = _partners(face)
    return tuple(
        np.array([a[0], a[1], a[1] + CAP_SHARE * (b[1] - a[1]), a[0] + CAP_SHARE * (b[0] - a[0])])
        for a, b in ((near, far), (far, near))
    )
