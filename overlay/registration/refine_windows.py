"""How well each part's picture explains the frame around it, for every small displacement.

A part in a window of the frame is a tilted plane (the board around), its body, and its metal (end caps, pads or
leads), each blurred and with a free amplitude of any sign: no temperature and no emissivity need be known. For
each displacement the amplitudes are eliminated by projection (variable projection: Golub & Pereyra 1973, from
memory), which leaves a gain in log-likelihood over the plane and the neighbouring bodies alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.registration.refine_frame import Compressed
from overlay.registration.refine_pictures import (
    BLUR_PX,
    Sighted,
    Sightline,
    bodies,
    details,
    has_details,
    sighted,
    whole,
)
from overlay.registration.targets import Targets

_MARGIN_PX = 3.0  # of board around a part that belongs to its window
_RIM_PX = 4.0  # inside a large body only its rim is looked at
_INDEPENDENT = 0.3  # independent samples per pixel: blur and what the drawing leaves out run over several
_SMALLEST_PX = 0.7  # smaller parts show nothing with a place
_ENOUGH_PIXELS = 400  # windows of many more are thinned out
_FADE = 2.5  # standard deviations of blur beyond which a neighbour is not seen
_VISIBLE = 0.15  # a neighbour's picture that reaches no higher in a window is left out
_NEIGHBOUR_PX = 5.5  # between two bodies' circles, from which on neither is seen in the other's window
_LEAN_PX = 0.2  # of a foot against its top, from which on a wall is drawn
_PLANE = 3  # pictures of a window's plane
_PIVOT = 1e-6  # of a picture's square that the others do not explain, below which it says nothing new
_AT_ONCE = 30_000  # pixels that are worked on together: they stay in the processor's cache


@dataclass(frozen=True, slots=True, eq=False)
class Gains:
    """Log-likelihood gains of n targets over all displacements within ±radius px, in steps of ``stride``."""

    values: Array  # (n, k, k), rows down, columns right; k = 2·radius/stride + 1
    radius: int
    stride: int
    predicted_px: Array  # (n, 2) the place that displacement 0 means

    def __post_init__(self) -> None:
        read_only(self)

    def offsets(self) -> Array:
        """Displacements along one axis (k,), in px."""
        return np.arange(-self.radius, self.radius + 1, self.stride, dtype=np.float64)


def gains_of(
    targets: Targets,
    around: Targets,
    seen_by: Sightline,
    frame: Compressed,
    radius: int,
    stride: int = 1,
    windows_of: Targets | None = None,
) -> Gains:
    """Gains of ``targets``; ``around`` are all bodies, which stand in their windows as neighbours.

    A target that is not inside the frame has no gain anywhere. ``windows_of``: the same targets, otherwise described,
    by whose windows they are judged; only gains of one window can be compared.
    """
    shifts = np.arange(-radius, radius + 1, stride)
    values = np.zeros((len(targets), len(shifts), len(shifts)))
    drawn, others = sighted(targets, seen_by), sighted(around, seen_by)
    own = drawn if windows_of is None else sighted(windows_of, seen_by)
    number = {name: index for index, name in enumerate(around.refdes)}
    among = np.array([number.get(name, -1) for name in targets.refdes], dtype=np.intp)
    groups = list(_alike(own, _possible(own, frame)))
    if groups:
        # the frame's edge goes on, as far as the largest window reaches
        edge = radius + int(_reach(own.at(groups[-1])).max())
        wide = np.pad(frame.values - float(frame.values.mean()), edge, mode="edge")
    for some in groups:
        windows = _windows(own.at(some))
        for target, explained in zip(some, _explained(windows, drawn.at(some), others, among[some]), strict=True):
            values[target] = explained.gain(wide, edge, frame.noise, shifts)
    return Gains(values, radius, stride, own.place_px)


def _possible(own: Sighted, frame: Compressed) -> Index:
    """Targets that can be looked for: inside the frame, neither far too large nor too small."""
    rows, cols = frame.values.shape
    pixel = np.rint(np.nan_to_num(own.place_px, nan=-1e6))
    good = (pixel >= 3).all(axis=1) & (pixel < np.array([cols - 3, rows - 3])).all(axis=1)
    good &= own.radius_px + _MARGIN_PX <= max(rows, cols)
    return np.flatnonzero(good & (2.0 * own.half.min(axis=1) * BLUR_PX >= _SMALLEST_PX))


def _reach(own: Sighted) -> Index:
    """How far from the target's pixel (n,) windows reach, along either axis."""
    return np.ceil(own.radius_px + _MARGIN_PX).astype(np.intp)


