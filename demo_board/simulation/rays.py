"""A pinhole camera over one side of a board, and what each of its rays meets."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from demo_board.simulation.band import BandTable
from demo_board.simulation.heat import Heat
from demo_board.simulation.world import Array, Part, World

BENCH_MM = -8.0  # the bench beneath the board


@dataclass(frozen=True, eq=False)
class Pose:
    """Where the camera is and how it draws.

    A point of the scene (x mirrored for the bottom side, y, z towards the camera) goes to camera axes (x right, y down,
    z away) by ``turn @ point + shift_mm``; pixels are ``centre + focal_px · n · (1 + radial·|n|²)``.
    """

    turn: Array
    shift_mm: Array
    focal_px: float
    radial: float
    shape_px: tuple[int, int]
    side: str

    @property
    def eye_mm(self) -> Array:
        """The eye in scene axes."""
        return -self.turn.T @ self.shift_mm

    def project(self, xyz_mm: Array) -> Array:
        """Pixels (n, 2) of board points (n, 3)."""
        scene = np.array(xyz_mm, dtype=float)
        if self.side == "bottom":
            scene[:, 0] = -scene[:, 0]
        p = scene @ self.turn.T + self.shift_mm
        n = p[:, :2] / p[:, 2:]
        bent = n * (1 + self.radial * (n**2).sum(axis=1, keepdims=True))
        rows, cols = self.shape_px
        return bent * self.focal_px + np.array([(cols - 1) / 2, (rows - 1) / 2])

    def rays(self, px: Array, py: Array) -> Array:
        """Directions in scene axes of rays through pixels, (3, n), not normalised: one unit of depth each."""
        rows, cols = self.shape_px
        x, y = (px - (cols - 1) / 2) / self.focal_px, (py - (rows - 1) / 2) / self.focal_px
        bent = np.hypot(x, y)
        r = bent.copy()
        for _ in range(6):  # Newton: r·(1 + k·r²) = bent
            r -= (r * (1 + self.radial * r**2) - bent) / (1 + 3 * self.radial * r**2)
        scale = np.where(bent > 1e-12, r / np.maximum(bent, 1e-12), 1.0)
        return self.turn.T @ np.stack([x * scale, y * scale, np.ones_like(x)])


def aim(
    target_mm: tuple[float, float],
    distance_mm: float,
    hfov_deg: float,
    shape_px: tuple[int, int],
    side: str = "top",
    tilt_deg: tuple[float, float] = (0.0, 0.0),
    roll_deg: float = 0.0,
    radial: float = 0.0,
) -> Pose:
    """A camera whose axis meets the board at ``target_mm``, ``distance_mm`` away, tilted about x and y, then rolled."""
    focal = shape_px[1] / 2 / math.tan(math.radians(hfov_deg) / 2)
    a, b, c = (math.radians(v) for v in (*tilt_deg, roll_deg))
    about_x = np.array([[1, 0, 0], [0, math.cos(a), -math.sin(a)], [0, math.sin(a), math.cos(a)]])
    about_y = np.array([[math.cos(b), 0, math.sin(b)], [0, 1, 0], [-math.sin(b), 0, math.cos(b)]])
    about_z = np.array([[math.cos(c), -math.sin(c), 0], [math.sin(c), math.cos(c), 0], [0, 0, 1]])
    turn = about_z @ about_x @ about_y @ np.diag([1.0, -1.0, -1.0])
    at = np.array([-target_mm[0] if side == "bottom" else target_mm[0], target_mm[1], 0.0])
    shift = np.array([0.0, 0.0, distance_mm]) - turn @ at
    return Pose(turn, shift, focal, radial, shape_px, side)


@dataclass(frozen=True)
class Lobe:
    """A warm thing in the room: direction (scene axes, upwards), apparent temperature, angular width."""

    direction: tuple[float, float, float]
    temperature_c: float
    width_deg: float


@dataclass(frozen=True)
class Room:
    """What shiny surfaces mirror, and the air."""

    ambient_c: float
    reflected_c: float
    camera_c: float = 30.0
    lobes: tuple[Lobe, ...] = ()


@dataclass(eq=False)
class Hits:
    """What rays met: leaving radiance (band exitance, W/m²) and an identity for every kind of surface."""

    radiance: Array
    identity: NDArray[np.int64]  # −1 bench, −2 board, −3 board's edge, −10−i patch i; 4·part + 0 top, 1 wall, 2 end cap


class Scene:
    """A world at its temperatures, seen from one side."""

    def __init__(self, world: World, heat: Heat, room: Room, table: BandTable, pose: Pose, seed: int = 0) -> None:
        self.world, self.heat, self.room, self.table, self.pose = world, heat, room, table, pose
        self.flip = -1.0 if pose.side == "bottom" else 1.0
        self.w_room = float(table.exitance(room.reflected_c))
        random = np.random.default_rng(seed)
        self.wobble = random.normal(0, 0.05, (len(world.parts) + 1, 2))  # no metal face lies quite flat
        seen = [k for k, part in enumerate(world.parts) if part.side == pose.side]
        self.boxes = [
            (k, *self._window(part.corners_mm(), part.size_mm[2]))
            for k, part in enumerate(world.parts)
            if k in set(seen)
        ]
        self.flats = [
            (i, *self._window(_as_part(patch).corners_mm(), 0.0))
            for i, patch in enumerate(world.metal)
            if patch.side == pose.side
        ]

    def _window(self, corners_mm: Array, height_mm: float) -> tuple[float, float, float, float]:
        xyz = [np.column_stack([corners_mm, np.full(len(corners_mm), z)]) for z in {0.0, height_mm}]
        uv = self.pose.project(np.concatenate(xyz))
        (x0, y0), (x1, y1) = uv.min(axis=0) - 0.7, uv.max(axis=0) + 0.7
        return float(x0), float(x1), float(y0), float(y1)

    def mirrored(self, direction: Array, eye: Array) -> Array:
        """Radiance of the room in directions (3, n); ``eye`` (3, n) points from the surface to the camera."""
        unit = direction / np.linalg.norm(direction, axis=0)
        out = np.full(unit.shape[1], self.w_room)
        to_eye = (unit * (eye / np.linalg.norm(eye, axis=0))).sum(axis=0)
        spot = np.exp(-(np.degrees(np.arccos(np.clip(to_eye, -1, 1))) ** 2) / (2 * 5.0**2))
        out += spot * (float(self.table.exitance(self.room.camera_c)) - self.w_room)
        for lobe in self.room.lobes:
            to = np.asarray(lobe.direction) / np.linalg.norm(lobe.direction)
            angle = np.degrees(np.arccos(np.clip(to @ unit, -1, 1)))
            gain = float(self.table.exitance(lobe.temperature_c)) - self.w_room
            out += gain * np.exp(-(angle**2) / (2 * lobe.width_deg**2))
        return out

    def cast(self, px: Array, py: Array) -> Hits:
        """Follow rays through pixels (flat arrays, ``py`` ascending) to the first surface they meet."""
        eye, rays = self.pose.eye_mm, self.pose.rays(px, py)
        table, board = self.table, self.world.board
        t = -eye[2] / rays[2]
        x, y = self.flip * (eye[0] + t * rays[0]), eye[1] + t * rays[1]
        on = board.inside(x, y)
        board_c = self.heat.board_at(self.pose.side, x, y)
        w_board = table.exitance(board_c)
        identity = np.where(on, -2, -1).astype(np.int64)
        emissivity = np.full(px.shape, board.emissivity)
        for copper in board.copper:
            x0, y0, x1, y1 = copper.box_mm
            emissivity[(x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)] = copper.emissivity
        radiance = emissivity * w_board + (1 - emissivity) * self.w_room
        self._bench(radiance, identity, px, rays, ~on)
        for i, x0, x1, y0, y1 in self.flats:
            here = _rays_in(px, py, x0, x1, y0, y1)
            if len(here):
                self._meet_patch(i, here, x, y, rays, w_board, radiance, identity)
        best = np.where(on, t, np.inf)
        for k, x0, x1, y0, y1 in self.boxes:
            here = _rays_in(px, py, x0, x1, y0, y1)
            if len(here):
                self._meet_part(k, here, rays, best, board_c, radiance, identity)
        return Hits(radiance, identity)

    def _bench(self, radiance: Array, identity: NDArray[np.int64], px: Array, rays: Array, off: Array) -> None:
        away = np.flatnonzero(off)
        if not len(away):
            return
        radiance[away] = 0.93 * self.table.exitance(self.room.ambient_c + 0.4) + 0.07 * self.w_room
        eye, board = self.pose.eye_mm, self.world.board
        t = (-board.thickness_mm - eye[2]) / rays[2][away]
        x, y = self.flip * (eye[0] + t * rays[0][away]), eye[1] + t * rays[1][away]
        edge = board.inside(x, y)  # the ray passes the rim and would come out beneath: it meets the cut edge
        rim = away[edge]
        radiance[rim] = (
            0.9 * self.table.exitance(self.heat.board_at(self.pose.side, x[edge], y[edge])) + 0.1 * self.w_room
        )
        identity[rim] = -3

    def _meet_patch(
        self, i: int, here: Array, x: Array, y: Array, rays: Array, w_board: Array, radiance: Array, identity: Array
    ) -> None:
        patch = self.world.metal[i]
        axes = _as_part(patch).axes()
        dx, dy = x[here] - patch.center_mm[0], y[here] - patch.center_mm[1]
        u, v = axes[0, 0] * dx + axes[0, 1] * dy, axes[1, 0] * dx + axes[1, 1] * dy
        if patch.round:
            inside = np.hypot(u, v) <= patch.size_mm[0] / 2
        else:
            inside = (np.abs(u) <= patch.size_mm[0] / 2) & (np.abs(v) <= patch.size_mm[1] / 2)
        if patch.pitch_mm:
            inside &= np.abs((v / patch.pitch_mm) % 1.0 - 0.5) <= patch.share / 2
        met = here[inside & (identity[here] == -2)]
        if not len(met):
            return
        warm = w_board[met]
        if patch.part >= 0:
            warm = warm + 0.3 * (float(self.table.exitance(self.heat.part_c[patch.part])) - warm)
        room = self._room_off_metal(len(self.world.parts), rays[:, met], float(w_board[met].mean()), 0.8)
        radiance[met] = patch.emissivity * warm + (1 - patch.emissivity) * room
        identity[met] = -10 - i

    def _room_off_metal(self, k: int, rays: Array, w_around: float, open_share: float) -> Array:
        """What metal mirrors: mostly the room, in part its own surroundings."""
        normal = np.array([*self.wobble[k], 1.0])
        normal /= np.linalg.norm(normal)
        off = rays - 2 * normal[:, None] * (normal @ rays)
        return open_share * self.mirrored(off, -rays) + (1 - open_share) * w_around

    def _meet_part(
        self, k: int, here: Array, rays: Array, best: Array, board_c: Array, radiance: Array, identity: Array
    ) -> None:
        part, eye = self.world.parts[k], self.pose.eye_mm
        axes = part.axes() * np.array([self.flip, 1.0])
        d = rays[:, here]
        from_center = eye[:2] - np.array([self.flip * part.center_mm[0], part.center_mm[1]])
        o, du, dv = axes @ from_center, axes[0] @ d[:2], axes[1] @ d[:2]
        length, width, height = part.size_mm
        t_top = (height - eye[2]) / d[2]
        enter, leave = _through_disc(o, du, dv, length / 2) if part.round else _through_box(o, du, dv, length, width)
        t = np.maximum(enter, t_top)
        met = (t < np.minimum(leave, -eye[2] / d[2])) & (t < best[here])
        if not met.any():
            return
        index, t, top = here[met], t[met], (t_top >= enter)[met]
        u, v = (o[0] + t * du[met]) / length, (o[1] + t * dv[met]) / width
        best[index] = t
        kind = np.where(top, 0, 1)
        if part.cap_share:
            kind[np.abs(u) > 0.5 - part.cap_share] = 2
        identity[index] = 4 * k + kind
        warm = self.table.exitance(self.heat.face_at(k, u, v))
        under = float(self.table.exitance(self.heat.under_c[k]))
        height_share = np.clip((eye[2] + t * d[2][met]) / height, 0, 1)
        warm = np.where(top, warm, warm + 0.6 * (1 - height_share) * (under - warm))
        emissivity = np.select([kind == 2, kind == 0], [0.10, part.emissivity], part.wall_emissivity)
        room = np.full(len(index), self.w_room)
        shiny = emissivity < 0.5
        if shiny.any():
            room[shiny] = self._room_off_metal(k, d[:, met][:, shiny], under, 0.95 if part.metal_top else 0.75)
        room = np.where(top, room, 0.5 * (room + under))
        radiance[index] = emissivity * warm + (1 - emissivity) * room


def _rays_in(px: Array, py: Array, x0: float, x1: float, y0: float, y1: float) -> Array:
    first, last = np.searchsorted(py, [y0, y1])
    return first + np.flatnonzero((px[first:last] >= x0) & (px[first:last] <= x1))


def _through_box(o: Array, du: Array, dv: Array, length: float, width: float) -> tuple[Array, Array]:
    """Where rays enter and leave the upright prism over a rectangle centred at 0."""
    enter, leave = np.full(du.shape, -np.inf), np.full(du.shape, np.inf)
    for start, step, half in ((o[0], du, length / 2), (o[1], dv, width / 2)):
        step = np.where(np.abs(step) < 1e-12, 1e-12, step)
        a, b = (-half - start) / step, (half - start) / step
        enter, leave = np.maximum(enter, np.minimum(a, b)), np.minimum(leave, np.maximum(a, b))
    return np.where(enter < leave, enter, np.inf), leave


def _through_disc(o: Array, du: Array, dv: Array, radius: float) -> tuple[Array, Array]:
    a = np.maximum(du**2 + dv**2, 1e-18)
    b, c = o[0] * du + o[1] * dv, float(o @ o) - radius**2
    root = b**2 - a * c
    half = np.sqrt(np.maximum(root, 0))
    return np.where(root > 0, (-b - half) / a, np.inf), np.where(root > 0, (-b + half) / a, -np.inf)


def _as_part(patch: object) -> Part:
    from demo_board.simulation.world import Patch

    assert isinstance(patch, Patch)
    return Part("", "", patch.center_mm, patch.rotation_deg, patch.side, (*patch.size_mm, 0.0))
