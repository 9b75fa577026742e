"""Propagation of uncertainty: the linear law, and Monte Carlo where it does not do.

JCGM 100:2008 (GUM) 5.1.2 and G.4 for the linear law and effective degrees of freedom; JCGM 101:2008 clause 7 for the
propagation of distributions (clause numbers from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from overlay.frames.frame import Array

Shape = Literal["normal", "rectangular"]
DRAWS = 20_000
SEED = 20_101  # fixed: the same job gives the same verdicts


@dataclass(frozen=True, slots=True)
class Input:
    """An input quantity: value, standard uncertainty, degrees of freedom, and the shape of what is believed of it."""

    value: float
    u: float
    freedom: float = math.inf
    shape: Shape = "normal"


@dataclass(frozen=True, slots=True)
class Output:
    """A result: value, standard uncertainty, effective degrees of freedom, and each input's signed share of u."""

    value: float
    u: float
    freedom: float
    contributions: Mapping[str, float]

    def expanded(self, probability: float) -> float:
        """Half width of the interval that holds the value with a probability (Student's t)."""
        return coverage_factor(probability, self.freedom) * self.u


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

    def interval(self, probability: float) -> tuple[float, float]:
        """The interval with equal probability left out on both sides."""
        tail = (1.0 - probability) / 2.0
        low, high = np.nanquantile(self.draws, [tail, 1.0 - tail])
        return float(low), float(high)

    def probability_up_to(self, limit: float) -> float:
        """Share of the draws at or below a limit. Draws without a value count as above: nothing is shown by them."""
        return float(np.searchsorted(self.draws, limit, side="right") / self.draws.size)


def propagate(function: Callable[..., float], inputs: Mapping[str, Input]) -> Output:
    """Carry standard uncertainties through a function of named, independent inputs.

    Parameters
    ----------
    function
        Takes the inputs as keyword arguments.
    inputs
        By the names of its arguments.

    Returns
    -------
    Output
        Sensitivities are central differences over ± u/1000, effective degrees of freedom those of
        Welch and Satterthwaite.
    """
    values = {name: quantity.value for name, quantity in inputs.items()}
    contributions = {}
    for name, quantity in inputs.items():
        if quantity.u == 0.0:
            contributions[name] = 0.0
            continue
        step = quantity.u * 1e-3
        high = function(**{**values, name: quantity.value + step})
        low = function(**{**values, name: quantity.value - step})
        contributions[name] = (high - low) / (2.0 * step) * quantity.u
    u = math.sqrt(math.fsum(share**2 for share in contributions.values()))
    freedom = effective_freedom([(contributions[name], inputs[name].freedom) for name in inputs])
    return Output(function(**values), u, freedom, contributions)


def effective_freedom(contributions: Sequence[tuple[float, float]]) -> float:
    """Welch–Satterthwaite: ν_eff = u⁴ / Σ uᵢ⁴/νᵢ, from (contribution, degrees of freedom) pairs."""
    u2 = math.fsum(share**2 for share, _ in contributions)
    known = math.fsum(share**4 / freedom for share, freedom in contributions)
    return math.inf if known == 0.0 else u2**2 / known


def coverage_factor(probability: float, freedom: float = math.inf) -> float:
    """Student's t for a two-sided interval; degrees of freedom are cut to a whole number as GUM G.4.1 advises."""
    from scipy.special import ndtri, stdtrit

    tail = (1.0 + probability) / 2.0
    if math.isinf(freedom):
        return float(ndtri(tail))
    return float(stdtrit(max(math.floor(freedom), 1), tail))


def draw(quantity: Input, rng: np.random.Generator, count: int = DRAWS) -> Array:
    """Draws of one input, shape (count,)."""
    if quantity.shape == "rectangular":
        half = math.sqrt(3.0) * quantity.u
        return np.asarray(rng.uniform(-half, half, count) + quantity.value, dtype=np.float64)
    return np.asarray(rng.normal(0.0, 1.0, count) * quantity.u + quantity.value, dtype=np.float64)


def simulate(
    function: Callable[..., Array], inputs: Mapping[str, Input], count: int = DRAWS, seed: int = SEED
) -> Distribution:
    """Carry whole distributions through a vectorised function of named, independent inputs."""
    rng = np.random.default_rng(seed)
    return Distribution(np.sort(function(**{name: draw(quantity, rng, count) for name, quantity in inputs.items()})))
