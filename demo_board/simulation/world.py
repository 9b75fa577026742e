"""What the simulated world is made of: a board, the parts on it, and flat metal.

Lengths in mm, x right, y up, seen from the top side, for parts on both sides. Heights count from the surface a part
sits on, towards its viewer.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Part:
    """One part as it truly is.

    ``size_mm`` is (along the package's x axis at 0°, along y, height); a round part is an upright cylinder of diameter
    ``size_mm[0]``. ``cap_share`` is the share of the length that is metal at each end, ``toe_mm`` the bare pad
    beyond each end, ``leads`` the sides (``x``, ``y``, ``xy``) with gull-wing leads, of which ``lead_share`` is metal.
    ``die`` is a hot place within the face: (offset x, offset y, spread x, spread y) in shares of the body's sides;
    ``inner_share`` is how much of the part-to-board difference lies within the part.
    """

    refdes: str
    package: str
    center_mm: tuple[float, float]
    rotation_deg: float
    side: str
    size_mm: tuple[float, float, float]
    kind: str = ""
    value: str = ""
    round: bool = False
    emissivity: float = 0.92
    wall_emissivity: float = 0.92
    power_w: float = 0.0
    to_board_k_per_w: float = 60.0
    cap_share: float = 0.0
    toe_mm: float = 0.0
    leads: str = ""
    lead_mm: float = 0.95
    lead_share: float = 0.4
    lead_pitch_mm: float = 0.65
    die: tuple[float, float, float, float] | None = None
    inner_share: float = 0.0
    rating: Mapping[str, str] = field(default_factory=dict)  # cells of the parts table

    @property
    def metal_top(self) -> bool:
        return self.emissivity < 0.5

    def axes(self) -> Array:
        """Unit vectors of the package's x and y on the board, rows of a (2, 2) array."""
        c, s = math.cos(math.radians(self.rotation_deg)), math.sin(math.radians(self.rotation_deg))
        return np.array([[c, s], [-s, c]])

    def corners_mm(self, grow_mm: float = 0.0) -> Array:
        """Corners of the footprint, (4, 2)."""
        half = 0.5 * np.array(self.size_mm[:2]) + grow_mm
        signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        return np.asarray(self.center_mm) + (signs * half) @ self.axes()

    def face_mm(self, uv: Array) -> Array:
        """Board coordinates of points of the face given in shares of its sides (−½ … ½), (n, 2)."""
        return np.asarray(self.center_mm) + (uv * np.array(self.size_mm[:2])) @ self.axes()


@dataclass(frozen=True)
class Patch:
    """Bare metal lying flat on the board: a pad, a ring, a row of lead feet.

    ``size_mm`` along its own axes; ``pitch_mm`` > 0 makes it a comb along its y axis of which ``share`` is metal.
    ``part`` is the index of the part whose heat it shares (−1: none).
    """

    center_mm: tuple[float, float]
    rotation_deg: float
    size_mm: tuple[float, float]
    side: str
    emissivity: float = 0.12
    round: bool = False
    pitch_mm: float = 0.0
    share: float = 1.0
    part: int = -1


@dataclass(frozen=True)
class Copper:
    """A rectangle (x0, y0, x1, y1) in which the copper spreads heat ``spread`` times as well as elsewhere."""

    box_mm: tuple[float, float, float, float]
    spread: float
    emissivity: float


@dataclass(frozen=True, eq=False)
class Board:
    """A rectangle with rounded corners, round holes, and copper."""

    width_mm: float
    height_mm: float
    corner_mm: float = 3.0
    holes: tuple[tuple[float, float, float], ...] = ()  # x, y, diameter
    origin_mm: tuple[float, float] = (0.0, 0.0)
    thickness_mm: float = 1.6
    spread_w_per_k: float = 0.007  # in-plane conductivity × thickness
    air_w_per_m2k: float = 10.0  # each side, radiation included
    emissivity: float = 0.92
    copper: tuple[Copper, ...] = ()

    @cached_property
    def rings(self) -> tuple[Array, ...]:
        """Outer ring, then holes, each (n, 2)."""
        x0, y0 = self.origin_mm
        r, w, h = self.corner_mm, self.width_mm, self.height_mm
        ring = []
        for cx, cy, start in ((w - r, r, -90), (w - r, h - r, 0), (r, h - r, 90), (r, r, 180)):
            for angle in np.radians(np.linspace(start, start + 90, 13)):
                ring.append((x0 + cx + r * math.cos(angle), y0 + cy + r * math.sin(angle)))
        turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
        circles = [np.stack([x + d / 2 * np.cos(turn), y + d / 2 * np.sin(turn)], axis=1) for x, y, d in self.holes]
        return (np.array(ring), *circles)

    @cached_property
    def _zones(self) -> tuple[Array, float]:
        """Coarse grid: 1 inside, 0 outside, −1 near an edge, where the rings themselves are asked."""
        step = 0.4
        x = np.arange(-1.0, self.width_mm + 1.0, step) + self.origin_mm[0]
        y = np.arange(-1.0, self.height_mm + 1.0, step) + self.origin_mm[1]
        gx, gy = (a.ravel() for a in np.meshgrid(x, y))
        zone = _even_odd(self.rings, gx, gy).astype(float)
        near = np.full(gx.shape, np.inf)
        for ring in self.rings:
            for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
                d = b - a
                t = np.clip(((gx - a[0]) * d[0] + (gy - a[1]) * d[1]) / max(float(d @ d), 1e-12), 0, 1)
                near = np.minimum(near, np.hypot(gx - a[0] - t * d[0], gy - a[1] - t * d[1]))
        zone[near < step] = -1.0
        return zone.reshape(len(y), len(x)), step

    def inside(self, x: Array, y: Array) -> NDArray[np.bool_]:
        """Whether points lie on the board's surface; arrays of one shape."""
        zones, step = self._zones
        i = np.rint((y - self.origin_mm[1] + 1.0) / step).astype(np.intp)
        j = np.rint((x - self.origin_mm[0] + 1.0) / step).astype(np.intp)
        on_grid = (i >= 0) & (i < zones.shape[0]) & (j >= 0) & (j < zones.shape[1])
        value = np.where(on_grid, zones[np.where(on_grid, i, 0), np.where(on_grid, j, 0)], 0.0)
        inside = value > 0
        ask = np.flatnonzero(value < 0)
        inside.flat[ask] = _even_odd(self.rings, x.flat[ask], y.flat[ask])
        return inside


@dataclass(frozen=True, eq=False)
class World:
    """A board with its parts and bare metal."""

    board: Board
    parts: tuple[Part, ...]
    patches: tuple[Patch, ...] = ()

    @cached_property
    def metal(self) -> tuple[Patch, ...]:
        """Free patches and those that the parts bring: pads beyond chips' ends, feet of leads."""
        return self.patches + tuple(p for i, part in enumerate(self.parts) for p in _patches_of(part, i))


def _patches_of(part: Part, index: int) -> list[Patch]:
    axes, out = part.axes(), []
    center = np.asarray(part.center_mm)
    length, width, _ = part.size_mm

    def add(across: float, along: float, size: tuple[float, float], turn: float, pitch: float, share: float) -> None:
        x, y = center + across * axes[0] + along * axes[1]
        place = (float(x), float(y))
        out.append(Patch(place, part.rotation_deg + turn, size, part.side, 0.12, False, pitch, share, index))

    for sign in (-1, 1):
        if part.toe_mm > 0:
            add(sign * (length + part.toe_mm) / 2, 0.0, (part.toe_mm, 1.05 * width), 0.0, 0.0, 1.0)
        if "x" in part.leads:
            add(
                sign * (length + part.lead_mm) / 2, 0.0, (part.lead_mm, width), 0.0, part.lead_pitch_mm, part.lead_share
            )
        if "y" in part.leads:
            size = (part.lead_mm, length)
            add(0.0, sign * (width + part.lead_mm) / 2, size, 90.0, part.lead_pitch_mm, part.lead_share)
    return out


def _even_odd(rings: tuple[Array, ...], x: Array, y: Array) -> NDArray[np.bool_]:
    inside = np.zeros(x.shape, dtype=bool)
    for ring in rings:
        for (x1, y1), (x2, y2) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            if y1 != y2:
                crosses = (y1 > y) != (y2 > y)
                inside ^= crosses & (x < x1 + (y - y1) * (x2 - x1) / (y2 - y1))
    return inside
