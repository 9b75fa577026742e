"""Where the frame contradicts the description of a part: turned, of another size, elsewhere, or not to be seen.

A trusted pose says where each part should show. Its picture is compared with pictures of the same part described
another way, in the same window and with free amplitudes (`refine_windows`): what explains the frame much better is
said. Tall parts, whose pictures show walls, are judged by their quarter turn alone.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from overlay.arrays import Array, Index
from overlay.board.model import Board
from overlay.registration.evidence import Pose
from overlay.registration.model import FaceCode, Finding
from overlay.registration.refine_search import NEAR_PX, Found, SearchSpace
from overlay.registration.refine_vote import CAP, SIGNIFICANT, best_offsets
from overlay.registration.targets import Targets

# All thresholds were tuned on foreign worlds: hardly a word where the description is right.
_BETTER = 20.0  # log-likelihood by which another description must explain the frame better …
_TURN_RATIO = 2.5  # … and in proportion: a part lying as it is told is explained well enough already …
_SIZE_RATIO = 1.35  # … while one of other proportions is explained in part …
_LARGER_RATIO = 2.5  # … and leads and the warm board around a part feign a larger one
_TURN_FROM_PX = 4.0  # long side from which a quarter turn can be told …
_SLENDER = 1.25  # … and its ratio to the short one
_SIZE_FROM_PX = 4.0  # short side from which a size can be told; chips are left out, whose metal reaches further
_FACTORS = (0.75, 0.85, 1.0, 1.15, 1.3)  # of a side
_MOST_PARTS = 400  # as many are looked at within a second
_AT_PLACE = 1  # px that count as that place
_MOVED_PX = 2.0  # from which a part is said to lie elsewhere
_FELLOWS = 4  # of the same package that do show, before a part that does not is remarked upon
_FELLOW_GAIN = 20.0  # median of the log-likelihood by which those show …
_NOTHING = 2.0  # … and what the part itself stays below


def contradicted_descriptions(space: SearchSpace, found: Found, board: Board) -> tuple[Finding, ...]:
    """What the frame says against the descriptions of parts, in the board's order, one finding a part.

    Of more than 400 parts only those that the pose itself rests on are looked at.
    """
    pose = found.pose
    parts = space.bodies if len(space.bodies) <= _MOST_PARTS else found.targets
    if not len(parts):
        return ()
    gains = found.gains_of(space, parts)
    off_px, best = best_offsets(gains)
    middle = gains.values.shape[1] // 2
    near = slice(middle - _AT_PLACE, middle + _AT_PLACE + 1)
    own = gains.values[:, near, near].max(axis=(1, 2), initial=0.0)
    slopes = space.pinhole.board_jacobian(pose.parameters, parts.center_mm)[:, :, :2]
    scale = np.sqrt(np.abs(np.linalg.det(np.nan_to_num(slopes))))
    packages = _packages(board, parts)
    findings: dict[str, Finding] = {}
    for finding in (
        *_turned(space, pose, parts, own, scale),
        *_resized(space, pose, parts, packages, own, scale),
        *_moved(parts, own, best, off_px, slopes),
        *_missing(parts, packages, own, best),
    ):
        findings.setdefault(finding.refdes, finding)
    return tuple(findings[name] for name in parts.refdes if name in findings)


def _packages(board: Board, parts: Targets) -> dict[str, list[int]]:
    """Positions of the flat parts of each package that has a name."""
    package = {part.refdes: part.package for part in board.components}
    alike: dict[str, list[int]] = defaultdict(list)
    for index, name in enumerate(parts.refdes):
        if package.get(name) and parts.steady[index]:
            alike[package[name]].append(index)
    return alike


def _turned(space: SearchSpace, pose: Pose, parts: Targets, own: Array, scale: Array) -> Iterator[Finding]:
    sides_px = 2.0 * parts.half_mm * scale[:, None]
    slender = sides_px.max(axis=1) >= np.maximum(_SLENDER * sides_px.min(axis=1), _TURN_FROM_PX)
    chosen = np.flatnonzero(slender & ~parts.round)
    if not len(chosen):
        return
    quarter = np.array([[0.0, 1.0], [-1.0, 0.0]])
    some = parts.only(chosen)
    gained = _at_place(space, pose, replace(some, axes=quarter @ some.axes))
    for index, gain in zip(chosen, gained, strict=True):
        if gain > max(own[index] + _BETTER, _TURN_RATIO * own[index]):
            off_px = float(np.ptp(sides_px[index])) / 2.0
            yield Finding(parts.refdes[index], FaceCode.TURNED, "fits the frame better turned by 90°", off_px)


def _resized(
    space: SearchSpace, pose: Pose, parts: Targets, packages: dict[str, list[int]], own: Array, scale: Array
) -> Iterator[Finding]:
    """Packages whose parts together ask for another size.

    Sizes are tried along one side at a time first: where neither gains anything, both together do not either.
    """
    wide = (2.0 * parts.half_mm.min(axis=1) * scale >= _SIZE_FROM_PX) & (parts.cap_mm == 0.0) & ~parts.round
    members = [chosen for group in packages.values() if len(chosen := np.array(group)[wide[group]])]
    one_side = [(x, y) for x in _FACTORS for y in _FACTORS if (x == 1.0) != (y == 1.0)]
    both_sides = [(x, y) for x in _FACTORS for y in _FACTORS if x != 1.0 and y != 1.0]
    as_told = [float(own[group].sum()) for group in members]
    gained = _with_sizes(space, pose, parts, members, one_side)
    asked = np.flatnonzero(gained.max(axis=1, initial=0.0) > as_told)
    members, as_told = [members[i] for i in asked], [as_told[i] for i in asked]
    gained = np.hstack([gained[asked], _with_sizes(space, pose, parts, members, both_sides)])
    tried = one_side + both_sides
    for group, own_gain, together in zip(members, as_told, gained, strict=True):
        at = int(np.argmax(together))
        # a top that is hot in its middle looks smaller than it is
        ratio = _SIZE_RATIO if min(tried[at]) < 1.0 < max(tried[at]) else _LARGER_RATIO
        if max(tried[at]) <= 1.0 or together[at] <= max(own_gain + _BETTER, ratio * own_gain):
            continue
        for index in group:
            told_mm = 2.0 * parts.half_mm[index]
            words = [
                f"{told * by:.1f} mm {word} in the frame, not {told:.1f}"
                for told, by, word in zip(told_mm, tried[at], ("long", "wide"), strict=True)
                if by != 1.0
            ]
            off_px = float(np.abs(told_mm * (np.array(tried[at]) - 1.0)).max() * scale[index]) / 2.0
            yield Finding(parts.refdes[index], FaceCode.RESIZED, f"is about {', about '.join(words)}", off_px)


def _with_sizes(
    space: SearchSpace, pose: Pose, parts: Targets, groups: list[Index], factors: list[tuple[float, float]]
) -> Array:
    """What the parts of each group gain together (groups, factors) if their sides are so many times as long."""
    if not groups:
        return np.zeros((0, len(factors)))
    chosen = np.concatenate(groups)
    some = parts.only(np.tile(chosen, len(factors)))
    by = np.repeat(factors, len(chosen), axis=0)
    gained = _at_place(space, pose, replace(some, half_mm=some.half_mm * by)).reshape(len(factors), -1)
    first = np.cumsum([0, *(len(group) for group in groups[:-1])])
    return np.asarray(np.add.reduceat(gained, first, axis=1).T)


def _moved(parts: Targets, own: Array, best: Array, off_px: Array, slopes: Array) -> Iterator[Finding]:
    far = np.hypot(off_px[:, 0], off_px[:, 1])
    for index in np.flatnonzero(parts.steady & (far >= _MOVED_PX) & (best > CAP)):
        if np.abs(off_px[index]).max() < NEAR_PX and best[index] > max(own[index] + _BETTER, _TURN_RATIO * own[index]):
            off_mm = np.linalg.solve(slopes[index], off_px[index])
            text = f"shows {math.hypot(*off_mm):.1f} mm beside its place, by ({off_mm[0]:+.1f}, {off_mm[1]:+.1f}) mm"
            yield Finding(parts.refdes[index], FaceCode.MOVED, text, float(far[index]))


def _missing(parts: Targets, packages: dict[str, list[int]], own: Array, best: Array) -> Iterator[Finding]:
    """Parts that do not show although their like do: something lies over them, or they are not fitted."""
    for members in packages.values():
        shown = [index for index in members if own[index] > SIGNIFICANT]
        if len(shown) < max(_FELLOWS, 0.75 * len(members)) or float(np.median(own[shown])) < _FELLOW_GAIN:
            continue
        for index in members:
            if best[index] < SIGNIFICANT and own[index] < _NOTHING:
                text = (
                    f"does not show in the frame as the {len(shown)} other parts of its package do: something that no "
                    "file lists lies over it, or it is not fitted"
                )
                yield Finding(parts.refdes[index], FaceCode.NOT_SHOWN, text, 0.0)


def _at_place(space: SearchSpace, pose: Pose, parts: Targets) -> Array:
    """The gain (n,) of each part within a pixel of its place."""
    return np.asarray(space.gains(pose, parts, _AT_PLACE).values.max(axis=(1, 2), initial=0.0))
