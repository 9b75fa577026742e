"""A planned shot as a registration: what the library would know of the frame if the camera stood just there."""

from __future__ import annotations

from overlay.board.model import Side
from overlay.registration.model import Registration
from overlay.registration.straight_down import straight_down
from overlay.shots.model import ShotCamera


def planned_registration(
    camera: ShotCamera, side: Side, aim_mm: tuple[float, float], distance_mm: float, turned: bool
) -> Registration:
    """The exact registration of a camera that looks straight down on ``aim_mm`` from ``distance_mm``.

    ``turned`` lays the frame's columns along the board's y axis.
    """
    shape_px = (camera.rows, camera.cols)
    return straight_down(side, shape_px, camera.focal_px, aim_mm, distance_mm, 90.0 if turned else 0.0)
