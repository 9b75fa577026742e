"""Whether a frame's own registration may be trusted.

Three tests, none of which is enough alone. *Count*: of the parts that stand out, how many are seen where the pose
puts them, against the chance that so many would be there by accident (a contrario reasoning, as in Musé and others,
ICIP 2003, from memory). The outline does not count: it fits perfectly when the board lies turned by half a turn.
*Precision*: two halves of the evidence must give the same pose. *Rival*: no other pose, displaced, turned or
mirrored, may explain the parts nearly as well: rows of equal parts do fit themselves one pitch on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index
from overlay.registration.evidence import Pose, poses_from_shares
from overlay.registration.model import Confidence
from overlay.registration.refine_search import NEAR_PX, Found, SearchSpace, shifted
from overlay.registration.refine_vote import CAP, SIGNIFICANT, best_offsets
from overlay.registration.refine_windows import Gains, gains_of
from overlay.registration.targets import Targets


@dataclass(frozen=True, slots=True)
class Limits:
    """Where trust begins. Chosen on simulated boards, and kept in this one place."""

    fewest_parts: int = 6
    least_score: float = 5.0
    least_share: float = 0.65  # right placements from 0.75, wrong ones up to 0.54; also tuned on foreign worlds
    largest_precision_px: float = 0.5
    rival_below: float = 3.0  # decades …
    rival_share: float = 0.85  # … and share of the pose's own: rows one pitch on reach 0.7, a board's own half turn 0.9
    rival_loses: float = 12.0  # of log-likelihood
    largest_shift_mm: float = 1.5
    worth_saying_mm: float = 0.3


LIMITS = Limits()
_AGREES_PX = 1.0  # what a part may lie off and still agree
_CHANCE = 5.0 / 81.0  # five of the 81 places looked at lie within 1 px
_SPLITS = 5  # draws, of which the median is taken
_BLOCK_MM = 12.0  # neighbouring evidence shares its errors: it is drawn together
_RIVAL_PARTS = 50  # the strongest; more only take longer
_RIVAL_STRIDE = 2  # px: half a usual part's width
_USUAL_GAIN = 6.0  # log-likelihood of a part at the best of wrong places, in simulated views …
_WORTH_ASKING = 0.75  # … and the share of parts from which on the others may as well be looked at
_RIVAL_REACH = 24  # px: several pitches of rows of parts
_TURNED_REACH = 16  # px: a turned board is centred already
_OWN_PX = 2.5  # displacements up to this and half a small part's width are not rivals but the same pose
_WORTH_COUNTING = 0.6  # of what the pose itself explains
_SQUARE = 1.3  # ratio of sides up to which a quarter turn is a rival too


@dataclass(frozen=True, slots=True)
class _Rival:
    score: float  # the highest of any rival
    own_score: float  # of the pose itself, for the same parts
    behind: float  # log-likelihood that the closest one lacks
    what: str


def judge(space: SearchSpace, found: Found, start: Pose) -> Confidence:
    """The three tests on a pose, and in words what a user can make of them. ``start`` is what was given by hand."""
    gains = found.gains
    judged, agreeing = _near(gains)
    score = chance_score(judged, agreeing, _CHANCE)
    precision = _precision_px(space, found)
    rival = None
    if judged >= LIMITS.fewest_parts and score >= LIMITS.least_score and precision <= LIMITS.largest_precision_px:
        strongest = np.argsort(-np.minimum(best_offsets(gains)[1], CAP), kind="stable")[:_RIVAL_PARTS]
        rival = _best_rival(space, found.pose, found.targets, gains, np.sort(strongest))
    moved = space.apart_px(start, found.pose)
    shift = (float(found.pose.shift_mm[0]), float(found.pose.shift_mm[1]))
    doubt = _doubt(judged, agreeing, score, precision, rival, shift)
    return Confidence(
        score=score,
        parts_agreeing=agreeing,
        parts_judged=judged,
        precision_px=precision,
        rival_score=None if rival is None else rival.score,
        moved_px=moved,
        outline_shift_mm=shift,
        trusted=not doubt,
        reason=doubt or _assent(judged, agreeing, moved, shift),
    )


def counted_near(space: SearchSpace, pose: Pose, parts: Targets) -> tuple[int, int]:
    """How many parts stand out near where a pose puts them, and how many of these within a pixel."""
    return _near(space.gains(pose, parts, NEAR_PX))


def _near(gains: Gains) -> tuple[int, int]:
    off, gain = best_offsets(gains)
    stands_out = gain > SIGNIFICANT
    return int(stands_out.sum()), int((stands_out & (np.hypot(off[:, 0], off[:, 1]) <= _AGREES_PX)).sum())


def chance_of(space: SearchSpace, pose: Pose, parts: Targets, around: Targets) -> float:
    """−log₁₀ of the chance that so many parts, laid into the frame another way, agree on one small displacement."""
    judged, agreeing, _ = _counted(_laid(space, pose, parts, around))
    return chance_score(judged, agreeing, _CHANCE)


def ways_to_lie(sides_mm: Array) -> list[tuple[str, Array]]:
    """The other ways in which a board of such sides (2,) can be laid into its own outline, as (2, 2) matrices."""
    ways = [("turned by 180°", -np.eye(2)), ("mirrored", np.diag([-1.0, 1.0]))]
    ways.append(("mirrored and turned", np.diag([1.0, -1.0])))
    if sides_mm.max() < _SQUARE * max(float(sides_mm.min()), 1e-9):
        quarter = np.array([[0.0, -1.0], [1.0, 0.0]])
        ways += [("turned by 90°", quarter), ("turned by 90°", -quarter)]
    return ways


def chance_score(judged: int, agreeing: int, chance: float) -> float:
    """−log₁₀ of the probability that ``agreeing`` or more of ``judged`` parts agree by accident."""
    if agreeing <= 0:
        return 0.0
    logs = [
        math.lgamma(judged + 1) - math.lgamma(k + 1) - math.lgamma(judged - k + 1)
        + k * math.log(chance) + (judged - k) * math.log1p(-chance)
        for k in range(agreeing, judged + 1)
    ]  # fmt: skip
    top = max(logs)
    return max(0.0, -(top + math.log(sum(math.exp(value - top) for value in logs))) / math.log(10.0))


def _precision_px(space: SearchSpace, found: Found) -> float:
    """Half the distance of poses from two halves of the evidence, drawn by blocks: the median of five draws."""
    seen = found.seen
    if not len(seen):
        return math.inf
    block = np.floor(seen.xyz_mm[:, :2] / _BLOCK_MM).astype(int)
    _, block_of = np.unique(block, axis=0, return_inverse=True)
    block_of = block_of.ravel()
    random, halves = np.random.default_rng(0), []
    for _ in range(_SPLITS):
        half = random.permutation(int(block_of.max()) + 1) % 2 == 0
        halves += [half[block_of], ~half[block_of]]
    poses = poses_from_shares(space.pinhole, found.pose, seen, np.array(halves), space.priors, rounds=2)
    distances = [space.apart_px(*pair) / 2.0 for pair in zip(poses[::2], poses[1::2], strict=True)]
    return float(np.median(distances))


def _best_rival(space: SearchSpace, pose: Pose, targets: Targets, gains: Gains, strongest: Index) -> _Rival:
    """The other way to lay the board into the frame that explains the strongest parts best."""
    parts = targets.only(strongest)
    middle = (space.surface_mm[:, :2].min(axis=0) + space.surface_mm[:, :2].max(axis=0)) / 2.0
    sides = np.ptp(space.surface_mm[:, :2], axis=0)
    ways = [("displaced", np.eye(2)), *ways_to_lie(sides)]
    judged, agreeing, own = _counted(gains.values[strongest])
    own_score = chance_score(judged, agreeing, _CHANCE)
    rivals = []
    for what, matrix in ways:
        there, around = parts.mapped(matrix, middle), space.bodies.mapped(matrix, middle)
        displaced = what == "displaced"
        reach = _RIVAL_REACH if displaced else _TURNED_REACH
        for by_px in _candidates(space, pose, there, around, reach, _WORTH_COUNTING * own, apart=displaced):
            judged, agreeing, explained = _counted(_laid(space, shifted(space, pose, by_px), there, around))
            named = f"{what} by {math.hypot(*by_px):.0f} px" if displaced else what
            rivals.append(_Rival(chance_score(judged, agreeing, _CHANCE), own_score, own - explained, named))
    if not rivals:
        return _Rival(0.0, own_score, own, "")
    closest = min(rivals, key=lambda rival: rival.behind)
    return _Rival(max(rival.score for rival in rivals), own_score, closest.behind, closest.what)


def _candidates(
    space: SearchSpace, pose: Pose, parts: Targets, around: Targets, reach: int, least: float, *, apart: bool
) -> list[Array]:
    """Up to three displacements at which the parts together gain most, and ``least`` at least."""
    frame = space.frame.compressed
    steps = np.arange(-reach, reach + 1, _RIVAL_STRIDE, dtype=np.float64)
    x, y = np.meshgrid(steps, steps)
    free = np.ones(x.shape, dtype=bool)
    if apart:
        slopes = space.pinhole.board_jacobian(pose.parameters, parts.center_mm)[:, :, :2]
        scale = float(np.sqrt(np.nanmedian(np.abs(np.linalg.det(slopes)))))
        free = np.hypot(x, y) > _OWN_PX + scale * float(np.median(parts.half_mm.min(axis=1)))
    total, done, gained = np.zeros(x.shape), 0, 0.0
    order = np.argsort(np.hypot(*parts.half_mm.T), kind="stable")  # those of small windows take the least time
    while done < len(order):
        before, done = done, _next_stop(len(order), done, gained, least)
        some = parts.only(order[before:done])
        total += _spread_gains(gains_of(some, around, space.sightline(pose), frame, reach, _RIVAL_STRIDE).values)
        gained = float(total[free].max(initial=0.0))
        if gained + (len(order) - done) * CAP < least:
            return []  # whatever the others gain
    found: list[Array] = []
    for _ in range(3):
        best = int(np.argmax(np.where(free, total, -1.0)))
        if not free.flat[best] or total.flat[best] < least:
            break
        found.append(np.array([x.flat[best], y.flat[best]]))
        free &= np.hypot(x - x.flat[best], y - y.flat[best]) > 4.0
    return found


def _next_stop(count: int, done: int, gained: float, least: float) -> int:
    """How many of all parts to have looked at before it is asked again whether the others can still make a rival.

    As many as rule one out if the next gain as little as those that are ``done``; all, where that saves hardly any.
    """
    each = gained / done if done else _USUAL_GAIN
    enough = 1 + math.ceil((CAP * count - least) / max(CAP - each, 1.0))
    return enough if done < enough < _WORTH_ASKING * count else count


def _spread_gains(values: Array) -> Array:
    """What parts gain together (k, k), each within a step of a displacement: a rival's pose is not fitted closer."""
    from scipy.ndimage import maximum_filter

    return np.asarray(np.minimum(maximum_filter(values, size=(1, 3, 3)), CAP).sum(axis=0))


