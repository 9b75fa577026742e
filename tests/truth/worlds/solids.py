"""A small ray caster: boxes, upright cylinders and lying rods over a board, seen by a pinhole camera."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Shape = Literal["box", "cylinder", "rod"]
BENCH, BOARD = -2, -1  # what a ray meets where it meets no solid
TOP, WALL = 0, 1
_FAR = 1e9


@dataclass(frozen=True, slots=True)
class Skin:
    """How warm and how bright a solid's surface is.

    ``rise_k`` is that of its warmest place over ambient, nan: as the board beneath it. ``drop`` is the share of the
    rise by which its rim is colder; ``summit`` where it is warmest, in half lengths and half widths.
    """

    rise_k: float
    emissivity: float
    drop: float = 0.0
    summit: tuple[float, float] = (0.0, 0.0)
    wall: float = 0.97  # rise of a wall's foot over that of the rim
    ends: float = 0.0  # share of the length at each end that is bare metal
    ends_emissivity: float = 0.1


@dataclass(frozen=True, slots=True)
class Solid:
    """One thing on the board; a ``rod`` lies along its own x axis and is ``width`` thick."""

    owner: str  # designator; "" for what no file lists
    shape: Shape
    center_mm: tuple[float, float]
    turn_deg: float
    size_mm: tuple[float, float, float]  # length, width, height; of a rod the height of its lowest line is ``base_mm``
    skin: Skin
    base_mm: float = 0.0
    listed: bool = True  # its top counts as the top face of its owner

    @property
    def top_mm(self) -> float:
        return self.base_mm + (self.size_mm[1] if self.shape == "rod" else self.size_mm[2])

    def corners_mm(self) -> Array:
        """(8, 3) corners of the box around it."""
        length, width, _ = self.size_mm
        c, s = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        out = []
        for a in (-0.5, 0.5):
            for b in (-0.5, 0.5):
                x, y = a * length, b * width
                place = (self.center_mm[0] + c * x - s * y, self.center_mm[1] + s * x + c * y)
                out += [(*place, self.base_mm), (*place, self.top_mm)]
        return np.array(out)


@dataclass(frozen=True, slots=True, eq=False)
class Eye:
    """A pinhole camera: rows of ``axes`` are its right, down and forward directions on the board."""

    place_mm: Array  # (3,)
    axes: Array  # (3, 3)
    focal_px: float
    shape_px: tuple[int, int]

    def pixels(self, points_mm: Array) -> Array:
        """Pixels (n, 2) of board points (n, 3)."""
        seen = (points_mm - self.place_mm) @ self.axes.T
        rows, cols = self.shape_px
        middle = np.array([(cols - 1) / 2, (rows - 1) / 2])
        return np.asarray(self.focal_px * seen[:, :2] / seen[:, 2:] + middle)

    def rays(self, finer: int) -> Array:
        """Directions (rows·finer, cols·finer, 3) through the middles of sub-pixels."""
        rows, cols = self.shape_px
        x = (np.arange(cols * finer) + 0.5) / finer - 0.5 - (cols - 1) / 2
        y = (np.arange(rows * finer) + 0.5) / finer - 0.5 - (rows - 1) / 2
        grid = np.stack(np.broadcast_arrays(x[None, :], y[:, None], np.float64(self.focal_px)), axis=-1)
        return np.asarray(grid @ self.axes)

    def homography(self) -> Array:
        """pixel_from_board (3, 3) of the board's plane."""
        rows, cols = self.shape_px
        k = np.array([[self.focal_px, 0, (cols - 1) / 2], [0, self.focal_px, (rows - 1) / 2], [0, 0, 1.0]])
        h = k @ np.column_stack([self.axes[:, 0], self.axes[:, 1], -self.axes @ self.place_mm])
        return np.asarray(h / h[2, 2])


def look_at(
    target_mm: tuple[float, float],
    distance_mm: float,
    hfov_deg: float,
    shape_px: tuple[int, int],
    tilt_deg: float,
    towards_deg: float,
    roll_deg: float,
) -> Eye:
    """A camera that looks at a place of the board, tilted from its normal towards a direction, and rolled."""
    tilt, to, roll = (math.radians(angle) for angle in (tilt_deg, towards_deg, roll_deg))
    back = np.array([math.sin(tilt) * math.cos(to), math.sin(tilt) * math.sin(to), math.cos(tilt)])
    up = np.array([-math.sin(roll), math.cos(roll), 0.0])
    right = np.cross(up, back)
    right /= np.linalg.norm(right)
    down = np.cross(-back, right)
    place = np.array([*target_mm, 0.0]) + distance_mm * back
    focal = shape_px[1] / 2 / math.tan(math.radians(hfov_deg) / 2)
    return Eye(place, np.stack([right, down, -back]), focal, shape_px)


@dataclass(frozen=True, slots=True, eq=False)
class Hits:
    """What each sub-pixel's ray meets first; (rows, cols) arrays."""

    solid: NDArray[np.intp]  # index, BOARD or BENCH
    face: NDArray[np.intp]  # TOP or WALL
    u: Array  # place on the solid in half lengths …
    v: Array  # … and half widths
    w: Array  # height over its base as a share of its height
    x_mm: Array  # where the ray meets it, on the board
    y_mm: Array
    tops_alone: dict[str, int] = field(default_factory=dict)  # sub-pixels of a top face were nothing in its way
    tops_seen: dict[str, int] = field(default_factory=dict)


