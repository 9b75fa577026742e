"""What the page shows of a capture's control points: the fit, its doubts, and where to go on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from overlay.board.model import Board
from overlay.errors import InputError
from overlay.job.settings import CameraSettings, CaptureSettings, lens_of
from overlay.registration.control_points import height_at
from overlay.registration.coverage import coverage_warnings
from overlay.registration.fit import fit_registration
from overlay.registration.live import LiveFit, follow
from overlay.registration.model import Registration
from overlay.registration.project import pixel_covariance, pixels_from_board
from overlay.report.numbers import number, numbers
from overlay.report.registration_json import registration_json
from overlay.workbench.point_history import Points
from overlay.workbench.shapes import SideShapes, landmarks


@dataclass(frozen=True, slots=True, eq=False)
class Tie:
    """Control points and what they tie together: a registration, or the reasons why there is none."""

    points: Points
    registration: Registration | None
    problems: tuple[str, ...]


def tie(points: Points, capture: CaptureSettings, camera: CameraSettings, shape_px: tuple[int, int]) -> Tie:
    """Fit a capture's points as `map` would."""
    if len(points) < 2:
        missing = "Place two points for a first draft" if not points else "One more point gives a first draft"
        return Tie(points, None, (f"{missing}; six spread over the board are good.",))
    try:
        fitted = fit_registration(
            points,
            capture.side,
            shape_px,
            lens_of(camera, capture),
            file=capture.control_points or "control points",
        )
    except InputError as error:
        return Tie(points, None, tuple(f"{item.what}; {item.remedy}" for item in error.problems))
    return Tie(points, fitted, ())


def live(
    former: Registration, points: Points, moved: int, capture: CaptureSettings, camera: CameraSettings
) -> LiveFit | None:
    """The fit while a point is dragged; None where the former one cannot be carried on."""
    dropped = {index for index, item in enumerate(former.points) if item.left_out and index != moved}
    if len(points) < 2 or len(points) < len(former.points):
        return None
    try:
        with np.errstate(all="ignore"):
            return follow(former, points, sorted(dropped), lens_of(camera, capture))
    except (ValueError, np.linalg.LinAlgError):  # points upon one another, for the moment of a drag
        return None


def tie_json(state: Tie, board: Board, shapes: SideShapes) -> dict[str, Any]:
    """A capture's points with their residuals, the fit, outlines in the frame, and advice."""
    fitted = state.registration
    points = []
    for index, point in enumerate(state.points):
        item = None if fitted is None else fitted.points[index]
        points.append(
            {
                "name": point.name,
                "at": point.at,
                "board_mm": numbers(point.board_mm, 4),
                "z_mm": number(point.z_mm, 4),
                "pixel": numbers(point.pixel, 3),
                "clicked_px": numbers(point.clicked_px, 3),
                "residual_px": None if item is None else number(item.residual_px, 3),
                "residual_xy_px": None if item is None else numbers(item.residual_xy_px, 3),
                "left_out_px": None if item is None else number(item.left_out_px, 3),
                "suspect": item is not None and item.suspect,
                "left_out": item is not None and item.left_out,
                "remark": "" if item is None else item.remark,
            }
        )
    if fitted is None:
        return {"points": points, "fit": None, "problems": list(state.problems), "outlines": None, "advice": None}
    with np.errstate(all="ignore"):
        values = registration_json(fitted)
        outlines = shapes.through(lambda xyz_mm: pixels_from_board(fitted, xyz_mm))
        warnings = (*fitted.warnings, *coverage_warnings(fitted, board))
    keep = ("model", "rms_px", "rms_mm", "mm_per_px", "refined", "confidence")
    return {
        "points": points,
        "fit": {key: values.get(key) for key in keep} | {"warnings": list(dict.fromkeys(warnings))},
        "problems": [],
        "outlines": outlines,
        "landmarks_px": _landmarks_px(fitted, board),
        "advice": next_place(fitted, board),
    }


def _landmarks_px(registration: Registration, board: Board) -> list[list[float | None] | None]:
    """Where corners and holes are seen, None where they are not in the frame."""
    marks = landmarks(board)
    if not marks:
        return []
    rows, cols = registration.shape_px
    with np.errstate(all="ignore"):
        uv_px = pixels_from_board(registration, np.array([[*mark.board_mm, 0.0] for mark in marks]))
    inside = (uv_px > -0.5).all(axis=1) & (uv_px[:, 0] < cols - 0.5) & (uv_px[:, 1] < rows - 0.5)
    return [numbers(place, 3) if good else None for place, good in zip(uv_px, inside, strict=True)]


def live_json(fit: LiveFit, shapes: SideShapes) -> dict[str, Any]:
    """Outlines and residuals while a point is dragged."""
    with np.errstate(all="ignore"):
        outlines = shapes.through(fit.pixels)
    return {
        "outlines": outlines,
        "rms_px": number(fit.rms_px, 3),
        "residuals_xy_px": [numbers(row, 3) for row in fit.residual_xy_px],
    }


def next_place(registration: Registration, board: Board) -> dict[str, Any] | None:
    """Where one more point would help most: the seen place whose pixel is the least certain.

    Measuring where the prediction is the least certain shrinks the covariance's determinant most (the equivalence
    theorem of optimal design; Kiefer and Wolfowitz, 1960, from memory).
    """
    used = {(item.point.at, item.point.board_mm) for item in registration.points}
    choices: list[tuple[str | None, str, tuple[float, float, float]]] = [
        (None, f"the {mark.name}", (*mark.board_mm, 0.0)) for mark in landmarks(board)
    ]
    for part in board.components:
        height, known = height_at(part)
        if part.side == registration.side and known and part.body is not None:
            choices.append((part.refdes, part.refdes, (*part.center_mm, height)))
    choices = [choice for choice in choices if (choice[0], choice[2][:2]) not in used]
    if not choices:
        return None
    xyz_mm = np.array([choice[2] for choice in choices])
    rows, cols = registration.shape_px
    with np.errstate(all="ignore"):
        uv_px = pixels_from_board(registration, xyz_mm)
        u_px = np.sqrt(np.trace(pixel_covariance(registration, xyz_mm), axis1=1, axis2=2) / 2.0)
    inside = (uv_px > 2.0).all(axis=1) & (uv_px[:, 0] < cols - 3) & (uv_px[:, 1] < rows - 3) & np.isfinite(u_px)
    if not inside.any():
        return None
    best = int(np.argmax(np.where(inside, u_px, -1.0)))
    at, name, place = choices[best]
    return {
        "at": at,
        "name": name,
        "board_mm": numbers(place[:2], 4),
        "pixel": numbers(uv_px[best], 3),
        "u_px": number(float(u_px[best]), 2),
    }
