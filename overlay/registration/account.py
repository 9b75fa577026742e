"""Whether what a frame shows and what a placement lists are the same parts.

A pose that two thirds of the parts agree on fits another revision of the board as well as its own. What tells them
apart is what does not agree: parts that the frame shows turned, aside or exchanged, parts that do not show although
their like do, and things that stand out as parts do where none is listed. A part that moved leaves two such traces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array, Mask
from overlay.board import anatomy
from overlay.board.model import Board, Component
from overlay.registration.evidence import Pose
from overlay.registration.faces import face_polygon
from overlay.registration.refine_search import SearchSpace
from overlay.registration.refine_vote import SIGNIFICANT, best_offsets
from overlay.registration.targets import Targets

# Thresholds were tuned on simulated boards of ten kinds, right and changed in six ways.
_REACH_PX = 4  # px around a part's own place
_AT_PLACE_PX = 1
_BESIDE_PX = 1.5  # farther off, a part is not where it is listed
_BETTER = 12.0  # log-likelihood by which another place or turn must explain the frame better …
_RATIO = 1.7  # … and in proportion
_SURE, _FAR_BETTER, _FAR_RATIO = 30.0, 20.0, 2.0
"""What the picture of another part must gain in its place, by itself, over its own and in proportion to it."""
_LIKE_AREA = 2.5  # factor of area up to which one part may lie in another's place without more to see
_QUARTER = np.array([[0.0, 1.0], [-1.0, 0.0]])  # turns a body's axes by 90°
_SLENDER = 1.25  # ratio of sides from which a quarter turn can be told
_FELLOWS = 4  # parts of one size, before one that does not show is missed …
_SHOWN_SHARE = 0.5  # … of which so many do show …
_CLEAR = 18.0  # … and clearly: the median of what they gain …
_FAINT = 0.15  # … of which a missing one has less than this share
_RIM_PX = 5.0  # nearer to the frame's edge a part is seen in part
_EDGE_PX = 4  # the outline's own step
_MARGIN_PX = 2.0  # that a part's blurred edge reaches beyond it …
_MARGIN_MM = 0.7  # … and metal beyond what is known of it
_UNKNOWN_MM = 3.0  # half a package of a size nobody knows is rarely more
_SPOT_PX = 1.0  # width of the filter that finds what is small and stands out
_FAINTEST_PART = 0.3  # quantile of the parts' own response: what stands out more is seen as well as they are
_NOISES = 6.0  # of the frame, below which nothing stands out
_MOST_NAMES = 6  # in one sentence
_ONE_THING_PX = 2  # responses so near each other belong to one thing

MOST_DOUBTED = 0.115
"""Share of doubts from which the placement is another's: in simulated views right ones stayed below but for two of 45,
and none of 312 wrong offers was taken (`tests.truth.proposals`)."""
FEWEST_SHOWN = 0.3
"""Share of the parts that must stand out: of fewer, a third could be changed and nobody would see it."""
_FEWEST_DOUBTS = 2  # one part that is not as it is listed is no other revision
_WEIGHT_ELSEWHERE, _WEIGHT_UNLISTED = 2.0, 1.5
"""What a part seen otherwise and an unlisted thing count against one that is not seen: the first hardly ever happens
on the right board, the second does, by labels, wires and unlisted leads."""


@dataclass(frozen=True, slots=True)
class Account:
    """The parts of a placement and the things a frame shows, held against each other at one pose."""

    listed: int  # parts that could show
    shown: tuple[str, ...]  # they do, where and as they are listed
    elsewhere: tuple[str, ...]  # the frame shows them turned or aside, or another part in their place
    missing: tuple[str, ...]  # they do not show, though their like do
    unlisted_px: tuple[tuple[float, float], ...]  # where something stands out that is not listed

    @property
    def doubted(self) -> float:
        """Share of doubts among all that could be judged, 0…1."""
        doubts = _WEIGHT_ELSEWHERE * len(self.elsewhere) + len(self.missing) + _WEIGHT_UNLISTED * len(self.unlisted_px)
        against = len(self.elsewhere) + len(self.missing) + len(self.unlisted_px)
        if against < _FEWEST_DOUBTS:
            return 0.0
        return min(1.0, doubts / (len(self.shown) + against))

    @property
    def reason(self) -> str:
        """Why the placement is not to be taken for the frame's; empty where nothing speaks against it."""
        if self.doubted > MOST_DOUBTED:
            against = [
                f"{len(names)} {what} ({', '.join(names[:_MOST_NAMES])}{' …' if len(names) > _MOST_NAMES else ''})"
                for names, what in (
                    (self.elsewhere, "are turned, beside their places or exchanged"),
                    (self.missing, "do not show though their like do"),
                )
                if names
            ]
            if self.unlisted_px:
                against.append(f"{_things(len(self.unlisted_px))} where no file lists any")
            return (
                f"the frame seems to show another revision: {len(self.shown)} of {self.listed} parts stand out where "
                f"they are listed, {', '.join(against)}"
            )
        if len(self.shown) < FEWEST_SHOWN * self.listed:
            return (
                f"only {len(self.shown)} of {self.listed} parts stand out where they are listed: too few to tell "
                "whether the placement is this board's or another revision's"
            )
        return ""

    @property
    def remedy(self) -> str:
        """What would help where there is a `reason`."""
        if self.doubted > MOST_DOUBTED:
            return "check the placement's revision; if it is this board's, place points by hand"
        return "take a frame from nearer or with more load, or place points by hand"


