"""Bodies of a frame, and how the vertices of their rings follow the unknowns of the unmixing.

A vertex knows how it moves with the body's length and width, the caps' share, the pads' length and the pose.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Index, Mask, read_only
from overlay.board import anatomy
from overlay.registration.fit import UNKNOWN_HEIGHT_U_MM
from overlay.registration.model import Face, Registration
from overlay.registration.project import board_jacobian, camera_jacobian, pixels_from_board, projection_of
from overlay.unmixing import priors
from overlay.unmixing.rings import GROUPS, HULL, LEAD_X, LEAD_Y, PAD, Rings, is_round, joined, rings_of, size_of
from overlay.view.emission import METAL_EMISSIVITY
from overlay.view.model import View
from overlay.view.tops import HEIGHT_U_SHARE, lean_px

DEFORMED_FROM_PX = 3.0  # a pose turns or stretches shorter bodies by less than a hundredth of a pixel
OWN_WALL_PX = 0.7  # walls wider than this have a temperature of their own
LEAST_AREA_PX = 0.02  # what noise hides wholly
LEAST_VISIBLE = 0.03  # of a face: less cannot be told from its neighbours


@dataclass(frozen=True, slots=True, eq=False)
class Solids:
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
    deformed: Mask  # large enough for the pose to turn, stretch and lean it, not only to shift it …
    moved_by_pose: Array  # (n, 8, p) … per parameter: `by_pose`, longer, wider (mm), skewed along x, y, leaning (px)
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

    def __post_init__(self) -> None:
        read_only(self)

    def __len__(self) -> int:
        return len(self.faces)


@dataclass(frozen=True, slots=True, eq=False)
class Outlines:
    """Where all edges are now, and how their ends move with each body's unknowns (px per unit)."""

    start: Array  # (e, 2)
    end: Array
    speeds: NDArray[np.float32]  # (e, 2 ends, 8: length, width, cap share, pad factor, skews, leans, 2)
    center: Array  # (n, 2) of each body's top face
    sense: Array  # (e,) 1 where an edge runs so that its ring's area counts positive, else −1

    def __post_init__(self) -> None:
        read_only(self)


def solids_of(view: View, metal_emissivity: float = METAL_EMISSIVITY) -> Solids:
    """All faces with something left to see, ready to be drawn."""
    faces = tuple(face for face in view.faces if _usable(face))
    n = len(faces)
    registration = view.registration
    center = np.array([[*f.component.center_mm, f.z_mm] for f in faces], dtype=np.float64).reshape(n, 3)
    turn = np.radians([0.0 if is_round(f) else f.component.rotation_deg for f in faces])
    circle = np.array([is_round(f) for f in faces], dtype=bool)
    axes = np.stack([np.stack([np.cos(turn), np.sin(turn)], 1), np.stack([-np.sin(turn), np.cos(turn)], 1)], 1)
    size = np.array([size_of(face) for face in faces]).reshape(n, 2)
    slopes = board_jacobian(registration, center)
    px_per_mm = axes @ slopes[:, :, :2].transpose(0, 2, 1)
    sides_px = size * np.linalg.norm(px_per_mm, axis=2)
    scale = np.sqrt(np.abs(np.linalg.det(slopes[:, :, :2])))
    terminals = [anatomy.terminals_of(face.component) for face in faces]
    ends = np.array([t == "ends" for t in terminals], dtype=bool)
    shiny = np.array([view.emissivity[f.component.refdes].value < 0.5 for f in faces], dtype=bool)
    ends &= ~shiny
    code, codes = _size_codes(faces, ends)
    drawn = [rings_of(face, kind, bool(e)) for face, kind, e in zip(faces, terminals, ends, strict=True)]
    rings = joined(drawn)
    has = np.zeros((n, GROUPS), dtype=bool)
    has[rings.body, rings.group] = True
    lean = np.array([lean_px(face) for face in faces])
    knots = _knots(sides_px, ends)
    whole = np.array([not face.hidden_by for face in faces], dtype=bool)
    body_known = np.array([face.component.body is not None for face in faces], dtype=bool)
    height_known = np.array([f.height_known for f in faces], dtype=bool)
    steers = (center[:, 2] <= priors.STEERING_HEIGHT_MM) & body_known & height_known
    return Solids(
        faces=faces,
        rings=rings,
        center_mm=center,
        center_px=pixels_from_board(registration, center),
        axes=axes,
        size_mm=size,
        round=circle,
        px_per_mm=px_per_mm,
        to_face=np.asarray(np.linalg.inv((px_per_mm * (size / 2.0)[:, :, None]).transpose(0, 2, 1)), dtype=np.float64),
        by_pose=camera_jacobian(registration, center),
        deformed=(sides_px.max(axis=1, initial=0.0) > DEFORMED_FROM_PX) & steers,
        moved_by_pose=_moved_by_pose(registration, center, axes, size, px_per_mm, circle),
        scale=scale,
        metal_ratio=np.array([metal_emissivity / max(view.emissivity[f.component.refdes].value, 0.3) for f in faces]),
        code=code,
        codes=codes,
        pads=has[:, PAD],
        bowed=(knots.prod(axis=1) == 1) & ~shiny & whole & body_known,
        has_leads=has[:, [LEAD_X, LEAD_Y]],
        walled=has[:, HULL],
        whole=whole,
        own_wall=has[:, HULL] & (lean > OWN_WALL_PX),
        knots=knots,
        short_px=sides_px.min(axis=1, initial=np.inf),
        resized=np.tile((sides_px.min(axis=1, initial=np.inf) < priors.RESIZED_PX) & whole & body_known, (2, 1)).T,
        steers=steers,
        shift_u_px=_shift_u_px(registration, center, slopes, lean, height_known),
        size_u_mm=np.maximum(priors.SIZE_SHARE * size, priors.SIZE_LEAST_MM),
    )


