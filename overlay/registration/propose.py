"""Where the board lies in a frame, found without a click.

The best hypotheses of ``starts.py`` are climbed from as any start is, judged by the three tests of ``confidence.py``,
and held against what else the frame shows by ``account.py``. What comes out is a proposal for a person to confirm.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array
from overlay.board.model import Board, Side
from overlay.registration.account import account_of
from overlay.registration.confidence import LIMITS
from overlay.registration.evidence import Pose
from overlay.registration.faces import LEAST_VISIBLE, project_faces
from overlay.registration.model import Confidence, Lens, Registration
from overlay.registration.project import pixels_from_board
from overlay.registration.refine import best_pose, refined_by
from overlay.registration.refine_frame import ReadyFrame, ready_frame
from overlay.registration.refine_search import SearchSpace, rms_px, search_space
from overlay.registration.refine_vote import CAP, SIGNIFICANT, best_offsets
from overlay.registration.starts import ELSEWHERE, starts_of
from overlay.registration.targets import Targets

_CLIMBED = 3  # of all starts, how many are climbed from
_AS_PROMISING = 0.5  # … if its parts gain such a share of what the best place's do
_REACH_PX = 8  # what a hypothesis at 160 columns may be off
_SCORED_PARTS = 40  # the largest: they show first, and more take longer
_SAME_PLACE_PX = 2.0  # poses nearer than this are one
_RIVAL_SHARE = 0.8  # of a score that another place or turn must not reach: both scores grow with the parts' number
_SHOWN_POINTS = 8  # as many as a person looks through
_BESIDE_PX = 1.0  # farther from its place than a part that agrees
CONFIRM_WITHIN_PX = 3.0
"""How near to the named part a person must click for a proposal to count as confirmed."""


_Ready = tuple[Registration, SearchSpace, Pose]
"""A start made ready to be looked at: the registration, and what stays the same while its pose is looked for."""


@dataclass(frozen=True, slots=True, eq=False)
class Proposal:
    """What the frame itself says of where the board lies; without a registration, why not and what would help.

    ``points``: parts that agree, with the pixels at which they are seen. ``ask``: the part to be clicked on, away from
    the middle, so that a wrong turn or scale would show. ``agreeing``: all parts that stand out where it puts them,
    ``differing``: those that stand out beside it; the rest are too faint to tell.
    """

    registration: Registration | None
    confidence: Confidence | None
    reason: str
    remedy: str
    points: tuple[tuple[str, tuple[float, float]], ...] = ()
    ask: str = ""
    agreeing: tuple[str, ...] = ()
    differing: tuple[str, ...] = ()

    def confirmed_by(self, board: Board, pixel: tuple[float, float]) -> bool:
        """Whether a click on the asked part says that the proposal is right."""
        if self.registration is None:
            return False
        part = board.component(self.ask)
        place = np.array([[*part.center_mm, part.height_mm or 0.0]])
        return bool(np.hypot(*(pixels_from_board(self.registration, place)[0] - np.array(pixel))) <= CONFIRM_WITHIN_PX)


def propose_registration(
    apparent_c: Array, board: Board, side: Side, lens: Lens, near: Registration | None = None
) -> Proposal:
    """Look for one side of a board in a frame.

    Parameters
    ----------
    apparent_c : (rows, cols)
        Apparent temperatures in °C.
    lens
        As far as it is told; a field of view and a distance make the search narrower and surer.
    near
        A registration of another capture of the same set-up, tried first.
    """
    if not any(part.side == side and part.body is not None and not part.mechanical for part in board.components):
        return Proposal(None, None, f"no body of the {side} side is known", "name body sizes in bodies.csv")
    frame = ready_frame(apparent_c)
    if float(np.std(frame.compressed.values)) < 4.0 * frame.compressed.noise:
        return Proposal(None, None, "the frame is even: nothing stands out in it", "take a frame with more load")
    starts = [near] if near is not None else []
    starts += starts_of(frame, board, side, lens)
    if not starts:
        return Proposal(None, None, "the board would not fit into the frame", "check distance_m and hfov_deg")
    ready = [(start, *search_space(start, frame, board, lens)) for start in starts]
    tried = [_refined(start, space, pose, lens) for start, space, pose in _promising(ready, board)]
    trusted = [found for found in tried if found.refined and found.confidence is not None]
    if not trusted:
        return _refusal(tried)
    best = max(trusted, key=lambda found: round(_score(found), 3))
    for other in tried:
        if other is not best and _rivals(best, other, board):
            return Proposal(
                None,
                best.confidence,
                "the frame fits the board in two ways about as well: its layout is symmetric or repeats itself, or "
                "another like it lies beside it",
                "click on two parts that have no like, or cover the other board",
            )
    return _proposal(best, frame, board, lens)


def _rivals(best: Registration, other: Registration, board: Board) -> bool:
    """Whether another hypothesis explains the parts nearly as well, and is not the same place found twice."""
    if _score(other) < _RIVAL_SHARE * _score(best):
        return False
    if other.refined:
        return _apart_px(best, other, board) > _SAME_PLACE_PX
    # where its own search would have ended, nobody knows
    return _middle_apart_px(best, other, board) > _elsewhere_px(best, board)


def _refined(start: Registration, space: SearchSpace, pose: Pose, lens: Lens) -> Registration:
    """The frame's own registration from a start; where it cannot be trusted, the start with the reason."""
    found, confidence = best_pose(space, pose)
    if not confidence.trusted:
        return replace(start, confidence=confidence)
    return refined_by(start, space, found, confidence, lens)


