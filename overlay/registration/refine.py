"""A registration held against the frame itself: outline and parts, wherever they stand out from the board.

`best_pose` is the pose the frame asks for and how far it can be trusted (what is made of it, `policy.py` decides),
`snap_point` moves one point to the contrast beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Board
from overlay.registration.camera import focal_px_from_field
from overlay.registration.confidence import LIMITS, judge
from overlay.registration.evidence import Pose
from overlay.registration.fit_models import surface_matrix
from overlay.registration.lens import LENS_OFF
from overlay.registration.model import Confidence, ControlPoint, Lens, Registration
from overlay.registration.project import projection_of
from overlay.registration.refine_frame import compressed
from overlay.registration.refine_pictures import Sightline
from overlay.registration.refine_search import Found, SearchSpace, climb
from overlay.registration.refine_vote import peaks
from overlay.registration.refine_windows import gains_of
from overlay.registration.residuals import held_against_points
from overlay.registration.targets import Targets, hole_target, targets_of

SNAP_REACH_PX = 6  # how far beside a part people click
_SNAP_U_PX = 0.3  # drawn bodies and real ones differ by this much at least
_NEARLY = 0.9  # of the score without the outline: then the outline is worth having
_FLOOR_PX = 0.1  # standard uncertainty below which no pose is believed: drawn edges have faults in common
_HOLE_MM = 0.5  # how far from a hole's centre a point may be meant for it


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
    sightline = Sightline(projection, registration.parameters)
    gains = gains_of(target, bodies, sightline, frame.shifted(by), SNAP_REACH_PX)
    seen = peaks(replace(target, steady=np.array([True])), gains)
    if not len(seen):
        return None
    pixel = seen.at + by
    if math.hypot(*(pixel - np.array(point.pixel))) > SNAP_REACH_PX:
        return None
    u_px = max(_SNAP_U_PX, float(seen.u_px.max()))
    clicked = point.clicked_px or point.pixel
    return replace(point, pixel=(float(pixel[0]), float(pixel[1])), pixel_u=u_px, clicked_px=clicked)


def best_pose(space: SearchSpace, start: Pose) -> tuple[Found, Confidence]:
    """The frame's own pose: by outline and parts, or by parts alone where that is the more convincing."""
    found = climb(space, start, with_contour=True)
    confidence = judge(space, found, start)
    repeats = confidence.rival_score is not None and math.hypot(*confidence.outline_shift_mm) <= LIMITS.largest_shift_mm
    if confidence.trusted or repeats:
        return found, confidence
    # vise jaws, cables or a false outline may have led astray: parts need none of it
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


def refined_by(
    registration: Registration, space: SearchSpace, found: Found, confidence: Confidence, lens: Lens
) -> Registration:
    """The frame's own pose as a registration, with the residuals of the points, none of which took part in it."""
    pinhole, parameters = space.pinhole, found.pose.parameters
    covariance = found.pose.covariance[:8, :8]
    slopes = pinhole.jacobian(parameters, space.surface_mm)
    u_px = math.sqrt(float(np.einsum("nij,jk,nik->n", slopes, covariance, slopes).mean()) / 2.0)
    covariance = covariance * max(1.0, max(confidence.precision_px, _FLOOR_PX) / max(u_px, 1e-9)) ** 2
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
    held = held_against_points(result, max(confidence.precision_px, _FLOOR_PX))
    return replace(held, warnings=tuple(_remarks(held, confidence, lens)))


def _remarks(result: Registration, confidence: Confidence, lens: Lens) -> Iterator[str]:
    """What is worth saying of the frame's own registration: wrong points, an unsuitable lens, a shifted outline."""
    wrong = [item.point.name for item in result.points if item.suspect or item.left_out]
    if wrong:
        verb = "disagrees" if len(wrong) == 1 else "disagree"
        yield f"{' and '.join(wrong)} {verb} with the other points and with the frame: correct the table"
    field_deg = math.degrees(2.0 * math.atan(result.shape_px[1] / 2.0 / math.exp(result.parameters[6])))
    if lens.hfov_deg is None:
        yield (
            f"hfov_deg is not stated; the frame was fitted with a field of view of {field_deg:.0f}° (relative standard "
            f"uncertainty {math.sqrt(result.covariance[6, 6]):.0%}), by which tall parts lean"
        )
    elif abs(math.log(focal_px_from_field(lens.hfov_deg, result.shape_px)) - result.parameters[6]) > LENS_OFF:
        yield (
            f"hfov_deg = {lens.hfov_deg:g} does not suit the frame, which asks for about {field_deg:.0f}: "
            "check which lens was on, and whether the frame was cropped"
        )
    shift = confidence.outline_shift_mm
    if math.hypot(*shift) > LIMITS.worth_saying_mm:
        yield (
            f"in the frame the outline lies ({shift[0]:+.2f}, {shift[1]:+.2f}) mm off the placements: "
            "state outline_shift_mm if the file's origin differs"
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
