"""From captures to what is said of every part: makes heat, is heated by others, or nobody can tell.

It explains the map; it never moves a verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from overlay.arrays import Array
from overlay.heat.equations import OFFSET_U_K
from overlay.heat.fit import Fit, fit_heat
from overlay.heat.model import BoardSource, FrameHeat, HeatCall, HeatedBy, PartHeat
from overlay.heat.network import CELL_U_K, RISE_SHARE_U, network_of
from overlay.heat.observe import Capture, states_of
from overlay.heat.plate import plate_of
from overlay.heat.seen import SeenBody, SeenState
from overlay.threads import one_algebra_thread

_H = TypeVar("_H", PartHeat, BoardSource)

MOST_CELLS = 1500  # bounds the time: the algebra grows faster than the cells
MOST_BODIES = 120
"""Bodies that are fitted: on denser boards those that stand out most. What the others make is too little to be told."""

SURE = 1.64  # standard uncertainties of a one-sided probability of 95 %
SOURCE_K = 1.5  # own rise beyond which a part is called a source
HEATED_K, HEATED_SHARE = 3.0, 0.25  # own rise, or share of the whole, below which it is heated by others
OWED_SHARE_U = 0.10
"""Of what a part owes to others, so much may be its own after all: the board between them is drawn too simply. Tuned on
boards of two layers of copper."""
_LEFT_OUT_SHARE_U = 0.005  # of all heat, that a part may make which stands out less than a hundred others
_LEAST_RISE_K = 3.0  # of a part of which anything is said
_LEAST_PLACES = 30  # several for each number that is fitted of the board
_MOST_RMS_K, _MOST_RMS_SHARE = 1.5, 0.1  # of the bare board about the fit, in K and of its largest rises
_HEATERS, _HEATER_K, _HEATER_SHARE = 3, 0.5, 0.05  # how many are named, and from what rise on


@one_algebra_thread
def work_out_heat(captures: Sequence[Capture]) -> dict[str, FrameHeat]:
    """What makes the heat in each capture of one board, by the capture's name. All are solved together."""
    result: dict[str, FrameHeat] = {}
    usable = []
    for capture in captures:
        why = _unusable(capture)
        if why:
            result[capture.name] = FrameHeat(capture.name, (), (), None, None, (why,))
        else:
            usable.append(capture)
    solvable = []
    for state in states_of(usable):
        why = _unsolvable(state)
        if why:
            result |= {name: FrameHeat(name, (), (), None, None, (why,)) for name in state.captures}
        else:
            solvable.append(state)
    if not solvable:
        return result
    plate = plate_of(usable[0].view.board.outline.polygon, MOST_CELLS)
    fitted = [_most_standing_out(state) for state in solvable]
    networks = [network_of(plate, state) for state in fitted]
    for state, fit in zip(solvable, fit_heat(networks), strict=True):
        for name in state.captures:
            shown = next(capture for capture in usable if capture.name == name).reading.readings
            result[name] = frame_heat(name, fit, state, {reading.refdes for reading in shown if reading.trusted})
    return result


def frame_heat(capture: str, fit: Fit, state: SeenState, refdes: set[str]) -> FrameHeat:
    """What a fit says of the parts that a capture shows."""
    rises = np.percentile(state.rise_k, 95)
    rms = fit.residual_rms_k
    total = float(fit.power.sum())
    if rms > max(_MOST_RMS_K, _MOST_RMS_SHARE * float(rises)) or total <= 0.0:
        why = (
            f"the board's temperatures do not follow from any heat of the listed parts: {rms:.1f} K remain; a wrong "
            "registration, a heat sink or a fan's wind are likely causes"
        )
        untold = tuple(_nothing(body) for body in state.bodies if body.refdes in refdes)
        return FrameHeat(capture, untold, (), None, rms, (why,))
    shares, shares_u = _shares(fit)
    watts = state.input_power_w
    bodies = fit.network.state.bodies
    known = {body.refdes: i for i, body in enumerate(bodies)}
    left_out = [body for body in state.bodies if body.refdes not in known]
    board_k = dict(zip([body.refdes for body in left_out], state.beneath_k(left_out).tolist(), strict=True))
    parts = []
    for body in state.bodies:
        if body.refdes in refdes:
            i = known.get(body.refdes)
            part = _left_out(body, board_k[body.refdes]) if i is None else _part(fit, i, shares, shares_u)
            parts.append(part if watts is None or i is None else _with_watts(part, state))
    sources = [
        BoardSource((float(x), float(y)), float(shares[len(bodies) + g]), float(shares_u[len(bodies) + g]))
        for g, (x, y) in enumerate(fit.patch_mm)
    ]
    if watts is not None:
        sources = [_with_watts(source, state) for source in sources]
    return FrameHeat(capture, tuple(parts), tuple(sources), watts, rms)


def _unusable(capture: Capture) -> str:
    if capture.reading.bare_c is None:
        return "the board was not read"
    if any(reading.last_peak_c is not None for reading in capture.reading.readings):
        return "the board was still warming up: heat stored in it cannot be told from heat made"
    return ""