def _promising(starts: list[_Ready], board: Board) -> list[_Ready]:
    """The starts whose parts, moved together, gain most: a look of a tenth of what a climb costs.

    Where the board may lie at another place too, as in a panel, that place is climbed to as well.
    """
    if len(starts) <= _CLIMBED:
        return starts
    gained = []
    for _, space, pose in starts:
        total = np.minimum(space.gains(pose, _largest(space), _REACH_PX, stride=2).values, CAP).sum(axis=0)
        gained.append(float(total.max(initial=0.0)))
    order = sorted(range(len(starts)), key=lambda i: (-round(gained[i], 3), i))
    first = starts[order[0]][0]
    elsewhere = [
        i
        for i in order[_CLIMBED:]
        if gained[i] > _AS_PROMISING * gained[order[0]]
        and _middle_apart_px(starts[i][0], first, board) > _elsewhere_px(first, board)
    ]
    return [starts[i] for i in (*order[:_CLIMBED], *elsewhere[:1])]


def _largest(space: SearchSpace) -> Targets:
    """The parts that show most, by their shorter side."""
    size = space.bodies.half_mm.min(axis=1)
    order = np.argsort(-size, kind="stable")[:_SCORED_PARTS]
    return space.bodies.only(np.sort(order))


def _proposal(found: Registration, frame: ReadyFrame, board: Board, lens: Lens) -> Proposal:
    """The points and the question that go with a registration that may be trusted."""
    assert found.confidence is not None
    space, pose = search_space(found, frame, board, lens)
    hidden = (face.component.refdes for face in project_faces(found, board) if face.visible < LEAST_VISIBLE)
    account = account_of(space, pose, board, frozenset(hidden))
    if account.reason:
        return Proposal(None, found.confidence, account.reason, account.remedy)
    gains = space.gains(pose, space.bodies, 3)
    off, gain = best_offsets(gains)
    places = gains.predicted_px
    rows, cols = frame.shape_px
    inside = ((places > 2.0) & (places < np.array([cols - 3.0, rows - 3.0]))).all(axis=1)
    clear, beside = inside & (gain > SIGNIFICANT) & space.bodies.steady, np.hypot(off[:, 0], off[:, 1]) > _BESIDE_PX
    index = np.flatnonzero(clear & ~beside)
    if not len(index):
        return Proposal(None, found.confidence, "no part stands out clearly enough to be asked for", "use more load")
    middle = places[index].mean(axis=0)
    away = np.hypot(*(places[index] - middle).T)
    # away from the middle, yet clear: a faint part at the rim cannot be judged by eye
    ask = index[int(np.argmax(np.round(away * np.minimum(gain[index], CAP), 6)))]
    chosen = _spread(places[index], _SHOWN_POINTS)
    points = tuple(
        (space.bodies.refdes[i], (round(float(places[i, 0]), 2), round(float(places[i, 1]), 2))) for i in index[chosen]
    )
    confidence = found.confidence
    words = f"{confidence.parts_agreeing} of {confidence.parts_judged} parts that stand out lie where it puts them"
    refdes = space.bodies.refdes
    agreeing, differing = (tuple(refdes[i] for i in np.flatnonzero(clear & own)) for own in (~beside, beside))
    return Proposal(found, confidence, words, f"click on {refdes[ask]}", points, refdes[ask], agreeing, differing)


def _refusal(tried: list[Registration]) -> Proposal:
    best = max((found.confidence for found in tried if found.confidence is not None), key=lambda c: round(c.score, 3))
    remedy = "take a frame with more load" if best.parts_judged < LIMITS.fewest_parts else "click on two parts"
    return Proposal(None, best, best.reason, remedy)


def _score(found: Registration) -> float:
    return 0.0 if found.confidence is None else found.confidence.score


def _apart_px(one: Registration, other: Registration, board: Board) -> float:
    west, south, east, north = board.outline.polygon.bounds
    corners = np.array([(x, y, 0.0) for x in (west, east) for y in (south, north)])
    return rms_px(pixels_from_board(one, corners), pixels_from_board(other, corners))


def _elsewhere_px(found: Registration, board: Board) -> float:
    west, south, east, north = board.outline.polygon.bounds
    return ELSEWHERE * float(min(east - west, north - south)) / max(found.mm_per_px, 1e-9)


def _middle_apart_px(one: Registration, other: Registration, board: Board) -> float:
    west, south, east, north = board.outline.polygon.bounds
    middle = np.array([[(west + east) / 2.0, (south + north) / 2.0, 0.0]])
    return rms_px(pixels_from_board(one, middle), pixels_from_board(other, middle))


def _spread(places: Array, count: int) -> NDArray[np.intp]:
    """Indices of up to ``count`` places far from each other, the outermost first."""
    chosen = [int(np.argmax(np.round(np.hypot(*(places - places.mean(axis=0)).T), 6)))]
    while len(chosen) < min(count, len(places)):
        apart = np.min([np.hypot(*(places - places[i]).T) for i in chosen], axis=0)
        chosen.append(int(np.argmax(np.round(apart, 6))))
    return np.array(sorted(chosen), dtype=np.intp)
