"""Two jobs, part by part: who is who, what changed, and how sure that is."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.board.model import Component
from overlay.comparison.change import FALSE_DISCOVERY_RATE, compare_standings, q_values_of
from overlay.comparison.match import UNRELATED_BELOW, likeness, match_parts
from overlay.comparison.model import Standing
from overlay.margin.model import Margin, Verdict
from overlay.uncertainty import Term, TermName


def standing(
    refdes: str,
    x: float = 0.0,
    y: float = 0.0,
    *,
    number: str = "RES-10K",
    rise: float | None = 20.0,
    own_u: float = 0.5,
    capture: str = "full load",
    side: str = "top",
    verdict: Verdict = "clear",
    limit: float = 125.0,
) -> Standing:
    component = Component(refdes, (x, y), 0.0, side, "R0603", "10k", number, False, 1)  # type: ignore[arg-type]
    budget = (
        Term(TermName.CAMERA, 1.2, f"camera:{capture}"),
        Term(TermName.AMBIENT, -0.5, f"ambient:{capture}"),
        Term(TermName.EMISSIVITY, 0.04 * (rise or 0.0)),
        Term(TermName.NOISE, own_u),
    )
    margin = Margin(refdes, capture, None, limit, None, None, None, None, verdict)
    readings = () if rise is None else ((capture, rise, budget),)
    return Standing(component, margin, capture, rise, budget, readings)


def matched(one: list[Standing], other: list[Standing]) -> dict[str, tuple[str, str]]:
    matches, _, _ = match_parts(one, other)
    return {match.other.component.refdes: (match.one.component.refdes, match.matched_by) for match in matches}


def test_a_part_keeps_its_name_when_it_moves() -> None:
    one = [standing("R1"), standing("R2", 10)]
    other = [standing("R1", 0, 25), standing("R2", 10)]
    assert matched(one, other) == {"R1": ("R1", "refdes"), "R2": ("R2", "refdes")}
    moves = {match.other.component.refdes: match.moved_mm for match in match_parts(one, other)[0]}
    assert moves == {"R1": 25.0, "R2": 0.0}


def test_renumbered_parts_are_found_by_part_number_and_place() -> None:
    one = [standing("R1", 0), standing("R2", 10), standing("R3", 20)]
    other = [standing("R2", 0), standing("R3", 10), standing("R1", 20)]
    assert matched(one, other) == {
        "R2": ("R1", "part number and place"),
        "R3": ("R2", "part number and place"),
        "R1": ("R3", "part number and place"),
    }


def test_a_new_part_in_the_place_of_one_that_moved_away_is_new() -> None:
    one = [standing("R1", 0), standing("R9", 50)]
    other = [standing("R1", 30), standing("R60", 0), standing("R9", 50)]
    matches, added, removed = match_parts(one, other)
    assert {match.other.component.refdes: match.one.component.refdes for match in matches} == {"R1": "R1", "R9": "R9"}
    assert [component.refdes for component in added] == ["R60"]
    assert removed == ()


def test_another_part_under_an_old_name_far_away_is_matched_by_name_only_if_the_old_one_is_gone() -> None:
    one = [standing("R1", 0, number="A"), standing("R2", 40, number="B")]
    other = [standing("R7", 0, number="A"), standing("R1", 80, number="C"), standing("R2", 40, number="B")]
    matches, added, removed = match_parts(one, other)
    assert {m.other.component.refdes: m.one.component.refdes for m in matches} == {"R7": "R1", "R2": "R2"}
    assert [component.refdes for component in added] == ["R1"]
    assert removed == ()


def test_a_shifted_origin_moves_nobody() -> None:
    one = [standing(f"R{i}", 5.0 * i, number=str(i)) for i in range(8)]
    other = [standing(f"R{i}", 5.0 * i + 100, -40, number=str(i)) for i in range(8)]
    assert max(match.moved_mm for match in match_parts(one, other)[0]) < 1e-9


def test_sides_are_never_mixed() -> None:
    matches, added, removed = match_parts([standing("R1")], [standing("R5", side="bottom")])
    assert not matches
    assert (added[0].refdes, removed[0].refdes) == ("R5", "R1")


def many(rises: np.ndarray, capture: str) -> list[Standing]:
    return [standing(f"R{i}", 3.0 * i, number=str(i), rise=float(r), capture=capture) for i, r in enumerate(rises)]


def test_a_camera_offset_common_to_all_is_not_a_change() -> None:
    rng = np.random.default_rng(1)
    rises = rng.uniform(5, 40, 60)
    comparison = compare_standings(
        many(rises + rng.normal(0, 0.5, 60), "a"), many(rises + 1.8 + rng.normal(0, 0.5, 60), "b")
    )
    assert comparison.common_shift_taken_off
    assert comparison.common_shift_k == pytest.approx(1.8, abs=0.4)
    assert not any(change.changed for change in comparison.changes)


def test_what_was_read_comes_first_and_a_common_shift_is_a_finding() -> None:
    """A real warming of 2 K, which two cameras could feign: it was taken off without a word."""
    rises = np.linspace(5, 40, 40)
    comparison = compare_standings(many(rises, "a"), many(rises + 2.0, "b"))
    for change in comparison.changes:
        assert change.delta_rise_k == pytest.approx(2.0)
        assert change.own_change_k == pytest.approx(0.0, abs=1e-6)
        assert change.u_k is not None
        assert change.own_u_k is not None
        assert change.u_k > math.hypot(1.2, 1.2) > change.own_u_k
    assert any("+2.0 K" in note and "real warming" in note for note in comparison.notes)


def test_boards_that_share_only_names_are_not_alike() -> None:
    one = [standing(f"R{i}", 3.0 * i, number=f"A{i}").component for i in range(20)]
    other = [standing(f"R{i}", 9.0 + i, number=f"B{i}").component for i in range(20)]
    revised = [standing(f"R{i}", 5.0 * i, number=f"A{i}").component for i in range(4, 20)]
    assert likeness(one, other) == 0.0 < UNRELATED_BELOW
    assert likeness(one, revised) == 1.0


def test_a_change_of_the_whole_board_beyond_what_instruments_explain_stays_in() -> None:
    rises = np.linspace(5, 40, 40)
    comparison = compare_standings(many(rises, "a"), many(rises + 15.0, "b"))
    assert not comparison.common_shift_taken_off
    assert all(change.changed and change.delta_rise_k == pytest.approx(15.0) for change in comparison.changes)


def test_true_changes_are_found_and_false_alarms_stay_rare() -> None:
    """Many simulated pairs of frames: 40 parts, 6 of them truly 3 to 10 K hotter or cooler."""
    rng = np.random.default_rng(2)
    found = wanted = false = flagged = 0
    for _ in range(60):
        rises = rng.uniform(5, 40, 40)
        emissivity = rng.normal(0, 0.04, 40)  # the same surface in both frames
        truth = np.zeros(40)
        truth[:6] = rng.choice([-1, 1], 6) * rng.uniform(3, 10, 6)
        readings = []
        for true_rise in (rises, rises + truth):
            offset = rng.normal(0, 1.3)
            readings.append(true_rise * (1 + emissivity) + offset + rng.normal(0, 0.5, 40))
        comparison = compare_standings(many(readings[0], "a"), many(readings[1], "b"))
        for change in comparison.changes:
            truly = truth[int(change.match.other.component.refdes[1:])] != 0.0
            wanted += truly
            flagged += change.changed
            found += change.changed and truly
            false += change.changed and not truly
    assert found / wanted > 0.95
    assert false / flagged <= FALSE_DISCOVERY_RATE


def test_few_parts_leave_camera_and_ambient_in_the_uncertainty() -> None:
    comparison = compare_standings([standing("R1", rise=20)], [standing("R1", rise=22, capture="b")])
    (change,) = comparison.changes
    assert change.u_k is not None
    assert change.u_k > math.hypot(1.2, 1.2)


def test_a_part_without_reading_is_compared_by_its_margin_only() -> None:
    comparison = compare_standings([standing("R1", rise=None)], [standing("R1")])
    (change,) = comparison.changes
    assert (change.delta_rise_k, change.p_value, change.changed) == (None, None, False)
    assert "read in the later job only" in change.why
    assert change.set_apart


def test_what_a_thermocouple_read_in_one_job_only_is_set_apart() -> None:
    rises = np.full(20, 20.0)
    one, other = many(rises, "a"), many(rises, "b")
    plain = compare_standings(one, other)
    by_bead = replace(
        standing("R3", 9.0, number="3", capture="b", rise=45.0, verdict="over"), by_contact=frozenset("b")
    )
    comparison = compare_standings(one, [*other[:3], by_bead, *other[4:]])
    last = comparison.changes[-1]
    assert last.match.other.component.refdes == "R3"
    assert last.set_apart
    assert last.delta_rise_k == pytest.approx(25.0)
    assert (last.own_change_k, last.q_value, last.changed, last.unprompted) == (None, None, False, False)
    assert "thermocouple in the later job only" in " ".join(last.why)
    assert comparison.common_shift_k == pytest.approx(plain.common_shift_k, abs=0.05)  # it takes no part in it
    both = compare_standings(
        [*one[:3], replace(by_bead, by_contact=frozenset("b")), *one[4:]], [*other[:3], by_bead, *other[4:]]
    )
    assert not any(change.set_apart for change in both.changes)


def test_changed_verdicts_come_first_and_what_nobody_changed_is_named() -> None:
    rises = np.full(20, 20.0)
    one, other = many(rises, "a"), many(rises + np.r_[12.0, np.zeros(19)], "b")
    other[5] = standing("R5", 15.0, number="5", capture="b", verdict="over")
    comparison = compare_standings(one, other)
    assert comparison.changes[0].match.other.component.refdes == "R5"
    hotter = next(change for change in comparison.changes if change.match.other.component.refdes == "R0")
    assert hotter.unprompted


@given(st.lists(st.floats(0, 1), min_size=1, max_size=40))
def test_q_values_are_never_below_p_values_and_keep_their_order(p_values: list[float]) -> None:
    p = np.array(p_values)
    q = q_values_of(p)
    assert np.all(q >= p - 1e-15)
    assert np.all(np.diff(q[np.argsort(p, kind="stable")]) >= -1e-15)
