"""Stacks of pages: put over one another, averaged, and tested for a board that still warms up.

All functions take temperatures (pages, rows, cols) in °C, or anything that gives its pages (rows, cols) one by one as
often as asked: a long record is never held twice.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Mask, read_only
from overlay.errors import input_error
from overlay.frames.frame import Array, Frame
from overlay.frames.sampling import bilinear
from overlay.uncertainty import MAD_TO_SIGMA

# A page whose gradients match the last page's no better than this cannot be aligned.
_LEAST_CORRELATION = 0.3
# Smaller movements are left alone: resampling would cost more than it mends.
_STILL_PX = 0.1
# Every so many pixels are enough to judge how well two pages agree.
_SAMPLING = 3
# Span of a page's temperatures below which it has nothing to be aligned by.
_LEAST_CONTRAST_K = 1.0
# Page-to-page wandering of an uncooled camera's offset, where too few pages are there to see it (common practice).
_PAGE_JITTER_C = 0.1
# A change over the whole stack that is worth asking for times, and how sure it must be.
_DRIFT_C, _DRIFT_SIGMAS = 0.25, 4.0
_GROUPS = 8  # of pixels, by temperature: the hottest tell of a warm-up that the board's mean hides


@dataclass(frozen=True, slots=True, eq=False)
class Alignment:
    """How pages are moved onto the last one.

    Parameters
    ----------
    temperature_c : (pages, rows, cols)
        As they were taken.
    place : (pages, 2, 3)
        Where a pixel (x, y, 1) of the last page is found on each page.
    shift_px : (pages, 2)
        Where the last page's middle is found on each page, minus where it is: (x, y).
    turn_deg : (pages,)
        Turn of each page against the last.
    correlation : (pages,)
        Of the gradients after alignment, −1…1.
    failed
        Pages (from 0) that could not be aligned and were left as they were.
    """

    temperature_c: Array
    place: Array
    shift_px: Array
    turn_deg: Array
    correlation: Array
    failed: tuple[int, ...]

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def largest_px(self) -> float:
        return float(np.hypot(self.shift_px[:, 0], self.shift_px[:, 1]).max())

    @property
    def moved(self) -> bool:
        """Whether any page had to be moved."""
        return self.largest_px >= _STILL_PX

    @property
    def kept(self) -> tuple[int, ...]:
        """Pages (from 0) that could be aligned."""
        return tuple(page for page in range(len(self.temperature_c)) if page not in self.failed)

    def page(self, number: int) -> Array:
        """A page (rows, cols) over the last one; nan where it does not reach."""
        page: Array = self.temperature_c[number].astype(np.float64)
        rows, cols = page.shape
        corner_turn = abs(math.radians(self.turn_deg[number])) * math.hypot((cols - 1) / 2.0, (rows - 1) / 2.0)
        if math.hypot(*self.shift_px[number]) < _STILL_PX and corner_turn < _STILL_PX:
            return page
        return bilinear(page, _places(self.place[number], rows, cols))


@dataclass(frozen=True, slots=True, eq=False)
class AlignedPages(Collection[Array]):
    """The pages of an alignment that could be aligned, each made when it is asked for."""

    alignment: Alignment
    filled: bool = False  # with the last page's pixels where one does not reach

    def __len__(self) -> int:
        return len(self.alignment.kept)

    def __iter__(self) -> Iterator[Array]:
        last = self.alignment.temperature_c[-1]
        for number in self.alignment.kept:
            page = self.alignment.page(number)
            yield np.where(np.isfinite(page), page, last) if self.filled else page

    def __contains__(self, page: object) -> bool:
        return any(page is one for one in self)


@dataclass(frozen=True, slots=True)
class Drift:
    """How much a stack changes from its first page to its last, by a straight line through each group of pixels."""

    change_k: float  # of the group of pixels that changes most
    u_k: float  # standard uncertainty of that change, from the pages' own scatter
    drifts: bool


@dataclass(frozen=True, slots=True, eq=False)
class Combined:
    """A stack as one page: the mean of what could be put over one another."""

    temperature_c: Array  # (rows, cols)
    pages: int  # how many are in the mean
    notes: tuple[str, ...]  # what a reader should know, as sentences


def combine_pages(frame: Frame, file: str) -> Combined:
    """The mean page of a frame, its pages first put over one another where they moved.

    A frame of one page is that page. Pages that cannot be aligned are left out and named.

    Raises
    ------
    InputError
        If most pages show something else than the last one, or if a stack without times still drifts: the mean
        would then be no state of the board, and times are asked for.
    """
    if frame.pages == 1:
        return Combined(frame.temperature_c[0], 1, ())
    pages: Collection[Array] = frame.temperature_c
    notes: list[str] = []
    low, high = np.quantile(frame.temperature_c[-1], [0.01, 0.99])
    if high - low >= _LEAST_CONTRAST_K:
        alignment = align_pages(frame.temperature_c)
        if len(alignment.failed) > (frame.pages - 1) / 2.0:
            what = f"{len(alignment.failed)} of {frame.pages} pages do not show what the last page shows"
            raise input_error(file, None, what, "give a stack of one pose and one state of the board")
        if alignment.failed:
            left_out = ", ".join(str(page + 1) for page in alignment.failed)
            notes.append(f"page {left_out} of {file} could not be put over the last page and was left out")
        if alignment.moved:
            notes.append(f"pages of {file} were moved by up to {alignment.largest_px:.1f} px to lie over one another")
        pages = AlignedPages(alignment)
    mean = mean_page(pages)
    if frame.times_s is None:
        found = drift(pages, mean)
        if found.drifts:
            what = f"its pages still drift ({found.change_k:+.1f} K from first to last) and have no times"
            remedy = "add frame_period_s or frame_times_s, so that the settled value can be worked out"
            raise input_error(file, None, what, remedy)
    return Combined(mean.temperature_c, len(pages), tuple(notes))


def align_pages(temperature_c: Array) -> Alignment:
    """Put every page over the last one, by the rigid movement that makes their gradients agree.

    Gradients rather than temperatures, since a board that warms up changes the latter; the last page is the
    reference because its contrast is best. Enhanced correlation coefficient: Evangelidis & Psarakis, IEEE
    TPAMI 30 (2008) 1858 (from memory), as in OpenCV, started from the peak of the phase correlation.
    """
    import cv2

    pages, rows, cols = temperature_c.shape
    reference = _gradient(temperature_c[-1])
    shift, turn, correlation = np.zeros((pages, 2)), np.zeros(pages), np.ones(pages)
    place = np.tile(np.eye(2, 3), (pages, 1, 1))
    failed = []
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 60, 1e-6)
    everything = np.ones((rows, cols), dtype=np.uint8)
    window = cv2.createHanningWindow((cols, rows), cv2.CV_32F)
    for page in range(pages - 1):
        image = _gradient(temperature_c[page])
        best: tuple[float, Array] | None = None
        # copies: OpenCV multiplies the window into what it is given
        (dx, dy), _ = cv2.phaseCorrelate(reference.copy(), image.copy(), window)
        starts = [(0.0, 0.0), (dx, dy)] if math.hypot(dx, dy) > 2.0 else [(0.0, 0.0)]
        for start in starts:
            warp = np.array([[1.0, 0.0, start[0]], [0.0, 1.0, start[1]]], dtype=np.float32)
            try:
                _, found = cv2.findTransformECC(reference, image, warp, cv2.MOTION_EUCLIDEAN, criteria, everything, 5)
            except cv2.error:
                continue
            matrix = np.asarray(found, dtype=np.float64)
            sampled = _places(matrix, rows, cols, _SAMPLING)
            score = _agreement(reference[::_SAMPLING, ::_SAMPLING], bilinear(image.astype(np.float64), sampled))
            if best is None or score > best[0]:
                best = (score, matrix)
        if best is None or best[0] < _LEAST_CORRELATION:
            failed.append(page)
            correlation[page] = 0.0 if best is None else best[0]
            continue
        correlation[page], matrix = best
        middle = np.array([(cols - 1) / 2.0, (rows - 1) / 2.0])
        shift[page] = matrix[:, :2] @ middle + matrix[:, 2] - middle
        turn[page] = math.degrees(math.atan2(matrix[1, 0], matrix[0, 0]))
        place[page] = matrix
    return Alignment(temperature_c, place, shift, turn, correlation, tuple(failed))


@dataclass(frozen=True, slots=True, eq=False)
class Mean:
    """The mean of several pages."""

    temperature_c: Array  # (rows, cols); pixels that some pages do not reach are averaged over the others
    everywhere: Mask  # (rows, cols) the pixels that every page reaches

    def __post_init__(self) -> None:
        read_only(self)


def mean_page(pages: Collection[Array]) -> Mean:
    """Mean of the pages."""
    shape = next(iter(pages)).shape
    total, count = np.zeros(shape), np.zeros(shape, dtype=np.intp)
    for page in pages:
        there = np.isfinite(page)
        total += np.where(there, page, 0.0)
        count += there
    with np.errstate(invalid="ignore"):  # nan where no page reaches
        return Mean(np.asarray(total / count, dtype=np.float64), count == len(pages))


def drift(pages: Collection[Array], mean: Mean) -> Drift:
    """Whether a stack without times, of that mean, still changes too much to be averaged.

    Pixels are grouped by temperature; a straight line is laid through each group's mean over the pages. The stack
    drifts if the largest change from first to last page is above ¼ K and above four times its uncertainty.
    """
    count = len(pages)
    if count < 2:
        return Drift(0.0, 0.0, False)
    series = _group_means(pages, mean)
    time = np.arange(count) - (count - 1) / 2.0
    change = (series - series.mean(axis=0)).T @ time / float(time @ time) * (count - 1)
    if count >= 5:
        second = series[2:] - 2.0 * series[1:-1] + series[:-2]
        scatter = np.maximum(MAD_TO_SIGMA * np.median(np.abs(second), axis=0) / math.sqrt(6.0), 0.01)
    else:
        scatter = np.full(change.shape, _PAGE_JITTER_C)
    u = scatter * math.sqrt(12.0 * (count - 1) / (count * (count + 1)))
    most = int(np.argmax(np.abs(change)))
    drifts = bool(np.any((np.abs(change) > _DRIFT_C) & (np.abs(change) > _DRIFT_SIGMAS * u)))
    return Drift(float(change[most]), float(u[most]), drifts)


def _group_means(pages: Collection[Array], mean: Mean) -> Array:
    """(pages, groups): means over pixels of like temperature, those that every page reaches."""
    order = np.argsort(mean.temperature_c[mean.everywhere], kind="stable")
    groups = [part for part in np.array_split(order, _GROUPS) if part.size]
    return np.array([[page[mean.everywhere][part].mean(dtype=np.float64) for part in groups] for page in pages])


def _gradient(page: Array) -> NDArray[np.float32]:
    """Gradient magnitude, scaled so that one hot part does not rule."""
    down, right = np.gradient(page)
    size = np.hypot(down, right)
    typical = float(np.quantile(size, 0.9)) or 1.0
    return np.ascontiguousarray(size / (size + typical), dtype=np.float32)


def _agreement(reference: NDArray[np.float32], moved: Array) -> float:
    """Correlation of two gradient pictures where both are known."""
    both = np.isfinite(moved)
    if both.sum() < 0.3 * both.size:
        return -1.0
    one, other = reference[both] - reference[both].mean(), moved[both] - moved[both].mean()
    return float((one * other).sum() / max(math.sqrt(float((one**2).sum() * (other**2).sum())), 1e-30))


def _places(matrix: Array, rows: int, cols: int, step: int = 1) -> Array:
    """Where each pixel of the reference is found on the page: matrix · (x, y, 1), (rows, cols, 2); every so many."""
    x, y = np.arange(0, cols, step, dtype=np.float64), np.arange(0, rows, step, dtype=np.float64)[:, None]
    return np.stack([along * x + across * y + start for along, across, start in matrix], axis=-1)
