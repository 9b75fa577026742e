"""The exact registration of a camera that looks straight down on one side of a board."""

from __future__ import annotations

import math

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Side
from overlay.registration.camera import Pinhole, rotation_vector
from overlay.registration.fit_models import surface_matrix
from overlay.registration.model import Registration


def straight_down(
    side: Side,
    shape_px: tuple[int, int],
    focal_px: float,
    aim_mm: tuple[float, float],
    distance_mm: float,
    turn_deg: float = 0.0,
    at_px: tuple[float, float] | None = None,
) -> Registration:
    """A registration whose pose is given rather than fitted; its covariance is zero.

    Parameters
    ----------
    aim_mm
        The place of the board that is seen at ``at_px`` (default: the middle of the frame).
    distance_mm
        From the lens to the board's surface.
    turn_deg
        By how much the board appears turned in the frame, clockwise as the frame is looked at.
    """
    pinhole = Pinhole(side, shape_px, aim_mm)
    turn = math.radians(turn_deg)
    about_axis = np.array([[math.cos(turn), -math.sin(turn), 0.0], [math.sin(turn), math.cos(turn), 0.0], [0, 0, 1.0]])
    rotation = about_axis @ np.diag([1.0, -1.0, -1.0])  # camera axes: y down, z along the view
    aside = (np.array(pinhole.center_px if at_px is None else at_px) - pinhole.center_px) * distance_mm / focal_px
    parameters: Array = np.concatenate([rotation_vector(rotation), aside, [distance_mm, math.log(focal_px), 0.0]])
    return Registration(
        model="camera",
        side=side,
        shape_px=shape_px,
        pixel_from_board=surface_matrix(pinhole, parameters),
        parameters=parameters,
        covariance=np.zeros((8, 8)),
        points=(),
        rms_px=0.0,
        rms_mm=0.0,
        mm_per_px=distance_mm / focal_px,
        camera=pinhole.camera(parameters),
        center_mm=aim_mm,
    )
