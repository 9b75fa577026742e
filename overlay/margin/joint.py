"""The probability that every part keeps its limit at once, with the errors that they share."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from overlay.arrays import Array
from overlay.margin.budget import SEED
from overlay.margin.model import Margin
from overlay.uncertainty import RECTANGULAR, shared_sums

_DRAWS = 4096  # of the shared errors; the private ones are integrated exactly, so that few do
_TOGETHER = 512  # draws worked through at once: 20 MB of 5,000 parts
_SURE_SIGMAS = 7.0  # beyond, Φ is 1, or 0, to 1e-12: what is sure needs no working out
_NEVER = 1e-9  # probabilities are told to six digits
_CERTAIN = 1e-15  # what double precision still tells from 1


@dataclass(frozen=True, slots=True)
class JointRisk:
    """How likely it is that any of the judged parts is over its limit."""

    probability_any_over: float
    parts: int  # judged by their temperature
    if_independent: float  # what it would be if no error were shared


def joint_risk(margins: Sequence[Margin]) -> JointRisk:
    """Probability that at least one judged part is over its limit.

    Each part's own probability is kept as it stands; what ties them together is what their budgets share (one camera,
    one ambient): margins are taken as jointly normal on the scale of their own probabilities. Given the shared errors
    the rest is private, so that P(all within) = E[Π Φ((zᵢ − sᵢ·ξ)/√(1 − |sᵢ|²))], the mean over draws of ξ; zᵢ is the
    normal quantile of a part's probability, sᵢ its shared terms over its standard uncertainty. Limits of error (a
    camera's accuracy) are drawn as the rectangles that they are: beyond them nobody is over.

    Returns
    -------
    JointRisk
        With zero parts where none has a verdict on its temperature.
    """
    return _joint_risk(tuple(margins))


@lru_cache(maxsize=4)  # every report of a job asks for the same two
def _joint_risk(margins: tuple[Margin, ...]) -> JointRisk:
    from scipy.special import ndtr, ndtri

    judged = [margin for margin in margins if margin.probability_within is not None and margin.u_c is not None]
    if not judged:
        return JointRisk(0.0, 0, 0.0)
    within = np.array([margin.probability_within for margin in judged], dtype=np.float64)
    if within.min() < _NEVER:  # one part is over for certain: the others change nothing that is told
        return JointRisk(1.0 - float(within.min()), len(judged), 1.0 - float(within.prod()))
    z = ndtri(np.clip(within, _CERTAIN, 1.0 - _CERTAIN))
    keys = _shared_keys(judged)
    loadings = _loadings(judged, keys)
    rest = np.sqrt(np.maximum(1.0 - (loadings**2).sum(axis=1), 1e-9))
    if loadings.shape[1]:
        rng = np.random.default_rng(SEED)
        half = rng.normal(0.0, 1.0, (_DRAWS // 2, len(keys)))
        rectangles = _limits_of_error(judged)
        limits = [i for i, key in enumerate(keys) if key in rectangles]
        half[:, limits] = rng.uniform(-math.sqrt(3.0), math.sqrt(3.0), (_DRAWS // 2, len(limits)))
        draws = np.concatenate([half, -half])  # both signs: the mean of the shared errors is exactly none
        all_within, loadings = 0.0, loadings / rest[:, None]
        for some in np.split(draws, range(_TOGETHER, _DRAWS, _TOGETHER)):
            given = z / rest - some @ loadings.T
            given = given[:, given.min(axis=0) < _SURE_SIGMAS]
            given = given[given.min(axis=1, initial=0.0) > -_SURE_SIGMAS]
            all_within += float(ndtr(given, out=given).prod(axis=1).sum()) / _DRAWS
        any_over = 1.0 - all_within
    else:
        any_over = 1.0 - float(within.prod())
    return JointRisk(min(max(any_over, 0.0), 1.0), len(judged), 1.0 - float(within.prod()))


def _shared_keys(judged: Sequence[Margin]) -> list[str]:
    """Keys of the errors that at least two parts share."""
    counts = Counter(key for margin in judged for key in shared_sums(margin.budget))
    return [key for key, count in counts.items() if count > 1]


def _limits_of_error(judged: Sequence[Margin]) -> frozenset[str]:
    return frozenset(term.shared for margin in judged for term in margin.budget if term.name in RECTANGULAR)


def _loadings(judged: Sequence[Margin], keys: Sequence[str]) -> Array:
    """Each part's signed share of those errors, (parts, errors)."""
    sums = [shared_sums(margin.budget) for margin in judged]
    loadings = np.array([[one.get(key, 0.0) for key in keys] for one in sums]).reshape(len(judged), len(keys))
    u = np.array([margin.u_c if margin.u_c else math.inf for margin in judged])
    loadings = loadings / u[:, None]
    # a part whose probability allows for heavier tails shares no more than all of its uncertainty
    size = np.sqrt((loadings**2).sum(axis=1))
    return np.asarray(loadings / np.maximum(size, 1.0)[:, None])
