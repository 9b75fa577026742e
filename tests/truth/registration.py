"""Benchmark of registrations by the frame itself. ``python -m tests.truth.registration`` from the root.

Right starts are two clicks 4 px off (and what else a user brings along), wrong ones another board, the other side, a
board turned by 180°, displaced, or a row's pitch off. An error is the rms distance in pixels between where a
registration and the simulation put the board's surface.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from demo_board.simulation.world import Array
from overlay.board.model import Board, Component, Side
from overlay.board.outline.read import outline_from_bodies
from overlay.errors import InputError
from overlay.registration.fit import fit_registration
from overlay.registration.model import UNTOLD, ControlPoint, Lens, Registration
from overlay.registration.policy import settle_registration
from overlay.registration.project import pixels_from_board
from tests.truth.views import ROWS, Sight, sight

KINDS = ("digital", "power", "mixed", "led", "coarse", "fine", "two sides", "tilted", "small", ROWS, "crowded")
RIGHT_PX = 0.5
CLICK_PX = 4.0


@dataclass(frozen=True)
class Run:
    """One start: how far off it was, how far off it ended, and whether the frame was trusted."""

    group: str
    name: str
    start_px: float
    end_px: float
    trusted: bool
    reason: str
    score: float
    seconds: float


def surface(board: Board) -> Array:
    x0, y0, x1, y1 = board.outline.polygon.bounds
    x, y = np.meshgrid(np.linspace(x0, x1, 13), np.linspace(y0, y1, 9))
    return np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])


def clicks(view: Sight, count: int, off_px: float, random: np.random.Generator) -> list[ControlPoint]:
    """Parts far apart, each clicked ``off_px`` beside its true place in any direction."""
    parts = [c for c in _clickable(view.board, view.pose.side) if _framed(view, c)]
    order = random.permutation(len(parts))[: max(8, count)]
    places = np.array([parts[i].center_mm for i in order])
    chosen = [0]
    while len(chosen) < min(count, len(order)):
        apart = np.min([np.hypot(*(places - places[k]).T) for k in chosen], axis=0)
        chosen.append(int(np.argmax(apart)))
    points = []
    for k in chosen:
        part = parts[order[k]]
        angle = random.uniform(0, 2 * np.pi)
        by = off_px * np.array([np.cos(angle), np.sin(angle)])
        points.append(_point(part, view.pose.project(_top(part))[0] + by, max(off_px / 2, 0.4)))
    return points


def run(group: str, view: Sight, board: Board, points: Sequence[ControlPoint], *, camera: bool = True) -> Run | None:
    """Fit to the points and refine; None where the fit itself refuses them."""
    told = Lens(view.hfov_deg, view.distance_m) if camera else UNTOLD
    side: Side = "bottom" if view.pose.side == "bottom" else "top"
    try:
        start = fit_registration(points, side, view.pose.shape_px, told)
    except InputError:
        return None
    began = time.perf_counter()
    end = settle_registration(start, view.frame_c, board, told, always=True)
    seconds = time.perf_counter() - began
    assert end.confidence is not None
    trusted = end.confidence.trusted
    off = _error_px(view, board, start), _error_px(view, board, end)
    return Run(group, view.name, *off, trusted, end.confidence.reason, end.confidence.score, seconds)


def right_starts(view: Sight, draws: int, seed: int) -> Iterator[Run | None]:
    random = np.random.default_rng(seed)
    for _ in range(draws):
        yield run("two clicks 4 px off", view, view.board, clicks(view, 2, CLICK_PX, random))
    yield run("three clicks 6 px off", view, view.board, clicks(view, 3, 6.0, random))
    yield run("four clicks, lens not told", view, view.board, clicks(view, 4, CLICK_PX, random), camera=False)
    no_outline = replace(view.board, outline=outline_from_bodies(view.board.components))
    yield run("no outline", view, no_outline, clicks(view, 2, CLICK_PX, random))
    angle = random.uniform(0, 2 * np.pi)
    aside = shapely.affinity.translate(view.board.outline.polygon, 0.7 * np.cos(angle), 0.7 * np.sin(angle))
    moved = replace(view.board, outline=replace(view.board.outline, polygon=aside))
    yield run("outline 0.7 mm off", view, moved, clicks(view, 2, CLICK_PX, random))


def wrong_starts(view: Sight, other: Sight, seed: int) -> Iterator[Run | None]:
    """Points that are well picked, of the wrong thing."""
    random = np.random.default_rng(seed + 1000)
    x0, y0, x1, y1 = view.board.outline.polygon.bounds
    middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])

    def picked(board: Board, wrong: Callable[[Array], Array]) -> list[ControlPoint]:
        points = []
        parts = _clickable(board, view.pose.side)
        for index in random.permutation(len(parts)):
            part, top = parts[index], _top(parts[index])
            top[:, :2] = wrong(top[:, :2])
            place = view.pose.project(top)[0]
            if (place > 1).all() and (place < np.array(view.pose.shape_px[::-1]) - 2).all():
                points.append(_point(part, place + random.normal(0, 0.7, 2), 1.0))
        return points[:6]

    def turned(xy: Array) -> Array:
        return 2 * middle - xy

    def flipped(xy: Array) -> Array:
        return np.column_stack([2 * middle[0] - xy[:, 0], xy[:, 1]])

    yield run("other board", view, other.board, picked(other.board, lambda xy: xy))
    yield run("other board", view, other.board, picked(other.board, turned))
    yield run("turned by 180°", view, view.board, picked(view.board, turned))
    flipped_board = mirrored(view.board, middle[0])
    yield run("other side", view, flipped_board, picked(flipped_board, lambda xy: xy))
    yield run("other side", view, flipped_board, picked(flipped_board, turned))
    mm_per_px = 2 * view.distance_m * 1000 * np.tan(np.radians(view.hfov_deg / 2)) / view.pose.shape_px[1]
    for far_px in (14.0, 30.0):
        angle = random.uniform(0, 2 * np.pi)
        by = far_px * mm_per_px * np.array([np.cos(angle), np.sin(angle)])
        yield run("displaced by 14 or 30 px", view, view.board, picked(view.board, lambda xy, by=by: xy + by))
    if view.name.startswith(ROWS):
        row = sorted((c.center_mm for c in view.board.components if c.refdes[0] == "D"), key=lambda at: at[::-1])
        pitch = row[1][0] - row[0][0]
        for count in (-2, -1, 1, 2):
            by = np.array([count * pitch, 0.0])
            yield run("a row's pitch off", view, view.board, picked(view.board, lambda xy, by=by: xy + by))


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kinds", nargs="+", choices=KINDS, default=KINDS[:-1])
    parser.add_argument("--seeds", type=int, default=4, help="views of each kind, top and bottom in turn")
    parser.add_argument("--draws", type=int, default=3, help="pairs of clicks for each view")
    options = parser.parse_args(arguments)
    right, wrong, refused = [], [], 0
    for kind in options.kinds:
        for seed in range(1, options.seeds + 1):
            side = "top" if seed % 2 else "bottom"
            view, other = sight(kind, seed, side), sight(kind, seed + 2, side)
            right += [one for one in right_starts(view, options.draws, seed) if one is not None]
            for one in wrong_starts(view, other, seed):
                refused += one is None
                wrong += [] if one is None else [one]
    print_right(right)
    print_wrong(wrong, refused)


def print_right(runs: Sequence[Run]) -> None:
    print(
        f"\n{'right starts':<30}{'runs':>5}{'trusted':>9}{'of these':>10}{'median':>8}{'worst':>7}{'start':>8}", end=""
    )
    print(f"{'seconds':>9}\n{'':<44}{'< 0.5 px':>10}{'px':>8}{'px':>7}{'px':>8}{'median':>9}")
    for group, some in _grouped(runs, lambda one: one.group) + _grouped(runs, lambda one: one.name.rsplit(" ", 2)[0]):
        ends = np.array([one.end_px for one in some if one.trusted])
        good = f"{int((ends < RIGHT_PX).sum())} of {len(ends)}"
        figures = (float(np.median(ends)), float(ends.max())) if len(ends) else (np.nan, np.nan)
        start = float(np.median([one.start_px for one in some]))
        seconds = float(np.median([one.seconds for one in some]))
        print(f"{group:<30}{len(some):>5}{len(ends):>9}{good:>10}{figures[0]:>8.2f}{figures[1]:>7.2f}", end="")
        print(f"{start:>8.2f}{seconds:>9.2f}")
    for one in runs:
        if not one.trusted or one.end_px >= RIGHT_PX:
            word = f"trusted, {one.end_px:.2f} px off" if one.trusted else f"refused: {one.reason}"
            print(f"  {one.name}, {one.group}, {one.start_px:.1f} px at first: {word}")


def print_wrong(runs: Sequence[Run], refused: int) -> None:
    print(f"\n{'wrong starts':<30}{'runs':>5}{'accepted':>10}{'put right':>11}{'score, largest refused':>25}")
    print(f"{'refused by the fit already':<30}{refused:>5}")
    for group, some in _grouped(runs, lambda one: one.group):
        accepted = [one for one in some if one.trusted and not one.end_px < RIGHT_PX]
        mended = [one for one in some if one.trusted and one.end_px < RIGHT_PX]
        score = max((one.score for one in some if not one.trusted), default=0.0)
        print(f"{group:<30}{len(some):>5}{len(accepted):>10}{len(mended):>11}{score:>25.1f}")
        for one in accepted:
            print(f"  accepted: {one.name}, score {one.score:.1f}, {one.end_px:.1f} px off")


def _grouped(runs: Sequence[Run], key: Callable[[Run], str]) -> list[tuple[str, list[Run]]]:
    groups: dict[str, list[Run]] = defaultdict(list)
    for one in runs:
        groups[key(one)].append(one)
    return list(groups.items())


def _error_px(view: Sight, board: Board, registration: Registration) -> float:
    """Inf for another board: no place on it is right."""
    if board.outline.polygon.bounds != view.board.outline.polygon.bounds and board.name != view.board.name:
        return float("inf")
    if _names(board) != _names(view.board):
        return float("inf")
    xyz = surface(view.board)
    off = pixels_from_board(registration, xyz) - view.pose.project(xyz)
    value = float(np.sqrt((off**2).sum(axis=1).mean()))
    return value if np.isfinite(value) else float("inf")


def _names(board: Board) -> list[tuple[str, tuple[float, float]]]:
    return [(c.refdes, c.center_mm) for c in board.components]


def _clickable(board: Board, side: str) -> list[Component]:
    return [c for c in board.components if c.side == side and c.body is not None and (c.height_mm or 9.0) < 4.0]


def _framed(view: Sight, part: Component) -> bool:
    place = view.pose.project(_top(part))[0]
    return bool((place > 6).all() and (place < np.array(view.pose.shape_px[::-1]) - 7).all())


def _top(part: Component) -> Array:
    return np.array([[*part.center_mm, part.height_mm or 0.0]])


def _point(part: Component, place: Array, u_px: float) -> ControlPoint:
    return ControlPoint((float(place[0]), float(place[1])), part.center_mm, part.height_mm or 0.0, u_px, part.refdes, 1)


def mirrored(board: Board, x_mm: float) -> Board:
    parts = tuple(
        replace(c, center_mm=(2 * x_mm - c.center_mm[0], c.center_mm[1]), rotation_deg=-c.rotation_deg)
        for c in board.components
    )
    return replace(board, components=parts)


if __name__ == "__main__":
    main()
