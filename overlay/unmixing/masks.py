"""What outlines look like through blur and pixels, and how that changes when they move.

The share of a pixel that a polygon fills, seen through a Gaussian and the pixel's own square, is an integral over
the polygon; by Green's theorem it is one along its edges, of functions that are separable in x and y:

    C(p, q)  = ∮ K(x − p)·k(y − q) dy,          k = Gaussian ⊗ square, K its integral
    δC(p, q) = ∮ k(x − p)·k(y − q)·(v × dr),    for vertices that move with velocity v
    ∂C/∂σ    = σ·∮ (k′(x − p)·k(y − q) dy − k(x − p)·k′(y − q) dx),   the heat equation

So a part and all its derivatives are a few small matrix products over nodes along its edges: exact, smooth, and
without a mask of sub-pixels. All lengths are in pixels; pixel (p, q) = (column, row) has its centre there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Index, read_only, runs

Float32 = NDArray[np.float32]
"""Shares of pixels and what changes them: their rounding is a hundredth of what the nodes leave open."""
Real = TypeVar("Real", np.float32, np.float64)
Places = NDArray[np.int32]
"""Places in arrays, as sparse matrices keep them too."""

SHARPEST_PX = 0.2
"""Smallest standard deviation of the blur that is drawn; a sharper one is not told from it through a square pixel."""
_NODES = 4  # Gauss–Legendre nodes on a piece of an edge …
_PIECE_SIGMAS = 3.2  # … and the longest piece, in standard deviations of blur and pixel together
_NODE, _WEIGHT = np.polynomial.legendre.leggauss(_NODES)
_FINE = 512  # places between two pixels; a first-order step from the nearest leaves 1e-6 of a kernel
_TAIL_SIGMAS = 7.0  # beyond, a kernel is nothing in 32 bits


@dataclass(frozen=True, slots=True, eq=False)
class Nodes:
    """Quadrature nodes along edges, all arrays (t,): where, and which edge at which share of it."""

    x: Array
    y: Array
    dx: Array  # tangent times weight
    dy: Array
    edge: Index
    share: Array  # 0…1 along the edge
    weight: Array  # of the edge's length; they sum to one

    def __post_init__(self) -> None:
        read_only(self)


def edge_nodes(start_px: Array, end_px: Array, sigma_px: float) -> Nodes:
    """Nodes on edges (e, 2) → (e, 2), fine enough for a blur of that standard deviation and the pixel's square."""
    along = end_px - start_px
    longest = _PIECE_SIGMAS * np.hypot(max(sigma_px, SHARPEST_PX), 0.29)
    pieces = np.maximum(np.ceil(np.hypot(along[:, 0], along[:, 1]) / longest), 1.0).astype(np.intp)
    edge = np.repeat(np.arange(len(pieces)), pieces)
    number = runs(0, pieces)
    share = ((number[:, None] + 0.5 * (_NODE + 1.0)) / pieces[edge][:, None]).ravel()
    weight = (np.broadcast_to(0.5 * _WEIGHT, (len(edge), _NODES)) / pieces[edge][:, None]).ravel()
    edge = np.repeat(edge, _NODES)
    place = start_px[edge] + along[edge] * share[:, None]
    step = along[edge] * weight[:, None]
    return Nodes(place[:, 0], place[:, 1], step[:, 0], step[:, 1], edge, share, weight)


@dataclass(frozen=True, slots=True, eq=False)
class Kernels:
    """Kernels of one blur on a fine raster of places: k, its derivative k′ and its integral K.

    Each is ``_FINE`` rows in one array (``_FINE``·length,). A row holds the values that a node so far beyond a pixel
    gives to all pixels around, side by side: at its entry ``middle`` to the pixel itself.
    """

    sigma_px: float
    length: int
    middle: int
    once: Float32
    slope: Float32
    whole: Float32

    def __post_init__(self) -> None:
        read_only(self)


