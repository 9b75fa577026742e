"""Bodies of a frame as rings of vertices that follow the unknowns of the unmixing.

Each body is drawn as rings: its ceramic, its end caps, its silhouette (top face and walls), bare pads and leads. A
vertex knows how it moves with the body's length and width, the caps' share, the pads' length and the pose.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.frames.frame import Array
from overlay.reading import unmixing_priors as priors
from overlay.reading.model import View
from overlay.reading.unmixing_masks import Index, Mask
from overlay.registration.faces import ROUND_CORNERS
from overlay.registration.fit import UNKNOWN_HEIGHT_U_MM
from overlay.registration.model import Face
from overlay.registration.project import board_jacobian, camera_jacobian, pixels_from_board, projection_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

TOP, CAP, HULL, PAD, LEAD_X, LEAD_Y = range(6)
"""What a ring is: ceramic top, end cap, silhouette of the whole body, pad, leads along ±x, leads along ±y."""
GROUPS = 6
LEAST_LEAN_PX = 0.05  # walls narrower than this are not drawn
OWN_WALL_PX = 0.7  # walls wider than this have a temperature of their own
LEAST_AREA_PX = 0.02
LEAST_VISIBLE = 0.03
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


@dataclass(frozen=True, slots=True, eq=False)
class Bodies:
    """The bodies of one frame: n of them, arrays by body unless said otherwise."""

    faces: tuple[Face, ...]
    rings: Rings
    center_mm: Array  # (n, 3)
    center_px: Array  # (n, 2)
    axes: Array  # (n, 2, 2) board directions of the body's x and y axis, as rows
    size_mm: Array  # (n, 2)
    round: Mask
    px_per_mm: Array  # (n, 2, 2) pixels per mm along the body's x and y axis, as rows
    to_face: Array  # (n, 2, 2) from pixels off the centre to half lengths and half widths
    by_pose: Array  # (n, 2, p) derivatives of its pixel by the registration's parameters
    scale: Array  # px per mm
    metal_ratio: Array  # emissivity of metal over that of the top face
    code: Index  # size code of chips, −1 for others
    codes: int
    pads: Mask
    bowed: Mask  # one knot on its top face, which is warmest in the middle if it makes heat
    has_leads: Mask  # (n, 2)
    walled: Mask
    own_wall: Mask
    whole: Mask  # nothing stands in the way of its top face
    knots: Index  # (n, 2)
    short_px: Array
    resized: Mask  # (n, 2): length and width are unknowns
    steers: Mask
    shift_u_px: Array
    size_u_mm: Array  # (n, 2)

    def __len__(self) -> int:
        return len(self.faces)


@dataclass(frozen=True, slots=True, eq=False)
class Outlines:
    """Where all edges are now, and how their ends move with each body's unknowns (px per unit)."""

    start: Array  # (e, 2)
    end: Array
    speeds: Array  # (e, 2 ends, 4: length, width, cap share, pad factor, 2)
    center: Array  # (n, 2) of each body's top face
    sense: Array  # (e,) 1 where an edge runs so that its ring's area counts positive, else −1


