"""Where the board lies in a frame, found without a click.

Hypotheses of turn, scale and place come from edges: the frame's gradients and the board's drawn edges, both as
double-angle vectors, so that the sign of a contrast does not matter (normalised gradient fields: Haber and
Modersitzki, doi 10.1160/me9046), correlated by FFT at a coarse size. The best of each turn are climbed from as any
start is, and judged by the three tests of ``confidence.py``. What comes out is a proposal for a person to confirm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array
from overlay.board.model import Board, Side
from overlay.registration.camera import focal_px_from_field
from overlay.registration.confidence import LIMITS
from overlay.registration.evidence import Pose
from overlay.registration.faces import face_polygon
from overlay.registration.model import Confidence, Lens, Registration
from overlay.registration.project import pixels_from_board
from overlay.registration.refine import best_pose, refined_by
from overlay.registration.refine_frame import ReadyFrame, ready_frame
from overlay.registration.refine_search import SearchSpace, rms_px, search_space
from overlay.registration.refine_vote import CAP, SIGNIFICANT, best_offsets
from overlay.registration.straight_down import straight_down
from overlay.registration.targets import Targets

_COARSE_PX = 160
"""Columns at which hypotheses are made: a part of some pixels still has edges, and an FFT takes a millisecond."""
_OUTLINE_WEIGHT = 3.0  # of an edge of the outline against one of a body (study on simulated boards)
_QUIET = 0.7  # quantile of the frame's gradients that counts for half
_ANGLES_DEG = (-3.0, 0.0, 3.0)  # about the dominant direction: a template forgives two degrees
_SCALES_TOLD = (0.90, 0.95, 1.0, 1.05, 1.10)  # about that of a stated distance and field of view
_SCALE_STEP = 1.06  # a template forgives 3 % either way
_LARGEST_FILL, _LEAST_FILL = 1.35, 0.35  # of the frame by the board, where no distance is stated
_EACH_TURN = 2  # hypotheses of each quarter turn that are looked at more closely …
_CLIMBED = 3  # … and how many of all are climbed from
_REACH_PX = 8  # what a hypothesis at 160 columns may be off
_SCORED_PARTS = 40  # the largest: they show first, and more take longer
_SAME_PLACE_PX = 2.0  # poses nearer than this are one
_RIVAL_BELOW = LIMITS.rival_below
_SHOWN_POINTS = 8  # as many as a person looks through
_BESIDE_PX = 1.0  # farther from its place than a part that agrees
CONFIRM_WITHIN_PX = 3.0
"""How near to the named part a person must click for a proposal to count as confirmed."""
_FIELD_DEG = 35.0  # where it is not stated: the middle of what hand-held cameras have (common practice)


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


@dataclass(frozen=True, slots=True)
class _Start:
    """One hypothesis: how the board is turned, how large it is, and where its middle lies."""

    turn_deg: float
    px_per_mm: float
    at_px: tuple[float, float]
    score: float


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
    starts += [_registration(start, frame.shape_px, board, side, lens) for start in _starts(frame, board, side, lens)]
    if not starts:
        return Proposal(None, None, "the board would not fit into the frame", "check distance_m and hfov_deg")
    ready = [(start, *search_space(start, frame, board, lens)) for start in starts]
    tried = [_refined(start, space, pose, lens) for start, space, pose in _promising(ready)]
    trusted = [found for found in tried if found.refined and found.confidence is not None]
    if not trusted:
        return _refusal(tried)
    trusted = sorted(trusted, key=lambda found: -round(_score(found), 3))
    best = trusted[0]
    for other in trusted[1:]:
        if _apart_px(best, other, board) > _SAME_PLACE_PX and _score(other) > _score(best) - _RIVAL_BELOW:
            return Proposal(
                None,
                best.confidence,
                "the frame fits the board in two ways about as well: its layout is symmetric or repeats itself",
                "click on two parts that have no like",
            )
    return _proposal(best, frame, board, lens)


def _refined(start: Registration, space: SearchSpace, pose: Pose, lens: Lens) -> Registration:
    """The frame's own registration from a start; where it cannot be trusted, the start with the reason."""
    found, confidence = best_pose(space, pose)
    if not confidence.trusted:
        return replace(start, confidence=confidence)
    return refined_by(start, space, found, confidence, lens)


