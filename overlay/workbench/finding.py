"""What a frame proposes without clicks, for the page, and the one click that makes it count."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from overlay.board.model import Board
from overlay.errors import input_error
from overlay.job.propose import POINT_U_PX
from overlay.job.settings import CaptureSettings
from overlay.registration.project import pixels_from_board
from overlay.registration.propose import CONFIRM_WITHIN_PX, Proposal
from overlay.workbench.job_files import JobFiles
from overlay.workbench.point_history import Points, part_target, placed


def found_json(proposal: Proposal, files: JobFiles, capture: CaptureSettings) -> dict[str, Any]:
    """A proposal as the page draws it: outlines, which parts agree, and which one to click on."""
    found = proposal.registration
    told = {"found": found is not None, "reason": proposal.reason, "remedy": proposal.remedy}
    if found is None:
        return told
    with np.errstate(all="ignore"):
        outlines = files.shapes(capture).through(lambda xyz_mm: pixels_from_board(found, xyz_mm))
    return {
        **told,
        "ask": proposal.ask,
        "outlines": outlines,
        "agreeing": list(proposal.agreeing),
        "differing": list(proposal.differing),
    }


def confirmed_points(proposal: Proposal, board: Board, capture: CaptureSettings, pixel: tuple[float, float]) -> Points:
    """The control points of a proposal that a click on the asked part confirms.

    Raises
    ------
    InputError
        Where the click is too far from where the proposal puts that part, or the board is not the one it was made for.
    """
    targets = [part_target(board, capture.side, refdes) for refdes, _ in proposal.points]
    if proposal.registration is None or part_target(board, capture.side, proposal.ask) is None or None in targets:
        raise input_error(capture.frame, None, "the board is not what it was", "look for the board again")
    if not proposal.confirmed_by(board, pixel):
        what = f"that is more than {CONFIRM_WITHIN_PX:g} pixels from where the proposal puts {proposal.ask}"
        remedy = (
            f"click on the middle of {proposal.ask} itself; if it lies elsewhere in the frame, place points by hand"
        )
        raise input_error(capture.frame, None, what, remedy)
    points: Points = ()
    for target, (_, seen_px) in zip(targets, proposal.points, strict=True):
        assert target is not None
        points, index = placed(points, target, seen_px)
        points = (*points[:index], replace(points[index], pixel_u=POINT_U_PX))
    return points
