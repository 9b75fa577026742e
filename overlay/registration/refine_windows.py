"""How well each part's picture explains the frame around it, for every small displacement.

A part in a window of the frame is a tilted plane (the board around), its body, and its metal (end caps, pads or
leads), each blurred and with a free amplitude of any sign: no temperature and no emissivity need be known. For
each displacement the amplitudes are eliminated by projection (variable projection: Golub & Pereyra 1973, from
memory), which leaves a gain in log-likelihood over the plane and the neighbouring bodies alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, read_only
from overlay.registration.least_squares import Projection
from overlay.registration.targets import Targets

Mask = NDArray[np.bool_]

BLUR_PX = 0.7
"""Standard deviation of optics and pixel together: a width at half maximum of 1.4 px, and the pixel's own square."""
HOT_SCALE_K = 3.0  # beyond some kelvins differences are compressed, so that one hot part does not rule
_MARGIN_PX = 3.0  # of board around a part that belongs to its window
_RIM_PX = 4.0  # inside a large body only its rim is looked at
_WIDE_PX = 7.0  # bodies wider than this may have a slope of temperature across them
_INDEPENDENT = 0.3  # independent samples per pixel: blur and what the drawing leaves out run over several
_SMALLEST_PX = 0.7  # smaller parts show nothing with a place
_ENOUGH_PIXELS = 400  # windows of many more are thinned out
_FADE = 2.5  # standard deviations of blur beyond which a neighbour is not seen
_LEAN_PX = 0.2  # of a foot against its top, from which on a wall is drawn


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


@dataclass(frozen=True, slots=True, eq=False)
class Compressed:
    """A frame in which one hot part does not rule: sign·log(1 + |T − T₁|/3 K), with T₁ its first percentile."""

    values: Array  # (rows, cols), finite
    noise: float  # standard deviation of one of them

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class Sightline:
    """A camera (or flat model) at one set of its parameters."""

    projection: Projection
    parameters: Array

    def __post_init__(self) -> None:
        read_only(self)

    def pixels(self, xyz_mm: Array) -> Array:
        """Pixels (n, 2) of board points (n, 3)."""
        return self.projection.pixels(self.parameters, xyz_mm)


def compressed(apparent_c: Array) -> Compressed:
    """A frame (rows, cols) in °C made ready to look for parts in; what is not finite counts as its median."""
    good = np.isfinite(apparent_c)
    filled = np.where(good, apparent_c, np.median(apparent_c[good]) if good.any() else 0.0)
    away = (filled - np.percentile(filled, 1.0)) / HOT_SCALE_K
    frame = np.sign(away) * np.log1p(np.abs(away))
    second = frame[1:-1, 2:] - 2.0 * frame[1:-1, 1:-1] + frame[1:-1, :-2]
    noise = float(np.median(np.abs(second))) / 0.6745 / math.sqrt(6.0) if second.size else 0.0
    return Compressed(frame, max(noise, 0.004))