def _unsolvable(state: SeenState) -> str:
    if not state.bodies:
        return "no part was read"
    if len(state.rise_k) < _LEAST_PLACES:
        return "too little bare board is seen to tell whose heat it carries: come closer"
    return ""


def _most_standing_out(state: SeenState) -> SeenState:
    """The state with the bodies that stand out most from the board around them, where there are too many."""
    if len(state.bodies) <= MOST_BODIES:
        return state
    excess = np.array([body.rise_k for body in state.bodies]) - state.beneath_k(state.bodies)
    kept = set(np.argsort(-excess, kind="stable")[:MOST_BODIES].tolist())
    return replace(state, bodies=tuple(body for i, body in enumerate(state.bodies) if i in kept))


def _shares(fit: Fit) -> tuple[Array, Array]:
    """Share of every heat in the total, and its standard uncertainty."""
    total = float(fit.power.sum())
    share = fit.power / total
    # f = P/ΣP: ∂f/∂P = (1 − f)/ΣP for its own, −f/ΣP for the others'
    by = (np.eye(len(share)) - share[:, None]) / total
    return share, np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", by, fit.covariance, by), 0.0))


def _part(fit: Fit, i: int, shares: Array, shares_u: Array) -> PartHeat:
    body = fit.network.state.bodies[i]
    reach = float(fit.influence[i, i])
    own = reach * float(fit.power[i])
    own_u = _own_rise_u_k(fit, i, own)
    call = HeatCall.CANNOT_TELL
    if body.rise_k >= _LEAST_RISE_K:
        if own - SURE * own_u > SOURCE_K:
            call = HeatCall.MAKES_HEAT
        elif own + SURE * own_u < max(HEATED_K, HEATED_SHARE * body.rise_k):
            call = HeatCall.HEATED
    return PartHeat(body.refdes, call, own, own_u, float(shares[i]), float(shares_u[i]), _heaters(fit, i))


def _own_rise_u_k(fit: Fit, i: int, own_k: float) -> float:
    """Standard uncertainty of what a body warms itself: by its power, or by what others leave of its whole rise.

    The first is good for a body that makes little, the second for one that makes most of its rise: power and
    resistance of it may be wrong, but hardly their product.
    """
    body = fit.network.state.bodies[i]
    owed_k = max(body.rise_k - own_k, 0.0)
    by_power = fit.influence[i, i] * np.sqrt(fit.covariance[i, i])
    others = np.delete(fit.influence[i] * np.sqrt(np.diag(fit.covariance)), i)
    by_rest = np.sqrt(body.u_k**2 + (RISE_SHARE_U * body.rise_k) ** 2 + OFFSET_U_K**2 + float(others @ others))
    return float(np.hypot(min(by_power, by_rest), OWED_SHARE_U * owed_k))


def _heaters(fit: Fit, i: int) -> tuple[HeatedBy, ...]:
    """Who else warms a body, the most first."""
    bodies = fit.network.state.bodies
    rises = fit.influence[i] * fit.power
    least = max(_HEATER_K, _HEATER_SHARE * bodies[i].rise_k)
    others = [j for j in np.argsort(-rises, kind="stable").tolist() if j != i and rises[j] >= least][:_HEATERS]
    result = []
    for j in others:
        x, y = bodies[j].center_mm if j < len(bodies) else fit.patch_mm[j - len(bodies)]
        result.append(HeatedBy(bodies[j].refdes if j < len(bodies) else None, (float(x), float(y)), float(rises[j])))
    return tuple(result)


def _left_out(body: SeenBody, board_k: float) -> PartHeat:
    """A part of a crowded board that stands out too little to be fitted: its step over the board is all there is."""
    own = max(body.rise_k - board_k, 0.0)
    widths = (body.u_k, RISE_SHARE_U * body.rise_k, CELL_U_K, OWED_SHARE_U * max(board_k, 0.0))
    own_u = float(np.linalg.norm(widths))
    heated = body.rise_k >= _LEAST_RISE_K and own + SURE * own_u < max(HEATED_K, HEATED_SHARE * body.rise_k)
    call = HeatCall.HEATED if heated else HeatCall.CANNOT_TELL
    return PartHeat(body.refdes, call, own, own_u, 0.0, _LEFT_OUT_SHARE_U)


def _nothing(body: SeenBody) -> PartHeat:
    """A part of which nothing can be told: all of its rise may be its own, or none."""
    half = 0.5 * max(body.rise_k, 0.0)
    return PartHeat(body.refdes, HeatCall.CANNOT_TELL, half, half, 0.0, 1.0)


def _with_watts(heat: _H, state: SeenState) -> _H:
    """Its share of the measured input power, in watts."""
    watts = state.input_power_w
    assert watts is not None
    u = float(np.hypot(heat.share_u * watts, heat.share * state.input_power_u_w))
    return replace(heat, power_w=heat.share * watts, power_u_w=u)
