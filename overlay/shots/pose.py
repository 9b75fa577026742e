"""A planned shot as a registration: what the library would know of the frame if the camera stood just there."""

from __future__ import annotations

import math

import numpy as np

from overlay.board.model import Side
from overlay.registration.camera import Pinhole, rotation_vector
from overlay.registration.model import Registration
from overlay.shots.model import ShotCamera


def planned_registration(
    camera: ShotCamera, side: Side, aim_mm: tuple[float, float], distance_mm: float, turned: bool
) -> Registration:
    """The exact registration of a camera that looks straight down on ``aim_mm`` from ``distance_mm``.

    ``turned`` lays the frame's columns along the board's y axis.
    """
    shape_px = (camera.rows, camera.cols)
    pinhole = Pinhole(side, shape_px, aim_mm)
    turn = math.pi / 2.0 if turned else 0.0
    about_axis = np.array([[math.cos(turn), -math.sin(turn), 0.0], [math.sin(turn), math.cos(turn), 0.0], [0, 0, 1.0]])
    rotation = about_axis @ np.diag([1.0, -1.0, -1.0])  # camera axes: y down, z along the view
    parameters = np.concatenate([rotation_vector(rotation), [0.0, 0.0, distance_mm], [math.log(camera.focal_px), 0.0]])
    view = pinhole.camera(parameters)
    axes = view.rotation * np.array([-1.0 if side == "bottom" else 1.0, 1.0, 1.0])
    matrix = np.column_stack([axes[:, :2], view.translation_mm])
    to_pixels = np.array(
        [[camera.focal_px, 0.0, pinhole.center_px[0]], [0.0, camera.focal_px, pinhole.center_px[1]], [0.0, 0.0, 1.0]]
    )
    pixel_from_board = to_pixels @ matrix
    return Registration(
        model="camera",
        side=side,
        shape_px=shape_px,
        pixel_from_board=pixel_from_board / pixel_from_board[2, 2],
        parameters=parameters,
        covariance=np.zeros((8, 8)),
        points=(),
        rms_px=0.0,
        rms_mm=0.0,
        mm_per_px=distance_mm / camera.focal_px,
        camera=view,
        center_mm=aim_mm,
    )
