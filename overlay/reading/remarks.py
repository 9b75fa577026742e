"""Sentences that go with a reading: what a user should know of it, and can act on."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from overlay.board.model import Board, Component, Side
from overlay.frames.frame import Emissivity
from overlay.reading.model import HotSpot, Reading, ReadingCode
from overlay.reasons import Reason
from overlay.registration.model import Face, FaceCode
from overlay.view.emission import STEEPEST_DEG

UNEVEN_FROM_K = 3.0  # less is within most cameras' own unevenness
UNEVEN_SHARE_OF_RISE = 0.1  # a hot part always has some slope
_WARMED_FROM_RISE_K = 10.0  # cooler parts worry nobody
_WARMED_WITHIN_MM = 15.0  # how far a board of two layers carries heat (common practice)


def not_seen(component: Component, side: Side, face: Face | None, least_share: float) -> tuple[Reason, ...]:
    """Why a part is hidden."""
    if component.side != side:
        text = f"on the {component.side} side: this capture shows the {side}"
        return (Reason(ReadingCode.OTHER_SIDE, text),)
    if face is None:
        return (Reason(ReadingCode.NO_PLACE, "its place could not be found in the frame"),)
    why = list(face.why)
    if not why and face.visible == 0.0:
        why.append(Reason(FaceCode.OUTSIDE_FRAME, "outside the frame"))
    elif not why:
        text = f"{face.visible:.0%} of its top face is left to see"
        why.append(Reason(ReadingCode.LITTLE_VISIBLE, text))
    if 0.0 < face.visible < least_share:
        text = "less than half of its top face can be seen: take a capture from another angle"
        why.append(Reason(ReadingCode.LITTLE_VISIBLE, text))
    return tuple(why)


def too_steep(angle_deg: float) -> Reason:
    """That a face is seen too much from the side."""
    return Reason(
        ReadingCode.TOO_STEEP,
        f"seen at {angle_deg:.0f}° from upright: beyond {STEEPEST_DEG:.0f}° a surface shows too much of what it "
        "mirrors; take a capture from nearer above",
    )


def shiny(emissivity: Emissivity) -> Reason:
    """Why a shiny part has no trustworthy temperature."""
    return Reason(
        ReadingCode.SHINY,
        f"shiny (emissivity {emissivity.value:.2f}, {emissivity.source}): the camera sees mostly what the surface "
        "mirrors; cover it with matt tape or paint, or use a thermocouple",
    )


def may_be_reflection(refdes: str) -> Reason:
    """That a shiny part which looks warm may only mirror something warm."""
    return Reason(
        ReadingCode.MAY_BE_REFLECTION,
        f"looks warmer than the board around it: it may be a reflection of something warm (a hand, a lamp), for "
        f"{refdes} is shiny and shows mostly what it mirrors; shade it and look again, or coat it",
    )


def no_solution() -> Reason:
    """Why a part sends out less than it would mirror."""
    return Reason(
        ReadingCode.NO_SOLUTION,
        "sends out less than it would mirror at the stated reflected temperature: no temperature fits; "
        "check reflected_c and the part's emissivity",
    )


def saturated(bound_c: float) -> Reason:
    """That the instrument's range ended below the part's temperature."""
    return Reason(
        ReadingCode.SATURATED,
        f"the instrument's range ends here: it is at least {bound_c:.1f} °C hot, and nobody knows how much more; take "
        "the frame again with a wider range",
    )


def partly_lost(share: float) -> Reason:
    """That some of a part's pixels say nothing."""
    text = f"{share:.0%} of its pixels are dead or lie under a burnt-in mark and were left out"
    return Reason(ReadingCode.LOST_PIXELS, text)


def lost() -> Reason:
    """That too many of a part's pixels say nothing."""
    text = "half of its pixels or more are dead or lie under a burnt-in mark: take the frame again without it"
    return Reason(ReadingCode.LOST_PIXELS, text)


