"""A frame made ready to look for a board in: worked out once, however many poses are tried."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, read_only
from overlay.frames.smoothing import gaussian
from overlay.uncertainty import MAD_TO_SIGMA

HOT_SCALE_K = 3.0  # beyond some kelvins differences are compressed, so that one hot part does not rule
CONTOUR_BLURS_PX = (2.0, 1.5, 1.0)
"""By which the frame is smoothed to look for the outline, far off at first …"""
FINE_BLUR_PX = 0.8
"""… and in the end: less than the lens's own blur."""
_LEAST_NOISE = 0.004  # of a compressed value: a sensor's steps and what the drawing leaves out
_EDGE_PX = 40  # of a frame that goes on: windows of most parts reach less far beyond it
_FEW_STEPS = 3  # of displacements along an axis, for which squares are too small to be worth it
_LEAST_NOISE_K = 0.01  # what frames are written to


@dataclass(frozen=True, slots=True, eq=False)
class Widened:
    """A frame less its mean, whose edge goes on so far, and below it a field of zeros: windows may reach beyond it."""

    values: Array  # (rows, cols)
    edge_px: int

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def nowhere(self) -> int:
        """A place in the middle of the zeros, for pixels that are to count for nothing."""
        rows, cols = self.values.shape
        return int(rows - 1 - self.edge_px) * int(cols) + self.edge_px

    def index(self, pixel: Index) -> Index:
        """Places of pixels (m, 2) of the frame."""
        return np.asarray((pixel[:, 1] + self.edge_px) * self.values.shape[1] + pixel[:, 0] + self.edge_px)

    def moved(self, places: Index, radius: int, stride: int) -> Array:
        """Values (n, c, k²) around places (n, c): at all displacements within ±radius px, in steps of ``stride``."""
        rows, cols = self.values.shape
        down, right = self.values.strides
        steps = 2 * radius // stride + 1
        if steps <= _FEW_STEPS:
            aside = stride * (np.arange(steps) - steps // 2)
            return np.asarray(self.values.ravel()[places[..., None] + (aside[:, None] * cols + aside).ravel()])
        # one index a place, whose surroundings are copied as a square: a third of the time of an index each
        count = rows * cols - 2 * radius * (cols + 1)
        shape, strides = (count, steps, steps), (right, stride * down, stride * right)
        around = np.lib.stride_tricks.as_strided(self.values, shape, strides, writeable=False)
        return np.asarray(around[places - radius * (cols + 1)].reshape(*places.shape, steps * steps))


def widened(values: Array, edge_px: int) -> Widened:
    """A frame (rows, cols) made ready for windows that reach so far beyond it."""
    around = np.pad(values - float(values.mean()), edge_px, mode="edge")
    return Widened(np.pad(around, ((0, 2 * edge_px + 1), (0, 0))), edge_px)


@dataclass(frozen=True, slots=True, eq=False)
class Compressed:
    """A frame in which one hot part does not rule: sign·log(1 + |T − T₁|/3 K), with T₁ its first percentile."""

    values: Array  # (rows, cols), finite
    noise: float  # standard deviation of one of them
    wide: Widened

    def __post_init__(self) -> None:
        read_only(self)

    def reaching(self, edge_px: int) -> Widened:
        """The frame for windows that reach so far beyond it."""
        return self.wide if edge_px <= self.wide.edge_px else widened(self.values, edge_px)

    def shifted(self, by: Index) -> Compressed:
        """The frame with what lay ``by`` (2,) pixels further now at each pixel; the edge goes on."""
        rows, cols = self.values.shape
        y = np.clip(np.arange(rows) + int(by[1]), 0, rows - 1)
        x = np.clip(np.arange(cols) + int(by[0]), 0, cols - 1)
        return _compressed(self.values[np.ix_(y, x)], self.noise)


def _compressed(values: Array, noise: float) -> Compressed:
    return Compressed(values, noise, widened(values, _EDGE_PX))


@dataclass(frozen=True, slots=True, eq=False)
class Smoothed:
    """A frame in °C smoothed by a Gaussian."""

    values_c: Array  # (rows, cols), finite
    blur_px: float
    noise_k: float  # standard deviation of a value before it was smoothed

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class ReadyFrame:
    """One frame as parts are looked for in it, and as the outline is: coarsely first, finely last."""

    compressed: Compressed
    coarse: tuple[Smoothed, ...]  # of `CONTOUR_BLURS_PX`
    fine: Smoothed

    @property
    def shape_px(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, cols = self.compressed.values.shape
        return rows, cols


def ready_frame(apparent_c: Array) -> ReadyFrame:
    """A frame (rows, cols) in °C made ready; what is not finite counts as its median."""
    frame_c = _filled(apparent_c)
    noise_k = max(_noise(frame_c), _LEAST_NOISE_K)
    *coarse, fine = (Smoothed(gaussian(frame_c, blur), blur, noise_k) for blur in (*CONTOUR_BLURS_PX, FINE_BLUR_PX))
    return ReadyFrame(compressed(frame_c), tuple(coarse), fine)


def compressed(apparent_c: Array) -> Compressed:
    """A frame (rows, cols) in °C made ready to look for parts in; what is not finite counts as its median."""
    filled = _filled(apparent_c)
    away = (filled - np.percentile(filled, 1.0)) / HOT_SCALE_K
    values = np.sign(away) * np.log1p(np.abs(away))
    return _compressed(values, max(_noise(values), _LEAST_NOISE))


def _filled(apparent_c: Array) -> Array:
    good = np.isfinite(apparent_c)
    if good.all():
        return apparent_c
    return np.where(good, apparent_c, np.median(apparent_c[good]) if good.any() else 0.0)


def _noise(values: Array) -> float:
    """Standard deviation of one value, from how neighbours in a row differ from a straight line."""
    second = values[1:-1, 2:] - 2.0 * values[1:-1, 1:-1] + values[1:-1, :-2]
    return MAD_TO_SIGMA * _median(np.abs(second).ravel()) / math.sqrt(6.0) if second.size else 0.0


def _median(values: Array) -> float:
    """As the library's, which looks for nan as well and sorts for both middle values: twelve times as long."""
    middle = len(values) // 2
    parted = np.partition(values, middle)
    upper = float(parted[middle])
    return upper if len(values) % 2 else (float(parted[:middle].max()) + upper) / 2.0
