"""How well each part's picture explains the frame around it, for every small displacement.

A part in a window of the frame is a tilted plane (the board around), its body, and its metal (end caps, pads or
leads), each blurred and with a free amplitude of any sign: no temperature and no emissivity need be known. For
each displacement the amplitudes are eliminated by projection (variable projection: Golub & Pereyra 1973, from
memory), which leaves a gain in log-likelihood over the plane and the neighbouring bodies alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.registration.refine_canvas import Canvas
from overlay.registration.refine_frame import Compressed, Widened
from overlay.registration.refine_neighbours import neighbours_in
from overlay.registration.refine_pictures import (
    BLUR_PX,
    Places,
    Sighted,
    Sightline,
    Single,
    details,
    extents,
    has_details,
    sighted,
)
from overlay.registration.refine_pixels import MARGIN_PX, Windows, reach_of, windows_around
from overlay.registration.targets import Targets

_INDEPENDENT = 0.3  # independent samples per pixel: blur and what the drawing leaves out run over several
_SMALLEST_PX = 0.7  # smaller parts show nothing with a place
_LEAN_PX = 0.2  # of a foot against its top, from which on a wall is drawn
_PLANE = 3  # pictures of a window's plane
_SPARE = 4  # pixels that a window must have beyond its pictures
_STRIPS_PX = 28  # a row of a large window meets its rim twice
_DRAWN_AT_ONCE = 100_000  # pixels: their pictures are some megabytes
_HELD_AT_ONCE = 120_000  # pixels times displacements: they stay in the processor's cache


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
    values = np.zeros((len(targets), len(shifts) ** 2))
    drawn, others = sighted(targets, seen_by), sighted(around, seen_by)
    own = drawn if windows_of is None else sighted(windows_of, seen_by)
    among = _numbers_in(around.refdes, targets.refdes)
    which = _possible(own, frame)
    wide = frame.reaching(_edge_px(own, which, radius, frame))
    for some in _batches(own, which):
        windows = windows_around(own.at(some), some)
        if not len(windows):
            continue
        for explained in _explained(windows, drawn.at(windows.target), others, among[windows.target], wide):
            for piece in explained.pieces(_HELD_AT_ONCE // len(shifts) ** 2):
                values[piece.target] = piece.gains(wide, frame.noise, radius, stride)
    return Gains(values.reshape(-1, len(shifts), len(shifts)), radius, stride, own.place_px)


@lru_cache(maxsize=8)
def _numbers_in(all_refdes: tuple[str, ...], refdes: tuple[str, ...]) -> Index:
    """Which of all each is, −1 for none: asked for the same parts pose after pose."""
    number = {name: index for index, name in enumerate(all_refdes)}
    return np.array([number.get(name, -1) for name in refdes], dtype=np.intp)


def _possible(own: Sighted, frame: Compressed) -> Index:
    """Targets that can be looked for, smaller ones first: inside the frame, neither far too large nor too small."""
    rows, cols = frame.values.shape
    pixel = np.rint(np.nan_to_num(own.place_px, nan=-1e6))
    radius_px = own.radius_px
    good = (pixel >= 3).all(axis=1) & (pixel < np.array([cols - 3, rows - 3])).all(axis=1)
    good &= radius_px + MARGIN_PX <= max(rows, cols)
    which = np.flatnonzero(good & (2.0 * own.half.min(axis=1) * BLUR_PX >= _SMALLEST_PX))
    return which[np.argsort(radius_px[which], kind="stable")]


def _batches(own: Sighted, which: Index) -> Iterator[Index]:
    """Some of those targets after the other, as many as are drawn at once."""
    side = 2 * reach_of(own.at(which)) + 1
    pixels = np.cumsum(side * np.minimum(side, _STRIPS_PX))
    yield from (one for one in np.split(which, np.flatnonzero(np.diff(pixels // _DRAWN_AT_ONCE)) + 1) if len(one))


def _edge_px(own: Sighted, which: Index, radius: int, frame: Compressed) -> int:
    """How far beyond the frame windows reach, moved by ``radius`` px."""
    rows, cols = frame.values.shape
    pixel = np.rint(own.place_px[which]).astype(np.intp)
    beyond = np.maximum(-pixel, pixel + 1 - np.array([cols, rows])).max(axis=1) + reach_of(own.at(which))
    return radius + int(beyond.max(initial=0))


@dataclass(frozen=True, slots=True, eq=False)
class _Explained:
    """Windows of one width, and all that may stand in them."""

    target: Index  # (n,)
    count: Index  # (n,) pixels in each; the others of its row count for nothing
    pixel: Index  # (n, c) of the widened frame
    pictures: Array  # (n, k, c)
    mix: Array  # (n, k, k) by which they come to stand at right angles; 0 for those that say nothing new
    others: Mask  # (n, k) the plane and the neighbours
    own: Mask  # (n, k) what the part adds to them; none where the window is too small to tell

    def pieces(self, pixels: int) -> Iterator[_Explained]:
        """Some windows after the other, with so many pixels if that can be."""
        each = max(1, pixels // self.pixel.shape[1])
        for first in range(0, len(self.count), each):
            yield _Explained(*(getattr(self, name)[first : first + each] for name in self.__slots__))

    def gains(self, wide: Widened, noise: float, radius: int, stride: int) -> Array:
        """What each part explains beyond the others, for every displacement (n, steps²)."""
        seen = wide.moved(self.pixel, radius, stride)
        along = self.mix @ (self.pictures @ seen)
        along *= along
        by_others, by_own = (np.stack([self.others, self.own], axis=1).astype(np.float64) @ along).transpose(1, 0, 2)
        free = np.einsum("ncs,ncs->ns", seen, seen) - by_others
        left = free - by_own
        floor = (self.count * noise**2)[:, None]
        ratio = (np.maximum(free, 0.0) + floor) / (np.maximum(left, 0.0) + floor)
        independent = np.maximum(_INDEPENDENT * self.count - self.others.sum(axis=1), 2.0)[:, None]
        gain = independent / 2.0 * np.log(ratio) - 0.5 * self.own.sum(axis=1)[:, None]
        return np.asarray(np.maximum(gain, 0.0))


def _explained(windows: Windows, drawn: Sighted, others: Sighted, among: Index, wide: Widened) -> Iterator[_Explained]:
    """What may stand in each window."""
    beside = neighbours_in(windows, others, among)
    pictures, shown = _own_pictures(windows, drawn)
    split = _PLANE + beside.count
    number = split[:, None] + np.cumsum(shown, axis=1) - 1
    last = number[:, -1] + 1
    canvas = Canvas(windows, last)
    for index, plane in enumerate((1.0, *windows.beside_px.T)):
        canvas.draw(slice(None), np.full_like(last, index), plane)
    canvas.draw_each(beside.pixel, _PLANE + beside.number, beside.picture)
    for index, (places, picture) in enumerate(pictures):
        canvas.draw(places, number[:, index], picture)
    mix, new = canvas.mixes()
    owned = np.arange(new.shape[1]) >= split[:, None]
    enough = (windows.count >= last + _SPARE)[:, None]
    at = wide.index(windows.pixel[windows.window] + windows.at)
    slot = np.arange(len(at)) - windows.first[windows.window]
    for block, drawing in zip(canvas.blocks, canvas.drawn(), strict=True):
        some, kinds = block.windows, (block.windows, slice(block.pictures))
        pixel = np.full((len(drawing), block.pixels), wide.nowhere)
        here = slice(windows.first[block.first], windows.first[block.last - 1] + windows.count[block.last - 1])
        pixel[windows.window[here] - block.first, slot[here]] = at[here]
        yield _Explained(
            windows.target[some],
            windows.count[some],
            pixel,
            drawing,
            mix[(*kinds, slice(block.pictures))],
            (new & ~owned)[kinds],
            (new & owned & enough)[kinds],
        )


def _own_pictures(windows: Windows, own: Sighted) -> tuple[list[tuple[Places, Single]], Mask]:
    """Each part's own pictures with their pixels, the wall that it shows last; and which (n, pictures) there are."""
    x, y = (one.astype(np.float32) for one in own.inside(windows.window, windows.beside_px))
    along, across = extents(own, windows.window, x, y)
    pictures = details(own, windows.window, x, y, along, across)
    leans = np.hypot(own.lean_px[:, 0], own.lean_px[:, 1]) > _LEAN_PX
    some = np.flatnonzero(leans[windows.window])
    of = windows.window[some]
    foot = (one.astype(np.float32) for one in own.inside(of, windows.beside_px[some] - own.lean_px[of]))
    foot_along, foot_across = extents(own, of, *foot)
    wall = np.maximum(foot_along * foot_across - along[some] * across[some], 0.0)
    return [*pictures, (some, wall)], np.column_stack([has_details(own), leans])