def _proposal(found: Registration, frame: ReadyFrame, board: Board, lens: Lens) -> Proposal:
    """The points and the question that go with a registration that may be trusted."""
    assert found.confidence is not None
    space, pose = search_space(found, frame, board, lens)
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


def _spread(places: Array, count: int) -> NDArray[np.intp]:
    """Indices of up to ``count`` places far from each other, the outermost first."""
    chosen = [int(np.argmax(np.round(np.hypot(*(places - places.mean(axis=0)).T), 6)))]
    while len(chosen) < min(count, len(places)):
        apart = np.min([np.hypot(*(places - places[i]).T) for i in chosen], axis=0)
        chosen.append(int(np.argmax(np.round(apart, 6))))
    return np.array(sorted(chosen), dtype=np.intp)


# -- hypotheses ---------------------------------------------------------------------------------------------------


def _starts(frame: ReadyFrame, board: Board, side: Side, lens: Lens) -> list[_Start]:
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
        for angle in _ANGLES_DEG:
            turn = base + angle + 90.0 * quarter
            for scale in _scales(frame.shape_px, board, lens):
                own.append(_best_place(spectrum, shape, edges, weight, turn, scale / finer, finer))
        own.sort(key=lambda start: -start.score)
        starts += own[:_EACH_TURN]
    return starts


def _registration(start: _Start, shape: tuple[int, int], board: Board, side: Side, lens: Lens) -> Registration:
    west, south, east, north = board.outline.polygon.bounds
    focal = focal_px_from_field(_FIELD_DEG if lens.hfov_deg is None else lens.hfov_deg, shape)
    middle = (float(west + east) / 2.0, float(south + north) / 2.0)
    return straight_down(side, shape, focal, middle, focal / start.px_per_mm, start.turn_deg, start.at_px)


def _promising(starts: list[_Ready]) -> list[_Ready]:
    """The starts whose parts, moved together, gain most: a look of a tenth of what a climb costs."""
    if len(starts) <= _CLIMBED:
        return starts
    gained = []
    for _, space, pose in starts:
        total = np.minimum(space.gains(pose, _largest(space), _REACH_PX, stride=2).values, CAP).sum(axis=0)
        gained.append(float(total.max(initial=0.0)))
    order = sorted(range(len(starts)), key=lambda i: (-round(gained[i], 3), i))
    return [starts[i] for i in order[:_CLIMBED]]


def _largest(space: SearchSpace) -> Targets:
    """The parts that show most, by their shorter side."""
    size = space.bodies.half_mm.min(axis=1)
    order = np.argsort(-size, kind="stable")[:_SCORED_PARTS]
    return space.bodies.only(np.sort(order))


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


def _best_place(
    spectrum: tuple[NDArray[np.complex128], NDArray[np.complex128]],
    shape: tuple[int, ...],
    edges: Array,
    weight: Array,
    turn_deg: float,
    px_per_mm: float,
    finer: float,
) -> _Start:
    """Where a template of the board's edges lies best, and how well."""
    template, origin = _template(edges, weight, turn_deg, px_per_mm)
    size = _padded(shape)
    if template.shape[0] > size[0] or template.shape[1] > size[1]:
        return _Start(turn_deg, px_per_mm * finer, (0.0, 0.0), -math.inf)
    spread = np.fft.rfft2(template.real, s=size), np.fft.rfft2(template.imag, s=size)
    product = spectrum[0] * np.conj(spread[0]) + spectrum[1] * np.conj(spread[1])
    match = np.fft.irfft2(product, s=size)
    row, col = np.unravel_index(int(np.argmax(match)), match.shape)
    top = row - size[0] if row > size[0] // 2 else row
    left = col - size[1] if col > size[1] // 2 else col
    score = float(match[row, col]) / math.sqrt(float((np.abs(template) ** 2).sum()) + 1e-9)
    middle = ((left + origin[0]) * finer + (finer - 1.0) / 2.0, (top + origin[1]) * finer + (finer - 1.0) / 2.0)
    return _Start(turn_deg, px_per_mm * finer, middle, score)


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
    step = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
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
    """Room for a template that reaches beyond the frame on every side."""
    from scipy.fft import next_fast_len

    return next_fast_len(2 * int(shape[0])), next_fast_len(2 * int(shape[1]))