def _alike(own: Sighted, which: Index) -> Iterator[Index]:
    """Targets of like size together, as many as are well drawn at once."""
    which = which[np.argsort(own.radius_px[which], kind="stable")]
    size = (2.0 * _reach(own.at(which)) + 1.0) ** 2
    while len(which):
        # the last is the largest, and the others are filled up to it
        count = max(1, int(np.searchsorted(size * np.arange(1, len(size) + 1), _AT_ONCE)))
        yield which[:count]
        which, size = which[count:], size[count:]


@dataclass(frozen=True, slots=True, eq=False)
class _Windows:
    """The pixels by which n targets are judged, up to c each."""

    own: Sighted
    pixel: Index  # (n, 2) nearest each target's place
    count: Index  # (n,) pixels in each window; what follows is filled up with its first
    at: Index  # (n, c, 2) from ``pixel``
    beside_px: Array  # (n, c, 2) the same from the target's place

    def __post_init__(self) -> None:
        read_only(self)


def _windows(own: Sighted) -> _Windows:
    """Which pixels count: those on each part or near it, of a large body only the rim."""
    reach = _reach(own)
    most = int(reach.max())
    line = np.arange(-most, most + 1)
    grid = np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2)
    pixel = np.rint(own.place_px).astype(np.intp)
    beside = grid + (pixel - own.place_px)[:, None]
    x, y = own.inside(beside)
    counts = _counts(own, x, y) & (np.abs(grid).max(axis=1) <= reach[:, None])
    # of many, every so many-th
    rank = np.cumsum(counts, axis=1) - 1
    every = 1 + (rank[:, -1:] + 1) // _ENOUGH_PIXELS
    counts &= rank % every == 0
    owner, chosen = np.nonzero(counts)
    count = counts.sum(axis=1)
    slot = np.arange(len(owner)) - (np.cumsum(count) - count)[owner]
    index = np.repeat(chosen[np.minimum(np.cumsum(count) - count, len(chosen) - 1)][:, None], int(count.max()), axis=1)
    index[owner, slot] = chosen
    at = grid[index]
    return _Windows(own, pixel, count, at, at + (pixel - own.place_px)[:, None])


def _counts(own: Sighted, x: Array, y: Array) -> Mask:
    half, outer = own.half[:, :, None], own.outer[:, :, None]
    far, high = np.abs(x), np.abs(y)
    beyond = np.maximum(far - outer[:, 0], high - outer[:, 1])
    within = np.minimum(half[:, 0] - far, half[:, 1] - high)
    if own.round.any():
        r = np.hypot(x[own.round], y[own.round])
        beyond[own.round], within[own.round] = r - outer[own.round, 0], half[own.round, 0] - r
    return np.asarray((beyond * BLUR_PX < _MARGIN_PX) & (within * BLUR_PX < _RIM_PX))


@dataclass(frozen=True, slots=True, eq=False)
class _Explained:
    """One window and all that may stand in it, as pictures of unit length at right angles to each other."""

    pixel: Index  # (2,)
    at: Index  # (c, 2)
    others: Array  # (j, c) the plane and the neighbours
    own: Array  # (k, c) what the part adds to them; none where the window is too small to tell

    def gain(self, frame: Array, edge: int, noise: float, shifts: Index) -> Array:
        """What the part explains beyond the others, for every displacement (steps, steps).

        ``frame`` has an edge of so many pixels around it, and its mean is near 0.
        """
        steps, count = len(shifts), len(self.at)
        if not len(self.own):
            return np.zeros((steps, steps))
        u, v = (self.pixel + edge + self.at).T
        moves = (shifts[:, None] * frame.shape[1] + shifts).ravel()
        seen = np.take(frame, moves[:, None] + (v * frame.shape[1] + u), mode="clip")
        free = np.einsum("sc,sc->s", seen, seen) - ((seen @ self.others.T) ** 2).sum(axis=1)
        left = free - ((seen @ self.own.T) ** 2).sum(axis=1)
        floor = count * noise**2
        ratio = (np.maximum(free, 0.0) + floor) / (np.maximum(left, 0.0) + floor)
        independent = max(_INDEPENDENT * count - len(self.others), 2.0)
        gain = np.maximum(independent / 2.0 * np.log(ratio) - 0.5 * len(self.own), 0.0)
        return np.asarray(gain.reshape(steps, steps))