def bodies_of(view: View) -> Bodies:
    """All faces with something left to see, ready to be drawn."""
    faces = tuple(face for face in view.faces if _usable(face))
    n = len(faces)
    registration = view.registration
    center = np.array([[*f.component.center_mm, f.z_mm] for f in faces], dtype=np.float64).reshape(n, 3)
    turn = np.radians([0.0 if _is_round(f) else f.component.rotation_deg for f in faces])
    axes = np.stack([np.stack([np.cos(turn), np.sin(turn)], 1), np.stack([-np.sin(turn), np.cos(turn)], 1)], 1)
    size = np.array([_size(face) for face in faces]).reshape(n, 2)
    slopes = board_jacobian(registration, center)
    px_per_mm = axes @ slopes[:, :, :2].transpose(0, 2, 1)
    sides_px = size * np.linalg.norm(px_per_mm, axis=2)
    scale = np.sqrt(np.abs(np.linalg.det(slopes[:, :, :2])))
    terminals = [priors.terminals_of(face.component) for face in faces]
    ends = np.array([t == "ends" for t in terminals], dtype=bool)
    shiny = np.array([view.emissivity[f.component.refdes].value < 0.5 for f in faces], dtype=bool)
    ends &= ~shiny
    names = {priors.size_code(f.component) for f, e in zip(faces, ends, strict=True) if e}
    order = {name: i for i, name in enumerate(sorted(names))}
    code = np.array(
        [order[priors.size_code(f.component)] if e else -1 for f, e in zip(faces, ends, strict=True)], dtype=np.intp
    )
    drawn = [_rings(face, kind, bool(e)) for face, kind, e in zip(faces, terminals, ends, strict=True)]
    rings = _join(drawn)
    has = np.zeros((n, GROUPS), dtype=bool)
    has[rings.body, rings.group] = True
    lean = np.array([float(np.linalg.norm((f.base_px - f.polygon_px).mean(axis=0))) for f in faces])
    ceramic = sides_px * np.where(ends, 1.0 - 2.0 * priors.CAP_SHARE, 1.0)[:, None] ** np.array([1.0, 0.0])
    knots = np.clip(np.round(ceramic / priors.KNOT_EVERY_PX) + 1, 2, priors.MOST_KNOTS)
    knots = np.where(ceramic < priors.ONE_KNOT_PX, 1, knots).astype(np.intp)
    whole = np.array([not face.hidden_by for face in faces], dtype=bool)
    body_known = np.array([face.component.body is not None for face in faces], dtype=bool)
    lean_u = registration.lean_u * center[:, 2] * scale
    unknown = np.array([not f.height_known for f in faces]) * UNKNOWN_HEIGHT_U_MM
    unknown = unknown * np.where(
        registration.camera is None, registration.lean_u * scale, np.linalg.norm(slopes[:, :, 2], axis=1) / math.sqrt(2)
    )
    return Bodies(
        faces=faces,
        rings=rings,
        center_mm=center,
        center_px=pixels_from_board(registration, center),
        axes=axes,
        size_mm=size,
        round=np.array([_is_round(f) for f in faces], dtype=bool),
        px_per_mm=px_per_mm,
        to_face=np.asarray(np.linalg.inv((px_per_mm * (size / 2.0)[:, :, None]).transpose(0, 2, 1)), dtype=np.float64),
        by_pose=camera_jacobian(registration, center),
        scale=scale,
        metal_ratio=np.array(
            [priors.METAL_EMISSIVITY / max(view.emissivity[f.component.refdes].value, 0.3) for f in faces]
        ),
        code=code,
        codes=len(order),
        pads=has[:, PAD],
        bowed=(knots.prod(axis=1) == 1) & ~shiny & whole & body_known,
        has_leads=has[:, [LEAD_X, LEAD_Y]],
        walled=has[:, HULL],
        whole=whole,
        own_wall=has[:, HULL] & (lean > OWN_WALL_PX),
        knots=knots,
        short_px=sides_px.min(axis=1, initial=np.inf),
        resized=np.tile((sides_px.min(axis=1, initial=np.inf) < priors.RESIZED_PX) & whole & body_known, (2, 1)).T,
        steers=(center[:, 2] <= priors.STEERING_HEIGHT_MM)
        & body_known
        & np.array([f.height_known for f in faces], dtype=bool),
        shift_u_px=np.sqrt((priors.SHIFT_MM * scale) ** 2 + lean_u**2 + unknown**2),
        size_u_mm=np.maximum(priors.SIZE_SHARE * size, priors.SIZE_LEAST_MM),
    )


def outlines(
    bodies: Bodies, view: View, parameters: Array, shift_px: Array, grown_mm: Array, cap: Array, pad: Array
) -> Outlines:
    """All edges for given unknowns: pose (p,), shift and growth (n, 2), cap share and pad factor (n,)."""
    r = bodies.rings
    size = (bodies.size_mm + grown_mm)[r.body]
    shrink = 1.0 - 2.0 * r.cap * cap[r.body]
    local = np.stack([r.sx * shrink * size[:, 0] / 2 + r.pad * pad[r.body] + r.ox, r.sy * size[:, 1] / 2 + r.oy], 1)
    flat = bodies.center_mm[r.body, :2] + np.einsum("vk,vkj->vj", local, bodies.axes[r.body])
    projection = projection_of(view.registration)
    place = projection.pixels(parameters, np.column_stack([flat, r.z])) + shift_px[r.body]
    center = projection.pixels(parameters, bodies.center_mm) + shift_px
    ex, ey = bodies.px_per_mm[r.body, 0], bodies.px_per_mm[r.body, 1]
    speeds = np.zeros((len(place), 4, 2))
    speeds[:, 0] = (r.sx * shrink / 2)[:, None] * ex
    speeds[:, 1] = (r.sy / 2)[:, None] * ey
    turning = bodies.round[r.body]  # a round body has one size: its length
    speeds[turning, 0] += speeds[turning, 1]
    speeds[:, 2] = -(r.cap * r.sx * size[:, 0])[:, None] * ex
    speeds[:, 3] = r.pad[:, None] * ex
    start, end = place, place[r.following]
    area = np.bincount(r.ring, start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1])
    sense = np.where(area[r.ring] < 0, -1.0, 1.0) * np.where(r.hole, -1.0, 1.0)
    return Outlines(start, end, np.stack([speeds, speeds[r.following]], axis=1), center, sense)


def _usable(face: Face) -> bool:
    return bool(
        face.visible > LEAST_VISIBLE
        and face.visible_px.area > LEAST_AREA_PX
        and np.isfinite(face.polygon_px).all()
        and np.isfinite(face.base_px).all()
    )


