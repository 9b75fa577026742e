"""A face of a few pixels on its own: one pixel, unmixed from the metal and the board it shares it with.

The second opinion to the joint solution, and what is left where that has no answer. One part at a time it cannot
know pads and neighbours: below some three pixels its uncertainty says so.

Faces are worked out together, those whose windows are of one size at a time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Index, Mask, read_only
from overlay.reading.statistics import BEND_SIGMAS, expected_maximum
from overlay.view.emission import METAL_EMISSIVITY
from overlay.view.overlaps import Blocks
from overlay.view.shares import FINE, as_seen, drawn_finer
from overlay.view.tops import Top

# A pixel competes for the peak if its fill is this close to the best: in one less filled, errors grow.
_FILL_SLACK = 0.02
# Standard uncertainty of the unfilled share, from blur (15 % of its width), pads and walls.
_UNFILLED_U = 0.25
_WELL_FILLED = 0.9  # both neighbours so full of the face: only then a bend of the signal is the face's own
_SIZE_STEP_PX = 8  # of windows: some hundred sizes are too many to work through, and wide margins cost as much
_TOGETHER_PX = 50_000  # pixels of windows that are worked through at once: 3 MB on the finer grid
_LEAST_FILL = 0.02  # a face that fills no pixel by more is not seen
_LEAST_GAIN = 1e-3  # what shows less of a face than this says nothing of it


@dataclass(frozen=True, slots=True, eq=False)
class Fills:
    """Shares of blurred pixels in windows of one size, a window a face: (n, window rows, window cols) each."""

    faces: Index  # (n,) which of the faces
    own: Array  # what comes from the face …
    wide: Array  # … and what would with a wider blur
    caps: Array  # what comes from its metal ends
    near: Mask  # what lies near enough to have any of it
    top: Index  # (n,) first row …
    left: Index  # … and column of each window

    def __post_init__(self) -> None:
        read_only(self)

    def some(self, which: Index) -> Fills:
        """These of some faces, by their places among them."""
        own, wide, caps, near = self.own[which], self.wide[which], self.caps[which], self.near[which]
        return Fills(self.faces[which], own, wide, caps, near, self.top[which], self.left[which])

    def windows_of(self, values: Array) -> Array:
        """What a map of the frame (rows, cols) shows in the windows, (n, window rows, window cols)."""
        return np.lib.stride_tricks.sliding_window_view(values, self.own.shape[1:])[self.top, self.left]


@dataclass(frozen=True, slots=True)
class Little:
    """Radiance of a small face as one pixel tells it."""

    leaving: float
    fill: float  # share of the pixel's signal that comes from the face
    fill_u: float  # uncertainty of ``leaving`` from the fill, in radiance
    noise: float
    lowered: float  # what blur had taken off a pointed summit, as put back
    tilt: float  # slopes along both axes, per px: towards a corner the face may be hotter
    position_u: float  # from the place of the face
    at_px: tuple[float, float]
    pixel: tuple[int, int]


def fills_of(tops: Sequence[Top], shape_px: tuple[int, int], sigma_px: float, wide_sigma_px: float) -> Iterator[Fills]:
    """Each face's fill of the pixels around it, for two blurs (standard deviations, the wider last).

    Faces of which nothing lies in the frame are left out.
    """
    ends_of = np.array([len(top.ends) for top in tops], dtype=np.intp)
    owner = np.repeat(np.arange(len(tops)), ends_of)
    seen = drawn_finer([top.seen for top in tops], shape_px)
    ends = drawn_finer([end for top in tops for end in top.ends], shape_px)
    pad = int(np.ceil(3.0 * wide_sigma_px)) + 1
    first, beyond = _windows(len(tops), [(seen, np.arange(len(tops))), (ends, owner)], pad, shape_px)
    # Windows are widened to a few sizes within the frame; what is drawn in them ends within the own one.
    sizes = np.minimum(-(-(beyond - first) // _SIZE_STEP_PX) * _SIZE_STEP_PX, shape_px)
    corner = np.minimum(first, np.array(shape_px) - sizes)
    for faces in _alike(sizes):
        size, at = (int(sizes[faces[0], 0]), int(sizes[faces[0], 1])), corner[faces]
        own = _drawn(seen, faces, np.arange(len(faces)), at, size)
        caps = np.zeros((len(faces), *size))
        if ends_of[faces].any():
            which = np.flatnonzero(np.isin(owner, faces))
            caps = as_seen(_drawn(ends, which, np.searchsorted(faces, owner[which]), at, size), sigma_px)
        near = _inside(first[faces] - at, beyond[faces] - at, size)
        yield Fills(faces, as_seen(own, sigma_px), as_seen(own, wide_sigma_px), caps, near, at[:, 0], at[:, 1])


def _alike(sizes: Index) -> Iterator[Index]:
    """Faces (k,) in ascending order whose windows are of one size, as many as are worked through at once."""
    order = np.lexsort(sizes.T)  # stable: within a size faces ascend
    order = order[(sizes[order] > 0).all(axis=1)]
    for faces in np.split(order, np.flatnonzero((np.diff(sizes[order], axis=0) != 0).any(axis=1)) + 1):
        if len(faces):
            count = max(1, int(_TOGETHER_PX // sizes[faces[0]].prod()))
            yield from (faces[begin : begin + count] for begin in range(0, len(faces), count))


def _inside(first: Index, beyond: Index, size: tuple[int, int]) -> Mask:
    """Rectangles from their first to before the last row and column, (n, 2) each, as masks (n, rows, cols)."""
    rows, cols = np.arange(size[0]), np.arange(size[1])
    down = (rows >= first[:, :1]) & (rows < beyond[:, :1])
    across = (cols >= first[:, 1:]) & (cols < beyond[:, 1:])
    return np.asarray(down[:, :, None] & across[:, None])


def _windows(
    count: int, drawn: Sequence[tuple[Blocks, Index]], pad: int, shape_px: tuple[int, int]
) -> tuple[Index, Index]:
    """First row and column, and those beyond the last, (count, 2) each, of windows around what is drawn of each face.

    ``drawn``: regions on the finer grid, each with the faces that they are of. Empty where nothing is drawn.
    """
    first, beyond = np.full((count, 2), max(shape_px)), np.full((count, 2), -1)
    for regions, owner in drawn:
        some = regions.covered
        windows = regions.windows[some]
        np.minimum.at(first, owner[some], windows[:, [0, 2]] // FINE - pad)
        np.maximum.at(beyond, owner[some], -(-windows[:, [1, 3]] // FINE) + pad)
    return np.maximum(first, 0), np.maximum(np.minimum(beyond, shape_px), np.maximum(first, 0))


def _drawn(regions: Blocks, which: Index, places: Index, first: Index, size: tuple[int, int]) -> NDArray[np.float32]:
    """Some regions on the finer grid in the windows of their faces: (windows, rows × FINE, cols × FINE).

    ``places`` are the windows that they belong to, ``first`` (windows, 2) their first rows and columns.
    """
    result = np.zeros((len(first), size[0] * FINE, size[1] * FINE), dtype=np.float32)  # shares are needed to 1e-4
    corners = first[places] * FINE
    windows = regions.windows[which] - corners[:, [0, 0, 1, 1]]
    for i, place, (top, bottom, left, right) in zip(which.tolist(), places.tolist(), windows.tolist(), strict=True):
        result[place, top:bottom, left:right] += regions[i]
    return result


def read_little(
    radiance: Array,
    noise: float,
    around: Array,
    mirrored: float,
    emissivity: Array,
    fills: Fills,
    place_u_px: Array,
    blur_px2: float,
) -> list[Little | None]:
    """Unmix the best filled pixel of small faces; None where the face fills nothing.

    Parameters
    ----------
    radiance : (rows, cols) leaving the board
    around, mirrored
        Radiance that leaves the board around each part (n,), and that of what metal mirrors.
    emissivity : (n,)
    fills
        As from `fills_of`.
    place_u_px : (n,)
        Standard uncertainty of each face's place along either axis.
    blur_px2
        Variance of optics and pixel along either axis.
    """
    own, caps = fills.own, fills.caps
    around, ratio = around[:, None, None], (METAL_EMISSIVITY / emissivity)[:, None, None]
    # metal ends have the part's temperature, and send out less of it
    gain = own + ratio * caps
    unmixed = fills.windows_of(radiance) - caps * (1.0 - ratio) * mirrored - (1.0 - own - caps) * around
    unmixed = unmixed / np.maximum(gain, _LEAST_GAIN)
    most = own.max(axis=(1, 2))
    contest = own >= most[:, None, None] - _FILL_SLACK
    at = np.where(contest, unmixed, -np.inf).reshape(len(own), -1).argmax(axis=1)
    values, fill, gains = (_Cross.of(part, at) for part in (unmixed, own, gain))
    of_face = np.maximum(gains.middle, _LEAST_GAIN)
    pixel_noise = noise / of_face
    lowered = 0.5 * blur_px2 * _bend(values, fill, pixel_noise)
    leaving = values.middle - pixel_noise * expected_maximum(contest.sum(axis=(1, 2))) + lowered
    contrast = np.abs(leaving - around[:, 0, 0])
    columns = (
        leaving,
        fill.middle,
        contrast * _UNFILLED_U * (1.0 - fill.middle) / of_face,
        pixel_noise,
        lowered,
        _tilt(values, fill, pixel_noise),
        contrast * _change(gains, place_u_px) / of_face,
    )
    row, col = np.divmod(at, own.shape[2])
    pixels = [(y, x) for y, x in np.column_stack([row + fills.top, col + fills.left]).tolist()]
    places = [(float(x), float(y)) for y, x in pixels]
    told = zip(*(column.tolist() for column in columns), places, pixels, strict=True)
    return [Little(*each) if filled else None for filled, each in zip(most > _LEAST_FILL, told, strict=True)]


@dataclass(frozen=True, slots=True, eq=False)
class _Cross:
    """Values at one pixel of each window, and at its neighbours along both axes; zero beyond the window."""

    middle: Array  # (n,)
    before: Array  # (2, n): one column before, one row before
    after: Array
    inside: Mask  # (n,): clear of the window's border

    @classmethod
    def of(cls, values: Array, at: Index) -> _Cross:
        """``at`` (n,) are the pixels' numbers within the windows (n, rows, cols)."""
        _, rows, cols = values.shape
        wide = np.pad(values, ((0, 0), (1, 1), (1, 1)))
        which = np.arange(len(values))
        row, col = np.divmod(at, cols)
        row, col = row + 1, col + 1
        before = np.stack([wide[which, row, col - 1], wide[which, row - 1, col]])
        after = np.stack([wide[which, row, col + 1], wide[which, row + 1, col]])
        inside = (row > 1) & (row < rows) & (col > 1) & (col < cols)
        return cls(wide[which, row, col], before, after, inside)