def _things(count: int) -> str:
    return "one thing stands out" if count == 1 else f"{count} things stand out"


def account_of(space: SearchSpace, pose: Pose, board: Board, hidden: frozenset[str] = frozenset()) -> Account:
    """Hold the seen side's parts against the frame at a pose that is settled to a pixel.

    ``hidden``: designators of parts that taller ones hide there, of which nothing is expected.
    """
    bodies = space.bodies
    gains = space.gains(pose, bodies, _REACH_PX)
    off, best = best_offsets(gains)
    near = slice(_REACH_PX - _AT_PLACE_PX, _REACH_PX + _AT_PLACE_PX + 1)
    own = gains.values[:, near, near].max(axis=(1, 2), initial=0.0)
    aside = np.where(np.hypot(off[:, 0], off[:, 1]) > _BESIDE_PX, best, 0.0)
    other = np.maximum(aside, _turned(space, pose, bodies))
    rows, cols = space.frame.shape_px
    places = gains.predicted_px
    judged = bodies.steady & (places > _RIM_PX).all(axis=1)
    judged &= np.array([refdes not in hidden for refdes in bodies.refdes], dtype=bool)
    judged &= (places < np.array([cols, rows]) - 1.0 - _RIM_PX).all(axis=1)
    elsewhere = judged & ((other > np.maximum(own + _BETTER, _RATIO * own)) | _exchanged(space, pose, bodies))
    shown = judged & ~elsewhere & (own > SIGNIFICANT)
    missing = _missing(bodies, own, judged & ~elsewhere, shown)
    names = np.array(bodies.refdes, dtype=object)
    return Account(
        listed=int(judged.sum()),
        shown=tuple(names[shown]),
        elsewhere=tuple(names[elsewhere]),
        missing=tuple(names[missing]),
        unlisted_px=_unlisted_px(space, pose, board),
    )


def _turned(space: SearchSpace, pose: Pose, bodies: Targets) -> Array:
    """Gain (n,) of each part turned by 90°; 0 where that makes no difference."""
    out = np.zeros(len(bodies))
    slender = bodies.half_mm.max(axis=1) > _SLENDER * bodies.half_mm.min(axis=1)
    some = np.flatnonzero(slender & ~bodies.round)
    if len(some):
        parts = bodies.only(some)
        turned = space.gains(pose, replace(parts, axes=_QUARTER @ parts.axes), _AT_PLACE_PX)
        out[some] = turned.values.max(axis=(1, 2), initial=0.0)
    return out


