"""A board seen by a camera, drawn by following sub-pixels back to what they see; shares no code with the library.

Planck's law is integrated by a trapezoid of its own. Every sub-pixel's ray is met with the planes of the board and of
each body's top and slices (from the highest down), so faces, walls and what they hide need no outlines.
"""

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter

from overlay.board.model import Board, Body, Component, Outline
from overlay.frames.frame import Emissivity
from overlay.frames.radiometry import Band, Sight, leaving_radiance
from overlay.registration.faces import project_faces
from overlay.registration.fit import fit_registration
from overlay.registration.model import ControlPoint, Lens
from overlay.view.model import View

BAND = Band(8.0, 14.0)
METAL = 0.10
_UM = np.linspace(8.0, 14.0, 241)
_KELVIN = np.linspace(253.0, 473.0, 441)
_SPECTRUM = 3.741771852e8 / _UM[:, None] ** 5 / np.expm1(14387.768775 / (_UM[:, None] * _KELVIN))
_EXITANCE = ((_SPECTRUM[1:] + _SPECTRUM[:-1]) / 2 * np.diff(_UM)[:, None]).sum(axis=0)


def exitance(celsius):
    return np.interp(np.asarray(celsius) + 273.15, _KELVIN, _EXITANCE)


def celsius(exitance_w):
    return np.interp(exitance_w, _EXITANCE, _KELVIN) - 273.15


@dataclass(frozen=True)
class Part:
    refdes: str
    center_mm: tuple[float, float]
    size_mm: tuple[float, float, float]
    mean_c: float
    rotation_deg: float = 0.0
    cap: float = 0.0  # share of the length of one metal end
    pad_mm: float = 0.0
    bow: float = 0.0  # fall from middle to ends, over its rise above 40 °C
    emissivity: float = 0.9
    terminals: str = "none"
    off_mm: tuple[float, float] = (0.0, 0.0)  # true place against the nominal one
    kind: str = "resistor"


@dataclass(frozen=True)
class World:
    parts: tuple[Part, ...]
    size_mm: tuple[float, float] = (30.0, 22.0)
    px_per_mm: float = 2.0
    shape_px: tuple[int, int] = (60, 80)
    tilt_deg: tuple[float, float] = (4.0, -3.0)
    hfov_deg: float = 25.0
    blur_px: float = 1.2
    room_c: float = 23.0
    noise_c: float = 0.05
    board_emissivity: float = 0.92
    click_px: float = 0.4
    seed: int = 1


def board_c(x, y):
    return 40.0 + 6.0 * np.exp(-((x - 12.0) ** 2 + (y - 10.0) ** 2) / 120.0) + 0.1 * x


class _Eye:
    def __init__(self, world: World) -> None:
        rows, cols = world.shape_px
        self.focal = cols / 2 / math.tan(math.radians(world.hfov_deg) / 2)
        self.middle = (cols - 1) / 2, (rows - 1) / 2
        a, b = np.radians(world.tilt_deg)
        about_x = np.array([[1, 0, 0], [0, math.cos(a), -math.sin(a)], [0, math.sin(a), math.cos(a)]])
        about_y = np.array([[math.cos(b), 0, math.sin(b)], [0, 1, 0], [-math.sin(b), 0, math.cos(b)]])
        self.turn = about_y @ about_x @ np.diag([1.0, -1.0, -1.0])  # board axes to camera axes, y and z reversed
        self.target = np.array([world.size_mm[0] / 2, world.size_mm[1] / 2, 0.0])
        self.distance = self.focal / world.px_per_mm

    def pixels(self, xyz):
        seen = (np.asarray(xyz) - self.target) @ self.turn.T + [0, 0, self.distance]
        return seen[:, :2] / seen[:, 2:] * self.focal + self.middle

    def meet(self, px, py, z):
        rays = np.stack([(px - self.middle[0]) / self.focal, (py - self.middle[1]) / self.focal, np.ones_like(px)], -1)
        rays = rays @ self.turn
        eye = self.target - self.turn.T @ [0, 0, self.distance]
        along = (z - eye[2]) / rays[..., 2]
        return eye[0] + along * rays[..., 0], eye[1] + along * rays[..., 1]


def _local(part, x, y):
    c, s = math.cos(math.radians(part.rotation_deg)), math.sin(math.radians(part.rotation_deg))
    dx, dy = x - part.center_mm[0] - part.off_mm[0], y - part.center_mm[1] - part.off_mm[1]
    return c * dx + s * dy, -s * dx + c * dy


