"""Several units of one board: how parts scatter between units, and what that shows of the units not tested."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array
from overlay.margin.budget import coverage_factor
from overlay.margin.model import Margin
from overlay.uncertainty import MAD_TO_SIGMA, OF_ONE_UNIT, TermName, combined_k

# A unit or part is odd from so many standard deviations (1 in 2000 by chance) …
_ODD_SIGMAS = 3.5
_LEAST_ODD_K = 2.0  # … and so many kelvin: less concerns nobody (own choice)


@dataclass(frozen=True, slots=True)
class UnitPart:
    """One part over all units that could read it, projected to the hottest ambient.

    Where units are held against different limits of a part, their temperatures are set off to the lowest of these, so
    that each keeps its own margin.

    Parameters
    ----------
    projected_c
        One value a unit, None where that unit could not read it.
    bound_c
        With the confidence asked for, the share ``coverage`` of all units stays at or below it; None for a single
        value. It holds the scatter between units and, once, what all units' values share.
    keeps
        Whether that bound is at or below the limit; None without a limit or a bound.
    odd
        Names of the units in which the part departs from the others.
    """

    refdes: str
    projected_c: tuple[float | None, ...]
    mean_c: float | None
    spread_k: float | None
    worst_c: float | None
    worst_unit: str
    limit_c: float | None
    common_u_k: float
    factor: float | None
    bound_c: float | None
    keeps: bool | None
    odd: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Units:
    """All units of a board, part by part."""

    names: tuple[str, ...]
    parts: tuple[UnitPart, ...]
    shifts_k: tuple[float, ...]  # how much warmer each unit is than the middle one, over all its parts
    odd_units: tuple[str, ...]
    coverage: float
    confidence: float


def tolerance_factor(count: int, coverage: float, confidence: float) -> float:
    """k of a one-sided tolerance bound mean + k·s from ``count`` normal values whose spread is not known.

    k = t′(confidence; n − 1, z·√n)/√n with the noncentral t and z the normal quantile of ``coverage``.

    References
    ----------
    ISO 16269-6 (factors for unknown standard deviation, from memory); for n = 5 and 10 at 95 %/95 %: 4.203 and 2.911.

    >>> round(tolerance_factor(5, 0.95, 0.95), 3)
    4.203
    """
    from scipy.special import nctdtrit, ndtri

    if count < 2:
        raise ValueError(f"a spread needs at least two values, got {count}")
    noncentrality = float(ndtri(coverage)) * math.sqrt(count)
    return float(nctdtrit(count - 1, noncentrality, confidence)) / math.sqrt(count)


def compare_units(
    names: Sequence[str], margins: Sequence[Sequence[Margin]], *, coverage: float, confidence: float
) -> Units:
    """Set the units of one board side by side.

    Parameters
    ----------
    names
        Of the units, one for each entry of ``margins``.
    margins
        Each unit's margins; parts are matched by designator, in the order of the first unit.
    coverage, confidence
        Of the tolerance bound: which share of all units it is for, and how surely.
    """
    by_name = [{margin.refdes: margin for margin in unit} for unit in margins]
    refdes = list(dict.fromkeys(name for unit in by_name for name in unit))
    found = [[unit.get(name) for unit in by_name] for name in refdes]
    limits = [min((m.limit_c for m in row if m is not None and m.limit_c is not None), default=None) for row in found]
    values = np.array(
        [[_projected(margin, limit) for margin in row] for row, limit in zip(found, limits, strict=True)],
        dtype=np.float64,
    ).reshape(len(refdes), len(names))
    own_u = np.array([[_own_u(margin) for margin in row] for row in found], dtype=np.float64).reshape(values.shape)
    shifts, shift_u = _shifts(values)
    rest = values - _middle(values)[:, None] - shifts[None, :]
    odd = _odd(rest, own_u)
    parts = [
        _part(name, names, row, limits[i], values[i], odd[i], coverage, confidence)
        for i, (name, row) in enumerate(zip(refdes, found, strict=True))
    ]
    parts.sort(key=_gravity)
    far = (np.abs(shifts) > _ODD_SIGMAS * shift_u) & (np.abs(shifts) > _LEAST_ODD_K)
    return Units(
        names=tuple(names),
        parts=tuple(parts),
        shifts_k=tuple(float(shift) for shift in shifts),
        odd_units=tuple(name for name, is_far in zip(names, far, strict=True) if is_far),
        coverage=coverage,
        confidence=confidence,
    )


def _gravity(part: UnitPart) -> tuple[int, float, str]:
    order = {False: 0, None: 1, True: 2}[part.keeps]
    room = math.inf if part.limit_c is None or part.bound_c is None else round(part.limit_c - part.bound_c, 1)
    return order, room, part.refdes


def _projected(margin: Margin | None, limit_c: float | None) -> float:
    if margin is None or margin.projected_c is None:
        return math.nan
    return margin.projected_c if limit_c is None or margin.margin_c is None else limit_c - margin.margin_c


def _own_u(margin: Margin | None) -> float:
    return math.nan if margin is None else combined_k(tuple(t for t in margin.budget if t.name in OF_ONE_UNIT))


def _middle(values: Array) -> Array:
    """Median of each part over the units, (parts,); nan where no unit read it."""
    middle = np.full(len(values), math.nan)
    read = np.isfinite(values).any(axis=1)
    middle[read] = np.nanmedian(values[read], axis=1)
    return middle


def _shifts(values: Array) -> tuple[Array, Array]:
    """How much warmer each unit is than the middle, over its parts, and the standard uncertainty of that."""
    rest = values - _middle(values)[:, None]
    shifts, u = np.zeros(values.shape[1]), np.full(values.shape[1], math.inf)
    for unit in range(values.shape[1]):
        own = rest[np.isfinite(rest[:, unit]), unit]
        if len(own) >= 4:  # fewer parts tell nothing of a unit
            shifts[unit] = float(np.median(own))
            scatter = MAD_TO_SIGMA * float(np.median(np.abs(own - shifts[unit])))
            u[unit] = 1.25 * max(scatter, 0.1) / math.sqrt(len(own))  # of a median: 1.25 σ/√n
    return shifts, u


def _odd(rest: Array, own_u: Array) -> Array:
    """Which values depart from their part's middle beyond what noise and the usual scatter explain."""
    known = np.abs(rest[np.isfinite(rest)])
    usual = MAD_TO_SIGMA * float(np.median(known)) if known.size else 0.0
    scale = np.hypot(np.nan_to_num(own_u), usual)
    with np.errstate(invalid="ignore"):
        return np.asarray((np.abs(rest) > _ODD_SIGMAS * scale) & (np.abs(rest) > _LEAST_ODD_K))


