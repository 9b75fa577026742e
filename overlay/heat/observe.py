"""From what was read off captures to what a fit of the heat goes by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, read_only
from overlay.board.model import Component
from overlay.heat.seen import SeenBody, SeenState
from overlay.reading.model import FrameReading, Reading
from overlay.reading.standing_out import own_u_c
from overlay.registration.project import board_from_pixels
from overlay.view.model import View

_MOST_PIXELS = 20_000  # of bare board that are asked for their place
_SAME_AMBIENT_K = 1.5  # what a bench drifts by between two frames of one load
_USUAL_HEIGHT_MM = 1.0  # of a part whose height no table tells: most moulded packages (common practice)
# Two sides of one board at one load differ by no more than this where both are bare, a camera's own error included.
_SIDES_K, _SIDES_SHARE = 2.5, 0.15
_SAME_PLACE_MM, _LEAST_COMPARED, _MOST_COMPARED = 1.5, 50, 2000  # more places do not move a median


@dataclass(frozen=True, slots=True, eq=False)
class Capture:
    """One capture as it was read, and what was told of its load."""

    name: str
    view: View
    reading: FrameReading
    load: float  # of this state over the required one, as far as it is told; only equal ones are compared
    input_power_w: float | None = None
    input_power_u_w: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class BareBoard:
    """What one capture shows of the bare board."""

    capture: Capture
    places_mm: Array  # (n, 2)
    rise_k: Array  # (n,)

    def __post_init__(self) -> None:
        read_only(self)


def states_of(captures: Sequence[Capture]) -> list[SeenState]:
    """What is seen of each state: the two sides of the board at one load, as far as their frames agree.

    A board is thin: its sides differ by a kelvin or two where they are bare. What was told of the loads may be nothing,
    so each bottom goes with the top whose board is most like its own, and stays alone where none is alike.
    """
    boards = [_bare_board(capture) for capture in captures]
    states = {i: [board] for i, board in enumerate(boards) if board.capture.view.registration.side == "top"}
    tops = list(states)
    for i, board in enumerate(boards):
        if i in states:
            continue
        off = {j: _unlike(boards[j], board) for j in tops if len(states[j]) == 1}
        best = min(off, key=lambda j: (off[j], j), default=None)
        if best is not None and off[best] <= 1.0:
            states[best].append(board)
        else:
            states[i] = [board]
    return [_seen_state(states[i]) for i in sorted(states)]


def _unlike(one: BareBoard, other: BareBoard) -> float:
    """How much two sides' boards differ, over what two sides of one board may; infinite where nothing is compared."""
    from scipy.spatial import cKDTree

    a, b = one.capture, other.capture
    told_alike = a.load == b.load and a.input_power_w == b.input_power_w
    if not told_alike or abs(a.view.ambient_c - b.view.ambient_c) > _SAME_AMBIENT_K or not len(one.places_mm):
        return float("inf")
    every = max(len(other.places_mm) // _MOST_COMPARED, 1)
    tree = cKDTree(one.places_mm, compact_nodes=False, balanced_tree=False)  # asked only once: built fast
    away, near = tree.query(other.places_mm[::every], distance_upper_bound=_SAME_PLACE_MM)
    both = np.isfinite(away)
    if both.sum() < _LEAST_COMPARED:
        return float("inf")
    here, there = one.rise_k[np.asarray(near)[both]], other.rise_k[::every][both]
    allowed = np.maximum(_SIDES_K, _SIDES_SHARE * np.maximum(np.abs(here), np.abs(there)))
    return float(np.median(np.abs(here - there) / allowed))


def _seen_state(boards: Sequence[BareBoard]) -> SeenState:
    """Bodies and bare board of one state, from its captures."""
    bodies: list[SeenBody] = []
    for capture in (board.capture for board in boards):
        named = {component.refdes: component for component in capture.view.board.components}
        for reading in capture.reading.readings:
            body = seen_body(named[reading.refdes], reading, capture.view.ambient_c)
            if body is not None:
                bodies.append(body)
    first = boards[0].capture
    return SeenState(
        captures=tuple(board.capture.name for board in boards),
        bodies=tuple(bodies),
        places_mm=np.concatenate([board.places_mm for board in boards]),
        rise_k=np.concatenate([board.rise_k for board in boards]),
        ambient_c=first.view.ambient_c,
        input_power_w=first.input_power_w,
        input_power_u_w=first.input_power_u_w,
    )


def seen_body(component: Component, reading: Reading, ambient_c: float) -> SeenBody | None:
    """A part whose own temperature is known, as a body on the plate; None where it or its size is not."""
    body = component.body
    if body is None or not reading.trusted or reading.peak_c is None or reading.u_c is None:
        return None
    mean_c = reading.peak_c if reading.mean_c is None or not reading.by_infrared else reading.mean_c
    return SeenBody(
        refdes=reading.refdes,
        center_mm=component.center_mm,
        size_mm=(body.length_mm, body.width_mm),
        turn_deg=component.rotation_deg,
        height_mm=_USUAL_HEIGHT_MM if component.height_mm is None else component.height_mm,
        rise_k=mean_c - ambient_c,
        u_k=own_u_c(reading) if reading.by_infrared else reading.u_c,
    )


def _bare_board(capture: Capture) -> BareBoard:
    bare_c = capture.reading.bare_c
    if bare_c is None:
        return BareBoard(capture, np.zeros((0, 2)), np.zeros(0))
    row, col = np.nonzero(np.isfinite(bare_c))
    every = max(len(row) // _MOST_PIXELS, 1)
    row, col = row[::every], col[::every]
    places = board_from_pixels(capture.view.registration, np.column_stack([col, row]).astype(np.float64))
    good = np.isfinite(places).all(axis=1)
    return BareBoard(capture, places[good], bare_c[row, col][good] - capture.view.ambient_c)