def _laid(space: SearchSpace, pose: Pose, parts: Targets, around: Targets) -> Array:
    """Gains (n, k, k) of parts laid into the frame another way."""
    return gains_of(parts, around, space.sightline(pose), space.frame.compressed, NEAR_PX).values


def _counted(values: Array) -> tuple[int, int, float]:
    """Parts that stand out near a pose, those that agree on one small displacement, and what that explains."""
    radius, total = NEAR_PX, _spread_gains(values)
    inner = total[radius - 1 : radius + 2, radius - 1 : radius + 2]
    row, column = np.unravel_index(int(np.argmax(inner)), inner.shape)
    row, column = row + radius - 1, column + radius - 1
    stands_out = values.reshape(len(values), -1).max(axis=1, initial=0.0) > SIGNIFICANT
    best = np.argmax(values.reshape(len(values), -1), axis=1)
    side = 2 * radius + 1
    off = np.hypot(best // side - row, best % side - column)
    return int(stands_out.sum()), int((stands_out & (off <= 1.5)).sum()), float(inner.max())


def _doubt(
    judged: int, agreeing: int, score: float, precision: float, rival: _Rival | None, shift: tuple[float, float]
) -> str:
    """Why the frame is not to be trusted, empty if it is."""
    if judged < LIMITS.fewest_parts:
        return (
            f"the frame cannot tell: {_parts(judged)} out from the board in it, {LIMITS.fewest_parts} are needed; "
            "a frame with more load shows more, or the points are far off"
        )
    if score < LIMITS.least_score or agreeing < LIMITS.least_share * judged:
        return (
            f"the frame does not bear the points out: of {judged} parts that stand out only {agreeing} lie where the "
            "nearest fit puts them; check board, side and which way round it lies, or add points"
        )
    if precision > LIMITS.largest_precision_px:
        told = f"to {precision:.1f} px only" if math.isfinite(precision) else "nowhere"
        return f"the frame fixes the registration {told}: parts that stand out are too few or too close together"
    if rival is not None and _too_close(rival):
        return (
            f"the frame fits the board {rival.what} about as well: its layout repeats itself; make sure by a point on "
            "a part that has no like near it"
        )
    if math.hypot(*shift) > LIMITS.largest_shift_mm:
        return (
            f"the outline lies {math.hypot(*shift):.1f} mm off the placements in the frame: check the outline's origin "
            "(outline_shift_mm) before the frame's word is taken"
        )
    return ""


def _too_close(rival: _Rival) -> bool:
    allowed = min(rival.own_score - LIMITS.rival_below, LIMITS.rival_share * rival.own_score)
    return rival.score > allowed or rival.behind < LIMITS.rival_loses


def _parts(count: int) -> str:
    return {0: "no part stands", 1: "only one part stands"}.get(count, f"only {count} parts stand")


def _assent(judged: int, agreeing: int, moved_px: float, shift: tuple[float, float]) -> str:
    if moved_px < 0.5:
        text = f"the frame agrees with your points to {moved_px:.1f} px: {agreeing} of {judged} parts lie there"
    else:
        text = (
            f"the frame disagrees with your points by {moved_px:.1f} px; "
            f"{agreeing} of {judged} parts agree after moving them"
        )
    if math.hypot(*shift) > LIMITS.worth_saying_mm:
        text += f"; the outline lies ({shift[0]:+.1f}, {shift[1]:+.1f}) mm off the placements"
    return text
