"""Priors as normal equations, and the solution with a few unknowns that touch everything."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.board import anatomy
from overlay.unmixing import priors
from overlay.unmixing.board import board_prior
from overlay.unmixing.picture import Mixture
from overlay.unmixing.state import State

if TYPE_CHECKING:
    from scipy.sparse import csc_array, csr_array

_AT_ONCE = 128  # right-hand sides
_NEXT_TO_NOTHING = 1e-6  # of two unknowns' own units: what windows' corners hold; dropping it halves the factor


class _Factor(Protocol):
    def solve(self, right: Array) -> Array: ...


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """Inverse covariance (unknowns, unknowns) and middle (unknowns,) of what is believed beforehand."""

    precision: csr_array
    middle: Array

    def __post_init__(self) -> None:
        read_only(self)


def prior_of(
    mixture: Mixture, k_in_radiance: float, above_room: float, wide: Array, sigma_px: float, sigma_u: float
) -> Prior:
    """All priors of a frame.

    Parameters
    ----------
    k_in_radiance
        Radiance of one kelvin at the frame's typical temperature.
    above_room
        Radiance of the board's typical place less that of the room it mirrors.
    wide : (n,)
        Factor on the width of a part's prior about the board.
    sigma_px, sigma_u
        Blur and its relative uncertainty.
    """
    from scipy.sparse import block_diag, coo_array, csr_array

    bodies, field, layout = mixture.bodies, mixture.field, mixture.layout
    knots = field.knots
    middle = np.zeros(layout.count)
    width = np.full(layout.count, np.inf)

    def own(places: Index, mean: Array | float, u: Array | float) -> None:
        there = places >= 0
        middle[places[there]] = np.broadcast_to(mean, places.shape)[there]
        width[places[there]] = np.broadcast_to(u, places.shape)[there]

    own(layout.mirrored, 0.0, np.hypot(priors.REFLECTED_K * k_in_radiance, priors.MIRRORED_BOARD_U * above_room))
    own(layout.leads, priors.LEAD_SHARE, priors.LEAD_SHARE_U)
    own(layout.bows, priors.BOW, priors.BOW_U)
    own(layout.walls, priors.WALL_SHARE, priors.WALL_SHARE_U)
    own(layout.shift, 0.0, bodies.shift_u_px[:, None])
    own(layout.grown, 0.0, bodies.size_u_mm)
    own(np.array([layout.blur]), sigma_px, sigma_u * sigma_px)
    own(np.arange(layout.pose.start, layout.pose.stop), 0.0, 1.0)
    middle[layout.caps], middle[layout.pads] = anatomy.CAP_SHARE, 1.0
    held = np.flatnonzero(np.isfinite(width)).astype(np.intp)
    rows, cols = [held], [held]
    data: list[Array] = [np.asarray(width[held] ** -2.0, dtype=np.float64)]
    for part, common_u, own_u in (
        (layout.caps, priors.CAP_SHARE_U, anatomy.CAP_SHARE_U),
        (layout.pads, priors.PAD_U, priors.PAD_CODE_U),
    ):
        inverse = np.asarray(np.linalg.inv(priors.shared_covariance(bodies.codes, common_u, own_u)), dtype=np.float64)
        r, c = np.indices(inverse.shape)
        rows.append(r.ravel() + part.start)
        cols.append(c.ravel() + part.start)
        data.append(inverse.ravel())
    single = coo_array((np.concatenate(data), (np.concatenate(rows), np.concatenate(cols))), shape=(layout.count,) * 2)
    smooth = block_diag([board_prior(field, k_in_radiance), csr_array((layout.count - knots,) * 2)], format="csr")
    ties = _ties(mixture, k_in_radiance, wide)
    return Prior(csr_array(single.tocsr() + smooth + ties.T @ ties), middle)


def _ties(mixture: Mixture, k_in_radiance: float, wide: Array) -> csr_array:
    """Rows that are 0 ± 1: a part's mean less the board beneath, and neighbouring knots of one face."""
    from scipy.sparse import csr_array

    bodies, layout = mixture.bodies, mixture.layout
    beneath, share = mixture.field.at(bodies.center_mm[:, :2])
    n, first = len(bodies), layout.top.start + layout.tops[:-1]
    pull = 1.0 / (priors.PART_TO_BOARD_K * k_in_radiance * wide)
    body = np.repeat(np.arange(n), np.diff(layout.tops))  # of each knot of a top face
    one, other = [], []  # neighbours on one face
    for along, across in np.unique(bodies.knots, axis=0).tolist():
        numbers = np.arange(along * across).reshape(along, across)
        alike = first[np.all(bodies.knots == (along, across), axis=1)][:, None]
        one += [(alike + numbers[:-1].ravel()).ravel(), (alike + numbers[:, :-1].ravel()).ravel()]
        other += [(alike + numbers[1:].ravel()).ravel(), (alike + numbers[:, 1:].ravel()).ravel()]
    left, right = np.concatenate(one), np.concatenate(other)
    step = np.full(len(left), 1.0 / (priors.KNOT_STEP_K * k_in_radiance))
    row = n + np.arange(len(left))
    data = [(pull / np.diff(layout.tops))[body], (-pull[:, None] * share).ravel(), step, -step]
    rows = [body, np.repeat(np.arange(n), 4), row, row]
    cols = [np.arange(layout.top.start, layout.top.stop), beneath.ravel(), left, right]
    entries = np.concatenate(data), (np.concatenate(rows), np.concatenate(cols))
    return csr_array(entries, shape=(n + len(left), layout.count))


