"""Maxima and how much they stand out."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from overlay.reading.prominence import maxima_of


def by_flooding(values: np.ndarray) -> dict[tuple[int, int], float]:
    """A slow, plain second opinion: pixels appear from the highest down and join what they touch."""
    rows, cols = values.shape
    order = sorted(((values[r, c], r * cols + c) for r in range(rows) for c in range(cols)), reverse=True)
    component: dict[tuple[int, int], int] = {}
    peaks: list[tuple[float, int]] = []
    found: dict[tuple[int, int], float] = {}
    for value, number in order:
        r, c = divmod(number, cols)
        touching = {component[q] for q in _neighbours(r, c) if q in component}
        if not touching:
            peaks.append((value, number))
            component[r, c] = len(peaks) - 1
            continue
        highest = max(touching, key=lambda k: peaks[k])
        for k in touching - {highest}:
            found[divmod(peaks[k][1], cols)] = peaks[k][0] - value
            component = {q: highest if j == k else j for q, j in component.items()}
        component[r, c] = highest
    found[divmod(order[0][1], cols)] = order[0][0] - order[-1][0]
    return found


def _neighbours(r: int, c: int) -> list[tuple[int, int]]:
    return [(r + i, c + j) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0)]


@given(arrays(np.float64, (6, 7), elements=st.integers(0, 9).map(float)))
def test_prominences_are_those_of_plain_flooding(values: np.ndarray) -> None:
    maxima = maxima_of(values)
    found = {(int(r), int(c)): p for r, c, p in zip(maxima.row, maxima.col, maxima.prominence, strict=True) if p > 0}
    assert found == {place: p for place, p in by_flooding(values).items() if p > 0}


def test_a_lower_hill_stands_out_by_its_height_above_the_saddle() -> None:
    values = np.array([[1.0, 8.0, 3.0, 6.0, 0.0]])
    maxima = maxima_of(values)
    assert maxima.col.tolist() == [1, 3]
    assert maxima.prominence.tolist() == [8.0, 3.0]


def test_ground_that_is_unknown_separates() -> None:
    values = np.array([[1.0, 8.0, np.nan, 6.0, 2.0]])
    maxima = maxima_of(values)
    assert dict(zip(maxima.col.tolist(), maxima.prominence.tolist(), strict=True)) == {1: 7.0, 3: 4.0}


def test_an_even_map_has_one_maximum_that_does_not_stand_out() -> None:
    assert maxima_of(np.full((5, 6), 3.0)).prominence == pytest.approx([0.0])


def test_a_map_without_values_has_no_maxima() -> None:
    assert len(maxima_of(np.full((3, 3), np.nan)).value) == 0
