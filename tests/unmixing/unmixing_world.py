"""Boards of small parts before a tilted camera, drawn by the ray caster of `tests.truth`.

Chips have metal ends, bare pads and a bow of temperature along them; walls are as warm as their height says.
"""

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from overlay.board.model import Board, Body, Component, Outline
from overlay.frames.frame import Emissivity
from overlay.frames.radiometry import Band, Sight, leaving_radiance
from overlay.registration.faces import project_faces
from overlay.registration.fit import fit_registration
from overlay.registration.model import ControlPoint, Lens
from overlay.view.model import View
from tests.truth.worlds.instrument import blurred, exitance
from tests.truth.worlds.instrument import temperature_c as celsius
from tests.truth.worlds.solids import BENCH, BOARD, TOP, Array, Eye, Hits, Skin, Solid, cast

BAND = Band(8.0, 14.0)
METAL = 0.10
FINER = 8  # sub-pixels a side


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


def eye_of(world: World) -> Eye:
    """The camera over the middle of the board, turned about both axes."""
    a, b = np.radians(world.tilt_deg)
    about_x = np.array([[1, 0, 0], [0, math.cos(a), -math.sin(a)], [0, math.sin(a), math.cos(a)]])
    about_y = np.array([[math.cos(b), 0, math.sin(b)], [0, 1, 0], [-math.sin(b), 0, math.cos(b)]])
    axes = about_y @ about_x @ np.diag([1.0, -1.0, -1.0])  # of the camera on the board, whose y and z it sees reversed
    focal_px = world.shape_px[1] / 2 / math.tan(math.radians(world.hfov_deg) / 2)
    place = np.array([*world.size_mm, 0.0]) / 2 - axes.T @ [0, 0, focal_px / world.px_per_mm]
    return Eye(place, axes, focal_px, world.shape_px)


def picture(world: World) -> Array:
    """True leaving radiance of each pixel, blurred by the lens, (rows, cols)."""
    things = [thing for part in world.parts for thing in _things(part)]
    hits = cast(eye_of(world), [solid for solid, _ in things], world.size_mm, FINER)
    warm, room = exitance(board_c(hits.x_mm, hits.y_mm)), float(exitance(world.room_c))
    out = np.full(hits.x_mm.shape, room)
    for number, emissivity in ((BENCH, 0.0), (BOARD, world.board_emissivity)):
        seen = hits.solid == number
        out[seen] = emissivity * warm[seen] + (1 - emissivity) * room
    for number, (_, part) in enumerate(things):
        seen = hits.solid == number
        emits, own = (METAL, warm[seen]) if part is None else _body(part, hits, seen)
        out[seen] = emits * own + (1 - emits) * room
    return blurred(out, world.blur_px, FINER)


def _things(part: Part) -> list[tuple[Solid, Part | None]]:
    """The body, and the bare pads that lie flat beside its ends."""
    (length, width, height), skin = part.size_mm, Skin(math.nan, 1.0)
    x, y = part.center_mm[0] + part.off_mm[0], part.center_mm[1] + part.off_mm[1]
    c, s = math.cos(math.radians(part.rotation_deg)), math.sin(math.radians(part.rotation_deg))
    out: list[tuple[Solid, Part | None]] = []
    out.append((Solid(part.refdes, "box", (x, y), part.rotation_deg, (length, width, height), skin), part))
    for away in (-1, 1) if part.pad_mm else ():
        far = away * (length + part.pad_mm) / 2
        pad = (part.pad_mm, width, 1e-3)
        out.append((Solid("", "box", (x + c * far, y + s * far), part.rotation_deg, pad, skin), None))
    return out


def _body(part: Part, hits: Hits, seen: np.ndarray) -> tuple[Array, Array]:
    """Emissivity and own exitance at each sub-pixel that shows a body."""
    under, along = float(board_c(*part.center_mm)), np.abs(hits.u[seen]) / 2  # of the length
    bare = 0.5 - part.cap
    top_c = part.mean_c + part.bow * (part.mean_c - under) * (1 / 3 - np.minimum(along / bare, 1) ** 2)
    wall_c = under + (0.3 + 0.5 * hits.w[seen]) * (top_c - under)
    emits = np.where(along > bare, METAL, part.emissivity)
    return emits, exitance(np.where(hits.face[seen] == TOP, top_c, wall_c))


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
    clicked = eye_of(world).pixels(np.array([[*p, 0.0] for p in places])) + random.normal(
        0, world.click_px, (len(places), 2)
    )
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