def _part(
    refdes: str,
    names: Sequence[str],
    margins: Sequence[Margin | None],
    limit_c: float | None,
    values: Array,
    odd: Array,
    coverage: float,
    confidence: float,
) -> UnitPart:
    read = [margin for margin in margins if margin is not None and margin.projected_c is not None]
    known = np.isfinite(values)
    mean = float(values[known].mean()) if known.any() else None
    spread = float(values[known].std(ddof=1)) if known.sum() >= 2 else None
    common_u = max((_common_u(margin) for margin in read), default=0.0)
    factor = bound = None
    if mean is not None and spread is not None:
        factor = tolerance_factor(int(known.sum()), coverage, confidence)
        bound = mean + factor * spread + coverage_factor(confidence) * common_u
    worst = int(np.nanargmax(np.round(values, 6))) if known.any() else None
    return UnitPart(
        refdes=refdes,
        projected_c=tuple(float(value) if np.isfinite(value) else None for value in values),
        mean_c=mean,
        spread_k=spread,
        worst_c=None if worst is None else float(values[worst]),
        worst_unit="" if worst is None else names[worst],
        limit_c=limit_c,
        common_u_k=common_u,
        factor=factor,
        bound_c=bound,
        keeps=None if bound is None or limit_c is None else bound <= limit_c,
        odd=tuple(name for name, is_odd in zip(names, odd, strict=True) if is_odd),
    )


def _common_u(margin: Margin) -> float:
    # that the air may be cooler than the board says nothing against a bound
    return combined_k(
        tuple(t for t in margin.budget if t.name not in OF_ONE_UNIT and t.name is not TermName.AIR_UNKNOWN)
    )
