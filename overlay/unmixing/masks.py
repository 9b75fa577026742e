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

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, read_only

SHARPEST_PX = 0.2
"""Smallest standard deviation of the blur that is drawn; a sharper one is not told from it through a square pixel."""
_NODES = 4  # Gauss–Legendre nodes on a piece of an edge …
_PIECE_SIGMAS = 3.2  # … and the longest piece, in standard deviations of blur and pixel together
_NODE, _WEIGHT = np.polynomial.legendre.leggauss(_NODES)


@dataclass(frozen=True, slots=True, eq=False)
class Nodes:
    """Quadrature nodes along edges, all arrays (t,) but ``share``: where, and which edge at which share of it."""

    x: Array
    y: Array
    dx: Array  # tangent times weight
    dy: Array
    edge: Index
    share: Array  # 0…1 along the edge

    def __post_init__(self) -> None:
        read_only(self)

    def taken(self, order: Index) -> Nodes:
        """The nodes in another order."""
        return Nodes(self.x[order], self.y[order], self.dx[order], self.dy[order], self.edge[order], self.share[order])


def edge_nodes(start_px: Array, end_px: Array, sigma_px: float) -> Nodes:
    """Nodes on edges (e, 2) → (e, 2), fine enough for a blur of that standard deviation and the pixel's square."""
    along = end_px - start_px
    longest = _PIECE_SIGMAS * np.hypot(max(sigma_px, SHARPEST_PX), 0.29)
    pieces = np.maximum(np.ceil(np.hypot(along[:, 0], along[:, 1]) / longest), 1.0).astype(np.intp)
    edge = np.repeat(np.arange(len(pieces)), pieces)
    number = np.arange(len(edge)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    share = ((number[:, None] + 0.5 * (_NODE + 1.0)) / pieces[edge][:, None]).ravel()
    weight = np.broadcast_to(0.5 * _WEIGHT, (len(edge), _NODES)) / pieces[edge][:, None]
    edge = np.repeat(edge, _NODES)
    place = start_px[edge] + along[edge] * share[:, None]
    step = along[edge] * weight.ravel()[:, None]
    return Nodes(place[:, 0], place[:, 1], step[:, 0], step[:, 1], edge, share)


@dataclass(frozen=True, slots=True, eq=False)
class Kernels:
    """Kernels of n windows' nodes in one axis, each (n, t, width): k, its derivative k′ and, in x, its integral K."""

    once: Array
    slope: Array
    whole: Array | None = None

    def __post_init__(self) -> None:
        read_only(self)


def kernels(place: Array, first: Index, width: int, sigma_px: float, *, whole: bool) -> Kernels:
    """Kernels of nodes at ``place`` (n, t) for pixels ``first`` (n,) … ``first`` + width − 1; ``whole``: K as well."""
    from scipy.special import ndtr

    sigma = max(sigma_px, SHARPEST_PX)
    # in place where it can be: large temporaries cost more than what is worked out in them
    z = place[:, :, None] - (first[:, None, None] + (np.arange(width + 1) - 0.5))
    z *= 1.0 / sigma
    below = np.asarray(ndtr(z), dtype=np.float64)
    density = z * z
    density *= -0.5
    np.exp(density, out=density)
    density *= 1.0 / np.sqrt(2.0 * np.pi)
    once, slope = below[:, :, :-1] - below[:, :, 1:], density[:, :, :-1] - density[:, :, 1:]
    slope *= 1.0 / sigma
    if not whole:
        return Kernels(once, slope)
    z *= below
    z += density
    z *= sigma
    return Kernels(once, slope, z[:, :, :-1] - z[:, :, 1:])


def shares(columns: Kernels, rows: Kernels, dy: Array) -> Array:
    """Coverage of polygons: (n, h, w), or (n, g, h, w) for ``dy`` (n, g, t) that is zero off each polygon's nodes."""
    assert columns.whole is not None
    return _product(rows.once, dy, columns.whole)


def moved(columns: Kernels, rows: Kernels, flux: Array) -> Array:
    """Change of coverage for nodes that sweep ``flux`` = v_x·dy − v_y·dx, (n, g, t)."""
    return _product(rows.once, flux, columns.once)


def blurred(columns: Kernels, rows: Kernels, dx: Array, dy: Array, sigma_px: float) -> Array:
    """Derivative of coverage by the blur's standard deviation; dx and dy (n, g, t)."""
    first = _product(rows.once, dy, columns.slope)
    return np.asarray(max(sigma_px, SHARPEST_PX) * (first - _product(rows.slope, dx, columns.once)))


def _product(rows: Array, weight: Array, columns: Array) -> Array:
    """Σ_t rows (n, t, h)·weight (n, g, t)·columns (n, t, w) as (n, g, h, w)."""
    weighted = rows.transpose(0, 2, 1)[:, None] * weight[:, :, None, :]  # (n, g, h, t)
    n, g, h, t = weighted.shape
    return np.asarray((weighted.reshape(n, g * h, t) @ columns).reshape(n, g, h, -1))
