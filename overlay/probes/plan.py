"""The thermocouple plan: which parts are worth a contact reading, and where exactly it must be taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.board.model import Component
from overlay.frames.frame import Array
from overlay.frames.sampling import bilinear
from overlay.margin.model import Conditions, Margin
from overlay.probes.model import ProbePlace, ProbePlan
from overlay.probes.place import edge_words, misplacement_cost_k, needs_pad, pad_place_mm, pin_1_words
from overlay.probes.wire import part_wire_share, wire_diameter_mm
from overlay.probes.worth import bits_settled
from overlay.reading.model import Reading
from overlay.registration.model import Face
from overlay.registration.project import pixels_from_board
from overlay.view.model import View

# Below this a reading would settle next to nothing: infrared has said it.
_LEAST_BITS = 0.02
# What is taken of a part that nobody could read: somewhat warmer than the board about it, and hardly known.
_UNREAD_ABOVE_BOARD_K = 5.0
_UNREAD_U_K = 20.0  # its two standard uncertainties reach from ambient to most limits
_BURN_C = 60.0  # common practice
# Beside a chip the board has this share of the chip's rise above its ring, falling to none at this distance (own
# estimate; on simulated boards it meets the truth within some kelvin in fifty).
_AT_THE_EDGE = 0.25
_FALLS_OFF_MM = 1.2
_NOTES = (
    "Keep one more sensor for the local ambient: shielded from radiation, beside and below the board "
    "(common practice).",
    "Type K is meant: its legs conduct far less than the copper of type T. Take the infrared frame first, attach "
    "after. The table's u_c is that of class 2; write your own sensor's.",
)


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """One part as the plan looks at it.

    ``reading``, ``view``, ``surface_c`` and ``conditions`` belong to the capture of its worst case; where no
    capture read it, to the one that saw most of it, or None where none has its side.
    """

    component: Component
    margin: Margin
    reading: Reading | None
    view: View | None
    face: Face | None
    surface_c: Array | None
    conditions: Conditions | None


def plan_probes(
    subjects: Sequence[Subject],
    *,
    channels: int,
    awg: int,
    wanted_margin_c: float,
    ambient_max_c: float,
    wanted: Sequence[str] = (),
) -> ProbePlan:
    """Rank the parts by what a contact reading would settle, and place a bead on the first ``channels`` of them.

    With ``wanted`` a bead is placed on each of these parts, in their order, whatever their verdict.
    """
    if wanted:
        named = {subject.component.refdes: subject for subject in subjects}
        chosen = [named[refdes] for refdes in wanted]
        bits = [_worth(subject, wanted_margin_c, ambient_max_c) for subject in chosen]
        asked = tuple(
            _place(i, bit, subject, awg) for i, (bit, subject) in enumerate(zip(bits, chosen, strict=True), 1)
        )
        return ProbePlan(asked, len(asked), awg, sum(bit >= _LEAST_BITS for bit in bits), _NOTES)
    ranked = sorted(
        ((_worth(subject, wanted_margin_c, ambient_max_c), index) for index, subject in enumerate(subjects)),
        key=lambda item: (-item[0], item[1]),
    )
    worth = [(bits, subjects[index]) for bits, index in ranked if bits >= _LEAST_BITS]
    places = tuple(_place(rank, bits, subject, awg) for rank, (bits, subject) in enumerate(worth[:channels], start=1))
    more = f"{len(worth)} parts are worth a contact reading; the first {channels} are planned."
    return ProbePlan(places, channels, awg, len(worth), (more, *_NOTES) if len(worth) > channels else _NOTES)


def _worth(subject: Subject, wanted_c: float, ambient_max_c: float) -> float:
    margin = subject.margin
    if margin.limit_c is None:
        return 0.0
    if margin.verdict != "unseen" and margin.margin_c is not None and margin.u_c is not None:
        return bits_settled(margin.margin_c, margin.u_c, wanted_c)
    guess = _guess_c(subject)
    if guess is None or subject.conditions is None:
        return bits_settled(margin.limit_c - ambient_max_c - 30.0, 1.5 * _UNREAD_U_K, wanted_c)
    conditions = subject.conditions
    projected = ambient_max_c + (guess - conditions.ambient_c) * conditions.rise_scale
    return bits_settled(margin.limit_c - projected, _UNREAD_U_K * conditions.rise_scale, wanted_c)


def _guess_c(subject: Subject) -> float | None:
    """What a part that infrared could not read may have: a little more than the board around it."""
    if subject.reading is not None and subject.reading.ring_c is not None:
        return subject.reading.ring_c + _UNREAD_ABOVE_BOARD_K
    if subject.surface_c is not None and np.isfinite(subject.surface_c).any():
        return float(np.nanmedian(subject.surface_c)) + _UNREAD_ABOVE_BOARD_K
    return None


def _place(rank: int, bits: float, subject: Subject, awg: int) -> ProbePlace:
    part, reading = subject.component, subject.reading
    trusted = reading is not None and reading.trusted
    centre = np.asarray(part.center_mm, dtype=np.float64)
    if needs_pad(part):
        on, place = "pad", pad_place_mm(part, lambda at: _board_surface_c(subject, at))
    elif part.kind == "electrolytic":
        on, place = "side", centre  # the top of a can is its vent, and bare metal
    else:
        on = "top face"
        place = np.asarray(reading.peak_at_mm) if trusted and reading and reading.peak_at_mm is not None else centre
    expected = reading.peak_c if trusted and reading is not None else _guess_c(subject)
    expected_u = reading.u_c if trusted and reading is not None else _UNREAD_U_K
    if on == "pad" and trusted and reading is not None and reading.mean_c is not None and reading.ring_c is not None:
        # a pad lies between its part and the board around it; where, only the bead can tell
        expected = (reading.mean_c + reading.ring_c) / 2.0
        expected_u = abs(reading.mean_c - reading.ring_c) / 4.0 + (reading.u_c or 0.0)
    ambient = None if subject.conditions is None else subject.conditions.ambient_c
    rise = None if expected is None or ambient is None else expected - ambient
    cost: tuple[float | None, float | None, float | None] = (None, None, None)
    if trusted and expected is not None:
        cost = misplacement_cost_k(expected, place, lambda at: _surface_c(subject, at, with_face=on != "pad"))
    pixel = _pixel(subject, place)
    return ProbePlace(
        rank=rank,
        refdes=part.refdes,
        side=part.side,
        capture=None if subject.conditions is None else subject.conditions.capture,
        on=on,  # type: ignore[arg-type]
        board_mm=(float(place[0]), float(place[1])),
        pixel=pixel,
        from_edges="half-way up its side, away from the vent" if on == "side" else edge_words(part, place),
        from_pin_1="" if on == "side" else pin_1_words(part, place),
        expected_c=expected,
        expected_u_c=expected_u,
        cost_k=cost,
        wire_error_k=None if rise is None else max(rise, 0.0) * part_wire_share(part, rise, wire_diameter_mm(awg)),
        settles=bits,
        reason=_reason(subject),
        cautions=_cautions(part, expected),
    )


def _reason(subject: Subject) -> str:
    """Why this part is in the plan, in a sentence."""
    margin, reading = subject.margin, subject.reading
    if margin.verdict == "unseen":
        if reading is None:
            return "unseen: no capture shows its side"
        if reading.state == "shiny":
            return f"unseen: shiny (emissivity {reading.emissivity or 0.0:.2f}), infrared sees what it mirrors"
        return f"unseen: {reading.why[0]}" if reading.why else "unseen: no trustworthy reading"
    if margin.verdict == "unrated":
        return "no limit is known for it"
    words = []
    if margin.verdict == "undecided":
        words.append("its limit lies within the uncertainty")
    elif margin.margin_c is not None:
        words.append(f"margin {margin.margin_c:.1f} ± {margin.u_c or 0.0:.1f} K")
    if reading is not None and reading.state == "small":
        words.append("too small to be resolved")
    return ", ".join(words) or "its verdict is not settled"


def _cautions(part: Component, expected_c: float | None) -> tuple[str, ...]:
    lines = ["Attach with power removed and capacitors discharged; insulate the bead, the node may be live."]
    if part.kind in ("transistor", "diode", "transformer", "heatsink", "regulator"):
        lines.append("Tabs, heatsinks and windings often carry the switched or line voltage.")
    if part.kind == "battery":
        lines.append("Never probe or pierce a cell.")
    if expected_c is not None and expected_c >= _BURN_C:
        lines.append(f"Burns skin: about {expected_c:.0f} °C.")
    return tuple(lines)


def _pixel(subject: Subject, place_mm: Array) -> tuple[float, float] | None:
    if subject.view is None:
        return None
    height = subject.face.z_mm if subject.face is not None else 0.0
    x, y = pixels_from_board(subject.view.registration, np.array([[*place_mm, height]]))[0]
    return (float(x), float(y)) if np.isfinite([x, y]).all() else None


def _surface_c(subject: Subject, places_mm: Array, *, with_face: bool) -> Array:
    """Surface temperature at board places (n, 2): on the part's own face where it lies there, else on the board.

    Without the face, places on it are not known: a bead meant for the pad is not lost by sliding onto the part.
    """
    on_board = _board_surface_c(subject, places_mm)
    if subject.face is None or subject.view is None or subject.surface_c is None or subject.reading is None:
        return on_board
    import shapely

    reading, body = subject.reading, subject.component.body
    face = shapely.Polygon(subject.face.polygon_mm)
    inside = shapely.contains_xy(face, places_mm[:, 0], places_mm[:, 1])
    metal = body is not None and body.terminals == "ends" and reading.mean_c is not None
    if metal and reading.mean_c is not None and reading.ring_c is not None:
        # a chip's ends and pads mirror the room: near them the frame is no witness, but heat falls off steadily
        distance = shapely.distance(face, shapely.points(places_mm))
        share = _AT_THE_EDGE * np.clip(1.0 - distance / _FALLS_OFF_MM, 0.0, 1.0)
        on_board = np.where(
            distance < _FALLS_OFF_MM, reading.ring_c + share * (reading.mean_c - reading.ring_c), on_board
        )
    if not with_face:
        on_face = np.full(len(places_mm), np.nan)
    elif metal or reading.state == "small":
        on_face = np.full(len(places_mm), np.nan if reading.mean_c is None else reading.mean_c)
    else:
        on_face = _sampled(subject, places_mm, subject.face.z_mm)
    return np.where(inside, on_face, on_board)


def _board_surface_c(subject: Subject, places_mm: Array) -> Array:
    return _sampled(subject, places_mm, 0.0)


def _sampled(subject: Subject, places_mm: Array, z_mm: float) -> Array:
    if subject.view is None or subject.surface_c is None:
        return np.full(len(places_mm), np.nan)
    pixels = pixels_from_board(subject.view.registration, np.column_stack([places_mm, np.full(len(places_mm), z_mm)]))
    return bilinear(subject.surface_c, pixels)