def covered(peak_c: float, ring_c: float) -> Reason:
    """Why a part that looks far colder than all that surrounds it is not taken to be so."""
    return Reason(
        ReadingCode.COVERED,
        f"reads {peak_c:.1f} °C amid a board of {ring_c:.1f} °C: something that no file lists, such as a cable, seems "
        "to lie over it, or it mirrors the room; clear the view, cover it with matt tape, or use a thermocouple",
    )


def colder_than_board(peak_c: float, board_c: float) -> Reason:
    """Why a part that looks colder than what it stands on is not taken to be so."""
    return Reason(
        ReadingCode.COLDER_THAN_BOARD,
        f"colder ({peak_c:.1f} °C) than the board it stands on ({board_c:.1f} °C): it probably mirrors the room; cover "
        "it with matt tape or paint, or use a thermocouple",
    )


def mirrors(change_k: float) -> Reason:
    """Why a part that follows what it reflects has no trustworthy temperature."""
    return Reason(
        ReadingCode.MIRRORS,
        f"changed by {change_k:+.1f} K against the board around it when something else was reflected: it mirrors; "
        "cover it with matt tape or paint, or use a thermocouple",
    )


def small(short_px: float) -> Reason:
    """That a part is small, and what would help."""
    return Reason(
        ReadingCode.SMALL,
        f"its short side covers {short_px:.1f} pixels: the value was worked out from pixels it shares with its "
        "surroundings; a closer capture would narrow it",
    )


def misfit() -> Reason:
    """That a part does not look like its body."""
    return Reason(
        ReadingCode.MISFIT,
        "its place or size in the frame does not fit its body: check the package and the placement",
    )


def inseparable(others: Sequence[str]) -> Reason:
    """That only the sum of several parts is known."""
    return Reason(
        ReadingCode.INSEPARABLE,
        f"too close to {', '.join(others)} to be told apart: their sum is known better than each, or their difference",
    )


def uneven(peak_c: float, mean_c: float, ambient_c: float) -> Reason | None:
    """How much lower the rest of an unevenly warm top face is."""
    below = peak_c - mean_c
    if below < max(UNEVEN_FROM_K, UNEVEN_SHARE_OF_RISE * (peak_c - ambient_c)):
        return None
    text = f"unevenly warm: the mean of its top face is {below:.1f} K below its hottest place"
    return Reason(ReadingCode.UNEVEN, text)


def warmed_by_others(
    readings: Sequence[Reading],
    hot_spots: Sequence[HotSpot],
    around_c: Mapping[str, float],
    board: Board,
    ambient_c: float,
) -> tuple[Reading, ...]:
    """Say of parts no warmer than the board around them that their heat comes from elsewhere, and from where."""
    sources = [hot for hot in hot_spots if hot.candidates[0].refdes is not None]
    named = {hot.candidates[0].refdes for hot in sources}
    places = {component.refdes: component.center_mm for component in board.components}
    result = []
    for reading in readings:
        remark = None
        around = around_c.get(reading.refdes)
        if reading.by_infrared and reading.refdes not in named and around is not None:
            assert reading.peak_c is not None
            if reading.peak_c - ambient_c >= _WARMED_FROM_RISE_K and reading.peak_c <= around + 1.0:
                remark = _nearest_source(reading, sources, places[reading.refdes])
        result.append(reading if remark is None else replace(reading, why=(*reading.why, remark)))
    return tuple(result)


def _nearest_source(reading: Reading, sources: Sequence[HotSpot], center_mm: tuple[float, float]) -> Reason:
    """Name the hotter source whose rise, spread over the distance, weighs most."""
    best, weight = None, 0.0
    for hot in sources:
        distance = math.dist(hot.board_mm, center_mm)
        assert reading.peak_c is not None
        if distance <= _WARMED_WITHIN_MM and hot.temperature_c > reading.peak_c:
            pull = hot.rise_k / (1.0 + distance)
            if pull > weight:
                best, weight = hot, pull
    text = "no warmer than the board around it: its heat comes from elsewhere"
    if best is not None:
        text += f", such as {best.candidates[0].refdes} {math.dist(best.board_mm, center_mm):.0f} mm away"
    return Reason(ReadingCode.WARMED_BY_OTHERS, text)