def _size_codes(faces: tuple[Face, ...], ends: Mask) -> tuple[Index, int]:
    """The size code (n,) of each chip, −1 for other bodies, and how many there are."""
    names = [priors.size_code(face.component) if chip else None for face, chip in zip(faces, ends, strict=True)]
    order = {name: i for i, name in enumerate(sorted({name for name in names if name is not None}))}
    return np.array([-1 if name is None else order[name] for name in names], dtype=np.intp), len(order)


def _knots(sides_px: Array, ends: Mask) -> Index:
    """Knots (n, 2) along and across each top face without its metal ends."""
    ceramic = sides_px * np.where(ends, 1.0 - 2.0 * anatomy.CAP_SHARE, 1.0)[:, None] ** np.array([1.0, 0.0])
    knots = np.clip(np.round(ceramic / priors.KNOT_EVERY_PX) + 1, 2, priors.MOST_KNOTS)
    return np.where(ceramic < priors.ONE_KNOT_PX, 1, knots).astype(np.intp)


def _shift_u_px(registration: Registration, center: Array, slopes: Array, lean: Array, height_known: Mask) -> Array:
    """Standard uncertainty (n,) of each body's own place along either axis: placement, lean, height."""
    scale = np.sqrt(np.abs(np.linalg.det(slopes[:, :, :2])))
    by_height = np.linalg.norm(slopes[:, :, 2], axis=1) / math.sqrt(2)  # px per mm, along either axis
    if registration.camera is None:
        by_height = registration.lean_u * scale
    placement = anatomy.PLACEMENT_U_MM * scale
    lean_u = registration.lean_u * center[:, 2] * scale
    unknown = ~height_known * UNKNOWN_HEIGHT_U_MM * by_height
    return np.asarray(np.sqrt(placement**2 + lean_u**2 + unknown**2 + (HEIGHT_U_SHARE * lean) ** 2))


def outlines(
    bodies: Solids, view: View, parameters: Array, shift_px: Array, grown_mm: Array, cap: Array, pad: Array
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
    speeds = np.zeros((len(place), 8, 2), dtype=np.float32)
    speeds[:, 0] = (r.sx * shrink / 2)[:, None] * ex
    speeds[:, 1] = (r.sy / 2)[:, None] * ey
    turning = bodies.round[r.body]  # a round body has one size: its length
    speeds[turning, 0] += speeds[turning, 1]
    speeds[:, 2] = -(r.cap * r.sx * size[:, 0])[:, None] * ex
    speeds[:, 3] = r.pad[:, None] * ex
    speeds[:, 4], speeds[:, 5] = local[:, 1:] * ex, local[:, :1] * ey
    top = bodies.center_mm[r.body, 2]
    below = np.where(top > 0.0, 1.0 - r.z / np.where(top > 0.0, top, 1.0), 0.0)
    speeds[:, 6, 0] = speeds[:, 7, 1] = below
    start, end = place, place[r.following]
    area = np.bincount(r.ring, start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1])
    sense = np.where(area[r.ring] < 0, -1.0, 1.0) * np.where(r.hole, -1.0, 1.0)
    return Outlines(start, end, np.stack([speeds, speeds[r.following]], axis=1), center, sense)


def _moved_by_pose(
    registration: Registration, center: Array, axes: Array, size: Array, px_per_mm: Array, circle: Mask
) -> Array:
    """How the pose's parameters (n, 8, p) shift a body's middle, stretch it along its axes (mm), skew and lean it.

    From how differently they move places on either side of its middle, and its foot; beyond a body's own affine change
    nothing is left that matters.
    """
    flat = np.concatenate([axes, np.zeros((*axes.shape[:2], 1))], axis=2)  # (n, 2, 3)
    half = 0.5 * np.maximum(size, 1e-3)
    slopes = []
    for axis in (0, 1):
        step = flat[:, axis] * half[:, axis, None]
        ahead, behind = camera_jacobian(registration, center + step), camera_jacobian(registration, center - step)
        slopes.append((ahead - behind) / (2.0 * half[:, axis, None, None]))  # (n, 2, p) px per mm and parameter
    inverse = np.linalg.inv(px_per_mm.transpose(0, 2, 1))  # px to mm along the body's axes
    by_x, by_y = (inverse @ slope for slope in slopes)
    longer, wider = by_x[:, 0] * size[:, :1], by_y[:, 1] * size[:, 1:]
    wider = np.where(circle[:, None], wider - longer, wider)  # a circle that grows longer grows wider too
    middle = camera_jacobian(registration, center)
    lean = camera_jacobian(registration, center * [1.0, 1.0, 0.0]) - middle
    own = np.stack([longer, wider, by_y[:, 0], by_x[:, 1]], axis=1)
    return np.concatenate([middle, own, lean], axis=1)


def _usable(face: Face) -> bool:
    return bool(
        face.visible > LEAST_VISIBLE
        and face.visible_px.area > LEAST_AREA_PX
        and np.isfinite(face.polygon_px).all()
        and np.isfinite(face.base_px).all()
    )