def gains_of(
    targets: Targets, around: Targets, seen_by: Sightline, frame: Compressed, radius: int, stride: int = 1
) -> Gains:
    """Gains of ``targets``; ``around`` are all bodies, which stand in their windows as neighbours.

    A target that is not inside the frame has no gain anywhere.
    """
    steps = 2 * radius // stride + 1
    values = np.zeros((len(targets), steps, steps))
    place, to_local, px_per_mm = _seen(targets, seen_by)
    others, others_local, others_px = _seen(around, seen_by)
    pixel = np.rint(np.nan_to_num(place, nan=-1e6))
    foot_px = seen_by.pixels(targets.center_mm * np.array([1.0, 1.0, 0.0]))
    lean = np.nan_to_num(foot_px - place)
    names = np.array(around.refdes, dtype=object)
    outer, around_px = _outer_mm(around), _half_px(around, others_px)
    rows, cols = frame.values.shape
    for index in range(len(targets)):
        u, v = pixel[index]
        reach = _reach_px(targets, index, px_per_mm[index])
        if not (3 <= u < cols - 3 and 3 <= v < rows - 3) or reach.max() > max(rows, cols):
            continue
        if _short_px(targets, index, px_per_mm[index]) < _SMALLEST_PX:
            continue
        half = np.ceil(reach).astype(int)
        dx, dy = np.meshgrid(np.arange(-half[0], half[0] + 1), np.arange(-half[1], half[1] + 1))
        at = np.stack([dx.ravel(), dy.ravel()], axis=1) + (pixel[index] - place[index])
        inside = _window(targets, index, at @ to_local[index].T, px_per_mm[index])
        kept = np.flatnonzero(inside)[:: 1 + int(inside.sum()) // _ENOUGH_PIXELS]
        at, grid = at[kept], (dy.ravel()[kept], dx.ravel()[kept])
        local = at @ to_local[index].T
        own = _drawn(targets, index, local, px_per_mm[index], slopes=True)
        if np.hypot(*lean[index]) > _LEAN_PX:
            foot = _drawn(targets, index, (at - lean[index]) @ to_local[index].T, px_per_mm[index], plain=True)
            top = _drawn(targets, index, local, px_per_mm[index], plain=True)
            own.append(np.maximum(foot[0] - top[0], 0.0))
        columns = [np.ones(len(at)), at[:, 0], at[:, 1]]
        near = np.abs(others - place[index]) < reach + 2.0 + around_px
        for other in np.flatnonzero(near.all(axis=1) & (names != targets.refdes[index])):
            beside = (at + place[index] - others[other]) @ others_local[other].T
            touched = np.flatnonzero((np.abs(beside) < outer[other] + _FADE * BLUR_PX / others_px[other]).all(axis=1))
            if not len(touched):
                continue
            for column in _drawn(around, int(other), beside[touched], others_px[other]):
                if np.abs(column).max() > 0.15:
                    columns.append(np.zeros(len(at)))
                    columns[-1][touched] = column
        samples = _Samples(frame, pixel[index].astype(int), grid, np.arange(-radius, radius + 1, stride))
        values[index] = _gain(columns, own, samples)
    return Gains(values, radius, stride, place)


@dataclass(frozen=True, slots=True, eq=False)
class _Samples:
    """Which pixels of a frame belong to a window about ``pixel``, and by how much it is moved either way."""

    frame: Compressed
    pixel: NDArray[np.intp]
    grid: tuple[NDArray[np.intp], NDArray[np.intp]]  # rows and columns about the pixel
    shifts: NDArray[np.intp]

    def values(self) -> Array:
        """The window's values for every displacement (steps, steps, count), less that of the pixel itself."""
        frame, (rows, cols) = self.frame.values, self.frame.values.shape
        y = np.clip(self.pixel[1] + self.grid[0][None, :] + self.shifts[:, None], 0, rows - 1)  # (steps, count)
        x = np.clip(self.pixel[0] + self.grid[1][None, :] + self.shifts[:, None], 0, cols - 1)
        # any constant would do, the plane takes it up
        return np.asarray(frame[y[:, None, :], x[None, :, :]] - frame[self.pixel[1], self.pixel[0]])


def _gain(null: list[Array], own: list[Array], samples: _Samples) -> Array:
    """Gain of ``own`` columns over the ``null`` ones, for every displacement (steps, steps)."""
    count, steps = len(samples.grid[0]), len(samples.shifts)
    if count < len(null) + len(own) + 4:
        return np.zeros((steps, steps))
    basis, upper = np.linalg.qr(np.stack(null + own, axis=1))
    kept = np.abs(np.diag(upper)) > 1e-3
    first = int(kept[: len(null)].sum())
    basis = basis[:, kept]
    seen = samples.values()
    parts = (seen.reshape(-1, count) @ basis).reshape(steps, steps, -1)
    squares = parts**2
    free = np.einsum("ijk,ijk->ij", seen, seen) - squares[..., :first].sum(axis=2)
    left = free - squares[..., first:].sum(axis=2)
    floor = count * samples.frame.noise**2
    ratio = (np.maximum(free, 0.0) + floor) / (np.maximum(left, 0.0) + floor)
    independent = max(_INDEPENDENT * count - first, 2.0)
    return np.asarray(np.maximum(independent / 2.0 * np.log(ratio) - 0.5 * (basis.shape[1] - first), 0.0))


def _seen(targets: Targets, by: Sightline) -> tuple[Array, Array, Array]:
    """Places (n, 2) in px; matrices (n, 2, 2) from px to mm in body axes; px per mm (n, 2) along them."""
    place = by.pixels(targets.center_mm)
    slopes = by.projection.board_jacobian(by.parameters, targets.center_mm)[:, :, :2]
    forward = np.nan_to_num(slopes @ targets.axes.transpose(0, 2, 1), nan=0.0)  # columns: px per mm along x and y
    singular = np.abs(np.linalg.det(forward)) < 1e-12
    forward[singular] = np.eye(2) * 1e-3
    place[singular] = np.nan
    inverse = np.asarray(np.linalg.inv(forward), dtype=np.float64)
    return place, inverse, np.asarray(np.linalg.norm(forward, axis=1), dtype=np.float64)


def _outer_mm(targets: Targets) -> Array:
    """Half extents (n, 2) with pads and leads."""
    out = targets.half_mm + targets.lead_mm
    out[:, 0] += targets.pad_mm
    return np.asarray(out)


def _half_px(targets: Targets, px_per_mm: Array) -> Array:
    """A square's half side (n, 1) that holds each target however it is turned."""
    return np.asarray(np.linalg.norm(_outer_mm(targets) * px_per_mm, axis=1, keepdims=True))


def _reach_px(targets: Targets, index: int, px_per_mm: Array) -> Array:
    outer = targets.half_mm[index] + targets.lead_mm[index] + np.array([targets.pad_mm[index], 0.0])
    return np.full(2, float(np.linalg.norm(outer * px_per_mm)) + _MARGIN_PX)


def _short_px(targets: Targets, index: int, px_per_mm: Array) -> float:
    return float((2.0 * targets.half_mm[index] * px_per_mm).min())


def _window(targets: Targets, index: int, local_mm: Array, px_per_mm: Array) -> Mask:
    """Which pixels count: those on the part or near it, of a large body only the rim."""
    half = targets.half_mm[index]
    outer = half + targets.lead_mm[index] + np.array([targets.pad_mm[index], 0.0])
    if targets.round[index]:
        r = np.hypot(local_mm[:, 0], local_mm[:, 1])
        scale = float(px_per_mm.mean())
        return np.asarray(((r - outer[0]) * scale < _MARGIN_PX) & ((half[0] - r) * scale < _RIM_PX))
    beyond = ((np.abs(local_mm) - outer) * px_per_mm).max(axis=1)
    within = ((half - np.abs(local_mm)) * px_per_mm).min(axis=1)
    return np.asarray((beyond < _MARGIN_PX) & (within < _RIM_PX))


def _drawn(
    targets: Targets,
    index: int,
    local_mm: Array,
    px_per_mm: Array,
    *,
    slopes: bool = False,
    plain: bool = False,
) -> list[Array]:
    """Blurred pictures of a part's body and metal at places in its own axes.

    With ``slopes`` each metal by itself, and a wide body's slopes of temperature; else a body and all its metal;
    ``plain``: the whole box as one.
    """
    from scipy.special import ndtr

    x, y = (local_mm * (px_per_mm / BLUR_PX)).T
    a, b = targets.half_mm[index] * px_per_mm / BLUR_PX
    if targets.round[index]:
        r = np.hypot(x, y)
        body = ndtr(a - r)
        if plain:
            return [body]
        ring = targets.lead_mm[index, 0] * float(px_per_mm.mean()) / BLUR_PX
        return [body, ndtr(a + ring - r) - body] if ring else [body]

    def strip(t: Array, low: float, high: float) -> Array:
        return np.asarray(ndtr(t - low) - ndtr(t - high))

    across = strip(y, -b, b)
    if plain:
        return [strip(x, -a, a) * across]
    cap = targets.cap_mm[index] * px_per_mm[0] / BLUR_PX
    pad = targets.pad_mm[index] * px_per_mm[0] / BLUR_PX
    lead = targets.lead_mm[index] * px_per_mm / BLUR_PX
    body = strip(x, -a + cap, a - cap) * across
    metal = []
    if cap:
        metal.append((strip(x, -a, -a + cap) + strip(x, a - cap, a)) * across)
    if pad:
        metal.append((strip(x, -a - pad, -a) + strip(x, a, a + pad)) * across)
    if lead[0]:
        metal.append((strip(x, -a - lead[0], -a) + strip(x, a, a + lead[0])) * across)
    if lead[1]:
        metal.append((strip(y, -b - lead[1], -b) + strip(y, b, b + lead[1])) * strip(x, -a, a))
    if not slopes:
        return [body, np.sum(metal, axis=0)] if metal else [body]
    drawn = [body]
    if 2.0 * a * BLUR_PX > _WIDE_PX:
        drawn.append(body * x / a)
    if 2.0 * b * BLUR_PX > _WIDE_PX:
        drawn.append(body * y / b)
    return drawn + metal
