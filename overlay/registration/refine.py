"""A registration held against the frame itself: outline and parts, wherever they stand out from the board.

`check_registration` says by how much the frame disagrees with a registration made by hand, `refine_registration`
takes the frame's word where it can be trusted, `snap_point` moves one point to the contrast beside it.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Board
from overlay.registration.confidence import LIMITS, judge
from overlay.registration.evidence import Pose
from overlay.registration.fit import surface_matrix
from overlay.registration.model import Confidence, ControlPoint, Lens, Registration
from overlay.registration.project import projection_of
from overlay.registration.refine_search import Found, SearchSpace, climb, search_space
from overlay.registration.refine_vote import peaks
from overlay.registration.refine_windows import (
    Compressed,
    Sightline,
    Targets,
    compressed,
    gains_of,
    hole_target,
    targets_of,
)
from overlay.registration.residuals import held_against_points

SNAP_REACH_PX = 6
_SNAP_U_PX = 0.3
_NEARLY = 0.9
_HOLE_MM = 0.5  # how far from a hole's centre a point may be meant for it


def refine_registration(
    registration: Registration,
    apparent_c: Array,
    board: Board,
    lens: Lens,
) -> Registration:
    """The registration the frame itself asks for, or the given one with the reason why it cannot be trusted.

    Parameters
    ----------
    registration
        Where to start: from control points, or of another capture that sees the board much the same way.
    apparent_c : (rows, cols)
        Apparent temperatures in °C.
    lens
        As for `fit_registration`. Without a field of view the lens is an unknown of the fit, and the covariance says
        how little the frame tells of it.

    Returns
    -------
    Registration
        ``refined`` tells which of the two it is; ``confidence`` is filled in either case.
    """
    space, start = search_space(registration, apparent_c, board, lens)
    found, confidence = _own(space, start)
    if not confidence.trusted:
        return replace(registration, confidence=confidence)
    return _refined(registration, space, found, confidence, lens_told=lens.hfov_deg is not None)


def check_registration(
    registration: Registration,
    apparent_c: Array,
    board: Board,
    lens: Lens,
) -> Registration:
    """The same registration with what the frame says of it in ``confidence``."""
    space, start = search_space(registration, apparent_c, board, lens)
    return replace(registration, confidence=_own(space, start)[1])


def snap_point(registration: Registration, apparent_c: Array, board: Board, point: ControlPoint) -> ControlPoint | None:
    """A control point moved to the contrast of its own part or hole within 6 px; None where no place is clearly best.

    The registration gives size and direction only; the place is looked for around the point's own pixel.
    """
    bodies = targets_of(board, registration.side)
    target = _target(bodies, board, point)
    if target is None:
        return None
    frame = compressed(apparent_c)
    projection = projection_of(registration)
    place = projection.pixels(registration.parameters, target.center_mm)[0]
    if not np.isfinite(place).all():
        return None
    # move the frame rather than the model: whole pixels, the rest goes into the result
    by = np.rint(np.array(point.pixel) - place).astype(int)
    rolled = Compressed(_moved(frame.values, by), frame.noise)
    gains = gains_of(target, bodies, Sightline(projection, registration.parameters), rolled, SNAP_REACH_PX)
    seen = peaks(replace(target, steady=np.array([True])), gains)
    if not len(seen):
        return None
    pixel = seen.at + by
    if math.hypot(*(pixel - np.array(point.pixel))) > SNAP_REACH_PX:
        return None
    u_px = max(_SNAP_U_PX, float(seen.u_px.max()))
    clicked = point.clicked_px or point.pixel
    return replace(point, pixel=(float(pixel[0]), float(pixel[1])), pixel_u=u_px, clicked_px=clicked)


def _own(space: SearchSpace, start: Pose) -> tuple[Found, Confidence]:
    """The frame's own pose: by outline and parts, or by parts alone where that is the more convincing."""
    found = climb(space, start, with_contour=True)
    confidence = judge(space, found, start)
    if confidence.trusted or confidence.rival_score is not None:
        return found, confidence
    other = climb(space, start, with_contour=False)
    second = judge(space, other, start)
    if second.trusted:
        # from a start so near the outline may help after all
        again = climb(space, other.pose, with_contour=True)
        third = judge(space, again, start)
        if third.trusted and third.score >= _NEARLY * second.score:
            return again, third
    if second.trusted or second.score > confidence.score:
        return other, second
    return found, confidence


def _refined(
    registration: Registration, space: SearchSpace, found: Found, confidence: Confidence, *, lens_told: bool
) -> Registration:
    pinhole, parameters = space.pinhole, found.pose.parameters
    covariance = found.pose.covariance[:8, :8]
    slopes = pinhole.jacobian(parameters, space.surface_mm)
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
    return _remarked(result, confidence, lens_told=lens_told)


def _remarked(result: Registration, confidence: Confidence, *, lens_told: bool) -> Registration:
    """Residuals of the hand's points, none of which took part in it, and what is worth saying of the frame's own."""
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
    return replace(held_against_points(result, confidence.precision_px), warnings=tuple(warnings))


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
