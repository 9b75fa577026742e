"""Windows of the frame with each body's shares of the pixels, and the changes its unknowns would make there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, read_only
from overlay.unmixing.masks import Nodes, blurred, edge_nodes, kernels, moved, shares
from overlay.unmixing.rings import CAP, GROUPS, HULL, TOP, WALL
from overlay.unmixing.solids import Outlines, Solids

CHANGES = 7
"""Changes drawn, in this order: shift in x and y, length, width, cap share, pad factor, blur."""
DX, DY, LENGTH, WIDTH, CAP_CHANGE, PAD_CHANGE, BLUR = range(CHANGES)
_MOST_WORK = 1_000_000  # numbers in the largest temporary array


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """One body in the frame: rows and columns from (top, left) on, inside the frame."""

    top: int
    left: int
    share: Array  # (GROUPS, h, w)
    change: Array  # (CHANGES, h, w) of the picture, radiance per unit; empty without contrast

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def slices(self) -> tuple[slice, slice]:
        h, w = self.share.shape[1:]
        return slice(self.top, self.top + h), slice(self.left, self.left + w)


def nodes_of(bodies: Solids, outlines: Outlines, sigma_px: float) -> Nodes:
    """Nodes on all edges, each ring running so that its area counts positive."""
    nodes = edge_nodes(outlines.start, outlines.end, sigma_px)
    sense = outlines.sense[nodes.edge]
    return Nodes(nodes.x, nodes.y, nodes.dx * sense, nodes.dy * sense, nodes.edge, nodes.share)


def draw(
    bodies: Solids, outlines: Outlines, nodes: Nodes, contrast: Array | None, sigma_px: float, shape_px: tuple[int, int]
) -> list[Window]:
    """Draw all bodies.

    Parameters
    ----------
    contrast : (t,) or None
        At every node the radiance of its ring's surface less that of what would be seen without the ring.
        None: no changes are drawn.
    """
    n = len(bodies)
    body = bodies.rings.body[nodes.edge]
    reach = 3.4 * np.hypot(max(sigma_px, 0.2), 0.29) + 0.5
    low = np.full((n, 2), np.inf)
    high = np.full((n, 2), -np.inf)
    np.minimum.at(low, bodies.rings.body, outlines.start)
    np.maximum.at(high, bodies.rings.body, outlines.start)
    limit = np.array([shape_px[1], shape_px[0]])
    first = np.clip(np.floor(low - reach), 0, limit - 1).astype(np.intp)
    last = np.clip(np.ceil(high + reach), first, limit - 1).astype(np.intp)
    span = last - first + 1
    count = np.bincount(body, minlength=n)
    begin = np.concatenate([[0], np.cumsum(count)[:-1]])
    assert np.all(np.diff(body) >= 0)
    keys = np.stack([_step(span[:, 0]), _step(span[:, 1]), _step(count)], axis=1)
    windows: list[Window | None] = [None] * n
    classes, member = np.unique(keys, axis=0, return_inverse=True)
    for number, (w, h, t) in enumerate(classes):
        these = np.flatnonzero(member.ravel() == number)
        columns_at_once = max(int(_MOST_WORK // (max(GROUPS, CHANGES) * max(w, h) * t)), 1)
        for chunk in np.array_split(these, -(-len(these) // columns_at_once)):
            _draw_class(
                bodies,
                outlines,
                nodes,
                contrast,
                sigma_px,
                chunk,
                (int(w), int(h), int(t)),
                first,
                span,
                begin,
                count,
                windows,
            )
    return [window for window in windows if window is not None]


def _step(size: Index) -> Index:
    """Round sizes up to a few classes, a quarter of an octave apart."""
    octave = np.exp2(np.floor(np.log2(np.maximum(size, 1))) - 2.0)
    step = np.maximum(octave, 2.0)
    return np.asarray(np.ceil(size / step) * step, dtype=np.intp)


def _draw_class(
    bodies: Solids,
    outlines: Outlines,
    nodes: Nodes,
    contrast: Array | None,
    sigma_px: float,
    these: Index,
    size: tuple[int, int, int],
    first: Index,
    span: Index,
    begin: Index,
    count: Index,
    windows: list[Window | None],
) -> None:
    """Draw bodies of one class, w × h pixels and t nodes each, padded with nodes of no weight."""
    w, h, t = size
    take = begin[these][:, None] + np.minimum(np.arange(t), count[these][:, None] - 1)
    real = np.arange(t) < count[these][:, None]
    x, y = nodes.x[take], nodes.y[take]
    dx, dy = np.where(real, nodes.dx[take], 0.0), np.where(real, nodes.dy[take], 0.0)
    edge = nodes.edge[take]
    group = bodies.rings.group[edge]
    columns = kernels(x, first[these, 0], w, sigma_px)
    rows = kernels(y, first[these, 1], h, sigma_px)
    present = np.unique(group)
    share = np.zeros((len(these), GROUPS, h, w))
    member = (group[:, None, :] == present[None, :, None]) * dy[:, None, :]
    share[:, present] = shares(columns, rows, member)
    if share[:, HULL].any():  # what is left of the silhouette is walls
        wall = share[:, HULL] - share[:, TOP] - share[:, CAP]
        there = np.any(share[:, HULL] > 0, axis=(1, 2), keepdims=True)
        share[:, WALL] = np.where(there, np.maximum(wall, 0.0), share[:, WALL])
    change = np.zeros((len(these), 0, h, w))
    if contrast is not None:
        value = contrast[take]
        ends = outlines.speeds[edge]  # (n, t, 2, 4, 2)
        along = nodes.share[take][:, :, None, None]
        speed = ends[:, :, 0] * (1.0 - along) + ends[:, :, 1] * along
        flux = np.empty((len(these), 6, t))
        flux[:, DX], flux[:, DY] = dy, -dx
        flux[:, 2:] = (speed[..., 0] * dy[:, :, None] - speed[..., 1] * dx[:, :, None]).transpose(0, 2, 1)
        change = np.empty((len(these), CHANGES, h, w))
        change[:, :BLUR] = moved(columns, rows, flux * value[:, None, :])
        change[:, BLUR] = blurred(columns, rows, (dx * value)[:, None], (dy * value)[:, None], sigma_px)[:, 0]
    for k, i in enumerate(these):
        sw, sh = span[i]
        windows[i] = Window(int(first[i, 1]), int(first[i, 0]), share[k, :, :sh, :sw], change[k, :, :sh, :sw])
