"""Where the camera could be put so that it shows most of what is still open."""

from __future__ import annotations

import itertools
import math

import numpy as np

from overlay.arrays import Array, Index, Mask
from overlay.shots.model import ShotCamera
from overlay.shots.side import FEWEST_POINTS, RIM_PX, STEEPEST_DEG, BoardSide, Place

LEVELS = 1.12  # ratio of distances tried: a tenth nearer or farther changes no plan
_STEP = 0.25  # of the field, between places tried


def next_place(side: BoardSide, open_: Index, spent: set[Place], slack: float) -> Place | None:
    """The place that serves most of the open subjects; the farther of two alike. None where none serves any."""
    centers = side.centers_mm[open_]
    heights = np.array([side.subjects[i].height_mm for i in open_])
    reach = side.reach_mm[open_] * slack
    half = side.half_mm[open_]
    best: tuple[int, float, float] | None = None
    chosen: Place | None = None
    board_middle = np.array(side.overview.aim_mm)
    for distance in _distances(side, reach):
        near_enough = reach >= distance * (1.0 - 1e-9)
        if best is not None and near_enough.sum() < best[0]:
            continue
        for turned in (False, True):
            span = _span_mm(side.camera, distance, turned)
            aims = _aims(side, span, centers[near_enough])
            inside = _inside(aims, centers, half, heights, span, distance) & near_enough
            counts = inside.sum(axis=1)
            for index in np.argsort(-counts, kind="stable")[:8]:
                place = Place((round(float(aims[index, 0]), 2), round(float(aims[index, 1]), 2)), distance, turned)
                if place in spent or counts[index] == 0 or side.clickable(place) < FEWEST_POINTS:
                    continue
                off_middle = float(np.hypot(*(aims[index] - board_middle)).round(2))
                rank = (int(counts[index]), distance, -off_middle)
                if best is None or rank > best:
                    best, chosen = rank, place
    return chosen


def _distances(side: BoardSide, reach: Array) -> list[float]:
    """Distances worth trying, farthest first: levels between the nearest focus and what the parts allow."""
    nearest = side.camera.nearest_mm
    farthest = min(side.overview.distance_mm, side.camera.farthest_mm, float(reach.max()))
    count = max(0, math.floor(math.log(max(farthest / nearest, 1.0)) / math.log(LEVELS)))
    levels = [nearest * LEVELS**k for k in range(count + 1)]
    return sorted({*levels, max(farthest, nearest)}, reverse=True)


def _aims(side: BoardSide, span: tuple[float, float], centers: Array) -> Array:
    """Places to try (n, 2): a grid over the board, and each open part with its neighbours in one corner."""
    west, south, east, north = side.bounds_mm
    xs = _line(west, east, span[0])
    ys = _line(south, north, span[1])
    grid = np.array(list(itertools.product(xs, ys)))
    return np.concatenate([grid, np.clip(centers, [xs[0], ys[0]], [xs[-1], ys[-1]])]).round(2)


def _span_mm(camera: ShotCamera, distance: float, turned: bool) -> tuple[float, float]:
    """Usable width and height of the field on the board, along its x and y."""
    scale = distance / camera.focal_px
    long, short = (camera.cols - 2 * RIM_PX) * scale, (camera.rows - 2 * RIM_PX) * scale
    return (short, long) if turned else (long, short)


def _line(low: float, high: float, span: float) -> Array:
    """Middles of fields of that span which cover low…high, a quarter of the span apart; the middle if one does."""
    if span >= high - low:
        return np.array([(low + high) / 2.0])
    count = math.ceil((high - low - span) / (_STEP * span)) + 1
    return np.linspace(low + span / 2.0, high - span / 2.0, count)


def _inside(
    aims: Array, centers: Array, half: Array, heights: Array, span: tuple[float, float], distance: float
) -> Mask:
    """Which subjects (m) lie whole in the field of each aim (n), and not too steep: (n, m)."""
    away = np.abs(centers[None] - aims[:, None])
    nearer = distance / np.maximum(distance - heights, 1e-6)  # what is tall looks larger and farther out
    within = ((away + half[None]) * nearer[None, :, None] <= np.array(span) / 2.0 + 1e-9).all(axis=2)
    angle = np.hypot(away[..., 0], away[..., 1]) / np.maximum(distance - heights, 1e-6)
    return np.asarray(within & (angle < math.tan(math.radians(STEEPEST_DEG))))