def _bend(values: _Cross, fill: _Cross, noise: Array) -> Array:
    """By how much values bend down at pixels, per px² and summed over both axes; 0 within the noise."""
    bends = 2.0 * values.middle - values.before - values.after
    bend = np.where(_well_filled(fill), bends, 0.0).sum(axis=0)
    return np.where(bend > BEND_SIGMAS * np.sqrt(12.0) * noise, bend, 0.0)


def _tilt(values: _Cross, fill: _Cross, noise: Array) -> Array:
    """Sum of the slopes along both axes at pixels, per px; 0 within the noise."""
    slope = np.abs(values.after - values.before) / 2.0
    told = _well_filled(fill) & (slope > BEND_SIGMAS * np.sqrt(0.5) * noise)
    return np.asarray(np.where(told, slope, 0.0).sum(axis=0))


def _well_filled(fill: _Cross) -> Mask:
    """Along which axes (2, n) both neighbours are full of the face."""
    return np.asarray(fill.inside & (np.minimum(fill.before, fill.after) >= _WELL_FILLED))


def _change(fill: _Cross, distance: Array) -> Array:
    """Root mean square change of shares when faces move by a distance along x or y (independent moves)."""
    before, after = fill.before - fill.middle, fill.after - fill.middle
    # parabola through the three shares: slope and bend both count
    slope, bend = 0.5 * (after - before), before + after
    return np.asarray(np.sqrt(((slope * distance) ** 2 + 0.5 * (bend * distance**2 / 2.0) ** 2).sum(axis=0)))