def _size(face: Face) -> tuple[float, float]:
    body = face.component.body
    if body is None:
        across = float(np.ptp(face.polygon_mm[:, 0]))
        return across, across
    return body.length_mm, body.length_mm if body.shape == "round" else body.width_mm


def _is_round(face: Face) -> bool:
    return face.component.body is None or face.component.body.shape == "round"


_Ring = tuple[int, Array, bool]  # group, (k, 7) of sx, sy, cap, pad, ox, oy, z, and whether it is a hole


def _rings(face: Face, terminals: str, ends: bool) -> list[_Ring]:
    """Rings of one body, in any sense of turning."""
    z = face.z_mm
    circle = _is_round(face)
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
            cap = _ring(np.array([[side, -1.0], [side, 1.0], [side, 1.0], [side, -1.0]]), z)
            cap[2:, 2] = 1.0
            rings.append((CAP, cap, False))
    else:
        rings.append((TOP, _ring(corners, z), False))
    lean = (face.base_px - face.polygon_px).mean(axis=0)
    if np.linalg.norm(lean) > LEAST_LEAN_PX:
        rings.append((HULL, _silhouette(face, corners, z), False))
    body = face.component.body
    if ends and body is not None:
        long_px = face.polygon_px[1] - face.polygon_px[0]
        for side in (-1.0, 1.0):
            # a body that leans over its pad hides its inner part
            over = z if float(lean @ long_px) * side < 0 else 0.0
            pad = _ring(np.array([[side, -1.0], [side, 1.0], [side, 1.0], [side, -1.0]]), 0.0)
            pad[2:, 3] = side * priors.pad_length_mm(body.length_mm)
            pad[:2, 6] = over
            rings.append((PAD, pad, False))
    for axis, group, names in ((0, LEAD_X, ("leads_x", "leads_all")), (1, LEAD_Y, ("leads_y", "leads_all"))):
        if terminals in names:
            for side in (-1.0, 1.0):
                square = np.array([[side, -1.0], [side, 1.0], [side, 1.0], [side, -1.0]])
                lead = _ring(square if axis == 0 else square[:, ::-1], 0.0)
                lead[2:, 4 + axis] = side * priors.LEAD_LENGTH_MM
                rings.append((group, lead, False))
    return rings


def _ring(corners: Array, z: float, cap: float = 0.0) -> Array:
    ring = np.zeros((len(corners), 7))
    ring[:, :2], ring[:, 2], ring[:, 6] = corners, cap, z
    return ring


def _silhouette(face: Face, corners: Array, z: float) -> Array:
    """Convex hull of top and foot as they are seen."""
    import shapely

    if _is_round(face) and len(face.polygon_px) != len(corners):
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
        share = priors.CAP_SHARE
        low = [top[0] + share * (top[1] - top[0]), top[3] + share * (top[2] - top[3])]
        high = [top[1] - share * (top[1] - top[0]), top[2] - share * (top[2] - top[3])]
        ceramic = shapely.Polygon([low[0], high[0], high[1], low[1]])
        parts = [(TOP, face.visible_px & ceramic), (CAP, face.visible_px - ceramic)]
    # from pixels to the body's axes: affine about the top face
    if _is_round(face):
        middle = top.mean(axis=0)
        quarter = len(top) // 4
        columns = np.stack([top[0] - middle, top[quarter] - middle], 1)
    else:
        middle = top.mean(axis=0)
        columns = np.stack([(top[1] + top[2] - top[0] - top[3]) / 4, (top[2] + top[3] - top[0] - top[1]) / 4], 1)
    inverse = np.linalg.inv(columns)
    half = np.array(_size(face)) / 2.0 * (_SWELL if _is_round(face) else 1.0)
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


def _join(drawn: list[list[_Ring]]) -> Rings:
    rows, body, group, following, number, hole = [np.zeros((0, 7))], [], [], [], [], []
    count, rings_so_far = 0, 0
    for i, rings in enumerate(drawn):
        for kind, ring, is_hole in rings:
            k = len(ring)
            rows.append(ring)
            body += [i] * k
            group += [kind] * k
            following += [count + (j + 1) % k for j in range(k)]
            number += [rings_so_far] * k
            hole += [is_hole] * k
            count, rings_so_far = count + k, rings_so_far + 1
    sx, sy, cap, pad, ox, oy, z = np.concatenate(rows).T
    return Rings(
        body=np.array(body, dtype=np.intp),
        group=np.array(group, dtype=np.intp),
        sx=sx,
        sy=sy,
        cap=cap,
        pad=pad,
        ox=ox,
        oy=oy,
        z=z,
        following=np.array(following, dtype=np.intp),
        ring=np.array(number, dtype=np.intp),
        hole=np.array(hole, dtype=bool),
    )
