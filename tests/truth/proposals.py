"""Benchmark of registrations without clicks: ``python -m tests.truth.proposals [--right N] [--wrong N]`` at the root.

Right frames (as they are, turned by 90° and 180° without lens or distance told, cropped, warm around the board, with
clutter over its edge) must be found to half a pixel or refused; wrong ones must be refused: another board, the other
side, a frame that lies mirrored, a revision with three tenths of its parts changed in four ways, a board that is its
own half turn, rows without ends (the right pitch is no fault there) and the neighbour in a panel. Views are taken in
turn, so that a run of few offers is a fair sample of many.
"""

from __future__ import annotations

import argparse
import math
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np
import shapely

from overlay.board.model import Board, Component, Side
from overlay.registration.model import UNTOLD, Lens
from overlay.registration.project import pixels_from_board
from overlay.registration.propose import propose_registration
from tests.truth.registration import KINDS, RIGHT_PX, mirrored, surface
from tests.truth.views import ROWS, Sight, sight

Truth = Callable[[np.ndarray], np.ndarray]
SHARE = 0.3
"""Of the parts of the seen side that another revision has elsewhere."""


@dataclass(frozen=True, eq=False)
class Offer:
    """A frame and a placement that do or do not belong together."""

    kind: str
    frame_c: np.ndarray
    board: Board
    lens: Lens
    truth: Truth | None  # pixels of board places; None where no place is right


@dataclass(frozen=True)
class Answer:
    """What was made of an offer."""

    kind: str
    view: str
    error_px: float | None  # None for a refusal, inf where nothing is right
    reason: str
    seconds: float


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="1,2,3,4", help="views of each kind; even ones from below")
    parser.add_argument("--kinds", default=",".join(KINDS[:-1]))
    parser.add_argument("--right", type=int, default=40, metavar="N", help="right offers to make")
    parser.add_argument("--wrong", type=int, default=40, metavar="N", help="wrong offers to make")
    parser.add_argument("--skip", type=int, default=0, metavar="N", help="offers of either sort to leave out first")
    words = parser.parse_args()
    seeds = [int(seed) for seed in words.seeds.split(",")]
    views = [(kind, seed) for seed in seeds for kind in words.kinds.split(",")]
    for title, offers, count in (("right", right_offers, words.right), ("wrong", wrong_offers, words.wrong)):
        some = islice(_in_turn(views, offers), words.skip, words.skip + count)
        print_answers(title, [answer(view, offer) for view, offer in some])


def _in_turn(
    views: list[tuple[str, int]], offers: Callable[[Sight, Sight, int], Iterator[Offer]]
) -> Iterator[tuple[Sight, Offer]]:
    """Offer after offer, each of another view."""
    seen = [sight(kind, seed, "top" if seed % 2 else "bottom") for kind, seed in views]
    all_offers = [list(offers(view, seen[(number + 1) % len(seen)], number)) for number, view in enumerate(seen)]
    for number in range(max(len(some) for some in all_offers)):
        for view, some in zip(seen, all_offers, strict=True):
            if some:
                yield view, some[(number + len(view.name)) % len(some)] if number < len(some) else some[0]


def answer(view: Sight, offer: Offer) -> Answer:
    """What the library proposes, and how far off it is."""
    began = time.process_time()
    proposal = propose_registration(offer.frame_c, offer.board, _side(view), offer.lens)
    seconds = time.process_time() - began
    error = None
    if proposal.registration is not None:
        error = math.inf
        if offer.truth is not None:
            places = surface(offer.board)
            apart = pixels_from_board(proposal.registration, places) - offer.truth(places)
            error = float(np.sqrt(np.mean((apart**2).sum(axis=1))))
    return Answer(offer.kind, view.name, error, proposal.reason, seconds)


# -- right offers --------------------------------------------------------------------------------------------------


def right_offers(view: Sight, _other: Sight, number: int) -> Iterator[Offer]:
    told, board, see = _told(view), view.board, view.pose.project
    frame = view.frame_c
    rows, cols = frame.shape
    random = np.random.default_rng(number)
    yield Offer("as it is", frame, board, told, see)
    turned = np.ascontiguousarray(np.rot90(frame))
    yield Offer("turned by 90°, lens untold", turned, board, UNTOLD, lambda at: _quarter(see(at), cols))
    half = np.ascontiguousarray(np.rot90(frame, 2))
    yield Offer("turned by 180°", half, board, told, lambda at: np.array([cols - 1.0, rows - 1.0]) - see(at))
    yield Offer("warm around the board", _warm(view), board, told, see)
    yield Offer("clutter over the edge", _cluttered(view, random), board, told, see)
    left, top = round(0.12 * cols), round(0.06 * rows)
    yield Offer("cropped, lens untold", frame[top:, left:].copy(), board, UNTOLD, lambda at: see(at) - [left, top])


def _quarter(seen: np.ndarray, cols: int) -> np.ndarray:
    return np.column_stack([seen[:, 1], cols - 1 - seen[:, 0]])


