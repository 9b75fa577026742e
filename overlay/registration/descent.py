"""Least squares from many starts, and for many cases, side by side.

Gauss–Newton's steps, shortened where they lead uphill (Levenberg 1944, Marquardt 1963; Nocedal and Wright, Numerical
Optimization, section 10.3, from memory). One case alone costs as much as fifty: what takes time are calls, not numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, Mask

Terms = tuple[Array, Array]
"""Residuals (…, m), each over its standard uncertainty, and their derivatives (…, m, p)."""
_MOST_STEPS = 60  # a fit takes five to ten; one that takes more runs along a valley in which nothing changes
_FIRST_DAMPING, _LEAST_DAMPING, _MOST_DAMPING = 1e-3, 1e-12, 1e12
"""Of the normal matrix, whose diagonal is 1 (common practice)."""
_SETTLED = 1e-10
"""Decrease of the sum of squares, by itself or in proportion, that is not worth a step: a hundred-thousandth of a
standard uncertainty."""


@dataclass(slots=True)
class _Stand:
    """Where some starts have come to, and what the next step is worked out from."""

    squares: Array  # (b,)
    matrix: Array  # (b, p, p)
    gradient: Array  # (b, p)

    def __getitem__(self, which: Mask) -> _Stand:
        return _Stand(self.squares[which], self.matrix[which], self.gradient[which])

    def __setitem__(self, which: Mask, other: _Stand) -> None:
        self.squares[which], self.matrix[which], self.gradient[which] = other.squares, other.matrix, other.gradient


def descend(
    terms: Callable[[Array, Index], Terms], starts: Array, moved: Callable[[Array, Array], Array]
) -> tuple[Array, Array]:
    """Follow each start to the least sum of squares near it.

    Parameters
    ----------
    terms
        Takes parameters (b, p) and which of the starts (b,) they came from, gives residuals (b, m) and derivatives.
    starts : (k, p)
    moved
        Takes parameters and steps (b, p) and gives where these lead, to first order their sum.

    Returns
    -------
    parameters : (k, p)
    squares : (k,)
        Sums of squares there.
    """
    with np.errstate(all="ignore"):
        at, going, least = starts.copy(), np.arange(len(starts)), np.empty(len(starts))
        damping, growth = np.full(len(at), _FIRST_DAMPING), np.full(len(at), 2.0)
        stand = _stand(*terms(at, going))
        for _ in range(_MOST_STEPS):
            step, expected = _step(stand, damping)
            trial = moved(at[going], step)
            found = _stand(*terms(trial, going))
            ratio = (stand.squares - found.squares) / np.maximum(expected, 1e-300)
            better = found.squares <= stand.squares
            stand[better], at[going[better]] = found[better], trial[better]
            least[going] = stand.squares
            # Nielsen's rule (Madsen, Nielsen and Tingleff, Methods for non-linear least squares problems, from memory)
            damping *= np.where(better, np.maximum(1.0 / 3.0, 1.0 - (2.0 * np.minimum(ratio, 1.0) - 1.0) ** 3), growth)
            damping = np.maximum(damping, _LEAST_DAMPING)
            growth = np.where(better, 2.0, 2.0 * growth)
            on = (expected > _SETTLED * (1.0 + stand.squares)) & (damping < _MOST_DAMPING)
            if not on.any():
                break
            going, damping, growth, stand = going[on], damping[on], growth[on], stand[on]
    return at, least


def _stand(residuals: Array, slopes: Array) -> _Stand:
    turned = slopes.swapaxes(-1, -2)
    return _Stand((residuals**2).sum(axis=-1), turned @ slopes, (turned @ residuals[..., None])[..., 0])


def _step(stand: _Stand, damping: Array) -> tuple[Array, Array]:
    """Damped steps (b, p), worked out with entries scaled as they are of many units; what squares should lose (b,)."""
    matrix = stand.matrix
    scale = np.sqrt(np.maximum(np.diagonal(matrix, axis1=1, axis2=2), 1e-30))
    downhill = -stand.gradient / scale
    scaled = matrix / (scale[:, :, None] * scale[:, None, :]) + damping[:, None, None] * np.eye(matrix.shape[1])
    step = np.linalg.solve(scaled, downhill[..., None])[..., 0]
    return step / scale, (step * (downhill + damping[:, None] * step)).sum(axis=1)
