"""Tails of two distributions whose degrees of freedom are whole numbers, by their finite sums.

`check` needs them and nothing else of the library that holds them for all numbers, which takes longer to load than
a registration.
"""

from __future__ import annotations

import math


def chi2_tail(dof: int, value: float) -> float:
    """Probability that the sum of ``dof`` squared standard normal deviates is larger.

    Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.4.4 and 26.4.5 (from memory; a test holds
    it against scipy).
    """
    half = value / 2.0
    if half <= 0.0:
        return 1.0
    # terms of x^r e^(-x) / r!, with r from 0 for even, from 1/2 for odd degrees of freedom
    start = 0.5 * (dof % 2)
    logs = (r * math.log(half) - half - math.lgamma(r + 1.0) for r in (start + i for i in range(dof // 2)))
    return min((math.erfc(math.sqrt(half)) if dof % 2 else 0.0) + math.fsum(map(math.exp, logs)), 1.0)


def f_tail(dof: int, other_dof: float, value: float) -> float:
    """Probability that the quotient of two mean squares is larger; ``dof``, of the upper one, is even.

    Source: the incomplete beta function of a whole second parameter (Abramowitz and Stegun, 26.5.6 and 26.6.2, from
    memory; a test holds it against scipy).
    """
    assert dof % 2 == 0, "the sum is finite for even degrees of freedom"
    if value <= 0.0:
        return 1.0
    share = other_dof / (other_dof + dof * value)
    term, total = 1.0, 0.0
    for i in range(dof // 2):
        total += term
        term *= (other_dof / 2.0 + i) / (i + 1.0) * (1.0 - share)
    return float(share ** (other_dof / 2.0) * total)
