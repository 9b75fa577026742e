import numpy as np
import pytest

from overlay.heat.definite import inverse_definite, solved_definite


@pytest.mark.parametrize("n", [0, 1, 2, 17])
def test_the_inverse_and_the_answer_of_a_definite_matrix(n: int) -> None:
    random = np.random.default_rng(n)
    root = random.normal(size=(n + 3, n))
    matrix, right = root.T @ root, random.normal(size=(n, 2))
    inverse = inverse_definite(matrix)
    assert inverse @ matrix == pytest.approx(np.eye(n), abs=1e-9)
    assert np.array_equal(inverse, inverse.T)
    if n:
        assert matrix @ solved_definite(matrix, right) == pytest.approx(right, abs=1e-9)
        assert matrix @ solved_definite(matrix, right[:, 0]) == pytest.approx(right[:, 0], abs=1e-9)


def test_what_is_not_definite_is_refused() -> None:
    for matrix in (np.diag([1.0, -1.0]), np.zeros((2, 2))):
        with pytest.raises(np.linalg.LinAlgError):
            inverse_definite(matrix)
        with pytest.raises(np.linalg.LinAlgError):
            solved_definite(matrix, np.ones(2))
