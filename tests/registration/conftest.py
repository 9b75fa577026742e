"""A pinhole camera worked out by plain geometry, sharing nothing with the code it is held against."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely

from overlay.board.model import Board, Body, Component, Outline, Side
from overlay.frames.frame import Array
from overlay.registration.model import ControlPoint

Look = Callable[..., Array]
Part = Callable[..., Component]


def _look(
    xyz_mm: Array,
    side: Side = "top",
    *,
    eye_mm: tuple[float, float, float] = (50.0, 32.0, 290.0),
    aim_mm: tuple[float, float] = (50.0, 32.0),
    up_deg: float = 0.0,
    hfov_deg: float = 28.0,
    shape_px: tuple[int, int] = (240, 320),
    radial: float = 0.0,
) -> Array:
    """Pixels (n, 2) of points x, y (seen from the top) and height above the seen side, for an eye that aims at a place.

    ``up_deg`` turns the board's y axis clockwise in the frame. The underside is seen with x running left.
    """
    hand = np.array([-1.0 if side == "bottom" else 1.0, 1.0, 1.0])
    eye, aim = np.array(eye_mm) * hand, np.array([*aim_mm, 0.0]) * hand
    along = (aim - eye) / np.linalg.norm(aim - eye)
    up = np.array([-np.sin(np.radians(up_deg)), np.cos(np.radians(up_deg)), 0.0])
    right = np.cross(along, up)
    right /= np.linalg.norm(right)
    down = np.cross(along, right)
    away = np.asarray(xyz_mm) * hand - eye
    tangents = np.column_stack([away @ right, away @ down]) / (away @ along)[:, None]
    focal = shape_px[1] / 2.0 / np.tan(np.radians(hfov_deg) / 2.0)
    bend = 1.0 + radial * (tangents**2).sum(axis=1, keepdims=True)
    return np.asarray(focal * tangents * bend + np.array([shape_px[1] - 1, shape_px[0] - 1]) / 2.0)


@pytest.fixture(scope="session")
def look() -> Look:
    return _look


@pytest.fixture(scope="session")
def control() -> Callable[..., tuple[ControlPoint, ...]]:
    def make(xyz_mm: Array, uv_px: Array, pixel_u: float = 0.5) -> tuple[ControlPoint, ...]:
        return tuple(
            ControlPoint((float(u), float(v)), (float(x), float(y)), float(z), pixel_u, f"P{index + 1}", index + 2)
            for index, ((x, y, z), (u, v)) in enumerate(zip(xyz_mm, uv_px, strict=True))
        )

    return make


@pytest.fixture(scope="session")
def part() -> Part:
    def make(
        refdes: str,
        x: float,
        y: float,
        size: tuple[float, float, float | None] | None = (3.2, 1.6, 0.6),
        *,
        rotation_deg: float = 0.0,
        side: Side = "top",
        shape: str = "box",
        mechanical: bool = False,
        kind: str = "",
    ) -> Component:
        body = None if size is None else Body(*size, source="test", shape=shape)  # type: ignore[arg-type]
        return Component(refdes, (x, y), rotation_deg, side, "", "", "", mechanical, 1, kind, body)

    return make


@pytest.fixture(scope="session")
def board_of() -> Callable[..., Board]:
    def make(*components: Component) -> Board:
        outline = Outline(shapely.box(0.0, 0.0, 100.0, 64.0), "test")
        return Board("Test board", "A", components, outline, Path("placement.csv"), "mm", "test")

    return make