def vector_of(mixture: Mixture, state: State) -> Array:
    """The unknowns as one vector."""
    layout = mixture.layout
    out = np.zeros(layout.count)
    out[layout.board], out[layout.top] = state.board, state.tops
    for places, values in (
        (layout.mirrored, state.mirrored),
        (layout.leads, state.leads),
        (layout.bows, state.bows),
        (layout.walls, state.walls),
        (layout.shift, state.shift_px),
        (layout.grown, state.grown_mm),
    ):
        out[places[places >= 0]] = values[places >= 0]
    out[layout.caps], out[layout.pads] = state.caps, state.pads
    out[layout.blur] = state.sigma_px
    out[layout.pose] = state.pose
    return out


def state_of(mixture: Mixture, vector: Array, before: State) -> State:
    """Back from the vector, within the limits of what is believed at all."""
    layout, bodies = mixture.layout, mixture.bodies

    def taken(places: Index, values: Array) -> Array:
        return np.where(places >= 0, vector[np.maximum(places, 0)], values)

    most = priors.CLIP * bodies.shift_u_px[:, None]
    grown = taken(layout.grown, before.grown_mm)
    grown[bodies.round, 1] = grown[bodies.round, 0]
    return State(
        board=vector[layout.board],
        tops=vector[layout.top],
        mirrored=taken(layout.mirrored, before.mirrored),
        leads=np.clip(taken(layout.leads, before.leads), -0.1, 1.0),
        bows=np.clip(taken(layout.bows, before.bows), -0.3, 0.8),
        walls=np.clip(taken(layout.walls, before.walls), -0.3, 1.3),
        shift_px=np.clip(taken(layout.shift, before.shift_px), -most, most),
        grown_mm=np.clip(grown, -priors.CLIP * bodies.size_u_mm, priors.CLIP * bodies.size_u_mm),
        caps=np.clip(vector[layout.caps], 0.02, 0.4),
        pads=np.clip(vector[layout.pads], 0.02, 3.0),
        sigma_px=float(np.clip(vector[layout.blur], 0.5 * before.sigma_px, 1.6 * before.sigma_px)),
        pose=vector[layout.pose],
    )


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """A factored system: local unknowns by a sparse factor, shared ones bordered."""

    factor: _Factor
    scale: Array  # (local,) every unknown's own unit, which keeps the factor well conditioned
    held: Array  # (shared, local): the local unknowns' answer to each shared one
    shared_covariance: Array  # (shared, shared)
    step: Array  # (unknowns,)

    def __post_init__(self) -> None:
        read_only(self)

    def covariance(self, weights: csr_array, faults: Array, places_px: Array, far_px: float) -> tuple[Array, Array]:
        """Covariance (m, m) of m weighted sums of the unknowns, given as (m, unknowns).

        First as if the shared unknowns were known, then with them and their further variances ``faults`` (shared,).
        Sums that stand ``far_px`` apart in the frame (their ``places_px`` (m, 2)) have only the shared ones in common.
        """
        from scipy.sparse import coo_array, csr_array

        local = len(self.scale)
        own = csr_array(weights[:, :local] * self.scale)  # the product's own form differs between SciPy's versions
        m = own.shape[0]
        # sums that are far from one another are asked for together: what one of them answers near it is its own
        group, near = _apart(places_px, far_px)
        asked = csr_array(coo_array((np.ones(m), (group, np.arange(m)))) @ own)
        answers = np.empty((m, asked.shape[0]))
        for start in range(0, asked.shape[0], _AT_ONCE):
            right = asked[start : start + _AT_ONCE].toarray().T
            answers[:, start : start + _AT_ONCE] = own @ self.factor.solve(right)
        out = np.where(near, answers[:, group], 0.0)
        lever = weights[:, local:].toarray() - own @ self.held.T
        alone = (out + out.T) / 2.0
        shared = lever @ (self.shared_covariance + np.diag(faults)) @ lever.T
        return alone, np.asarray(alone + (shared + shared.T) / 2.0)


