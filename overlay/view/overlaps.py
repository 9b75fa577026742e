"""The pixels under regions of the frame, each with the share of it that is covered.

`Weights` are those of one region; `Overlaps` list the covered pixels of many regions, `Blocks` are their whole windows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Index, Mask, read_only, runs

T = TypeVar("T")
Window = tuple[int, int, int, int]
"""First row, row beyond the last, first column and column beyond the last of a region inside the frame."""

# Shares below this are rounding, not area; the largest frame has about 1e3 edges a row.
_LEAST_SHARE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """The pixels under a region, row by row, each with the area of it that is covered (0…1).

    All arrays are empty for a region that lies outside the frame.
    """

    rows: Index  # (n,)
    cols: Index  # (n,)
    weight: Array  # (n,)
    window: Window

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def area_px(self) -> float:
        """Area of the region inside the frame."""
        return float(self.weight.sum())

    def mean(self, values: Array) -> float:
        """Mean of a map of shape (rows, cols) over the region; nan where the region is empty."""
        area = self.weight.sum()
        return float(self.weight @ values[self.rows, self.cols] / area) if area > 0.0 else float("nan")

    def share(self) -> Array:
        """The window as an array of covered shares, shape (window rows, window cols)."""
        top, bottom, left, right = self.window
        share = np.zeros((bottom - top, right - left))
        share[self.rows - top, self.cols - left] = self.weight
        return share


class _Regions(Generic[T]):
    """Many regions by their windows, to be counted, asked for by number and gone through."""

    __slots__ = ()
    windows: Index  # (regions, 4) as `Window`

    def __len__(self) -> int:
        return len(self.windows)

    def __getitem__(self, i: int) -> T:
        if not 0 <= i < len(self):
            raise IndexError(i)
        top, bottom, left, right = self.windows[i].tolist()
        return self._one(i, (top, bottom, left, right))

    def __iter__(self) -> Iterator[T]:
        return (self[i] for i in range(len(self)))

    def _one(self, i: int, window: Window) -> T:
        raise NotImplementedError


@dataclass(frozen=True, slots=True, eq=False)
class Overlaps(_Regions[Weights]):
    """The pixels under many regions, region after region, each with the area of it that is covered (0…1).

    Entry k is of region ``region[k]``; those of region i are ``first[i]:first[i + 1]``. One region by itself: ``[i]``.
    """

    pixel: Index  # (n,) numbered row by row
    weight: Array  # (n,)
    region: Index  # (n,)
    first: Index  # (regions + 1,)
    windows: Index  # (regions, 4) as `Window`
    shape_px: tuple[int, int]  # (rows, cols) of the frame

    def __post_init__(self) -> None:
        read_only(self)

    def _one(self, i: int, window: Window) -> Weights:
        entries = slice(self.first[i], self.first[i + 1])
        rows, cols = np.divmod(self.pixel[entries], self.shape_px[1])
        return Weights(rows, cols, self.weight[entries], window)

    @property
    def area_px(self) -> Array:
        """Area of each region inside the frame, (regions,)."""
        return self.sums(self.weight)

    def sums(self, values: Array) -> Array:
        """Sums over the entries of each region, (regions,)."""
        return np.asarray(np.bincount(self.region, values, len(self)), dtype=np.float64)

    def means(self, values: Array) -> Array:
        """Means of a map (rows, cols) over each region, (regions,); nan where a region is empty."""
        with np.errstate(invalid="ignore"):
            return np.asarray(self.sums(self.weight * values.ravel()[self.pixel]) / self.area_px)

    def extremes(self, values: Array) -> tuple[Array, Array]:
        """Lowest and highest value among the entries of each region, (regions,) each; nan where it has none."""
        lowest, highest = np.full(len(self), np.nan), np.full(len(self), np.nan)
        some = np.flatnonzero(np.diff(self.first))
        if len(some):
            lowest[some] = np.minimum.reduceat(values, self.first[some])
            highest[some] = np.maximum.reduceat(values, self.first[some])
        return lowest, highest

    def quantiles(self, values: Array, shares: Sequence[float]) -> tuple[Array, ...]:
        """Quantiles of the entries' values in each region, one array (regions,) a share; nan where it has no entry.

        Values between two entries are interpolated (Hyndman & Fan's type 7, from memory).
        """
        least, most = values.min(initial=0.0), values.max(initial=0.0)
        scale = 2.0 * (most - least) or 1.0
        # values brought to 0…½ above their region's number: one sort for all regions
        ranked = np.sort(self.region + (values - least) / scale)
        count = np.diff(self.first)
        found = []
        for share in shares:
            place = self.first[:-1] + share * np.maximum(count - 1, 0)
            below = np.floor(place).astype(np.intp)
            above = np.minimum(below + 1, np.maximum(self.first[1:] - 1, 0))
            a, b = (ranked[np.minimum(k, len(ranked) - 1)] for k in (below, above)) if len(ranked) else (place, place)
            between = a + (b - a) * (place - below) - np.arange(len(self))
            found.append(np.where(count > 0, between * scale + least, np.nan))
        return tuple(found)

    def of(self, regions: Index) -> Overlaps:
        """These of some regions, in that order."""
        count = np.diff(self.first)[regions]
        first = np.concatenate([[0], np.cumsum(count)])
        region = np.repeat(np.arange(len(regions)), count)
        entries = runs(self.first[regions], count)
        return Overlaps(self.pixel[entries], self.weight[entries], region, first, self.windows[regions], self.shape_px)

    def only(self, kept: Mask) -> Overlaps:
        """These without the entries (n,) that are not kept."""
        region = self.region[kept]
        first = np.searchsorted(region, np.arange(len(self) + 1))
        return Overlaps(self.pixel[kept], self.weight[kept], region, first, self.windows, self.shape_px)


@dataclass(frozen=True, slots=True, eq=False)
class Blocks(_Regions[Array]):
    """The windows of many regions in the frame, with the share of each pixel that is covered (0…1).

    For what is done with whole windows: there a few large blocks are quicker to handle than their many entries. The
    window of one region is ``windows[i]``, its shares (window rows, window cols) are ``[i]``.
    """

    shares: Array  # (cells,) window after window, row by row, each row followed by an empty cell
    first: Index  # (regions,) where each window begins
    windows: Index  # (regions, 4) as `Window`
    shape_px: tuple[int, int]  # (rows, cols) of the frame

    def __post_init__(self) -> None:
        read_only(self)

    def _one(self, i: int, window: Window) -> Array:
        top, bottom, left, right = window
        height, width = bottom - top, right - left
        begin = int(self.first[i])
        return self.shares[begin : begin + height * (width + 1)].reshape(height, width + 1)[:, :width]

    @property
    def covered(self) -> Mask:
        """Which regions (regions,) cover any of the frame."""
        some = np.flatnonzero((self.windows[:, 1] > self.windows[:, 0]) & (self.windows[:, 3] > self.windows[:, 2]))
        result = np.zeros(len(self), dtype=bool)
        if len(some):
            result[some] = np.maximum.reduceat(self.shares, self.first[some]) > 0.0
        return result

    def slices(self) -> list[tuple[slice, slice]]:
        """Rows and columns of each window."""
        return [(slice(top, bottom), slice(left, right)) for top, bottom, left, right in self.windows.tolist()]

    def painted(self, values: Array) -> NDArray[np.float32]:
        """Sum of the regions, each times its value (regions,), over the frame: (rows, cols), in 32 bits."""
        result = np.zeros(self.shape_px, dtype=np.float32)
        for share, window, value in zip(self, self.slices(), values.tolist(), strict=True):
            if value != 0.0:
                result[window] += value * share
        return result

    def sums(self, values: Array) -> Array:
        """Sums of a map (rows, cols) over each region, (regions,)."""
        return np.array([np.einsum("ij,ij", a, values[window]) for a, window in zip(self, self.slices(), strict=True)])

    def overlaps(self, of: Mask | None = None) -> Overlaps:
        """The pixels that are covered; those of a mask (rows, cols) alone where there is one."""
        top, bottom, left, right = self.windows.T
        height, width = bottom - top, right - left
        region = np.repeat(np.arange(len(self)), height)  # of each row
        row = runs(0, height)
        begin = self.first[region] + row * (width + 1)[region]
        beside = (top[region] + row) * self.shape_px[1] + left[region] - begin  # a pixel's number less its cell's
        of_row = np.repeat(np.arange(len(region)), (width + 1)[region])
        covered = self.shares > _LEAST_SHARE
        if of is not None:
            covered &= of.ravel()[np.minimum(np.arange(len(covered)) + beside[of_row], of.size - 1)]
        cell = np.flatnonzero(covered)
        of_row = of_row[cell]
        owner = region[of_row]
        return Overlaps(
            pixel=cell + beside[of_row],
            weight=self.shares[cell],
            region=owner,
            first=np.searchsorted(owner, np.arange(len(self) + 1)),
            windows=self.windows,
            shape_px=self.shape_px,
        )
