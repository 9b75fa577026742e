"""The part of each top face that can be read: without metal ends, away from its edges, not hidden."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array, Index
from overlay.board.anatomy import CAP_SHARE, CAP_SHARE_U, PLACEMENT_U_MM, terminals_of
from overlay.registration.model import Face
from overlay.view.regions import Geometries

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
    area_mm2: float  # of the whole top face
    lean_px: float  # by how much its foot lies aside in the frame
    visible: Polygon  # as its face has it, mended where that crosses itself
    seen: Polygon  # visible and without metal ends
    ends: tuple[Polygon, ...]  # the metal ends; none on most parts
    silhouette: Polygon  # what the body hides of the board: the hull of its top face and its foot
    margin_px: float  # how far to keep from its edges, metal ends aside …
    shrink_px: float  # … and with what is uncertain of these


def tops_of(faces: Sequence[Face], blur_px: float) -> tuple[Top, ...]:
    """Prepare every face for a blur of the given full width at half maximum."""
    import shapely

    if not faces:
        return ()
    sides, scale, area, lean = _measures(faces)
    along, across, ends, capped = _metal_ends(faces)
    readable = np.sort(sides, axis=1)
    readable[capped] = np.sort(np.column_stack([along * (1.0 - 2.0 * CAP_SHARE), across]), axis=1)
    visible = shapely.make_valid(np.array([face.visible_px for face in faces], dtype=object))
    seen = visible.copy()
    caps = shapely.make_valid(shapely.multipolygons(ends)) if len(capped) else ends[:, 0]
    seen[capped] = shapely.difference(seen[capped], caps)
    margin = _margins(readable[:, 0], sides.max(axis=1), scale, blur_px) + HEIGHT_U_SHARE * lean
    # A metal end is less certain than a body's edge: its share of the length has a tolerance of its own.
    shrink = margin.copy()
    shrink[capped] += 2.0 * CAP_SHARE_U * along
    shrink = np.minimum(shrink, 0.45 * readable[:, 0])
    ends_of: list[tuple[Polygon, ...]] = [()] * len(faces)
    for i, pair in zip(capped.tolist(), ends, strict=True):
        ends_of[i] = tuple(pair)
    columns = (sides.min(axis=1), readable[:, 0], readable[:, 1], scale, area, lean)
    rows = zip(
        faces,
        *(column.tolist() for column in columns),
        visible,
        seen,
        ends_of,
        _silhouettes(faces),
        margin.tolist(),
        shrink.tolist(),
        strict=True,
    )
    return tuple(Top(*row) for row in rows)


def _silhouettes(faces: Sequence[Face]) -> Geometries:
    """The hull of each body's top face and foot."""
    import shapely

    corners = [corners for face in faces for corners in (face.polygon_px, face.base_px)]
    counts = np.array([len(one) for one in corners], dtype=np.intp).reshape(-1, 2).sum(axis=1)
    points = shapely.multipoints(np.concatenate(corners), indices=np.repeat(np.arange(len(faces)), counts))
    return np.asarray(shapely.convex_hull(points))


def inner_of(tops: Sequence[Top], least_px: float = 0.0) -> Geometries:
    """What is left of each top face (n,) away from its edges, in pixels; empty for those narrower than ``least_px``."""
    import shapely

    inner = np.array([top.seen for top in tops], dtype=object)
    wide = np.array([top.readable_px >= least_px for top in tops], dtype=bool)
    shrink = np.array([top.shrink_px for top in tops])
    inner[wide] = shapely.buffer(inner[wide], -shrink[wide], join_style="mitre")
    inner[~wide] = shapely.Polygon()
    return inner


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


def _measures(faces: Sequence[Face]) -> tuple[Array, Array, Array, Array]:
    """Sides (n, 2) in px, pixels per millimetre (n,), area (n,) in mm² and lean (n,) in px of all faces."""
    sides, (scale, area, lean) = np.empty((len(faces), 2)), np.empty((3, len(faces)))
    corners = np.array([len(face.polygon_px) for face in faces])
    for count in np.unique(corners):
        which = np.flatnonzero(corners == count).tolist()
        tops = np.array([faces[i].polygon_px for i in which])
        sides[which] = _sides(tops)
        area[which] = _areas(np.array([faces[i].polygon_mm for i in which]))
        scale[which] = np.sqrt(_areas(tops) / area[which])
        aside = (np.array([faces[i].base_px for i in which]) - tops).mean(axis=1)
        lean[which] = np.hypot(aside[:, 0], aside[:, 1])
    return sides, scale, area, lean


def _sides(polygons: Array) -> Array:
    """Two sides (n, 2) of projected rectangles (n, 4, 2); of any other shape its width across and along."""
    if polygons.shape[1] == 4:
        length = np.linalg.norm(np.roll(polygons, -1, axis=1) - polygons, axis=2)
        return np.asarray(0.5 * (length[:, :2] + length[:, 2:]))
    # second moments of the corners: a projected circle is an ellipse
    away = polygons - polygons.mean(axis=1, keepdims=True)
    spread = np.linalg.eigvalsh(away.transpose(0, 2, 1) @ away / polygons.shape[1])
    return np.asarray(2.0 * np.sqrt(2.0 * np.maximum(spread, 0.0)))


def _areas(rings: Array) -> Array:
    """Areas (n,) of rings (n, corners, 2)."""
    following = np.roll(rings, -1, axis=1)
    twice = rings[..., 0] * following[..., 1] - following[..., 0] * rings[..., 1]
    return np.asarray(np.abs(0.5 * twice.sum(axis=1)))


def _metal_ends(faces: Sequence[Face]) -> tuple[Array, Array, Geometries, Index]:
    """Of two-terminal chips length and width (k,) in px, metal ends (k, 2), and which of the faces they are (k,)."""
    import shapely

    chips = [
        i
        for i, face in enumerate(faces)
        if face.component.body is not None and len(face.polygon_px) == 4 and terminals_of(face.component) == "ends"
    ]
    which = np.array(chips, dtype=np.intp)
    on_board = np.array([faces[i].polygon_mm for i in which]).reshape(-1, 4, 2)
    turn = np.deg2rad([faces[i].component.rotation_deg for i in which])
    axis = np.column_stack([np.cos(turn), np.sin(turn)])
    # corners at the +x end of the package, and in the same order their neighbours at the −x end
    plus = np.einsum("nck,nk->nc", on_board - on_board.mean(axis=1, keepdims=True), axis) > 0.0
    told = plus.sum(axis=1) == 2
    which, plus = which[told], plus[told]
    near = np.argsort(~plus, axis=1, kind="stable")[:, :2]
    following = (near + 1) % 4
    far = np.where(np.take_along_axis(plus, following, axis=1), (near - 1) % 4, following)
    corners = np.array([faces[i].polygon_px for i in which]).reshape(-1, 4, 2)
    a, b = (np.take_along_axis(corners, end[..., None], axis=1) for end in (near, far))
    along = np.linalg.norm(a - b, axis=2).mean(axis=1)
    across = 0.5 * (np.linalg.norm(a[:, 0] - a[:, 1], axis=1) + np.linalg.norm(b[:, 0] - b[:, 1], axis=1))
    ends = [
        np.stack([p[:, 0], p[:, 1], p[:, 1] + CAP_SHARE * (q - p)[:, 1], p[:, 0] + CAP_SHARE * (q - p)[:, 0]], axis=1)
        for p, q in ((a, b), (b, a))
    ]
    return along, across, shapely.polygons(np.stack(ends, axis=1)), which