def _exchanged(space: SearchSpace, pose: Pose, bodies: Targets) -> Mask:
    """Parts (n,) in whose place the picture of another, of about its size, explains the same window far better."""
    out = np.zeros(len(bodies), dtype=bool)
    sizes = np.column_stack([bodies.half_mm, bodies.cap_mm, bodies.pad_mm, bodies.lead_mm, bodies.round])
    _, kinds, kind = np.unique(np.round(sizes, 2), axis=0, return_index=True, return_inverse=True)
    area, steady = bodies.half_mm.prod(axis=1), np.flatnonzero(bodies.steady)
    of, other = (grid.ravel() for grid in np.meshgrid(steady, kinds[bodies.steady[kinds]], indexing="ij"))
    like = (np.abs(np.log(area[other] / area[of])) < math.log(_LIKE_AREA)) & (kind.ravel()[of] != kind.ravel()[other])
    of, other = of[like], other[like]
    if not len(of):
        return out
    told = bodies.only(of)
    shape = bodies.only(other)
    told_outer, shape_outer, none = _outer_mm(told), _outer_mm(shape), np.zeros(len(of))
    for turn in (np.eye(2), _QUARTER):
        instead = replace(shape, refdes=told.refdes, center_mm=told.center_mm, axes=turn @ told.axes)
        half, outer = np.abs(shape.half_mm @ turn), np.abs(shape_outer @ turn)
        least, most = np.minimum(told.half_mm, half), np.maximum(told_outer, outer)
        both = replace(told, half_mm=least, lead_mm=most - least, cap_mm=none, pad_mm=none, round=none > 0.0)
        own, gain = (
            space.gains(pose, one, _AT_PLACE_PX, windows_of=both).values.max(axis=(1, 2), initial=0.0)
            for one in (told, instead)
        )
        out[of[gain > np.maximum(np.maximum(own + _FAR_BETTER, _FAR_RATIO * own), _SURE)]] = True
    return out


def _outer_mm(parts: Targets) -> Array:
    """Half extents (n, 2) with pads and leads."""
    return np.asarray(parts.half_mm + parts.lead_mm + parts.pad_mm[:, None] * np.array([1.0, 0.0]))


def _missing(bodies: Targets, own: Array, judged: Mask, shown: Mask) -> Mask:
    """Chips that do not show although most of their size do: their bare ends show wherever the board is warm."""
    out = np.zeros(len(bodies), dtype=bool)
    sizes = np.round(np.column_stack([bodies.half_mm, bodies.cap_mm]), 2)
    _, kind = np.unique(sizes, axis=0, return_inverse=True)
    for number in range(int(kind.max(initial=-1)) + 1):
        members = judged & (kind.ravel() == number) & (bodies.cap_mm > 0.0)
        fellows = members & shown
        if members.sum() < _FELLOWS or fellows.sum() < _SHOWN_SHARE * members.sum():
            continue
        usual = float(np.median(own[fellows]))
        if usual >= _CLEAR:
            out |= members & ~shown & (own < _FAINT * usual)
    return out


# -- what stands out where nothing is listed ----------------------------------------------------------------------


def _unlisted_px(space: SearchSpace, pose: Pose, board: Board) -> tuple[tuple[float, float], ...]:
    """Places of things on the board that stand out as parts do, where none is listed."""
    from scipy.ndimage import binary_dilation, center_of_mass, gaussian_laplace, label, maximum

    frame = space.frame.compressed
    response = np.abs(gaussian_laplace(frame.values, _SPOT_PX))
    covered, responses = _covered(space, pose, board, response)
    least = _NOISES * frame.noise
    if len(responses):
        least = max(least, float(np.quantile(responses, _FAINTEST_PART)))
    on_board = _on_board(space, pose, board)
    stands_out = (response > 0.5 * least) & on_board & ~covered
    things, count = label(binary_dilation(stands_out, iterations=_ONE_THING_PX), np.ones((3, 3)))
    # what reaches over the board's edge is a clamp, a cable or a hand, and no part
    outside = np.unique(things[~on_board])
    index = np.setdiff1d(np.arange(1, count + 1), outside)
    clear = (
        index[np.asarray(maximum(np.where(stands_out, response, 0.0), things, index)) > least] if len(index) else index
    )
    places = np.array(center_of_mass(stands_out, things, clear)).reshape(-1, 2)
    return tuple((round(float(x), 1), round(float(y), 1)) for y, x in places)


