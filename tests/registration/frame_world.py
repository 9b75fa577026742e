"""Pictures of a board drawn by supersampled polygons, sharing nothing with the code they are held against."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter

from overlay.board.model import Board, Body, Component, Outline
from overlay.frames.frame import Array
from overlay.registration.model import ControlPoint

SIZE_MM = (80.0, 56.0)
SHAPE_PX = (180, 240)
HFOV_DEG = 25.0
DISTANCE_MM = 240.0
FINE = 4
KINDS = (
    ("resistor", 2.0, 1.25, 0.5),
    ("capacitor", 3.2, 1.6, 0.9),
    ("ic", 5.0, 4.0, 1.5),
    ("resistor", 1.6, 0.8, 0.45),
)
Look = Callable[..., Array]


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


def board_of_parts(parts: list[Component]) -> Board:
    return Board("Test", "A", tuple(parts), Outline(shapely.box(0, 0, *SIZE_MM), "test"), Path("p.csv"), "mm", "test")


def picture(
    look: Look,
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
    """A frame of the board: parts up to ``contrast_k`` above it, the board ``board_k`` above a bench of 24 °C."""
    random = np.random.default_rng(seed)
    aim = (SIZE_MM[0] / 2 + 1.0, SIZE_MM[1] / 2 - 1.5)
    eye = (aim[0] + tilt_mm[0], aim[1] + tilt_mm[1], DISTANCE_MM)

    def see(xyz_mm: Array) -> Array:
        return look(xyz_mm, side, eye_mm=eye, aim_mm=aim, up_deg=up_deg, hfov_deg=HFOV_DEG, shape_px=SHAPE_PX)

    rows, cols = SHAPE_PX
    y, x = np.mgrid[0 : rows * FINE, 0 : cols * FINE]
    x, y = (x + 0.5) / FINE - 0.5, (y + 0.5) / FINE - 0.5
    fine = np.full(x.shape, 24.0)
    ring = shapely.get_coordinates(board.outline.polygon.exterior)[:-1]
    dense = np.concatenate(
        [np.linspace(a, b, 12, endpoint=False) for a, b in zip(ring, np.roll(ring, -1, 0), strict=True)]
    )
    on = shapely.contains_xy(shapely.Polygon(see(np.column_stack([dense, 0 * dense[:, 0]]))), x, y)
    fine[on] = 24.0 + board_k * (1.0 + 0.4 * np.sin(x[on] / 40.0) + 0.3 * np.cos(y[on] / 35.0))
    for part in board.components:
        body = part.body
        assert body is not None
        rise = contrast_k * float(random.uniform(0.2, 1.0)) * float(random.choice([-0.4, 1.0]))
        turn = np.radians(part.rotation_deg)
        axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        for share, sign in ((1.0, -0.5), (0.56, 1.0)) if part.kind != "ic" else ((1.0, 1.0),):
            half = np.array([body.length_mm * share, body.width_mm]) / 2
            corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half @ axes + np.array(part.center_mm)
            seen = see(np.column_stack([corners, np.full(4, body.height_mm or 0.0)]))
            (u0, v0), (u1, v1) = seen.min(axis=0), seen.max(axis=0)
            i0, i1 = int((v0 + 0.5) * FINE) - 1, int((v1 + 0.5) * FINE) + 2
            j0, j1 = int((u0 + 0.5) * FINE) - 1, int((u1 + 0.5) * FINE) + 2
            box = np.s_[max(i0, 0) : max(i1, 0), max(j0, 0) : max(j1, 0)]
            inside = shapely.contains_xy(shapely.Polygon(seen), x[box], y[box])
            base = 24.0 + board_k
            fine[box][inside] = base + (rise if sign > 0 else -0.3 * board_k)
    blurred = gaussian_filter(fine, 0.55 * FINE).reshape(rows, FINE, cols, FINE).mean(axis=(1, 3))
    return Pictured(board, np.asarray(blurred + random.normal(0, noise_k, SHAPE_PX)), see)
