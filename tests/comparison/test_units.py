"""Several units of one board: tolerance bounds, spread, odd units and odd parts."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from overlay.comparison.units import Units, compare_units, tolerance_factor
from overlay.margin.model import Margin
from overlay.uncertainty import Term, TermName


def unit(values: dict[str, float | None], limit_c: float | None = 110.0, common_k: float = 0.0) -> list[Margin]:
    found = []
    for name, value in values.items():
        budget = (Term(TermName.NOISE, 0.2), Term(TermName.CAMERA, common_k, "camera:a"))
        room = None if value is None or limit_c is None else limit_c - value
        found.append(Margin(name, "a", value, limit_c, room, room, 0.2, None, "clear", budget=budget))
    return found


def units(rows: np.ndarray, **changes: float | None) -> Units:
    names = [f"S{i}" for i in range(rows.shape[1])]
    margins = [unit({f"R{k}": float(value) for k, value in enumerate(column)}, **changes) for column in rows.T]
    return compare_units(names, margins, coverage=0.95, confidence=0.95)


@pytest.mark.parametrize("count", [2, 3, 5, 10, 30, 100])
@pytest.mark.parametrize(("coverage", "confidence"), [(0.95, 0.95), (0.9, 0.95), (0.99, 0.9)])
def test_factors_are_those_of_the_noncentral_t(count: int, coverage: float, confidence: float) -> None:
    noncentral = stats.nct.ppf(confidence, count - 1, stats.norm.ppf(coverage) * math.sqrt(count)) / math.sqrt(count)
    assert tolerance_factor(count, coverage, confidence) == pytest.approx(noncentral, rel=1e-5)


def test_published_factors_of_five_and_ten_units() -> None:
    """ISO 16269-6, one-sided, unknown standard deviation, 95 % coverage at 95 % confidence (from memory)."""
    assert tolerance_factor(5, 0.95, 0.95) == pytest.approx(4.203, abs=5e-4)
    assert tolerance_factor(10, 0.95, 0.95) == pytest.approx(2.911, abs=5e-4)


def test_the_bound_holds_as_often_as_it_says() -> None:
    rng = np.random.default_rng(4)
    held = []
    for _ in range(400):
        found = units(rng.normal(90.0, 3.0, (1, 6)))
        (part,) = found.parts
        assert part.bound_c is not None
        held.append(stats.norm.cdf(part.bound_c, 90.0, 3.0) >= 0.95)
    assert np.mean(held) == pytest.approx(0.95, abs=0.03)


def test_what_all_units_share_is_added_once_and_does_not_average_away() -> None:
    rows = np.full((1, 8), 90.0) + np.array([[-0.1, 0.1, 0.0, 0.05, -0.05, 0.02, -0.02, 0.0]])
    (plain,), (camera,) = units(rows).parts, units(rows, common_k=1.2).parts
    assert plain.bound_c is not None
    assert camera.bound_c is not None
    assert camera.bound_c - plain.bound_c == pytest.approx(1.645 * 1.2, abs=0.01)


def test_that_the_air_may_be_cooler_than_the_board_widens_no_bound() -> None:
    """It keeps an ambient limit from being called broken, and made a bound of 120 °C of five values around 82."""
    margins = [unit({"R1": value}) for value in (80.4, 80.6, 81.1, 86.6, 81.5)]
    plain = compare_units("abcde", margins, coverage=0.95, confidence=0.95).parts[0]
    hot = margins[3][0]
    margins[3] = [replace(hot, budget=(*hot.budget, Term(TermName.AIR_UNKNOWN, 16.0)))]
    assert compare_units("abcde", margins, coverage=0.95, confidence=0.95).parts[0].bound_c == plain.bound_c


def test_parts_whose_bound_is_above_their_limit_come_first() -> None:
    rng = np.random.default_rng(1)
    rows = np.array([60.0, 107.0, 80.0])[:, None] + rng.normal(0.0, 2.0, (3, 5))
    found = units(rows)
    assert [part.refdes for part in found.parts] == ["R1", "R2", "R0"]
    assert [part.keeps for part in found.parts] == [False, True, True]
    worst = found.parts[0]
    assert worst.worst_c == pytest.approx(rows[1].max())
    assert worst.worst_unit == f"S{int(rows[1].argmax())}"


def test_an_odd_unit_and_an_odd_part_are_named() -> None:
    rng = np.random.default_rng(2)
    rows = rng.uniform(50.0, 90.0, 30)[:, None] + rng.normal(0.0, 0.4, (30, 5))
    rows[:, 3] += 6.0  # one unit is warmer all over
    rows[7, 1] += 9.0  # one part of another one
    found = units(rows)
    assert found.odd_units == ("S3",)
    assert found.shifts_k[3] == pytest.approx(6.0, abs=0.3)
    assert {part.refdes: part.odd for part in found.parts if part.odd} == {"R7": ("S1",)}


def test_equal_units_have_no_odd_ones() -> None:
    rng = np.random.default_rng(3)
    found = units(rng.uniform(50.0, 90.0, 40)[:, None] + rng.normal(0.0, 0.5, (40, 4)))
    assert found.odd_units == ()
    assert not any(part.odd for part in found.parts)


def test_a_part_that_one_unit_could_not_read_is_told_from_the_others() -> None:
    margins = [unit({"R1": 80.0}), unit({"R1": None}), unit({"R1": 84.0})]
    (part,) = compare_units(["a", "b", "c"], margins, coverage=0.95, confidence=0.95).parts
    assert part.projected_c == (80.0, None, 84.0)
    assert part.factor == pytest.approx(tolerance_factor(2, 0.95, 0.95))


def test_one_value_has_no_bound() -> None:
    (part,) = compare_units(["a", "b"], [unit({"R1": 80.0}), unit({"R1": None})], coverage=0.95, confidence=0.95).parts
    assert (part.mean_c, part.spread_k, part.bound_c, part.keeps) == (80.0, None, None, None)
    with pytest.raises(ValueError, match="at least two"):
        tolerance_factor(1, 0.95, 0.95)
