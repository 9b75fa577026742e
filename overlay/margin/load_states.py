"""Several states of known load, carried to the required one: rise = a + b·I + c·I²."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from overlay.margin.model import Conditions, MarginCode
from overlay.reading.model import Reading
from overlay.reasons import Reason
from overlay.uncertainty import Budget, Term, TermName, combined_k

# A power goes with the current (junctions, constant voltage) or with its square (resistance).
_LEAST_STATES = 3  # two fit any law
_AT_REQUIRED_LOAD = 1e-3  # of the required load: it was measured there
_LEAST_U_K = 0.1  # no state is reproduced better than this (own estimate)


def rise_scale_of(load: float) -> tuple[float, float]:
    """Rise at the required load ÷ rise at this one where nothing else tells, and its standard uncertainty.

    The larger of the linear and the quadratic law upwards (the smaller downwards, likewise cautious), with their
    distance as the half width of a rectangle.

    >>> rise_scale_of(0.5)[0]
    4.0
    """
    linear, square = 1.0 / load, 1.0 / load**2
    return max(linear, square), abs(square - linear) / math.sqrt(3.0)


def at_required_load(
    readings: Sequence[Reading], conditions: Mapping[str, Conditions]
) -> tuple[tuple[Reading, ...], Mapping[str, Conditions]]:
    """One part's readings with those of several known loads replaced by what they say of the required load.

    Parameters
    ----------
    readings, conditions
        Of one part, by capture; only captures that state their ``load`` take part.

    Returns
    -------
    readings, conditions
        Unchanged where fewer than three different loads were read, or the required load itself was.

    Notes
    -----
    Weighted least squares of a + b·I + c·I² over the rises. What the states share (camera, ambient) shifts the whole
    curve and is carried as it is; what goes with the rise (emissivity) grows with it; the rest is the fit's.
    """
    stated = [item for item in readings if item.trusted and conditions[item.capture].load is not None]
    if len(stated) < _LEAST_STATES:
        return tuple(readings), conditions
    loads = np.array([conditions[item.capture].load for item in stated], dtype=np.float64)
    if len(np.unique(loads.round(3))) < _LEAST_STATES or np.any(np.abs(loads - 1.0) <= _AT_REQUIRED_LOAD):
        return tuple(readings), conditions
    rises = np.array([(item.peak_c or 0.0) - conditions[item.capture].ambient_c for item in stated])
    own = np.array([max(combined_k(_private(item.budget)), _LEAST_U_K) for item in stated])
    design = np.column_stack([np.ones_like(loads), loads, loads**2])
    weighted = design / own[:, None]
    covariance = np.linalg.inv(weighted.T @ weighted)
    rise_k = float(np.ones(3) @ covariance @ weighted.T @ (rises / own))
    fit_u = math.sqrt(float(np.ones(3) @ covariance @ np.ones(3)))
    top = stated[int(np.argmax(loads))]
    ambient_c = conditions[top.capture].ambient_c
    grown = rise_k / max(float(rises[int(np.argmax(loads))]), _LEAST_U_K)
    shared: Budget = tuple(
        replace(term, contribution_k=term.contribution_k * (grown if term.name is TermName.EMISSIVITY else 1.0))
        for term in top.budget
        if term.shared
    )
    budget = (*shared, Term(TermName.LOAD_FIT, fit_u))
    words = ", ".join(f"{load:g}" for load in sorted(loads.tolist()))
    text = f"carried to the required load by a + b·I + c·I² over the states at {words} of it: rise {rise_k:.1f} K"
    carried = replace(
        top,
        peak_c=ambient_c + rise_k,
        mean_c=None if top.mean_c is None else ambient_c + (top.mean_c - ambient_c) * grown,
        ring_c=None if top.ring_c is None else ambient_c + (top.ring_c - ambient_c) * grown,
        ring_u_c=None if top.ring_u_c is None else math.hypot(top.ring_u_c * grown, fit_u),
        budget=budget,
        u_c=combined_k(budget),
        leaving_radiance=None,
        leaving_u=None,
        why=(*top.why, Reason(MarginCode.BY_LOAD, text)),
    )
    kept = tuple(item for item in readings if all(item is not other for other in stated))
    scaled_one = replace(conditions[top.capture], rise_scale=1.0, rise_scale_u=0.0)
    return (*kept, carried), {**conditions, top.capture: scaled_one}


def _private(budget: Budget) -> Budget:
    return tuple(term for term in budget if not term.shared)
