"""Tails by finite sums against another library's for all numbers."""

from __future__ import annotations

import pytest
from scipy.special import chdtrc, fdtrc

from overlay.registration.tails import chi2_tail, f_tail


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 7, 8, 31, 60, 401])
@pytest.mark.parametrize("value", [0.0, 1e-3, 0.5, 2.0, 9.0, 40.0, 420.0, 1e5, 1e12])
def test_the_tail_of_chi_squared(dof: int, value: float) -> None:
    assert chi2_tail(dof, value) == pytest.approx(chdtrc(dof, value), rel=1e-10, abs=1e-300)


@pytest.mark.parametrize("dof", [2, 4, 6])
@pytest.mark.parametrize("other_dof", [4, 5, 9, 40])
@pytest.mark.parametrize("value", [0.0, 0.1, 1.0, 7.0, 300.0, 1e9])
def test_the_tail_of_a_quotient_of_mean_squares(dof: int, other_dof: int, value: float) -> None:
    assert f_tail(dof, other_dof, value) == pytest.approx(fdtrc(dof, other_dof, value), rel=1e-10)
