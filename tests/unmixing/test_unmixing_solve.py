import numpy as np
import pytest
from scipy.sparse import block_array, csr_array, diags_array, eye_array, kron, triu

from overlay.unmixing.solve import Equations, _apart, solve


def system(seed: int = 1, size: int = 30) -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(seed)
    rows = random.normal(size=(80, size)) * (random.random((80, size)) < 0.3)
    return rows.T @ rows + np.diag(random.uniform(0.1, 10.0, size)), random.normal(size=size)


def solved(normal, right: np.ndarray, local: int, fixed: np.ndarray):
    whole = csr_array(normal)
    parts = csr_array(triu(whole[:local, :local])), whole[:local, local:].toarray(), whole[local:, local:].toarray()
    return solve(Equations(*parts, right), right, fixed)


def test_the_bordered_solution_is_that_of_the_whole_system() -> None:
    normal, right = system()
    solution = solved(normal, right, 22, np.zeros(30, dtype=bool))
    assert solution.step == pytest.approx(np.linalg.solve(normal, right), rel=1e-9)


def test_the_covariance_of_sums_is_that_of_the_whole_inverse() -> None:
    normal, right = system()
    solution = solved(normal, right, 22, np.zeros(30, dtype=bool))
    weights = np.random.default_rng(2).normal(size=(5, 30))
    none = np.zeros(8)
    expected = weights @ np.linalg.inv(normal) @ weights.T
    assert solution.covariance(csr_array(weights), none, np.zeros((5, 2)), np.inf)[1] == pytest.approx(
        expected, rel=1e-9
    )


def test_a_fault_of_a_shared_unknown_widens_by_what_the_local_ones_answer_to_it() -> None:
    normal, right = system()
    solution = solved(normal, right, 22, np.zeros(30, dtype=bool))
    weights = np.eye(30)[:3]
    fault = np.zeros(8)
    fault[4] = 0.7**2
    answer = -np.linalg.solve(normal[:22, :22], normal[:22, 26])[:3]
    here = np.zeros((3, 2))
    wider = (
        solution.covariance(csr_array(weights), fault, here, np.inf)[1]
        - solution.covariance(csr_array(weights), 0 * fault, here, np.inf)[1]
    )
    assert wider == pytest.approx(0.49 * np.outer(answer, answer), rel=1e-8, abs=1e-12)


def test_fixed_unknowns_stay() -> None:
    normal, right = system()
    fixed = np.zeros(30, dtype=bool)
    fixed[[3, 25]] = True
    step = solved(normal, right, 22, fixed).step
    free = ~fixed
    assert step[fixed] == pytest.approx(0.0, abs=1e-15)
    assert step[free] == pytest.approx(np.linalg.solve(normal[np.ix_(free, free)], right[free]), rel=1e-9)


def test_sums_far_from_one_another_are_asked_for_together() -> None:
    """A sheet of 24 × 24 knots, each tied to its neighbours and to nothing: errors die away over a few knots."""
    side = 24
    line = diags_array([np.full(side - 1, -1.0), np.full(side, 2.3), np.full(side - 1, -1.0)], offsets=[-1, 0, 1])
    sheet = csr_array(kron(line, eye_array(side)) + kron(eye_array(side), line))
    shared = np.random.default_rng(3).normal(size=(side * side, 2)) * 0.01
    normal = block_array([[sheet, shared], [shared.T, np.eye(2) * 5.0]], format="csr")
    solution = solved(normal, np.zeros(side * side + 2), side * side, np.zeros(side * side + 2, dtype=bool))
    weights = csr_array((np.ones(side * side), (range(side * side),) * 2), shape=(side * side, side * side + 2))
    places = np.stack(np.meshgrid(np.arange(side), np.arange(side)), axis=-1).reshape(-1, 2).astype(np.float64)
    exact = solution.covariance(weights, np.zeros(2), places, np.inf)
    assert exact[0] == pytest.approx(np.linalg.inv(sheet.toarray()), rel=1e-9)
    quick = solution.covariance(weights, np.zeros(2), places, 8.0)
    near = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1)) <= 8.0
    for one, other in zip(quick, exact, strict=True):
        assert one[near] == pytest.approx(other[near], abs=0.01 * other.max())
        assert np.diag(one) == pytest.approx(np.diag(other), rel=0.01)


def test_a_place_is_in_no_group_with_one_near_it() -> None:
    places = np.random.default_rng(4).uniform(-20.0, 500.0, (700, 2))
    group, near = _apart(places, 60.0)
    together = (group[:, None] == group[None]) & ~np.eye(700, dtype=bool)
    apart = np.abs(places[:, None] - places[None]).max(axis=2)
    assert apart[together].min() > 60.0
    assert near[apart < 60.0].all()
    assert len(np.unique(group)) < 350
    assert len(np.unique(_apart(places, np.inf)[0])) == 700