def cast(eye: Eye, solids: list[Solid], board_mm: tuple[float, float], finer: int) -> Hits:
    """Meet every sub-pixel's ray with the bench, the board from (0, 0) to ``board_mm``, and all solids."""
    rays = eye.rays(finer)
    shape = rays.shape[:2]
    with np.errstate(divide="ignore"):
        depth = np.where(rays[..., 2] < 0, -eye.place_mm[2] / rays[..., 2], _FAR)
    x, y = eye.place_mm[0] + depth * rays[..., 0], eye.place_mm[1] + depth * rays[..., 1]
    on_board = (x >= 0) & (x <= board_mm[0]) & (y >= 0) & (y <= board_mm[1])
    solid = np.where(on_board, BOARD, BENCH)
    face = np.zeros(shape, dtype=np.intp)
    u, v, w = (np.zeros(shape) for _ in range(3))
    alone: dict[str, NDArray[np.bool_]] = {}
    for i, thing in enumerate(solids):
        box = _window(eye, thing, finer, shape)
        if box is None:
            continue
        t, side, place = _meet(thing, eye.place_mm, rays[box])
        if thing.owner and thing.listed:
            mask = alone.setdefault(thing.owner, np.zeros(shape, dtype=bool))
            mask[box] |= (side == TOP) & (t < _FAR)
        nearer = t < depth[box]
        depth[box] = np.where(nearer, t, depth[box])
        solid[box] = np.where(nearer, i, solid[box])
        face[box] = np.where(nearer, side, face[box])
        for plane, value in zip((u, v, w), place, strict=True):
            plane[box] = np.where(nearer, value, plane[box])
    seen = dict.fromkeys(alone, 0)
    for i, thing in enumerate(solids):
        if thing.owner in seen and thing.listed:
            seen[thing.owner] += int(((solid == i) & (face == TOP)).sum())
    x, y = eye.place_mm[0] + depth * rays[..., 0], eye.place_mm[1] + depth * rays[..., 1]
    return Hits(solid, face, u, v, w, x, y, {name: int(mask.sum()) for name, mask in alone.items()}, seen)


def _window(eye: Eye, solid: Solid, finer: int, shape: tuple[int, ...]) -> tuple[slice, slice] | None:
    px = (eye.pixels(solid.corners_mm()) + 0.5) * finer
    low, high = np.floor(px.min(axis=0)).astype(int) - 1, np.ceil(px.max(axis=0)).astype(int) + 1
    left, top = max(low[0], 0), max(low[1], 0)
    right, bottom = min(high[0], shape[1]), min(high[1], shape[0])
    return (slice(top, bottom), slice(left, right)) if left < right and top < bottom else None


def _meet(solid: Solid, origin_mm: Array, rays: Array) -> tuple[Array, NDArray[np.intp], tuple[Array, Array, Array]]:
    """Distance along each ray (or far), face, and place on the solid."""
    c, s = math.cos(math.radians(solid.turn_deg)), math.sin(math.radians(solid.turn_deg))
    off = origin_mm - np.array([*solid.center_mm, solid.base_mm])
    o = np.array([c * off[0] + s * off[1], -s * off[0] + c * off[1], off[2]])
    d = np.stack([c * rays[..., 0] + s * rays[..., 1], -s * rays[..., 0] + c * rays[..., 1], rays[..., 2]], axis=-1)
    length, width, height = solid.size_mm
    with np.errstate(divide="ignore", invalid="ignore"):
        if solid.shape == "box":
            low, high = (
                (np.array([-length / 2, -width / 2, 0.0]) - o) / d,
                (np.array([length / 2, width / 2, height]) - o) / d,
            )
            entry = np.minimum(low, high)
            t = entry.max(axis=-1)
            side = np.where(np.argmax(entry, axis=-1) == 2, TOP, WALL)
            ok = (t > 0) & (t <= np.maximum(low, high).min(axis=-1))
        elif solid.shape == "cylinder":
            top = (height - o[2]) / d[..., 2]
            inside = np.hypot(o[0] + top * d[..., 0], o[1] + top * d[..., 1]) <= length / 2
            wall, hit = _round(o[[0, 1]], d[..., :2], length / 2)
            z = o[2] + wall * d[..., 2]
            hit &= (z >= 0) & (z <= height)
            t = np.where(inside, top, wall)
            side = np.where(inside, TOP, WALL)
            ok = inside | hit
        else:
            radius = width / 2
            t, ok = _round(o[[1, 2]] - np.array([0.0, radius]), d[..., 1:], radius)
            ok &= np.abs(o[0] + t * d[..., 0]) <= length / 2
            side = np.where(o[2] + t * d[..., 2] > radius * 1.5, TOP, WALL)
            height = width
        place = o + t[..., None] * d
    u, v, w = place[..., 0] / (length / 2), place[..., 1] / (width / 2), place[..., 2] / height
    return np.where(ok & (t > 0), t, _FAR), side, (u, v, w)


def _round(o: Array, d: Array, radius: float) -> tuple[Array, NDArray[np.bool_]]:
    """First meeting with a circle of that radius about 0, in two coordinates."""
    a, b, c = (d**2).sum(axis=-1), d @ o, float(o @ o) - radius**2
    root = b**2 - a * c
    hit = root >= 0
    return (-b - np.sqrt(np.where(hit, root, 0.0))) / a, hit
