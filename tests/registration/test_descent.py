"""Steps downhill, held against the general solver of a library and against each other."""

import numpy as np
import pytest
from scipy.optimize import least_squares

from overlay.registration.descent import descend

TIMES = np.linspace(0.0, 4.0, 12)


def decays(count: int) -> np.ndarray:
    """Noisy decays of unlike height and rate."""
    rng = np.random.default_rng(5)
    height, rate = rng.uniform(0.5, 3.0, (count, 1)), rng.uniform(0.3, 2.0, (count, 1))
    return np.asarray(height * np.exp(-rate * TIMES) + rng.normal(0.0, 0.05, (count, len(TIMES))))


def terms_of(seen: np.ndarray):
    def terms(parameters: np.ndarray, which: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        falls = np.exp(-parameters[:, 1:] * TIMES)
        slopes = np.stack([falls, -parameters[:, :1] * TIMES * falls], axis=-1)
        return (parameters[:, :1] * falls - seen[which]) / 0.05, slopes / 0.05

    return terms


def test_many_cases_side_by_side_end_where_a_general_solver_ends() -> None:
    seen = decays(9)
    terms = terms_of(seen)
    found, squares = descend(terms, np.tile([1.0, 1.0], (9, 1)), np.add)
    for index in range(9):
        one = np.array([index])
        told = least_squares(lambda p, one=one: terms(p[None], one)[0][0], [1.0, 1.0], xtol=1e-12, ftol=1e-12)
        assert found[index] == pytest.approx(told.x, abs=1e-6)
        assert squares[index] == pytest.approx(2.0 * told.cost, abs=1e-6)


def test_a_case_ends_in_the_same_place_whatever_stands_beside_it() -> None:
    terms, starts = terms_of(decays(6)), np.tile([2.0, 0.2], (6, 1))
    together, _ = descend(terms, starts, np.add)
    alone = [descend(lambda p, _, i=i: terms(p, np.array([i])), starts[:1], np.add)[0][0] for i in range(6)]
    np.testing.assert_allclose(together, alone, atol=1e-9)


def test_a_start_that_nothing_is_seen_from_stays_and_disturbs_no_other() -> None:
    terms = terms_of(decays(2))

    def blind(parameters: np.ndarray, which: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        residuals, slopes = terms(parameters, which)
        residuals[which == 1], slopes[which == 1] = 1e4, 0.0
        return residuals, slopes

    starts = np.tile([1.0, 1.0], (2, 1))
    found, squares = descend(blind, starts, np.add)
    assert found[0] == pytest.approx(descend(terms, starts, np.add)[0][0], abs=1e-9)
    assert found[1] == pytest.approx([1.0, 1.0])
    assert squares[1] == pytest.approx(len(TIMES) * 1e8)
