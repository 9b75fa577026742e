from dataclasses import replace

import numpy as np
import pytest

from overlay.board.crowding import covering_problems, crowding_problems
from overlay.board.model import Body, Component


def part(refdes: str, x: float, y: float, length: float = 2.0, width: float = 1.0, *, turn: float = 0.0) -> Component:
    body = Body(length, width, 0.5, "test")
    return Component(refdes, (x, y), turn, "top", "", "", "", False, int(refdes[1:]), body=body)


def test_two_bodies_on_one_another_are_told_with_the_later_line() -> None:
    problems = crowding_problems([part("R1", 0.0, 0.0), part("R2", 0.4, 0.1), part("R3", 3.0, 0.0)], "p.csv")
    assert [(problem.severity, problem.line) for problem in problems] == [("warning", 2)]
    assert "R1 and R2" in problems[0].what


@pytest.mark.parametrize("turn", [0.0, 30.0, 90.0])
def test_neighbours_side_by_side_are_no_problem(turn: float) -> None:
    radians = np.radians(turn)
    across = 1.05 * np.array([-np.sin(radians), np.cos(radians)])
    one, other = part("R1", 0.0, 0.0, turn=turn), part("R2", *across, turn=turn)
    assert crowding_problems([one, other], "p.csv") == []


def test_a_part_under_a_shield_or_on_the_other_side_is_no_problem() -> None:
    ic, shield = part("U1", 0.0, 0.0, 10.0, 10.0), replace(part("S2", 0.5, 0.0, 12.0, 12.0), kind="shield")
    assert crowding_problems([ic, shield], "p.csv") == []
    assert crowding_problems([ic, replace(part("U2", 0.0, 0.0, 10.0, 10.0), side="bottom")], "p.csv") == []


def test_a_small_part_under_a_large_one_is_no_problem() -> None:
    assert crowding_problems([part("U1", 0.0, 0.0, 20.0, 20.0), part("C2", 0.0, 0.0)], "p.csv") == []


def test_many_pairs_are_told_in_one_sentence() -> None:
    problems = crowding_problems([part(f"R{n}", 0.01 * n, 0.0) for n in range(1, 30)], "p.csv")
    assert len(problems) == 1
    assert "pairs" in problems[0].what


def test_the_sweep_finds_the_same_pairs_as_a_plain_double_loop() -> None:
    random = np.random.default_rng(5)
    parts = [
        part(f"R{n}", *random.uniform(0, 25, 2), *random.uniform(0.5, 4, 2), turn=float(random.uniform(0, 360)))
        for n in range(1, 60)
    ]

    def holds(one: Component, other: Component) -> bool:
        assert one.body is not None
        turn = np.radians(one.rotation_deg)
        x, y = np.subtract(other.center_mm, one.center_mm)
        along, across = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
        return bool(abs(along) < one.body.length_mm / 2 and abs(across) < one.body.width_mm / 2)

    def share(one: Component, other: Component) -> float:
        areas = [part.body.length_mm * part.body.width_mm for part in (one, other) if part.body]
        return min(areas) / max(areas)

    expected = {
        f"{one.refdes} and {other.refdes} "
        for place, one in enumerate(parts)
        for other in parts[place + 1 :]
        if holds(one, other) and holds(other, one) and share(one, other) >= 0.3
    }
    assert expected
    found = crowding_problems(parts, "p.csv")
    assert len(found) == len(expected)
    assert all(any(pair in problem.what for problem in found) for pair in expected)


def chips(pitch_mm: float, size_mm: float) -> list[Component]:
    body = Body(size_mm, size_mm / 2, 0.5, "a name")
    places = [(n * pitch_mm, 0.0) for n in range(5)]
    return [
        Component(f"C{n}", at, 0.0, "top", "ODD", "", "", False, n + 2, "capacitor", body)
        for n, at in enumerate(places)
    ]


def test_a_package_whose_parts_lie_under_each_other_has_a_doubtful_size() -> None:
    (problem,) = covering_problems(chips(1.3, 1.6), "placement.csv")
    assert "'ODD' (1.6 × 0.8 mm from a name)" in problem.what
    assert "30% under others" in problem.what
    assert covering_problems(chips(1.3, 1.0), "placement.csv") == []
    assert covering_problems(chips(1.3, 1.6)[:2], "placement.csv") == []
