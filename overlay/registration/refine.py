"""A registration held against the frame itself: outline and parts, wherever they stand out from the board.

`check_registration` says by how much the frame disagrees with a registration made by hand, `refine_registration`
takes the frame's word where it can be trusted, `snap_point` moves one point to the contrast beside it.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from overlay.board.model import Board
from overlay.frames.frame import Array
from overlay.registration.confidence import LIMITS, judge
from overlay.registration.fit import surface_matrix
from overlay.registration.model import Confidence, ControlPoint, PointResidual, Registration
from overlay.registration.project import mm_per_px_at, pixels_from_board, projection_of
from overlay.registration.refine_fit import Pose
from overlay.registration.refine_search import Found, Scene, climb, scene_of
from overlay.registration.refine_vote import peaks
from overlay.registration.refine_windows import Targets, compressed, gains_of, hole_target, targets_of

SNAP_REACH_PX = 6
_SNAP_U_PX = 0.3
_NEARLY = 0.9
_HOLE_MM = 0.5  # how far from a hole's centre a point may be meant for it


def refine_registration(
    registration: Registration,
    apparent_c: Array,
    board: Board,
    *,
    hfov_deg: float | None = None,
    distance_m: float | None = None,
) -> Registration:
    """The registration the frame itself asks for, or the given one with the reason why it cannot be trusted.

    Parameters
    ----------
    registration
        Where to start: from control points, or of another capture that sees the board much the same way.
    apparent_c : (rows, cols)
        Apparent temperatures in °C.
    hfov_deg, distance_m
        As for `fit_registration`. Without a field of view the lens is an unknown of the fit, and the covariance says
        how little the frame tells of it.

    Returns
    -------
    Registration
        ``refined`` tells which of the two it is; ``confidence`` is filled in either case.
    """
    scene, start = scene_of(registration, apparent_c, board, hfov_deg, distance_m)
    found, confidence = _own(scene, start)
    if not confidence.trusted:
        return replace(registration, confidence=confidence)
    return _refined(registration, scene, found, confidence, lens_told=hfov_deg is not None)


def check_registration(
    registration: Registration,
    apparent_c: Array,
    board: Board,
    *,
    hfov_deg: float | None = None,
    distance_m: float | None = None,
) -> Registration:
    """The same registration with what the frame says of it in ``confidence``."""
    scene, start = scene_of(registration, apparent_c, board, hfov_deg, distance_m)
    return replace(registration, confidence=_own(scene, start)[1])


def snap_point(registration: Registration, apparent_c: Array, board: Board, point: ControlPoint) -> ControlPoint | None:
    """A control point moved to the contrast of its own part or hole within 6 px; None where no place is clearly best.

    The registration gives size and direction only; the place is looked for around the point's own pixel.
    """
    bodies = targets_of(board, registration.side)
    target = _target(bodies, board, point)
    if target is None:
        return None
    frame, noise = compressed(apparent_c)
    projection = projection_of(registration)
    place = projection.pixels(registration.parameters, target.center_mm)[0]
    if not np.isfinite(place).all():
        return None
    # move the frame rather than the model: whole pixels, the rest goes into the result
    by = np.rint(np.array(point.pixel) - place).astype(int)
    rolled = _moved(frame, by)
    gains = gains_of(target, bodies, projection, registration.parameters, rolled, noise, SNAP_REACH_PX)
    seen = peaks(replace(target, steady=np.array([True])), gains)
    if not len(seen):
        return None
    pixel = seen.at + by
    if math.hypot(*(pixel - np.array(point.pixel))) > SNAP_REACH_PX:
        return None
    u_px = max(_SNAP_U_PX, float(seen.u_px.max()))
    clicked = point.clicked_px or point.pixel
    return replace(point, pixel=(float(pixel[0]), float(pixel[1])), pixel_u=u_px, clicked_px=clicked)


def _own(scene: Scene, start: Pose) -> tuple[Found, Confidence]:
    """The frame's own pose: by outline and parts, or by parts alone where that is the more convincing."""
    found = climb(scene, start, with_contour=True)
    confidence = judge(scene, found, start)
    if confidence.trusted or confidence.rival_score is not None:
        return found, confidence
    other = climb(scene, start, with_contour=False)
    second = judge(scene, other, start)
    if second.trusted:
        # from a start so near the outline may help after all
        again = climb(scene, other.pose, with_contour=True)
        third = judge(scene, again, start)
        if third.trusted and third.score >= _NEARLY * second.score:
            return again, third
    if second.trusted or second.score > confidence.score:
        return other, second
    return found, confidence


