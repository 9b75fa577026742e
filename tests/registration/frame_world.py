"""Frames of a board drawn by the ray caster of `tests.truth`, which shares nothing with the code they judge."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from overlay.board.model import Board, Body, Component, Outline
from overlay.frames.frame import Array
from overlay.registration.model import ControlPoint
from tests.truth.worlds.instrument import blurred
from tests.truth.worlds.solids import BENCH, BOARD, Skin, Solid, cast, look_at

SIZE_MM = (80.0, 56.0)
SHAPE_PX = (180, 240)
HFOV_DEG = 25.0
DISTANCE_MM = 240.0
FINE = 4
BENCH_C = 24.0
KINDS = (
    ("resistor", 2.0, 1.25, 0.5),
    ("capacitor", 3.2, 1.6, 0.9),
    ("ic", 5.0, 4.0, 1.5),
    ("resistor", 1.6, 0.8, 0.45),
)


@dataclass(frozen=True)
class Pictured:
    """A board, how it is looked at, and the frame that shows it."""

    board: Board
    frame_c: Array
    see: Callable[[Array], Array]  # board points (n, 3) to pixels (n, 2)

    def error_px(self, pixels: Callable[[Array], Array]) -> float:
        """Rms distance over the board between a registration and the truth."""
        x, y = np.meshgrid(np.linspace(0, SIZE_MM[0], 9), np.linspace(0, SIZE_MM[1], 7))
        xyz = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
        return float(np.sqrt(((pixels(xyz) - self.see(xyz)) ** 2).sum(axis=1).mean()))

    def clicks(self, names: tuple[str, ...], off_px: float, seed: int = 0) -> tuple[ControlPoint, ...]:
        """Those parts clicked so far beside their true places."""
        random, points = np.random.default_rng(seed), []
        for name in names:
            part = self.board.component(name)
            angle = random.uniform(0, 2 * np.pi)
            u, v = self.see(np.array([[*part.center_mm, part.height_mm or 0.0]]))[0]
            at = (float(u + off_px * np.cos(angle)), float(v + off_px * np.sin(angle)))
            points.append(ControlPoint(at, part.center_mm, part.height_mm or 0.0, max(off_px / 2, 0.3), name, 2))
        return tuple(points)


def scattered(seed: int, count: int = 40, side: str = "top") -> list[Component]:
    """Parts of four sizes at random places, none over another; R1 and R2 in opposite corners."""
    random, parts, taken = np.random.default_rng(seed), [], []
    wanted = [(6.0, 7.0), (74.0, 49.0)]
    while len(parts) < count:
        at = wanted[len(parts)] if len(parts) < 2 else tuple(random.uniform((5, 5), (75, 51)))
        kind, length, width, height = KINDS[0] if len(parts) < 2 else KINDS[int(random.integers(len(KINDS)))]
        if any(np.hypot(at[0] - x, at[1] - y) < 0.8 + (length + far) / 2 for x, y, far in taken):
            continue
        taken.append((*at, length))
        body = Body(length, width, height, "test")
        name, turn = f"R{len(parts) + 1}", 90.0 * int(random.integers(4))
        at_mm = (float(at[0]), float(at[1]))
        parts.append(Component(name, at_mm, turn, side, "", "", "", False, 1, kind, body))  # type: ignore[arg-type]
    return parts


def in_rows(pitch_mm: float = 5.0) -> list[Component]:
    """Nothing but three rows of equal parts."""
    body = Body(3.2, 1.6, 0.8, "test")
    places = [(8.0 + pitch_mm * k, y) for y in (16.0, 28.0, 40.0) for k in range(14)]
    return [
        Component(f"R{i + 1}", at, 90.0, "top", "", "", "", False, 1, "resistor", body) for i, at in enumerate(places)
    ]


def in_a_grid(pitch_mm: float = 5.0) -> list[Component]:
    """The whole board full of parts of several sizes."""
    sizes = scattered(3)[:6]
    places = [
        (x, y)
        for y in np.arange(pitch_mm, SIZE_MM[1] - 1, pitch_mm)
        for x in np.arange(pitch_mm, SIZE_MM[0] - 1, pitch_mm)
    ]
    return [
        replace(sizes[i % 6], refdes=f"R{i + 1}", center_mm=(float(x), float(y))) for i, (x, y) in enumerate(places)
    ]


def board_of_parts(parts: list[Component]) -> Board:
    return Board("Test", "A", tuple(parts), Outline(shapely.box(0, 0, *SIZE_MM), "test"), Path("p.csv"), "mm", "test")


def picture(
    board: Board,
    *,
    tilt_mm: tuple[float, float] = (25.0, -15.0),
    up_deg: float = 3.0,
    contrast_k: float = 12.0,
    board_k: float = 8.0,
    side: str = "top",
    noise_k: float = 0.06,
    seed: int = 1,
) -> Pictured:
    """A frame of the board: parts up to ``contrast_k`` above it, the board ``board_k`` above a bench of 24 °C.

    The underside is looked at as if it were a top: with x counted from the other end.
    """
    random, (width, height) = np.random.default_rng(seed), SIZE_MM
    hand, start = (-1.0, width) if side == "bottom" else (1.0, 0.0)
    aim = (start + hand * (width / 2 + 1.0), height / 2 - 1.5)
    away = (hand * tilt_mm[0], tilt_mm[1])
    tilt_deg = np.degrees(np.arctan2(np.hypot(*away), DISTANCE_MM))
    towards_deg = np.degrees(np.arctan2(away[1], away[0]))
    far_mm = float(np.hypot(np.hypot(*away), DISTANCE_MM))
    eye = look_at(aim, far_mm, HFOV_DEG, SHAPE_PX, float(tilt_deg), float(towards_deg), up_deg)

    def see(xyz_mm: Array) -> Array:
        return eye.pixels(np.asarray(xyz_mm) * [hand, 1.0, 1.0] + [start, 0.0, 0.0])

    solids, warmer_k = [], []
    for part in board.components:
        body = part.body
        assert body is not None
        rise_k = contrast_k * float(random.uniform(0.2, 1.0)) * float(random.choice([-0.4, 1.0]))
        ends_k = rise_k if part.kind == "ic" else -0.3 * board_k  # metal ends look colder
        at, turn_deg = (start + hand * part.center_mm[0], part.center_mm[1]), hand * part.rotation_deg
        for share, k in ((1.0, ends_k), (0.56, rise_k)):  # thin plates at the height of the top, one upon the other
            size, base = (share * body.length_mm, body.width_mm, 1e-3), (body.height_mm or 0.0) - 2e-3 * share
            solids.append(Solid(part.refdes, "box", at, turn_deg, size, Skin(k, 1.0), base))
            warmer_k.append(k)
    hits = cast(eye, solids, SIZE_MM, FINE)
    y, x = np.indices(hits.solid.shape) / FINE
    on_board = BENCH_C + board_k * (1.0 + 0.4 * np.sin(x / 40.0) + 0.3 * np.cos(y / 35.0))
    on_parts = BENCH_C + board_k + np.array([*warmer_k, 0.0])[hits.solid]
    fine = np.select([hits.solid == BENCH, hits.solid == BOARD], [BENCH_C, on_board], on_parts)
    frame = blurred(fine, 0.55 * 2.3548, FINE)
    return Pictured(board, np.asarray(frame + random.normal(0, noise_k, SHAPE_PX)), see)
