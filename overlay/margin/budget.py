"""Distributions and degrees of freedom of a budget, where its standard uncertainty alone does not do.

JCGM 100:2008 (GUM) G.4 for effective degrees of freedom; JCGM 101:2008 clause 7 for the propagation of distributions
(clause numbers from memory). The linear law itself is `overlay.uncertainty`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array
from overlay.uncertainty import OF_A_BEAD, OF_A_MODEL, RECTANGULAR, Budget, TermName

DRAWS = 20_000  # a probability of one half is then known to 0.4 %
SEED = 20_101  # fixed: the same job gives the same verdicts
# An uncertainty that is itself known to about a third has four degrees of freedom (JCGM 100:2008, G.4.2, from memory).
MODEL_FREEDOM = 4.0
BEAD_FREEDOM = dict.fromkeys(OF_A_BEAD, MODEL_FREEDOM)


@dataclass(frozen=True, slots=True, eq=False)
class Distribution:
    """A result as draws, sorted; what has no value (nan) stands at the end."""

    draws: Array

    @property
    def mean(self) -> float:
        return float(np.nanmean(self.draws))

    @property
    def u(self) -> float:
        return float(np.nanstd(self.draws, ddof=1))

    def probability_up_to(self, limit: float) -> float:
        """Share of the draws at or below a limit. Draws without a value count as above: nothing is shown by them."""
        return float(np.searchsorted(self.draws, limit, side="right") / self.draws.size)


def freedom_of(budget: Budget, known: Mapping[TermName, float] | None = None) -> float:
    """Effective degrees of freedom of a budget by Welch and Satterthwaite: ν_eff = u⁴ / Σ uᵢ⁴/νᵢ.

    ``known`` are the degrees of freedom of single inputs, else those of the models of small parts and of beads; all
    others are taken as exactly known. Terms of one name are one input.
    """
    freedom = dict.fromkeys(OF_A_MODEL | OF_A_BEAD, MODEL_FREEDOM) if known is None else known
    squares: dict[TermName, float] = {}
    for term in budget:
        squares[term.name] = squares.get(term.name, 0.0) + term.contribution_k**2
    u2 = math.fsum(squares.values())
    doubt = math.fsum(square**2 / freedom.get(name, math.inf) for name, square in squares.items())
    return math.inf if doubt == 0.0 else u2**2 / doubt


def coverage_factor(probability: float, freedom: float = math.inf) -> float:
    """k for a bound with that probability on one side; Student's t where degrees of freedom are few.

    Degrees of freedom are cut to a whole number as GUM G.4.1 advises.

    >>> round(coverage_factor(0.95), 3)
    1.645
    """
    from scipy.special import ndtri, stdtrit

    if math.isinf(freedom):
        return float(ndtri(probability))
    return float(stdtrit(max(math.floor(freedom), 1), probability))


def drawn(budget: Budget, rng: np.random.Generator, count: int = DRAWS) -> Array:
    """Draws of the sum of a budget's terms, shape (count,): limits of error as rectangles, all else normal."""
    total = np.zeros(count)
    for term in budget:
        if term.name in RECTANGULAR:
            half = math.sqrt(3.0) * term.contribution_k
            total += rng.uniform(-half, half, count) if half >= 0.0 else rng.uniform(half, -half, count)
        else:
            total += rng.normal(0.0, 1.0, count) * term.contribution_k
    return total
