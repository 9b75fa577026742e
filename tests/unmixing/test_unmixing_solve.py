import numpy as np
import pytest
from scipy.sparse import csr_array

from overlay.unmixing.solve import solve


def system(seed: int = 1, size: int = 30) -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(seed)
    rows = random.normal(size=(80, size)) * (random.random((80, size)) < 0.3)
    return rows.T @ rows + np.diag(random.uniform(0.1, 10.0, size)), random.normal(size=size)


def test_the_bordered_solution_is_that_of_the_whole_system() -> None:
    normal, right = system()
    solution = solve(csr_array(normal), right, 22, np.zeros(30, dtype=bool))
    assert solution.step == pytest.approx(np.linalg.solve(normal, right), rel=1e-9)


def test_the_covariance_of_sums_is_that_of_the_whole_inverse() -> None:
    normal, right = system()
    solution = solve(csr_array(normal), right, 22, np.zeros(30, dtype=bool))
    weights = np.random.default_rng(2).normal(size=(5, 30))
    none = np.zeros(8)
    expected = weights @ np.linalg.inv(normal) @ weights.T
    assert solution.covariance(csr_array(weights), none)[1] == pytest.approx(expected, rel=1e-9)


def test_a_fault_of_a_shared_unknown_widens_by_what_the_local_ones_answer_to_it() -> None:
    normal, right = system()
    solution = solve(csr_array(normal), right, 22, np.zeros(30, dtype=bool))
    weights = np.eye(30)[:3]
    fault = np.zeros(8)
    fault[4] = 0.7**2
    answer = -np.linalg.solve(normal[:22, :22], normal[:22, 26])[:3]
    wider = solution.covariance(csr_array(weights), fault)[1] - solution.covariance(csr_array(weights), 0 * fault)[1]
    assert wider == pytest.approx(0.49 * np.outer(answer, answer), rel=1e-8, abs=1e-12)


def test_fixed_unknowns_stay() -> None:
    normal, right = system()
    fixed = np.zeros(30, dtype=bool)
    fixed[[3, 25]] = True
    step = solve(csr_array(normal), right, 22, fixed).step
    free = ~fixed
    assert step[fixed] == pytest.approx(0.0, abs=1e-15)
    assert step[free] == pytest.approx(np.linalg.solve(normal[np.ix_(free, free)], right[free]), rel=1e-9)
