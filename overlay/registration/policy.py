"""Which registration a frame is read with: the one policy of `map`, `register` and the workbench.

The control points say where the board lies, and the frame is always asked: where enough flat parts stand out, its
own pose is several times as exact as clicks are. It is believed where `confidence.judge` trusts it and it claims less
than the points do; where it cannot judge, the points' registration stays as it is, neither moved nor widened: few
parts that stand out are no evidence against points that agree with each other. A start from another frame is no
evidence at all of where the board lies now: there a trusted frame is always believed. And where many parts could be
judged and most lie elsewhere, the placement is not that of the frame, and nothing may be read.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Board, Side
from overlay.registration.belonging import belongs_at, foreign_placement
from overlay.registration.coverage import UNCERTAIN_PX, coverage_warnings, worst_corner
from overlay.registration.descriptions import contradicted_descriptions
from overlay.registration.faces import WORTH_SAYING_PX
from overlay.registration.fit import fit_registration
from overlay.registration.lens import LEAN_U
from overlay.registration.model import Confidence, ControlPoint, Lens, Registration
from overlay.registration.project import pixel_covariance
from overlay.registration.refine import best_pose, refined_by
from overlay.registration.refine_frame import ready_frame
from overlay.registration.refine_search import search_space

CONTRADICTED = 2.5
"""Combined standard uncertainties between points and frame from which on the points are said to be wrong: eight
parameters rarely scatter so far."""


def tie_frame(
    points: Sequence[ControlPoint],
    side: Side,
    apparent_c: Array,
    board: Board,
    lens: Lens,
    *,
    file: str = "control points",
    always: bool = False,
) -> Registration:
    """Tie a frame to its board by control points and by what the frame itself shows.

    Parameters
    ----------
    points
        As for `fit_registration`.
    apparent_c : (rows, cols)
        Apparent temperatures in °C.
    always
        Take the frame's word wherever it can be trusted, even where the points claim to know better.

    Returns
    -------
    Registration
        ``confidence`` is filled, ``refined`` tells whose word it is, ``foreign`` that the placement is another board's.

    Raises
    ------
    InputError
        As `fit_registration`.
    """
    by_hand = fit_registration(points, side, _shape_of(apparent_c), lens, file=file)
    warnings = (*_tall_parts(by_hand, board, lens), *by_hand.warnings, *coverage_warnings(by_hand, board))
    return settle_registration(replace(by_hand, warnings=warnings), apparent_c, board, lens, always=always)


def try_frame(
    points: Sequence[ControlPoint], side: Side, apparent_c: Array, board: Board, lens: Lens, *, file: str
) -> Registration:
    """A registration for who only asks whether there is one: ``foreign``, and errors, are those of `tie_frame`.

    The frame's own pose is looked for only where parts do not lie where the control points put them: a tenth of the
    work of `tie_frame` where they do.
    """
    by_hand = fit_registration(points, side, _shape_of(apparent_c), lens, file=file)
    frame = ready_frame(apparent_c)
    if belongs_at(*search_space(by_hand, frame, board, lens)):
        return by_hand
    return settle_registration(by_hand, apparent_c, board, lens)


def settle_registration(
    by_hand: Registration, apparent_c: Array, board: Board, lens: Lens, *, always: bool = False
) -> Registration:
    """The registration that is read with, from one by hand (or of another capture) and the frame; see `tie_frame`."""
    space, start = search_space(by_hand, ready_frame(apparent_c), board, lens)
    found, confidence = best_pose(space, start)
    held = replace(by_hand, confidence=confidence)
    hand_px = _u_px(by_hand, space.surface_mm)
    if confidence.trusted:
        findings = contradicted_descriptions(space, found, board)
        said = tuple(f"{finding.refdes} {finding.text}" for finding in findings)
        held = replace(held, findings=findings, warnings=(*held.warnings, *said))
        framed = refined_by(by_hand, space, found, confidence, lens)
        framed = replace(framed, findings=findings, warnings=(*framed.warnings, *said))
        if by_hand.refined:  # by another frame: it says where the board was, not where it is
            return framed
        frame_px = _u_px(framed, space.surface_mm)
        if confidence.moved_px > CONTRADICTED * math.hypot(hand_px, frame_px):
            return replace(framed, warnings=(_contradiction(confidence), *framed.warnings))
        if always or frame_px < hand_px:
            word = f"; the frame's own outline and parts decided: {confidence.reason}"
            return replace(framed, warnings=(*_left_open(by_hand, board, word), *framed.warnings))
        return held
    foreign = foreign_placement(space, start, found, confidence, hand_px)
    if foreign:
        return replace(held, foreign=foreign, warnings=(*held.warnings, foreign))
    word = f", and the frame itself cannot settle it: {confidence.reason}; readings away from them are widened"
    return replace(held, warnings=(*held.warnings, *_left_open(by_hand, board, word)))


def _shape_of(apparent_c: Array) -> tuple[int, int]:
    rows, cols = apparent_c.shape
    return rows, cols


def _left_open(by_hand: Registration, board: Board, word: str) -> tuple[str, ...]:
    """That the points alone leave a corner of the board open, and what came of it; nothing where they do not."""
    corner, u_px = worst_corner(by_hand, board)
    if corner is None or u_px <= UNCERTAIN_PX:
        return ()
    place = f"the control points leave the place at ({corner[0]:.0f}, {corner[1]:.0f}) mm open by {u_px:.1f} px"
    return (place + word,)


def _u_px(registration: Registration, places_mm: Array) -> float:
    """Standard uncertainty of a place on the surface, rms of both axes together."""
    variance = np.trace(pixel_covariance(registration, places_mm), axis1=1, axis2=2)
    value = math.sqrt(float(np.mean(variance)))
    return value if math.isfinite(value) else math.inf


def _contradiction(confidence: Confidence) -> str:
    return (
        "the control points agree with each other but not with the frame, whose own outline and parts were used "
        f"instead ({confidence.reason}): check which pixel the points count from"
    )


def _tall_parts(registration: Registration, board: Board, lens: Lens) -> tuple[str, ...]:
    """What a lens nobody told leaves open on a board of tall parts."""
    tallest = max(
        (part.height_mm or 0.0 for part in board.components if part.side == registration.side and not part.mechanical),
        default=0.0,
    )
    if lens.hfov_deg is not None or LEAN_U * tallest / registration.mm_per_px < WORTH_SAYING_PX:
        return ()
    return (
        f"parts are up to {tallest:.0f} mm tall: give hfov_deg, the camera's horizontal field of view, "
        "so that it is known how their tops lean in the frame",
    )
