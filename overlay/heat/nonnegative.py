"""Least squares with some unknowns that must not be negative."""

from __future__ import annotations

import numpy as np

from overlay.arrays import Array
from overlay.heat.definite import solved_definite


def nonnegative(normal: Array, right: Array, start: Array | None = None, tolerance: float = 1e-9) -> Array:
    """The x ≥ 0, of shape (n,), that makes ½ xᵀ·normal·x − right·x least.

    An active set: unknowns enter one at a time by the steepest descent, and leave where they would turn negative
    (Lawson & Hanson, Solving Least Squares Problems, 1974, ch. 23, on the normal equations).

    Parameters
    ----------
    normal : (n, n)
        Positive definite.
    right : (n,)
    start : (n,)
        A guess of the answer, not negative: the nearer it is, the fewer unknowns have to enter and leave.
    """
    n = len(right)
    x = np.zeros(n) if start is None else np.array(start)
    free = x > 0.0
    scale = tolerance * max(float(np.abs(right).max(initial=0.0)), 1e-300)
    for _ in range(3 * n + 10):
        while free.any():
            trial = np.zeros(n)
            trial[free] = solved_definite(normal[np.ix_(free, free)], right[free])
            bad = free & (trial <= 0.0)
            if not bad.any():
                x = trial
                break
            step = float(np.min(x[bad] / (x[bad] - trial[bad])))
            x = x + step * (trial - x)
            free &= x > 1e-14 * max(float(x.max()), 1e-300)
            x[~free] = 0.0
        slope = right - normal @ x
        slope[free] = -np.inf
        enters = int(np.argmax(slope)) if n else 0
        if n == 0 or slope[enters] <= scale:
            return x
        free[enters] = True
    return x
