"""Whether a placement belongs to a frame at all: another revision's or a mirrored one must not be read.

Of the flat parts that stand out in the frame, most lie where a right placement puts them, in a pose near the points'.
The share that must is the one from which a pose is trusted (`confidence.LIMITS`).
"""

from __future__ import annotations

import math

import numpy as np

from overlay.arrays import Array
from overlay.registration.confidence import LIMITS, chance_of, counted_near, ways_to_lie
from overlay.registration.evidence import Pose
from overlay.registration.model import Confidence
from overlay.registration.refine_search import NEAR_PX, Found, SearchSpace, likely
from overlay.registration.refine_vote import SIGNIFICANT

FEWEST_JUDGED = 8  # parts that stand out, below which nothing is said
FARTHEST_PX = 3.0  # points clicked by hand are off by less (common practice)
_SUPPORTED = 0.9
"""Share of parts with something at their own places from which a placement is right although little of it is sharp;
wrong ones reach 0.86, right ones of blurred spots begin at 0.95 (tuned on foreign worlds)."""
_SHIFT = 2  # px by which all places may be off together: a start by hand is (common practice)
_SIGMAS = 3.0  # of the points' own uncertainty, where that is more


def belongs_at(space: SearchSpace, start: Pose) -> bool:
    """Whether most parts that stand out lie where the pose by hand puts them: then `foreign_placement` finds nothing.

    False says nothing yet: the frame's own pose is to be looked for.
    """
    judged, agreeing = counted_near(space, start, likely(space.bodies))
    return judged >= FEWEST_JUDGED and agreeing / judged >= LIMITS.least_share


def foreign_placement(space: SearchSpace, start: Pose, found: Found, confidence: Confidence, start_u_px: float) -> str:
    """Why the placement is not that of the frame, with the likely cause; empty where it is or nobody can tell.

    ``start`` is the pose by hand, uncertain by ``start_u_px``, ``found`` the frame's own with its ``confidence``.
    """
    judged, agreeing = counted_near(space, start, found.targets)
    counts, poses = [(judged, agreeing)], [start]
    if confidence.moved_px <= max(FARTHEST_PX, _SIGMAS * start_u_px):
        counts.append((confidence.parts_judged, confidence.parts_agreeing))
        poses.append(found.pose)
    counts = [count for count in counts if count[0] >= FEWEST_JUDGED]
    if not counts or max(agreeing / judged for judged, agreeing in counts) >= LIMITS.least_share:
        return ""
    if max(_supported(space, pose, found) for pose in poses) >= _SUPPORTED:
        return ""
    judged, agreeing = max(counts, key=lambda count: (count[1] / count[0], count[0]))
    return (
        f"the placement does not belong to this frame: of {judged} parts that stand out in it only {agreeing} lie "
        f"where the placement puts them; {_likely_cause(space, start, found)}"
    )


def _supported(space: SearchSpace, pose: Pose, found: Found) -> float:
    """Share of the parts that stand out which do so at their own places too, if not sharply: warm spots, not bodies.

    The best share of all small shifts of the whole board counts: a pose by hand is off by as much.
    """
    values = space.gains(pose, found.targets, NEAR_PX + _SHIFT).values
    shifts = range(_SHIFT + 1 + _SHIFT)
    return max(_at_home(values[:, y : y + 2 * NEAR_PX + 1, x : x + 2 * NEAR_PX + 1]) for y in shifts for x in shifts)


def _at_home(values: Array) -> float:
    """Share of the parts that stand out in their windows (parts, rows, columns) which do so in the middle too."""
    near = slice(NEAR_PX - 1, NEAR_PX + 2)
    own, best = values[:, near, near].max(axis=(1, 2), initial=0.0), values.max(axis=(1, 2), initial=0.0)
    stands_out = best > SIGNIFICANT
    return float((own >= 0.5 * best)[stands_out].mean()) if stands_out.any() else 0.0


def _likely_cause(space: SearchSpace, start: Pose, found: Found) -> str:
    """What else would explain the frame: the board laid into it another way, or another board."""
    middle = (space.surface_mm[:, :2].min(axis=0) + space.surface_mm[:, :2].max(axis=0)) / 2.0
    best, least = "", LIMITS.least_score
    for what, matrix in ways_to_lie(np.ptp(space.surface_mm[:, :2], axis=0)):
        there, around = found.targets.mapped(matrix, middle), space.bodies.mapped(matrix, middle)
        score = chance_of(space, start, there, around)
        if score > least and not math.isinf(score):
            best, least = what, score
    if best:
        return f"the frame shows its parts {best}: check how the placement was exported, the side and the points"
    return "it is likely that of another revision or of another board: check the placement's revision"