def _covered(space: SearchSpace, pose: Pose, board: Board, response: Array) -> tuple[Mask, Array]:
    """Pixels that a listed part may reach (rows, cols), and the largest response of each part that is wholly seen."""
    import cv2
    import shapely

    rows, cols = space.frame.shape_px
    parts = [part for part in board.components if part.side == space.pinhole.side]
    if not parts:
        return np.zeros((rows, cols), dtype=bool), np.zeros(0)
    rings = shapely.polygons([shapely.LinearRing(face_polygon(part)) for part in parts])
    slopes = space.pinhole.board_jacobian(pose.parameters, space.surface_mm)[:, :, :2]
    px_per_mm = float(np.sqrt(np.nanmedian(np.abs(np.linalg.det(slopes)))))
    wider = np.array([_reach_mm(part) for part in parts]) + _MARGIN_PX / px_per_mm
    covered, responses = np.zeros((rows, cols), dtype=np.uint8), []
    for part, ring in zip(parts, shapely.buffer(rings, wider, join_style="mitre"), strict=True):
        xy = shapely.get_coordinates(ring)
        heights = (0.0, part.height_mm or 0.0)  # from its foot to its top, however it leans
        corners = np.concatenate([np.column_stack([xy, np.full(len(xy), z)]) for z in heights])
        pixels = space.pinhole.pixels(pose.parameters, corners)
        if not np.isfinite(pixels).all():
            continue
        hull = cv2.convexHull(np.rint(pixels).astype(np.int32))
        cv2.fillConvexPoly(covered, hull, 1)
        x, y, width, height = cv2.boundingRect(hull)
        if part.body is not None and x >= 0 and y >= 0 and x + width <= cols and y + height <= rows:
            own = np.zeros((height, width), dtype=np.uint8)
            cv2.fillConvexPoly(own, hull - np.array([x, y], dtype=np.int32), 1)
            responses.append(float(response[y : y + height, x : x + width][own > 0].max(initial=0.0)))
    return covered > 0, np.array(responses)


def _reach_mm(part: Component) -> float:
    """How far beyond its face a part's metal may lie."""
    return _UNKNOWN_MM if part.body is None else max(anatomy.leads_mm(part)) + _MARGIN_MM


def _on_board(space: SearchSpace, pose: Pose, board: Board) -> Mask:
    """Pixels of the board's surface (rows, cols) away from its edges and holes."""
    import cv2
    import shapely

    rows, cols = space.frame.shape_px
    inside = np.zeros((rows, cols), dtype=np.uint8)
    for polygon in shapely.get_parts(board.outline.polygon):
        for ring, value in ((polygon.exterior, 1), *((hole, 0) for hole in polygon.interiors)):
            xy = shapely.get_coordinates(ring)
            pixels = space.pinhole.pixels(pose.parameters, np.column_stack([xy, np.zeros(len(xy))]))
            if np.isfinite(pixels).all():
                cv2.fillPoly(inside, [np.rint(pixels).astype(np.int32)], value)
    around = np.ones((2 * _EDGE_PX + 1, 2 * _EDGE_PX + 1), dtype=np.uint8)
    on_board = np.zeros((rows, cols), dtype=bool)
    framed = slice(_EDGE_PX, -_EDGE_PX)  # where the board runs out of the frame
    on_board[framed, framed] = cv2.erode(inside, around)[framed, framed] > 0
    return on_board