def _warm(view: Sight) -> np.ndarray:
    """The frame over a bench as warm as the board's edge, and uneven."""
    inside = _board_mask(view)
    rows, cols = view.frame_c.shape
    v, u = np.mgrid[0:rows, 0:cols]
    level = float(np.median(view.frame_c[inside])) + 1.5 * np.sin(u / cols * 4.0) + 1.0 * np.cos(v / rows * 3.0)
    noise = np.random.default_rng(5).normal(0.0, 0.06, view.frame_c.shape)
    return np.where(inside, view.frame_c, level + noise)


def _cluttered(view: Sight, random: np.random.Generator) -> np.ndarray:
    """Two clamps and a cable laid over the board's edge, at temperatures of their own."""
    from scipy.ndimage import gaussian_filter

    west, south, east, north = view.board.outline.polygon.bounds
    frame = view.frame_c.copy()
    rows, cols = frame.shape
    v, u = np.mgrid[0:rows, 0:cols]
    for _ in range(2):
        x, width = random.uniform(west + 5, east - 15), random.uniform(5.0, 9.0)
        y = south if random.uniform() < 0.5 else north
        corners = np.array([[x, y - 5.0], [x + width, y - 5.0], [x + width, y + 4.0], [x, y + 4.0]])
        ring = view.pose.project(np.column_stack([corners, np.zeros(4)]))
        frame[shapely.contains_xy(shapely.Polygon(ring), u, v)] = random.uniform(24.0, 45.0)
    ends = np.array(
        [[west - 10.0, random.uniform(south, north), 0.0], [west + 12.0, random.uniform(south, north), 0.0]]
    )
    cable = shapely.LineString(view.pose.project(ends)).buffer(max(1.2, cols / 200))
    frame[shapely.contains_xy(cable, u, v)] = random.uniform(24.0, 40.0)
    touched = frame != view.frame_c
    return np.where(touched, gaussian_filter(frame, 0.7), frame)


def _board_mask(view: Sight) -> np.ndarray:
    polygon = view.board.outline.polygon
    shell = np.array(max(shapely.get_parts(polygon), key=lambda part: part.area).exterior.coords)[:, :2]
    ring = view.pose.project(np.column_stack([shell, np.zeros(len(shell))]))
    rows, cols = view.frame_c.shape
    v, u = np.mgrid[0:rows, 0:cols]
    return np.asarray(shapely.contains_xy(shapely.Polygon(ring), u, v))


# -- wrong offers --------------------------------------------------------------------------------------------------


def wrong_offers(view: Sight, other: Sight, number: int) -> Iterator[Offer]:
    """Offers of which none may be accepted; half of them another revision, the hardest kind."""
    told, frame, side = _told(view), view.frame_c, _side(view)
    random = np.random.default_rng(1000 + number)
    for change in (shifted, exchanged, turned, with_others, shifted, exchanged):
        yield Offer(f"revision: {change.__name__}", frame, change(view.board, side, random), told, None)
    yield Offer("frame mirrored", np.ascontiguousarray(frame[:, ::-1]), view.board, told, None)
    x0, _, x1, _ = view.board.outline.polygon.bounds
    yield Offer("the other side's placement", frame, mirrored(view.board, (x0 + x1) / 2.0), told, None)
    if _side(other) == side:
        yield Offer("another board", frame, other.board, told, None)
    yield symmetric(view, told)
    wide = Lens(_field(view.hfov_deg, 2.0), view.distance_m)
    yield Offer("its neighbour in a panel", np.hstack([frame, frame]), view.board, wide, None)
    if view.name.startswith(ROWS):
        yield rows_without_ends(view)


def symmetric(view: Sight, told: Lens) -> Offer:
    """A board that is its own half turn, and its frame: which way round it lies nobody can tell."""
    import cv2
    from scipy.ndimage import map_coordinates

    board, side = view.board, _side(view)
    x0, y0, x1, y1 = board.outline.polygon.bounds
    west = [part for part in board.components if part.side == side and part.center_mm[0] < (x0 + x1) / 2.0]
    east = [
        replace(
            part,
            refdes=f"{part.refdes}X",
            center_mm=(x0 + x1 - part.center_mm[0], y0 + y1 - part.center_mm[1]),
            rotation_deg=part.rotation_deg + 180.0,
        )
        for part in west
    ]
    places = surface(board)
    to_board = cv2.findHomography(view.pose.project(places), places[:, :2])[0]
    rows, cols = view.frame_c.shape
    v, u = np.mgrid[0:rows, 0:cols]
    pixels = np.column_stack([u.ravel(), v.ravel(), np.ones(u.size)])
    xy = (pixels @ to_board.T)[:, :2] / (pixels @ to_board.T)[:, 2:]
    xy = np.where(xy[:, :1] > (x0 + x1) / 2.0, np.array([x0 + x1, y0 + y1]) - xy, xy)
    at = view.pose.project(np.column_stack([xy, np.zeros(len(xy))]))
    frame = map_coordinates(view.frame_c, [at[:, 1], at[:, 0]], order=1, mode="nearest").reshape(rows, cols)
    return Offer("a board that is its half turn", frame, replace(board, components=(*west, *east)), told, None)


