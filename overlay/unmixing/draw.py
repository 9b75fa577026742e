"""Windows of the frame with each body's shares of the pixels, and how its unknowns would change them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Index, read_only
from overlay.unmixing.masks import Nodes, blurred, edge_nodes, kernels, moved, shares
from overlay.unmixing.rings import CAP, GROUPS, HULL, TOP, WALL
from overlay.unmixing.solids import Outlines, Solids

CHANGES = 11
"""Changes drawn, in this order: shift in x and y, length, width, cap share, pad factor, skew along x and y, lean (shift
of the foot, the top staying) in x and y, blur."""
DX, DY, LENGTH, WIDTH, CAP_CHANGE, PAD_CHANGE, SKEW_X, SKEW_Y, LEAN_X, LEAN_Y, BLUR = range(CHANGES)
BY_POSE = (DX, DY, LENGTH, WIDTH, SKEW_X, SKEW_Y, LEAN_X, LEAN_Y)
"""The changes that the pose makes, in the order of `Solids.moved_by_pose`; the smallest bodies only shift."""
_MOST_WORK = 1_000_000  # numbers in the largest temporary array: 8 MB, about what a processor's cache holds
_REACH_SIGMAS = 3.4  # a Gaussian's tail beyond holds less than a thousandth


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """One body in the frame: rows and columns from (top, left) on, inside the frame."""

    top: int
    left: int
    share: Array  # (GROUPS, h, w)
    groups: tuple[int, ...]  # the kinds of ring whose changes were drawn …
    change: NDArray[np.float32]  # (kinds, CHANGES, h, w) … and the change of their shares per unit of each unknown:
    # a step's direction needs no more digits, and these arrays are most of the memory

    def __post_init__(self) -> None:
        read_only(self)

    def without_changes(self) -> Window:
        return replace(self, groups=(), change=np.zeros((0, *self.change.shape[1:])))

    @property
    def slices(self) -> tuple[slice, slice]:
        h, w = self.share.shape[1:]
        return slice(self.top, self.top + h), slice(self.left, self.left + w)


def nodes_of(solids: Solids, outlines: Outlines, sigma_px: float) -> Nodes:
    """Nodes on all edges, each ring running so that its area counts positive."""
    nodes = edge_nodes(outlines.start, outlines.end, sigma_px)
    sense = outlines.sense[nodes.edge]
    return Nodes(nodes.x, nodes.y, nodes.dx * sense, nodes.dy * sense, nodes.edge, nodes.share)


@dataclass(frozen=True, slots=True, eq=False)
class _Units:
    """What is drawn at once: all rings of one kind of one body. Nodes are sorted by unit."""

    outlines: Outlines
    nodes: Nodes
    body: Index  # (units,)
    group: Index
    begin: Index  # first node of each unit
    count: Index
    first: Index  # (bodies, 2) first column and row of each body's window
    sigma_px: float
    wanted: Array  # (bodies, CHANGES) which changes a body has unknowns for, else zero

    def classes(self, span: Index) -> list[tuple[Index, tuple[int, int, int]]]:
        """Units of about one size with their common (w, h, nodes), in lots that a cache holds."""
        keys = np.stack([_step(span[self.body, 0]), _step(span[self.body, 1]), _step(self.count)], axis=1)
        classes, member = np.unique(keys, axis=0, return_inverse=True)
        lots: list[tuple[Index, tuple[int, int, int]]] = []
        for number, (w, h, t) in enumerate(classes):
            these = np.flatnonzero(member.ravel() == number)
            at_once = max(int(_MOST_WORK // (CHANGES * max(w, h) * t)), 1)
            lots += [(lot, (int(w), int(h), int(t))) for lot in np.array_split(these, -(-len(these) // at_once))]
        return lots


def draw(solids: Solids, outlines: Outlines, sigma_px: float, shape_px: tuple[int, int]) -> list[Window]:
    """Draw all bodies, and how each would change."""
    n = len(solids)
    reach = _REACH_SIGMAS * np.hypot(max(sigma_px, 0.2), 0.29) + 0.5
    low, high = np.full((n, 2), np.inf), np.full((n, 2), -np.inf)
    np.minimum.at(low, solids.rings.body, outlines.start)
    np.maximum.at(high, solids.rings.body, outlines.start)
    limit = np.array([shape_px[1], shape_px[0]])
    first = np.clip(np.floor(low - reach), 0, limit - 1).astype(np.intp)
    span = np.clip(np.ceil(high + reach), first, limit - 1).astype(np.intp) - first + 1
    units = _units(solids, outlines, nodes_of(solids, outlines, sigma_px), first, sigma_px)
    share = [np.zeros((GROUPS, int(h), int(w))) for w, h in span]
    before = np.searchsorted(units.body, np.arange(n + 1))  # units are sorted by body
    change = [
        np.zeros((int(k), CHANGES, int(h), int(w)), dtype=np.float32)
        for k, (w, h) in zip(np.diff(before), span, strict=True)
    ]
    for lot, size in units.classes(span):
        drawn, changed = _draw_units(units, lot, size)
        for k, unit in enumerate(lot):
            body = int(units.body[unit])
            w, h = span[body]
            share[body][units.group[unit]] = drawn[k, :h, :w]
            change[body][unit - before[body]] = changed[k, :, :h, :w]
    windows = []
    for i in range(n):
        if solids.walled[i]:
            share[i][WALL] = share[i][HULL] - share[i][TOP] - share[i][CAP]  # what is left of the silhouette is walls
        groups = tuple(units.group[before[i] : before[i + 1]].tolist())
        windows.append(Window(int(first[i, 1]), int(first[i, 0]), share[i], groups, change[i]))
    return windows


def _units(solids: Solids, outlines: Outlines, nodes: Nodes, first: Index, sigma_px: float) -> _Units:
    """Sort the nodes by body and kind of ring."""
    owner = solids.rings.body[nodes.edge] * GROUPS + solids.rings.group[nodes.edge]
    order = np.argsort(owner, kind="stable")
    unit, begin, count = np.unique(owner[order], return_index=True, return_counts=True)
    wanted = np.ones((len(solids), CHANGES))
    wanted[:, LENGTH] = wanted[:, WIDTH] = solids.resized.any(axis=1) | solids.deformed
    wanted[:, CAP_CHANGE] = wanted[:, PAD_CHANGE] = solids.code >= 0
    wanted[:, [SKEW_X, SKEW_Y, LEAN_X, LEAN_Y]] = solids.deformed[:, None]
    return _Units(
        outlines=outlines,
        nodes=nodes.taken(order),
        body=unit // GROUPS,
        group=unit % GROUPS,
        begin=begin.astype(np.intp),
        count=count.astype(np.intp),
        first=first,
        sigma_px=sigma_px,
        wanted=wanted,
    )


def _draw_units(units: _Units, these: Index, size: tuple[int, int, int]) -> tuple[Array, Array]:
    """Shares (m, h, w) of units of one class, padded with nodes of no weight, and their changes (m, CHANGES, h, w)."""
    w, h, t = size
    take = units.begin[these][:, None] + np.minimum(np.arange(t), units.count[these][:, None] - 1)
    real = np.arange(t) < units.count[these][:, None]
    nodes, first = units.nodes, units.first[units.body[these]]
    dx, dy = np.where(real, nodes.dx[take], 0.0), np.where(real, nodes.dy[take], 0.0)
    columns = kernels(nodes.x[take], first[:, 0], w, units.sigma_px, whole=True)
    rows = kernels(nodes.y[take], first[:, 1], h, units.sigma_px, whole=False)
    share = shares(columns, rows, dy[:, None])[:, 0]
    change = np.zeros((len(these), CHANGES, h, w))
    ends = units.outlines.speeds[nodes.edge[take]]  # (m, t, 2, 8, 2)
    along = nodes.share[take][:, :, None, None]
    speed = ends[:, :, 0] * (1.0 - along) + ends[:, :, 1] * along
    swept = (speed[..., 0] * dy[:, :, None] - speed[..., 1] * dx[:, :, None]).transpose(0, 2, 1)
    flux = np.concatenate([dy[:, None], -dx[:, None], swept], axis=1)  # (m, 10, t)
    some = np.flatnonzero(np.any(units.wanted[units.body[these], :BLUR] > 0.0, axis=0) & np.any(flux, axis=(0, 2)))
    change[:, some] = moved(columns, rows, flux[:, some])
    change[:, BLUR] = blurred(columns, rows, dx[:, None], dy[:, None], units.sigma_px)[:, 0]
    return share, change


def _step(size: Index) -> Index:
    """Round sizes up to a few classes, a quarter of an octave apart."""
    octave = np.exp2(np.floor(np.log2(np.maximum(size, 1))) - 2.0)
    step = np.maximum(octave, 2.0)
    return np.asarray(np.ceil(size / step) * step, dtype=np.intp)