def kernels(sigma_px: float, widest: int) -> Kernels:
    """The kernels of a blur, for windows of no more than ``widest`` pixels."""
    from scipy.special import ndtr

    sigma = max(sigma_px, SHARPEST_PX)
    tail = math.ceil(_TAIL_SIGMAS * sigma + 0.5)
    middle = widest + tail + 1
    offset = np.arange(tail + 1, -tail - 2, -1)
    z = (np.arange(_FINE)[:, None] / _FINE + np.append(offset, -tail - 2) + 0.5) / sigma
    below, density = ndtr(z), np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi)
    integral = sigma * (z * below + density)
    near = slice(middle - tail - 1, middle + tail + 2)

    def rows(values: Array, before: float) -> Float32:
        out = np.zeros((_FINE, 2 * middle + 1), dtype=np.float32)
        out[:, : near.start] = before
        out[:, near] = values[:, :-1] - values[:, 1:]
        return out.ravel()

    return Kernels(sigma, 2 * middle + 1, middle, rows(below, 0.0), rows(density / sigma, 0.0), rows(integral, 1.0))


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Where nodes (2, n, t) lie in windows, by columns and rows, as `Kernels` count places."""

    at: Places  # where the run of entries begins that belong to a window's columns or rows, whichever are more …
    rest: Float32  # (2, n, t, 1) … and how far the node is beyond that place
    shape: tuple[int, int]  # of the windows

    def __post_init__(self) -> None:
        read_only(self)


def located(kernels: Kernels, place: Array) -> tuple[Places, Places, Float32]:
    """Places as `Kernels` count them: the pixel, where the row of entries begins, and how far they lie beyond that.

    So the run for pixels from p on begins ``kernels.middle`` − pixel + p after its row.
    """
    near = np.rint(place * _FINE).astype(np.int32)
    return near // _FINE, near % _FINE * np.int32(kernels.length), (place - near / _FINE).astype(np.float32)


def sampled(kernels: Kernels, nodes: Placed) -> tuple[Float32, Float32]:
    """k and k′ of nodes for columns and rows, (2, n, t, the longer side of the windows)."""
    longer = max(nodes.shape)
    slope = _runs(kernels.slope, longer)[nodes.at]
    once = _runs(kernels.once, longer)[nodes.at]
    once += slope * nodes.rest
    return once, slope


def shares(kernels: Kernels, nodes: Placed, dy: Float32) -> Float32:
    """Coverage (n, h, w) of polygons, whose nodes have ``dy`` (n, t)."""
    h, w = nodes.shape
    once, _ = sampled(kernels, nodes)
    whole = _runs(kernels.whole, w)[nodes.at[0]]
    whole += once[0, ..., :w] * nodes.rest[0]
    return np.asarray((once[1, ..., :h] * dy[:, :, None]).transpose(0, 2, 1) @ whole)


def changed(kernels: Kernels, nodes: Placed, flux: Float32, run: tuple[Float32, Float32] | None) -> Float32:
    """Change of coverage (n, g, h, w) for nodes that sweep ``flux`` = v_x·dy − v_y·dx, (n, g, t).

    With the nodes' ``run``, dx and dy (n, t), the derivative by the blur's standard deviation comes last.
    """
    (h, w), (n, g, t) = nodes.shape, flux.shape
    once, slope = sampled(kernels, nodes)
    weighted = np.empty((n, g if run is None else g + 1, h, t), dtype=np.float32)  # nodes last: the longest runs
    rows = np.ascontiguousarray(once[1, ..., :h].transpose(0, 2, 1))
    np.multiply(flux[:, :, None], rows[:, None], out=weighted[:, :g])
    if run is not None:
        dx, dy = (kernels.sigma_px * along for along in run)
        np.multiply(slope[1, ..., :h].transpose(0, 2, 1), -dx[:, None], out=weighted[:, g])
    change: Float32 = (weighted.reshape(n, -1, t) @ once[0, ..., :w]).reshape(n, -1, h, w)
    if run is not None:
        change[:, g] += (rows * dy[:, None]) @ slope[0, ..., :w]
    return change


def _runs(values: Float32, width: int) -> Float32:
    """Every run of ``width`` neighbours, without a copy."""
    return np.ndarray((len(values) - width + 1, width), values.dtype, values, strides=2 * values.strides)