def _refined(
    registration: Registration, scene: Scene, found: Found, confidence: Confidence, *, lens_told: bool
) -> Registration:
    pinhole, parameters = scene.pinhole, found.pose.parameters
    covariance = found.pose.covariance[:8, :8]
    slopes = pinhole.jacobian(parameters, scene.surface_mm)
    u_px = math.sqrt(float(np.einsum("nij,jk,nik->n", slopes, covariance, slopes).mean()) / 2.0)
    covariance = covariance * max(1.0, confidence.precision_px / max(u_px, 1e-9)) ** 2
    result = replace(
        registration,
        model="camera",
        parameters=parameters,
        covariance=covariance,
        pixel_from_board=surface_matrix(pinhole, parameters),
        camera=pinhole.camera(parameters),
        center_mm=pinhole.center_mm,
        scale_mm=1.0,
        lean_u=0.0,
        refined=True,
        confidence=confidence,
    )
    return _with_residuals(result, confidence, lens_told=lens_told)


def _with_residuals(result: Registration, confidence: Confidence, *, lens_told: bool) -> Registration:
    """Residuals of the hand's points against the frame's own registration: none of them took part in it."""
    points, squares_px, squares_mm = [], [], []
    for item in result.points:
        place = np.array([[*item.point.board_mm, item.point.z_mm]])
        off = np.array(item.point.pixel) - pixels_from_board(result, place)[0]
        distance = float(np.hypot(*off))
        u_px = math.hypot(item.point.pixel_u, confidence.precision_px)
        points.append(
            PointResidual(
                point=item.point,
                residual_px=distance,
                left_out_px=distance,
                residual_xy_px=(float(off[0]), float(off[1])),
                suspect=item.suspect and distance > 3.0 * u_px,
                remark=item.remark if distance > 3.0 * u_px else "",
                left_out=item.left_out,
            )
        )
        if not item.left_out:
            squares_px.append(distance**2)
            squares_mm.append((distance * float(mm_per_px_at(result, place)[0])) ** 2)
    warnings = []
    if not lens_told:
        field_deg = math.degrees(2.0 * math.atan(result.shape_px[1] / 2.0 / math.exp(result.parameters[6])))
        warnings.append(
            f"hfov_deg is not stated; the frame was fitted with a field of view of {field_deg:.0f}° (relative standard "
            f"uncertainty {math.sqrt(result.covariance[6, 6]):.0%}), by which tall parts lean"
        )
    shift = confidence.outline_shift_mm
    if math.hypot(*shift) > LIMITS.worth_saying_mm:
        warnings.append(
            f"in the frame the outline lies ({shift[0]:+.2f}, {shift[1]:+.2f}) mm off the placements: "
            "state outline_shift_mm if the file's origin differs"
        )
    middle = np.array([[*result.center_mm, 0.0]])
    return replace(
        result,
        points=tuple(points),
        rms_px=math.sqrt(float(np.mean(squares_px))) if squares_px else 0.0,
        rms_mm=math.sqrt(float(np.mean(squares_mm))) if squares_mm else 0.0,
        mm_per_px=float(mm_per_px_at(result, middle)[0]),
        warnings=tuple(warnings),
    )


def _target(bodies: Targets, board: Board, point: ControlPoint) -> Targets | None:
    """What a point means: the part it names, else the hole it is the centre of."""
    import shapely

    if point.at is not None:
        index = np.array([name == point.at for name in bodies.refdes], dtype=bool)
        return bodies.only(index) if index.sum() == 1 else None
    for polygon in shapely.get_parts(board.outline.polygon):
        for ring in getattr(polygon, "interiors", ()):
            hole = shapely.Polygon(ring)
            middle = shapely.get_coordinates(hole.centroid)[0]
            if math.hypot(*(middle - np.array(point.board_mm))) < _HOLE_MM and hole.area > 0:
                radius = math.sqrt(hole.area / math.pi)
                if hole.area > 0.9 * math.pi * (float(hole.length) / (2.0 * math.pi)) ** 2:
                    return hole_target((float(middle[0]), float(middle[1])), radius)
    return None


def _moved(frame: Array, by: Array) -> Array:
    """The frame with what lay ``by`` pixels further now at each pixel; the edge goes on."""
    rows, cols = frame.shape
    y = np.clip(np.arange(rows) + int(by[1]), 0, rows - 1)
    x = np.clip(np.arange(cols) + int(by[0]), 0, cols - 1)
    return np.asarray(frame[np.ix_(y, x)])