def picture(world: World, sub: int = 8):
    """True leaving radiance of each pixel, blurred by the lens, (rows, cols)."""
    eye, (rows, cols) = _Eye(world), world.shape_px
    line = [(np.arange(n * sub) + 0.5) / sub - 0.5 for n in (cols, rows)]
    px, py = np.meshgrid(*line)
    x, y = eye.meet(px, py, 0.0)
    room, eps = float(exitance(world.room_c)), world.board_emissivity
    warm = exitance(board_c(x, y))
    out = eps * warm + (1 - eps) * room
    out[(x < 0) | (y < 0) | (x > world.size_mm[0]) | (y > world.size_mm[1])] = float(exitance(world.room_c))
    for part in world.parts:  # bare pads lie flat
        u, v = _local(part, x, y)
        length, width = part.size_mm[:2]
        pad = (np.abs(u) > length / 2) & (np.abs(u) < length / 2 + part.pad_mm) & (np.abs(v) < width / 2)
        out[pad] = METAL * warm[pad] + (1 - METAL) * room
    for part in sorted(world.parts, key=lambda p: p.size_mm[2]):
        length, width, height = part.size_mm
        under = float(board_c(*part.center_mm))
        bare = length * (0.5 - part.cap)
        levels = np.linspace(0.0, height, max(2, math.ceil(4 * height) + 1))
        for z in levels:
            u, v = _local(part, *eye.meet(px, py, z))
            inside = (np.abs(u) <= length / 2) & (np.abs(v) <= width / 2)
            s = np.clip(u[inside] / bare, -1, 1)
            top_c = part.mean_c + part.bow * (part.mean_c - under) * (1 / 3 - s**2)
            t = top_c if z == height else under + (0.3 + 0.5 * z / height) * (top_c - under)
            emits = np.where(np.abs(u[inside]) > bare, METAL, part.emissivity)
            out[inside] = emits * exitance(t) + (1 - emits) * room
    blurred = gaussian_filter(out, world.blur_px / 2.3548 * sub, mode="nearest")
    return blurred.reshape(rows, sub, cols, sub).mean(axis=(1, 3))


def board_of(world: World) -> Board:
    def component(part: Part) -> Component:
        body = Body(*part.size_mm, "test", terminals=part.terminals)
        return Component(
            part.refdes, part.center_mm, part.rotation_deg, "top", "", "", "", False, 1, kind=part.kind, body=body
        )

    outline = Outline(shapely.box(0, 0, *world.size_mm), "test")
    return Board("test", "", tuple(component(p) for p in world.parts), outline, Path("p.csv"), "mm", "test")


def view_of(world: World, *, blur_px: float | None = -1.0, camera: bool = True, leaving=None) -> View:
    """What the library gets: a noisy frame, clicked corners, true emissivities."""
    random, (w, h) = np.random.default_rng(world.seed), world.size_mm
    places = [(1.0, 1.0), (w - 1, 1.5), (w - 1.5, h - 1), (1.5, h - 1.5), (w / 2, h - 1), (w / 2 + 1, 1.0)]
    clicked = _Eye(world).pixels([[*p, 0.0] for p in places]) + random.normal(0, world.click_px, (len(places), 2))
    points = [
        ControlPoint(tuple(uv), p, 0.0, max(world.click_px, 0.05), None, i)
        for i, (uv, p) in enumerate(zip(clicked, places, strict=True))
    ]
    registration = fit_registration(points, "top", world.shape_px, Lens(world.hfov_deg if camera else None))
    apparent = celsius(picture(world) if leaving is None else leaving)
    apparent = apparent + random.normal(0, world.noise_c, apparent.shape)
    sight, board = Sight(air_c=world.room_c), board_of(world)
    return View(
        capture="test",
        band=BAND,
        sight=sight,
        board=board,
        registration=registration,
        faces=project_faces(registration, board),
        apparent_c=apparent,
        leaving_radiance=leaving_radiance(BAND, sight, apparent),
        emissivity={p.refdes: Emissivity(p.emissivity, 0.02, "test") for p in world.parts},
        board_emissivity=Emissivity(world.board_emissivity, 0.02, "test"),
        emissivity_map=None,
        ambient_c=world.room_c,
        reflected_c=world.room_c,
        reflected_u_c=1.0,
        accuracy_c=2.0,
        accuracy_percent=2.0,
        noise_c=world.noise_c,
        blur_px=world.blur_px if blur_px == -1.0 else blur_px,
    )


def errors_k(world: World, unmixed):
    """Error and uncertainty of each part's mean temperature, by refdes."""
    out = {}
    for part in world.parts:
        i = unmixed.refdes.index(part.refdes)
        true = part.emissivity * float(exitance(part.mean_c)) + (1 - part.emissivity) * float(exitance(world.room_c))
        gain = part.emissivity * float(exitance(part.mean_c + 0.5) - exitance(part.mean_c - 0.5))
        out[part.refdes] = ((unmixed.leaving[i] - true) / gain, unmixed.leaving_u[i] / gain)
    return out


def chips(seed: int, *, cap: float = 0.22, pad_mm: float = 0.35, **world) -> World:
    """A field of chips of three sizes, some of them hot, no two alike."""
    random, parts = np.random.default_rng(seed), []
    sizes = ((1.0, 0.5, 0.4), (1.6, 0.8, 0.5), (2.0, 1.25, 0.6))
    for number in range(35):
        x, y = 3.0 + 4.0 * (number % 7), 3.0 + 4.0 * (number // 7)
        size = sizes[number % 3]
        here = float(board_c(x, y))
        rise = float(random.uniform(20, 60)) if random.random() < 0.3 else float(random.uniform(-1, 4))
        off = random.normal(0, 0.04, 2)
        parts.append(
            Part(
                f"R{number + 1}",
                (x + float(random.uniform(-0.4, 0.4)), y + float(random.uniform(-0.4, 0.4))),
                size,
                here + rise,
                rotation_deg=float(90 * random.integers(4)) if number % 5 else 30.0,
                cap=cap + float(random.normal(0, 0.01)),
                pad_mm=pad_mm,
                bow=0.25,
                emissivity=float(random.uniform(0.85, 0.95)),
                terminals="ends",
                off_mm=(float(off[0]), float(off[1])),
            )
        )
    return replace(World(tuple(parts), seed=seed), **world)