def _apart(places_px: Array, far_px: float) -> tuple[Index, Mask]:
    """Groups (m,) of places no two of which are within twice ``far_px``, and which of all are within it (m, m).

    So an answer near one place is ``far_px`` or more from all others of its group. Each place, from left to right, goes
    into the first group that has room for it.
    """
    x, y = places_px.T.astype(np.float32)
    away = np.maximum(np.abs(x[:, None] - x), np.abs(y[:, None] - y))
    group = np.full(len(x), -1, dtype=np.intp)
    for i in np.lexsort((y, x)).tolist():
        free = np.ones(len(x) + 1, dtype=bool)
        free[group[away[i] <= 2.0 * far_px]] = False  # of those not in any group yet: the last, which is never needed
        group[i] = np.argmax(free)
    return group, away <= far_px


@dataclass(frozen=True, slots=True, eq=False)
class Equations:
    """Normal equations: local unknowns among themselves, with the shared ones, and these among themselves."""

    local: csr_array  # (local, local) on and above its diagonal, which has every entry; its columns in order
    border: Array  # (local, shared)
    inner: Array  # (shared, shared)
    right: Array  # (unknowns,)

    def __post_init__(self) -> None:
        read_only(self)


def solve(equations: Equations, right: Array, fixed: Mask) -> Solution:
    """Solve for a step of all unknowns; those that are ``fixed`` (unknowns,) stay where they are.

    Sparse factor of the local unknowns N, border B of the shared ones D: S = D − BᵀN⁻¹B.
    """
    from scipy.sparse.linalg import splu

    local = len(equations.border)
    diagonal = np.concatenate([equations.local.diagonal(), np.diag(equations.inner)])
    scale: Array = np.where(fixed, 0.0, 1.0 / np.sqrt(np.maximum(diagonal, 1e-300)))
    factor = splu(
        _unit(equations.local, scale[:local]),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        relax=1,  # small groups of columns filled up to larger ones cost more here than they save
        options={"SymmetricMode": True},
    )
    border = equations.border * scale[:local, None] * scale[local:]
    right = right * scale
    answers = factor.solve(np.column_stack([border, right[:local]]))
    held, alone = answers[:, :-1], answers[:, -1]
    inner = equations.inner * scale[local:, None] * scale[local:] + np.diag(1.0 * fixed[local:]) - border.T @ held
    inverse = np.linalg.inv((inner + inner.T) / 2.0)
    shared = inverse @ (right[local:] - border.T @ alone)
    step = np.concatenate([alone - held @ shared, shared]) * scale
    outer: Array = np.where(fixed[local:], 1.0, scale[local:])
    return Solution(factor, scale[:local], (held / outer).T, inverse * outer[:, None] * outer, step)


def _unit(upper: csr_array, scale: Array) -> csc_array:
    """The whole of a symmetric matrix with every unknown in its own unit, without what is next to nothing.

    Given on and above its diagonal. An unknown without a scale is held: it has nothing but a one on the diagonal.
    """
    from scipy.sparse import csc_array, csr_array

    data = np.repeat(scale, np.diff(upper.indptr))  # half a million entries: each pass counts
    data *= scale[upper.indices]
    data *= upper.data
    data[upper.indptr[:-1]] = 0.5  # the diagonal comes first in its row, and is met from both sides
    kept = np.flatnonzero(np.abs(data) > _NEXT_TO_NOTHING)
    starts = np.searchsorted(kept, upper.indptr)
    half = csr_array((data[kept], upper.indices[kept], starts), shape=upper.shape)
    return csc_array((half + half.T).T)  # as good as it, and already by columns