def rows_without_ends(view: Sight) -> Offer:
    """The middle of the rows alone: every pitch fits, and only the right one is right."""
    cols = view.frame_c.shape[1]
    left, width = round(0.33 * cols), round(0.3 * cols)
    lens = Lens(_field(view.hfov_deg, width / cols), view.distance_m)
    middle = view.frame_c[:, left : left + width].copy()
    return Offer("rows whose ends are not seen", middle, view.board, lens, lambda at: view.pose.project(at) - [left, 0])


def _field(hfov_deg: float, factor: float) -> float:
    """Field of view of a frame so many times as wide."""
    return math.degrees(2.0 * math.atan(factor * math.tan(math.radians(hfov_deg) / 2.0)))


def shifted(board: Board, side: Side, random: np.random.Generator) -> Board:
    """Three tenths of the parts 3 to 10 mm beside their places."""

    def beside(part: Component) -> Component:
        angle, far = random.uniform(0, 2 * math.pi), random.uniform(3.0, 10.0)
        x, y = part.center_mm
        return replace(part, center_mm=(x + far * math.cos(angle), y + far * math.sin(angle)))

    return _changed(board, _some(board, side, random), beside)


def exchanged(board: Board, side: Side, random: np.random.Generator) -> Board:
    """Three tenths of the parts in places of parts of another size: equal ones exchanged would change nothing."""
    own = [part for part in board.components if part.side == side and not part.mechanical]
    wanted = max(2, round(SHARE * len(own)))
    left, places = list(random.permutation(len(own))), {}
    while len(places) < wanted and len(left) > 1:
        one = own[left.pop()]
        partner = next((index for index in left if _outline(own[index]) != _outline(one)), None)
        if partner is not None:
            left.remove(partner)
            places[one.refdes], places[own[partner].refdes] = own[partner].center_mm, one.center_mm
    parts = (replace(part, center_mm=places.get(part.refdes, part.center_mm)) for part in board.components)
    return replace(board, components=tuple(parts))


def turned(board: Board, side: Side, random: np.random.Generator) -> Board:
    """Three tenths of the parts turned by 90°, of those that are longer than wide."""
    chosen = _some(board, side, random, slender=True)
    return _changed(board, chosen, lambda part: replace(part, rotation_deg=part.rotation_deg + 90.0))


def with_others(board: Board, side: Side, random: np.random.Generator) -> Board:
    """Three tenths of the parts gone, as many others at free places."""
    gone = _some(board, side, random)
    kept = [part for part in board.components if part.refdes not in gone]
    new = shifted(board, side, random)
    moved = [replace(part, refdes=f"{part.refdes}X") for part in new.components if part not in board.components]
    return replace(board, components=(*kept, *moved[: len(gone)]))


def _some(board: Board, side: Side, random: np.random.Generator, *, slender: bool = False) -> set[str]:
    own = [part for part in board.components if part.side == side and not part.mechanical]
    count = max(2, math.ceil(SHARE * len(own)))
    if slender:
        own = [part for part in own if part.body and part.body.length_mm > 1.2 * part.body.width_mm]
    return {own[index].refdes for index in random.permutation(len(own))[:count]}


def _changed(board: Board, which: set[str], change: Callable[[Component], Component]) -> Board:
    return replace(board, components=tuple(change(part) if part.refdes in which else part for part in board.components))


def _outline(part: Component) -> tuple[float, float, float] | None:
    if part.body is None:
        return None
    return (part.body.length_mm, part.body.width_mm, part.rotation_deg % 180.0)


# -- what came of it -----------------------------------------------------------------------------------------------


def print_answers(title: str, answers: list[Answer]) -> None:
    if not answers:
        return
    groups: dict[str, list[Answer]] = defaultdict(list)
    for one in answers:
        groups[one.kind].append(one)
        groups["· " + " ".join(one.view.split()[:-2])].append(one)
    print(f"\n{title + ' offers':<32}{'offers':>7}{'accepted':>10}{'< 0.5 px':>10}{'worst px':>10}{'seconds':>9}")
    for kind, some in [*sorted(groups.items(), key=lambda item: item[0].startswith("·")), ("all", answers)]:
        errors = [one.error_px for one in some if one.error_px is not None]
        near = sum(error < RIGHT_PX for error in errors)
        worst = max((error for error in errors if math.isfinite(error)), default=0.0)
        seconds = float(np.median([one.seconds for one in some]))
        print(f"{kind:<32}{len(some):>7}{len(errors):>10}{near:>10}{worst:>10.2f}{seconds:>9.1f}")
    for one in answers:
        taken, right = one.error_px is not None, one.error_px is not None and one.error_px < RIGHT_PX
        if not right and (taken or title == "right"):
            off = f"{one.error_px:.2f} px off" if taken else "refused"
            print(f"  {one.view}, {one.kind}: {one.reason} ({off})")


def _told(view: Sight) -> Lens:
    return Lens(view.hfov_deg, view.distance_m)


def _side(view: Sight) -> Side:
    return "bottom" if view.pose.side == "bottom" else "top"


if __name__ == "__main__":
    main()