def _explained(windows: _Windows, drawn: Sighted, others: Sighted, among: Index) -> list[_Explained]:
    """What may stand in each window."""
    n = len(windows.own)
    beside = _neighbours(windows, others, among)
    pictures, shown = _own_pictures(windows, drawn)
    first = _PLANE + beside.count
    number = first[:, None] + np.cumsum(shown, axis=1) - 1
    columns = np.zeros((n, int(number[:, -1].max()) + 1, windows.at.shape[1]))
    columns[:, 0] = 1.0
    columns[:, 1:_PLANE] = windows.beside_px.transpose(0, 2, 1)
    columns[beside.window, _PLANE + beside.number, beside.slot] = beside.picture
    for index, picture in enumerate(pictures):
        has = np.flatnonzero(shown[:, index])
        columns[has, number[has, index]] = picture[has]
    columns *= np.arange(columns.shape[2]) < windows.count[:, None, None]
    basis, new = _orthonormal(columns)
    many = windows.count >= number[:, -1] + 1 + 4
    explained = []
    for i in range(n):
        count, split = windows.count[i], first[i]
        explained.append(
            _Explained(
                windows.pixel[i],
                windows.at[i, :count],
                basis[i, :split, :count][new[i, :split]],
                basis[i, split:, :count][new[i, split:] & many[i]],
            )
        )
    return explained


def _own_pictures(windows: _Windows, own: Sighted) -> tuple[list[Array], Mask]:
    """Each part's own pictures, the wall that it shows last, and which of them (n, pictures) there are."""
    x, y = own.inside(windows.beside_px)
    pictures = details(own, x, y)
    wall = np.zeros_like(x)
    leans = np.hypot(own.lean_px[:, 0], own.lean_px[:, 1]) > _LEAN_PX
    some = np.flatnonzero(leans)
    if len(some):
        walled = own.at(some)
        foot = walled.inside(windows.beside_px[some] - walled.lean_px[:, None])
        wall[some] = np.maximum(whole(walled, *foot) - whole(walled, x[some], y[some]), 0.0)
    shown = np.column_stack([has_details(own), leans])
    return [*pictures, wall], shown


@dataclass(frozen=True, slots=True, eq=False)
class _Neighbours:
    """Pictures of other bodies and their metal in n windows: m values."""

    count: Index  # (n,) pictures in each window
    window: Index  # (m,)
    number: Index  # (m,) of the picture in its window
    slot: Index  # (m,) of the pixel
    picture: Array  # (m,)

    def __post_init__(self) -> None:
        read_only(self)


def _neighbours(windows: _Windows, others: Sighted, among: Index) -> _Neighbours:
    """The others that can be seen in each window; ``among`` (n,) tells which of them is the part itself."""
    own, n = windows.own, len(windows.own)
    apart = np.hypot(*(own.place_px[:, None] - others.place_px).transpose(2, 0, 1))
    near = apart < own.radius_px[:, None] + others.radius_px + _NEIGHBOUR_PX
    near[np.flatnonzero(among >= 0), among[among >= 0]] = False
    of, other = np.nonzero(near)
    pairs = others.at(other)
    beside = windows.beside_px[of] + (own.place_px[of] - pairs.place_px)[:, None]
    x, y = pairs.inside(beside)
    outer = pairs.outer[:, :, None] + _FADE
    pair, slot = np.nonzero((np.abs(x) < outer[:, 0]) & (np.abs(y) < outer[:, 1]))
    both = bodies(pairs.at(pair), x[pair, slot], y[pair, slot])
    shown = np.zeros((len(of), 2), dtype=bool)
    for index, picture in enumerate(both):
        shown[pair[np.abs(picture) > _VISIBLE], index] = True
    count = np.bincount(of, weights=shown.sum(axis=1), minlength=n).astype(np.intp)
    # numbered anew in each window; pairs stand window by window
    number = np.cumsum(shown).reshape(shown.shape) - 1 - (np.cumsum(count) - count)[of][:, None]
    seen = [shown[pair, index] for index in (0, 1)]
    return _Neighbours(
        count,
        np.concatenate([of[pair[one]] for one in seen]),
        np.concatenate([number[pair[one], index] for index, one in enumerate(seen)]),
        np.concatenate([slot[one] for one in seen]),
        np.concatenate([picture[one] for picture, one in zip(both, seen, strict=True)]),
    )


def _orthonormal(columns: Array) -> tuple[Array, Mask]:
    """Rows (n, k, c) of unit length at right angles to each other, and which of them (n, k) say anything new.

    By the rows' own products, all windows at once: what a row adds to those before it is well above rounding.
    """
    left = columns @ columns.transpose(0, 2, 1)
    mix = np.zeros_like(left)
    mix[:, range(left.shape[1]), range(left.shape[1])] = 1.0
    new = np.zeros(left.shape[:2], dtype=bool)
    for k in range(left.shape[1]):
        pivot = left[:, k, k]
        new[:, k] = pivot > _PIVOT
        scale = np.where(new[:, k], 1.0 / np.sqrt(np.maximum(pivot, _PIVOT)), 0.0)[:, None]
        mix[:, k] *= scale
        below = (left[:, k + 1 :, k] * scale)[:, :, None]
        left[:, k + 1 :, k + 1 :] -= below * below.transpose(0, 2, 1)
        mix[:, k + 1 :, : k + 1] -= below * mix[:, None, k, : k + 1]
    return mix @ columns, new
