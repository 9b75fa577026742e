"""Where thermocouples go, and what they said."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from overlay.board.model import Side

# Distances at which the cost of a misplaced bead is told, in mm.
MISPLACED_MM = (0.5, 1.0, 2.0)


@dataclass(frozen=True, slots=True)
class ProbePlace:
    """One bead of the plan: on which part, where exactly, and what to expect.

    Parameters
    ----------
    on
        ``top face``, ``pad`` (parts too small for a bead) or ``side`` (cans: mid-height, away from the vent).
    from_edges
        Two distances from edges of the body, in words.
    from_pin_1
        The place from the body's corner at pin 1, in words; empty where that is not known.
    cost_k
        Kelvin lost at `MISPLACED_MM` from the place, the mean over directions; None where the frame does not tell.
    wire_error_k
        What the wire draws off at that place, in kelvin.
    settles
        Worth of the reading: bits by which it is expected to settle the verdict.
    """

    rank: int
    refdes: str
    side: Side
    capture: str | None
    on: Literal["top face", "pad", "side"]
    board_mm: tuple[float, float]
    pixel: tuple[float, float] | None
    from_edges: str
    from_pin_1: str
    expected_c: float | None
    expected_u_c: float | None
    cost_k: tuple[float | None, float | None, float | None]
    wire_error_k: float | None
    settles: float
    reason: str
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ProbePlan:
    """The thermocouple plan of a job: places by rank, and how many parts would be worth one."""

    places: tuple[ProbePlace, ...]
    channels: int
    awg: int
    worth_reading: int
    notes: tuple[str, ...] = ()


class ContactCode(StrEnum):
    """What a thermocouple did to a reading."""

    ALONE = "contact alone"
    CONTRADICTS = "contact contradicts"
    AGREES = "contact agrees"
    ON_CASE = "contact on case"


@dataclass(frozen=True, slots=True)
class ContactReading:
    """A thermocouple's reading on a part, as the table has it, its tolerance already in ``u_c``."""

    refdes: str
    temperature_c: float
    u_c: float
    board_mm: tuple[float, float] | None
    wire_diameter_mm: float | None
    note: str
    line: int
    on_case: bool = False  # on its case or tab, not on the top that a camera sees
