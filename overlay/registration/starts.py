"""Where a board may lie in a frame, by its edges alone: where a search without clicks starts.

Hypotheses of turn, scale and place come from the frame's gradients and the board's drawn edges, both as double-angle
vectors, so that the sign of a contrast does not matter (normalised gradient fields: Haber and Modersitzki, doi
10.1160/me9046), correlated by FFT at a coarse size.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, runs
from overlay.board.model import Board, Side
from overlay.registration.camera import focal_px_from_field
from overlay.registration.faces import face_polygon
from overlay.registration.model import Lens, Registration
from overlay.registration.refine_frame import ReadyFrame
from overlay.registration.straight_down import straight_down

_COARSE_PX = 160
"""Columns at which hypotheses are made: a part of some pixels still has edges, and an FFT takes a millisecond."""
_OUTLINE_WEIGHT = 3.0  # of an edge of the outline against one of a body (study on simulated boards)
_QUIET = 0.7  # quantile of the frame's gradients that counts for half
_ANGLES_DEG = (-3.0, 0.0, 3.0)  # about the dominant direction: a template forgives two degrees
_SCALES_TOLD = (0.90, 0.95, 1.0, 1.05, 1.10)  # about that of a stated distance and field of view
_SCALE_STEP = 1.06  # a template forgives 3 % either way
_LARGEST_FILL, _LEAST_FILL = 1.35, 0.35  # of the frame by the board, where no distance is stated
_EACH_TURN = 2  # hypotheses of each quarter turn that are looked at more closely …
_FIELD_DEG = 35.0  # where it is not stated: the middle of what hand-held cameras have (common practice)
ELSEWHERE = 0.4  # of a board's shorter side: a place farther off is another place


@dataclass(frozen=True, slots=True)
class _Start:
    """One hypothesis: how the board is turned, how large it is, and where its middle lies."""

    turn_deg: float
    px_per_mm: float
    at_px: tuple[float, float]
    score: float


def starts_of(frame: ReadyFrame, board: Board, side: Side, lens: Lens) -> list[Registration]:
    """Two registrations of each quarter turn that the frame's edges suit best, and one at another place."""
    return [_registration(start, frame.shape_px, board, side, lens) for start in _hypotheses(frame, board, side, lens)]


def _hypotheses(frame: ReadyFrame, board: Board, side: Side, lens: Lens) -> list[_Start]:
    """The best hypotheses of each quarter turn, by edges at a coarse size."""
    finer = max(1.0, frame.shape_px[1] / _COARSE_PX)
    seen = _double_angle(_smaller(frame.compressed.values, finer))
    edges, weight = _board_edges(board, side)
    shape = seen.shape
    base = _dominant_deg(seen) - _dominant_deg_of(edges, weight)
    starts = []
    spectrum = np.fft.rfft2(seen.real, s=_padded(shape)), np.fft.rfft2(seen.imag, s=_padded(shape))
    for quarter in range(4):
        own: list[_Start] = []
        others: list[_Start] = []
        for angle in _ANGLES_DEG:
            turn = base + angle + 90.0 * quarter
            for scale in _scales(frame.shape_px, board, lens):
                first, second = _best_places(spectrum, edges, weight, turn, scale / finer, finer)
                own.append(first)
                others.append(second)
        starts += sorted(own, key=lambda start: -start.score)[:_EACH_TURN]
        starts += sorted(others, key=lambda start: -start.score)[:1]
    return starts


def _registration(start: _Start, shape: tuple[int, int], board: Board, side: Side, lens: Lens) -> Registration:
    west, south, east, north = board.outline.polygon.bounds
    focal = focal_px_from_field(_FIELD_DEG if lens.hfov_deg is None else lens.hfov_deg, shape)
    middle = (float(west + east) / 2.0, float(south + north) / 2.0)
    return straight_down(side, shape, focal, middle, focal / start.px_per_mm, start.turn_deg, start.at_px)


def _scales(shape_px: tuple[int, int], board: Board, lens: Lens) -> list[float]:
    """Pixels per mm to try: about the stated distance's, else all at which the board fills a fair part of the frame."""
    rows, cols = shape_px
    if lens.hfov_deg is not None and lens.distance_m is not None:
        told = focal_px_from_field(lens.hfov_deg, (rows, cols)) / (lens.distance_m * 1000.0)
        return [told * factor for factor in _SCALES_TOLD]
    west, south, east, north = board.outline.polygon.bounds
    long, short = sorted((float(east - west), float(north - south)), reverse=True)
    fits = min(max(rows, cols) / long, min(rows, cols) / short)
    count = math.ceil(math.log(_LARGEST_FILL / _LEAST_FILL) / math.log(_SCALE_STEP))
    return [fits * _LEAST_FILL * _SCALE_STEP**k for k in range(count + 1)]


def _board_edges(board: Board, side: Side) -> tuple[Array, Array]:
    """Edges (m, 2, 2) from point to point in mm about the board's middle as the side is seen, and weights (m,)."""
    import shapely

    west, south, east, north = board.outline.polygon.bounds
    middle = np.array([(west + east) / 2.0, (south + north) / 2.0])
    rings = []
    if not board.outline.from_bodies:
        for polygon in shapely.get_parts(board.outline.polygon):
            rings += [
                (shapely.get_coordinates(ring)[:-1], _OUTLINE_WEIGHT) for ring in (polygon.exterior, *polygon.interiors)
            ]
    rings += [
        (face_polygon(part), 1.0)
        for part in board.components
        if part.side == side and part.body is not None and not part.mechanical
    ]
    flip = np.array([-1.0 if side == "bottom" else 1.0, -1.0])  # y runs down in a frame
    edges = [np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring, _ in rings]
    weights = [np.full(len(ring), weight) for ring, weight in rings]
    return (np.concatenate(edges) - middle) * flip, np.concatenate(weights)


