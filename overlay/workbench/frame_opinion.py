"""What the frame itself says of control points, in points and sentences for the page."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from overlay.board.model import Board
from overlay.errors import InputError
from overlay.frames.frame import Array
from overlay.job.settings import CameraSettings, CaptureSettings, lens_of
from overlay.registration.model import Registration
from overlay.registration.policy import settle_registration
from overlay.registration.project import pixels_from_board
from overlay.workbench.point_history import Points, Target, part_target, placed, snapped
from overlay.workbench.shapes import landmarks

_AGREED_PX = 0.5  # as well as a hand can place a point
_SHIFT_MM = 0.3  # as far as placement data and a milled edge may differ (common practice)
_LEAST_U_PX = 0.1  # what lies below is not the registration's to claim
_ENOUGH_POINTS = 8  # carry a pose with its lens; more would only repeat the same fit


def refine(
    registration: Registration, apparent_c: Array, board: Board, capture: CaptureSettings, camera: CameraSettings
) -> Registration | str:
    """The registration refined on outline and parts, or the reason why it cannot be trusted."""
    try:
        refined = settle_registration(registration, apparent_c, board, lens_of(camera, capture), always=True)
    except InputError as error:
        return "; ".join(item.what for item in error.problems)
    if not refined.refined or refined.confidence is None or not refined.confidence.trusted:
        return refined.confidence.reason if refined.confidence is not None else "the frame does not tell"
    return refined


def opinion(
    registration: Registration, apparent_c: Array, board: Board, capture: CaptureSettings, camera: CameraSettings
) -> str:
    """What the frame says of a registration, in a sentence."""
    held = settle_registration(registration, apparent_c, board, lens_of(camera, capture))
    told = held.confidence
    if told is None:
        return ""
    if held.foreign:
        return f"Nothing will be read: {held.foreign}."
    if not told.trusted:
        return f"The frame itself cannot confirm the points: {told.reason}."
    shift = ""
    if math.hypot(*told.outline_shift_mm) > _SHIFT_MM:
        x, y = told.outline_shift_mm
        shift = f" In the frame the outline lies ({x:+.2f}, {y:+.2f}) mm off the placements."
    if told.moved_px < _AGREED_PX:
        return f"The frame agrees with the points to {max(told.moved_px, 0.1):.1f} px.{shift}"
    return (
        f"The frame disagrees with the points by {told.moved_px:.1f} px: {told.parts_agreeing} of "
        f"{told.parts_judged} parts agree once all are moved.{shift}"
    )


def points_of(refined: Registration, points: Points, board: Board) -> Points:
    """Control points that carry a refined registration: the given ones moved, and more where they are too few.

    Every pixel is where the refined registration has the place, so that a fit to the points gives it back.
    """
    u_px = max(_LEAST_U_PX, _LEAST_U_PX if refined.confidence is None else refined.confidence.precision_px)
    moved = points
    if points:
        places = np.array([[*point.board_mm, point.z_mm] for point in points])
        for index, pixel in enumerate(pixels_from_board(refined, places)):
            if np.isfinite(pixel).all():
                moved = snapped(moved, index, (float(pixel[0]), float(pixel[1])), u_px)
    used = [point.board_mm for point in moved]
    for target, pixel in _spread(refined, board, used, _ENOUGH_POINTS - len(moved)):
        moved, index = placed(moved, target, pixel)
        moved = (*moved[:index], replace(moved[index], pixel_u=u_px))  # nobody clicked it
    return moved


def _spread(
    refined: Registration, board: Board, used: list[tuple[float, float]], count: int
) -> list[tuple[Target, tuple[float, float]]]:
    """Up to ``count`` places of the seen side, each as far as can be from all others, with their pixels."""
    targets = [Target(None, mark.board_mm) for mark in landmarks(board)]
    for part in board.components:
        target = part_target(board, refined.side, part.refdes) if part.side == refined.side and part.body else None
        if target is not None and target.height_known:
            targets.append(target)
    if not targets or count <= 0:
        return []
    pixels = pixels_from_board(refined, np.array([[*target.board_mm, target.z_mm] for target in targets]))
    rows, cols = refined.shape_px
    free = (pixels > 0).all(axis=1) & (pixels[:, 0] < cols - 1) & (pixels[:, 1] < rows - 1)
    chosen = []
    places = np.array([target.board_mm for target in targets])
    taken = [np.asarray(place) for place in used] or [places.mean(axis=0)]
    for _ in range(count):
        apart = np.min([np.hypot(*(places - place).T) for place in taken], axis=0)
        best = int(np.argmax(np.where(free, apart, -1.0)))
        if not free[best] or apart[best] < 1.0:
            break
        chosen.append((targets[best], (float(pixels[best, 0]), float(pixels[best, 1]))))
        taken.append(places[best])
    return chosen
