"""Laminate and surfaces to touch: rows and verdicts of their own."""

from dataclasses import replace

import numpy as np
import pytest

from overlay.margin.areas import AreaLimit, AreaMargin, area_margins
from overlay.margin.model import Conditions, Requirement
from overlay.reading.model import Candidate, FrameReading, HotSpot, Reading
from overlay.uncertainty import Term, TermName

BENCH = {"a": Conditions("a", 25.0, 0.5, 25.0, 1.0, 1.0, 0.0)}
LAMINATE = AreaLimit("laminate, top side", "laminate", "top", 105.0, "UL file")


SPOT = HotSpot(
    rank=1,
    pixel=(1.0, 1.0),
    board_mm=(0.0, 0.0),
    z_mm=0.0,
    position_u_mm=0.2,
    temperature_c=50.0,
    u_c=1.0,
    rise_k=25.0,
    candidates=(Candidate(None, 0.9), Candidate("R1", 0.1)),
)


def reading(refdes: str, peak_c: float | None, ring_c: float | None) -> Reading:
    budget = (Term(TermName.CAMERA, 1.2, "camera:a"),)
    state = "hidden" if peak_c is None else "read"
    return Reading(refdes, "a", state, peak_c, peak_c, None if peak_c is None else 1.2, peak_c, None, 50.0, 1.0, 0.93,
                   0.02, ring_c=ring_c, ring_u_c=1.0, budget=budget)  # fmt: skip


def judged(area: AreaLimit, *readings: Reading, spots: tuple[HotSpot, ...] = (), side: str = "top") -> AreaMargin:
    frame = FrameReading(readings, spots, np.zeros((4, 4)), 1.0, "test")
    requirement = Requirement(60.0, 10.0, 0.95, "none")
    (found,) = area_margins([area], {"a": frame}, {"a": side}, BENCH, requirement)  # type: ignore[dict-item]
    return found


def test_the_laminate_is_hottest_under_the_part_whose_surroundings_are() -> None:
    found = judged(LAMINATE, reading("R1", 110.0, 70.0), reading("U1", 60.0, 55.0))
    assert found.where == "under R1"
    assert found.projected_c == pytest.approx(60.0 + 45.0 + 10.0)  # a quarter of the way up to the part
    assert found.verdict in ("over", "undecided")
    assert judged(LAMINATE, reading("U1", 50.0, 45.0)).verdict == "clear"


def test_a_hot_place_of_bare_board_counts_as_laminate() -> None:
    spot = replace(SPOT, board_mm=(12.0, 8.0), temperature_c=95.0, rise_k=70.0)
    found = judged(LAMINATE, reading("U1", 50.0, 45.0), spots=(spot,))
    assert (found.where, found.verdict) == ("bare board at (12.0, 8.0) mm", "over")


def test_touch_limits_hold_in_a_room_and_are_not_carried_to_the_hottest_ambient() -> None:
    handle = AreaLimit("handle", "touch", "top", 77.0, "IEC 62368-1, Table 38", ("J1", "HS1"))
    found = judged(handle, reading("J1", 60.0, None), reading("R1", 150.0, None))
    assert (found.where, found.projected_c, found.verdict) == ("on J1", 60.0, "clear")
    assert judged(handle, reading("J1", 90.0, None)).verdict == "over"


def test_an_area_that_no_capture_shows_is_unseen() -> None:
    assert judged(LAMINATE, reading("R1", 110.0, 70.0), side="bottom").verdict == "unseen"
    handle = AreaLimit("handle", "touch", "top", 77.0, "", ("J1",))
    assert judged(handle, reading("J1", None, None)).verdict == "unseen"