def _best_places(
    spectrum: tuple[NDArray[np.complex128], NDArray[np.complex128]],
    edges: Array,
    weight: Array,
    turn_deg: float,
    px_per_mm: float,
    finer: float,
) -> tuple[_Start, _Start]:
    """The two places away from each other where a template of the board's edges lies best, and how well."""
    template, origin = _template(edges, weight, turn_deg, px_per_mm)
    size = (spectrum[0].shape[0], 2 * (spectrum[0].shape[1] - 1))
    if template.shape[0] > size[0] or template.shape[1] > size[1]:
        nowhere = _Start(turn_deg, px_per_mm * finer, (0.0, 0.0), -math.inf)
        return nowhere, nowhere
    spread = np.fft.rfft2(template.real, s=size), np.fft.rfft2(template.imag, s=size)
    product = spectrum[0] * np.conj(spread[0]) + spectrum[1] * np.conj(spread[1])
    match = np.fft.irfft2(product, s=size)
    strength = math.sqrt(float((np.abs(template) ** 2).sum()) + 1e-9)
    near = round(ELSEWHERE * min(template.shape))
    places = []
    for _ in range(2):
        row, col = np.unravel_index(int(np.argmax(match)), match.shape)
        top = row - size[0] if row > size[0] // 2 else row
        left = col - size[1] if col > size[1] // 2 else col
        middle = ((left + origin[0]) * finer + (finer - 1.0) / 2.0, (top + origin[1]) * finer + (finer - 1.0) / 2.0)
        places.append(_Start(turn_deg, px_per_mm * finer, middle, float(match[row, col]) / strength))
        around = np.ix_(*(np.arange(at - near, at + near + 1) % end for at, end in zip((row, col), size, strict=True)))
        match[around] = -math.inf
    return places[0], places[1]


def _template(
    edges: Array, weight: Array, turn_deg: float, px_per_mm: float
) -> tuple[NDArray[np.complex128], tuple[float, float]]:
    """The board's edges as double-angle vectors on a grid, and where its middle lies on it, (x, y)."""
    from scipy.ndimage import gaussian_filter

    turn = math.radians(turn_deg)
    matrix = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    ends = edges @ matrix.T * px_per_mm
    along = ends[:, 1] - ends[:, 0]
    length = np.hypot(along[:, 0], along[:, 1])
    count = np.maximum(np.ceil(length), 1).astype(np.intp)
    which = np.repeat(np.arange(len(ends)), count)
    step = runs(0, count)
    share = (step + 0.5) / count[which]
    places = ends[which, 0] + along[which] * share[:, None]
    normal = np.exp(2j * (np.arctan2(along[which, 1], along[which, 0]) + math.pi / 2.0))
    low = np.floor(places.min(axis=0)) - 3.0
    cells = np.rint(places - low).astype(np.intp)
    width, height = cells.max(axis=0) + 4
    grid = np.zeros((int(height), int(width)), dtype=np.complex128)
    np.add.at(grid, (cells[:, 1], cells[:, 0]), normal * weight[which] * (length / count)[which])
    grid = gaussian_filter(grid.real, 1.0) + 1j * gaussian_filter(grid.imag, 1.0)
    return grid, (-float(low[0]), -float(low[1]))


def _double_angle(values: Array) -> NDArray[np.complex128]:
    """Gradients as double-angle vectors, each weighted by how far it stands above the quiet ones."""
    dy, dx = np.gradient(values)
    size = np.hypot(dx, dy)
    quiet = float(np.quantile(size, _QUIET)) + 1e-9
    return np.asarray(size / (size + quiet) * np.exp(2j * np.arctan2(dy, dx)))


def _dominant_deg(field: NDArray[np.complex128]) -> float:
    """The direction of most edges, in −45…45°: angles are taken fourfold, so that a board's two directions are one."""
    return math.degrees(float(np.angle((field**2 / np.maximum(np.abs(field), 1e-9)).sum()))) / 4.0


def _dominant_deg_of(edges: Array, weight: Array) -> float:
    along = edges[:, 1] - edges[:, 0]
    length = np.hypot(along[:, 0], along[:, 1])
    return (
        math.degrees(float(np.angle((length * weight * np.exp(4j * np.arctan2(along[:, 1], along[:, 0]))).sum()))) / 4.0
    )


def _smaller(values: Array, finer: float) -> Array:
    """A frame shrunk by a factor, each new pixel the mean of those it covers."""
    import cv2

    if finer <= 1.0:
        return values
    rows, cols = (max(8, round(size / finer)) for size in values.shape)
    return np.asarray(cv2.resize(values, (cols, rows), interpolation=cv2.INTER_AREA), dtype=np.float64)


def _padded(shape: tuple[int, ...]) -> tuple[int, int]:
    """Room for a template that reaches beyond the frame on every side; an even number of columns."""
    from scipy.fft import next_fast_len

    return next_fast_len(2 * int(shape[0])), 2 * next_fast_len(int(shape[1]))
