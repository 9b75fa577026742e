"""Which part is at a pixel somebody points at."""

from __future__ import annotations

import numpy as np

from overlay.reading.attribution import bodies_of, candidates_at
from overlay.reading.model import Candidate
from overlay.registration.project import board_from_pixels, pixel_covariance
from overlay.view.model import View
from overlay.view.tops import tops_of

# A pixel pointed at means its middle, give or take a third of its width.
_POINTED_U_PX = 0.3


def parts_at(view: View, place_px: tuple[float, float], blur_px: float) -> tuple[Candidate, ...]:
    """Candidates for a place in the frame, the likeliest first; probabilities sum to 1.

    Temperature plays no part here: all bodies have the same odds. ``refdes`` None is bare board.
    """
    board_mm = board_from_pixels(view.registration, np.array([place_px]))
    if not np.isfinite(board_mm).all():
        return (Candidate(None, 1.0),)
    tops = tops_of([face for face in view.faces if np.isfinite(face.polygon_px).all()], blur_px)
    board = pixel_covariance(view.registration, np.array([[*board_mm[0], 0.0]]))[0]
    return candidates_at(bodies_of(tops), place_px, _POINTED_U_PX**2 * np.eye(2), board, np.ones(len(tops)))
