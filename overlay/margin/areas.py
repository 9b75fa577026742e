"""Surfaces that are no parts: the laminate around hot parts, and what hands may touch."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from overlay.board.model import Side
from overlay.margin.budget import BEAD_FREEDOM, freedom_of
from overlay.margin.model import Conditions, Requirement, Verdict
from overlay.margin.projection import model_terms, projected_budget, projected_c
from overlay.margin.verdict import probability_within, verdict_of
from overlay.reading.model import FrameReading
from overlay.uncertainty import Budget, Term, TermName, combined_k

# Touch limits hold in a room of 25 °C and are not carried to the hottest ambient (IEC 62368-1, Table 38, as quoted).
TOUCH_ROOM_C = 25.0
# The laminate under a part lies between the board in a ring around it and the part's own surface: how far up, nobody
# sees. A quarter of the way, known to as much (own estimate).
_UNDER_SHARE = 0.25

AreaKind = Literal["laminate", "touch"]


@dataclass(frozen=True, slots=True)
class AreaLimit:
    """A surface that has a limit of its own; without ``parts`` the bare board of a side."""

    name: str
    kind: AreaKind
    side: Side
    limit_c: float
    source: str
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AreaMargin:
    """The hottest place of an area, held against its limit; ``unseen`` where no capture shows any of it."""

    area: AreaLimit
    capture: str | None
    where: str  # beside or on which part, or where on the bare board
    projected_c: float | None
    margin_c: float | None
    u_c: float | None
    probability_within: float | None
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class _Place:
    where: str
    surface_c: float
    terms: Budget


def area_margins(
    areas: Sequence[AreaLimit],
    frames: Mapping[str, FrameReading],
    sides: Mapping[str, Side],
    conditions: Mapping[str, Conditions],
    requirement: Requirement,
) -> tuple[AreaMargin, ...]:
    """Each area's hottest place over all captures of its side, in the order given.

    The laminate is read in the ring around every part, under it as far as can be told, and at hot places of bare
    board; a surface to touch is the hottest of its parts.
    """
    return tuple(_area(area, frames, sides, conditions, requirement) for area in areas)


def _area(
    area: AreaLimit,
    frames: Mapping[str, FrameReading],
    sides: Mapping[str, Side],
    conditions: Mapping[str, Conditions],
    requirement: Requirement,
) -> AreaMargin:
    found = []
    for name, frame in frames.items():
        if sides[name] == area.side or area.kind == "touch":
            found += [_judged(area, name, place, conditions[name], requirement) for place in _places(area, frame)]
    if not found:
        return AreaMargin(area, None, "", None, None, None, None, "unseen")
    return min(
        found, key=lambda one: (round(one.probability_within or 0.0, 9), round(one.margin_c or 0.0, 3), one.where)
    )


def _places(area: AreaLimit, frame: FrameReading) -> list[_Place]:
    if area.kind == "touch":
        return [
            _Place(f"on {item.refdes}", item.peak_c, item.budget)
            for item in frame.readings
            if item.refdes in area.parts and item.trusted and item.peak_c is not None
        ]
    places = []
    for item in frame.readings:
        if item.ring_c is None:
            continue
        around = Term(TermName.BOARD_AROUND, item.ring_u_c or 0.0)
        under_k = 0.0
        if item.trusted and item.peak_c is not None:
            under_k = _UNDER_SHARE * max(item.peak_c - item.ring_c, 0.0)
        hidden = Term(TermName.HIDDEN_PLACE, under_k / math.sqrt(3.0))
        places.append(_Place(f"under {item.refdes}", item.ring_c + under_k, (around, hidden)))
    for spot in frame.hot_spots:
        if spot.candidates and spot.candidates[0].refdes is None:
            x, y = spot.board_mm
            term = Term(TermName.BOARD_AROUND, spot.u_c)
            places.append(_Place(f"bare board at ({x:.1f}, {y:.1f}) mm", spot.temperature_c, (term,)))
    return places


def _judged(
    area: AreaLimit, capture: str, place: _Place, conditions: Conditions, requirement: Requirement
) -> AreaMargin:
    room_c = TOUCH_ROOM_C if area.kind == "touch" else requirement.air_c
    held = projected_c(place.surface_c, conditions, room_c)
    budget = projected_budget(place.surface_c, place.terms, conditions)
    if area.kind == "laminate":
        budget += model_terms("", held - room_c, conditions, requirement, kept=held <= area.limit_c)
    u, margin_c = combined_k(budget), area.limit_c - held
    within = probability_within(area.limit_c, held, u, freedom_of(budget, BEAD_FREEDOM))
    verdict = verdict_of(margin_c, within, requirement)
    if area.kind == "touch" and verdict == "near":
        verdict = "clear"  # the margin that is wanted is for parts: a touch limit is kept or not
    return AreaMargin(area, capture, place.where, held, margin_c, u, within, verdict)
