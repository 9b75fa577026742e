"""From what was read off captures to what a fit of the heat goes by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array
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
_SAME_PLACE_MM, _LEAST_COMPARED = 1.5, 50


@dataclass(frozen=True, slots=True, eq=False)
class Capture:
    """One capture as it was read, and what was told of its load."""

    name: str
    view: View
    reading: FrameReading
    load: float  # of this state over the required one, as far as it is told; only equal ones are compared
    input_power_w: float | None = None
    input_power_u_w: float = 0.0


def states_of(captures: Sequence[Capture]) -> list[list[Capture]]:
    """Captures of one state together: the two sides of the board at one load, as far as their frames agree.

    A board is thin: its sides differ by a kelvin or two where they are bare. What was told of the loads may be nothing,
    so each bottom goes with the top whose board is most like its own, and stays alone where none is alike.
    """
    boards = [_bare_board(capture) for capture in captures]
    tops = [i for i, capture in enumerate(captures) if capture.view.registration.side == "top"]
    states = {i: [captures[i]] for i in tops}
    for i, capture in enumerate(captures):
        if i in states:
            continue
        off = {j: _unlike(captures[j], boards[j], capture, boards[i]) for j in tops if len(states[j]) == 1}
        best = min(off, key=lambda j: (off[j], j), default=None)
        if best is not None and off[best] <= 1.0:
            states[best].append(capture)
        else:
            states[i] = [capture]
    return [states[i] for i in sorted(states)]


def _unlike(one: Capture, one_board: tuple[Array, Array], other: Capture, other_board: tuple[Array, Array]) -> float:
    """How much two sides' boards differ, over what two sides of one board may; infinite where nothing is compared."""
    from scipy.spatial import cKDTree

    told_alike = one.load == other.load and one.input_power_w == other.input_power_w
    places, rise = one_board
    if not told_alike or abs(one.view.ambient_c - other.view.ambient_c) > _SAME_AMBIENT_K or not len(places):
        return float("inf")
    away, near = cKDTree(places).query(other_board[0], distance_upper_bound=_SAME_PLACE_MM)
    both = np.isfinite(away)
    if both.sum() < _LEAST_COMPARED:
        return float("inf")
    here, there = rise[np.asarray(near)[both]], other_board[1][both]
    allowed = np.maximum(_SIDES_K, _SIDES_SHARE * np.maximum(np.abs(here), np.abs(there)))
    return float(np.median(np.abs(here - there) / allowed))


def seen_state(captures: Sequence[Capture]) -> SeenState:
    """Bodies and bare board of one state, from its captures."""
    bodies: list[SeenBody] = []
    places, rises = [np.zeros((0, 2))], [np.zeros(0)]
    for capture in captures:
        named = {component.refdes: component for component in capture.view.board.components}
        for reading in capture.reading.readings:
            body = seen_body(named[reading.refdes], reading, capture.view.ambient_c)
            if body is not None:
                bodies.append(body)
        place, rise = _bare_board(capture)
        places.append(place)
        rises.append(rise)
    first = captures[0]
    return SeenState(
        captures=tuple(capture.name for capture in captures),
        bodies=tuple(bodies),
        places_mm=np.concatenate(places),
        rise_k=np.concatenate(rises),
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


def _bare_board(capture: Capture) -> tuple[Array, Array]:
    """Places (n, 2) and rises (n,) of the bare board in one frame."""
    bare_c = capture.reading.bare_c
    if bare_c is None:
        return np.zeros((0, 2)), np.zeros(0)
    row, col = np.nonzero(np.isfinite(bare_c))
    every = max(len(row) // _MOST_PIXELS, 1)
    row, col = row[::every], col[::every]
    places = board_from_pixels(capture.view.registration, np.column_stack([col, row]).astype(np.float64))
    good = np.isfinite(places).all(axis=1)
    return places[good], bare_c[row, col][good] - capture.view.ambient_c
