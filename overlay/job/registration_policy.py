"""A second look at a registration: the frame's own outline and parts, where the points leave it open or seem wrong.

What control points hold well is left to them and to the joint solution of the parts, which looks no further than
about a pixel. Beyond that it would settle on the wrong side of an edge, and nothing in its covariance would tell.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from overlay.board.model import Board
from overlay.frames.frame import Array
from overlay.registration.coverage import UNCERTAIN_PX, worst_corner
from overlay.registration.model import Lens, Registration
from overlay.registration.project import pixels_from_board
from overlay.unmixing.unmix import Unmixed
from overlay.view.model import View

_MOVED_SIGMAS = 2.0  # of the points' own uncertainty, by which the joint solution moves the parts
_MISFITS = 0.2  # share of parts large enough to judge whose place or size does not fit: up to a sixth is usual …
_FEWEST_MISFITS = 3  # … and a few of few say nothing
_JUDGED_FROM_PX = 1.5
_DOUBTED_PX = 2.0  # standard uncertainty of points that the frame contradicts, when it has nothing better to offer
_SAME_PX = 0.5


def held_by_points(registration: Registration, apparent_c: Array, board: Board, lens: Lens) -> Registration:
    """The registration, by the frame's own outline and parts where the points leave a corner open by over 2 px.

    Where the frame cannot settle it either, the points' registration, whose covariance says how little is known.
    """
    corner, u_px = worst_corner(registration, board)
    if corner is None or u_px <= UNCERTAIN_PX:
        return registration
    held, reason = _by_the_frame(registration, apparent_c, board, lens)
    place = f"the control points leave the place at ({corner[0]:.0f}, {corner[1]:.0f}) mm open by {u_px:.1f} px"
    if held.refined:
        word = f"{place}; the frame's own outline and parts decided: {reason}"
    else:
        word = f"{place}, and the frame itself cannot settle it: {reason}; readings away from them are widened"
    return replace(held, warnings=(*held.warnings, word))


def contradicted(view: View, joint: Unmixed) -> bool:
    """Whether the joint solution of a frame shows that its control points are worse than they claim."""
    if view.registration.confidence is not None or not joint.refdes:  # the frame had its say already
        return False
    misfits = np.array(joint.clipped)[joint.short_px >= _JUDGED_FROM_PX]
    if joint.notes or misfits.sum() >= max(_FEWEST_MISFITS, _MISFITS * len(misfits)):
        return True
    places = np.array([[*face.component.center_mm, face.z_mm] for face in view.faces])
    moved = np.hypot(*(pixels_from_board(joint.registration, places) - pixels_from_board(view.registration, places)).T)
    claimed = np.median([face.pixel_u for face in view.faces])
    return bool(np.nanmedian(moved) > _MOVED_SIGMAS * claimed)


def without_the_points(registration: Registration, apparent_c: Array, board: Board, lens: Lens) -> Registration:
    """The frame's own registration where it can be trusted; else the points' one, widened to 2 px, and a warning.

    Where the frame agrees with the points after all, the very registration that was given.
    """
    held, reason = _by_the_frame(registration, apparent_c, board, lens)
    if held.refined:
        assert held.confidence is not None
        if held.confidence.moved_px < _SAME_PX:
            return registration
        word = (
            f"the control points agree with each other but not with the frame, whose own outline and parts were used "
            f"instead ({reason}): check which pixel the points count from"
        )
        return replace(held, warnings=(*held.warnings, word))
    seen = [part for part in board.components if part.side == registration.side]
    places = np.array([[*part.center_mm, 0.0] for part in seen])
    claimed_px = _median_u_px(registration, places)
    wider = max(1.0, _DOUBTED_PX / max(claimed_px, 1e-6))
    word = (
        f"parts do not lie where the control points put them, and the frame itself cannot tell where ({reason}): "
        f"all places are taken as uncertain by {_DOUBTED_PX:g} px; check the points"
    )
    return replace(held, covariance=held.covariance * wider**2, warnings=(*held.warnings, word))


def _median_u_px(registration: Registration, places: Array) -> float:
    from overlay.registration.project import pixel_covariance

    return float(np.median(np.sqrt(np.trace(pixel_covariance(registration, places), axis1=1, axis2=2) / 2.0)))


def _by_the_frame(registration: Registration, apparent_c: Array, board: Board, lens: Lens) -> tuple[Registration, str]:
    from overlay.registration.refine import refine_registration

    held = refine_registration(registration, apparent_c, board, lens)
    return held, "" if held.confidence is None else held.confidence.reason
