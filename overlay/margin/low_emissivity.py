"""Where emissivity is low the linear budget does not do: the whole distribution of a projected temperature."""

from __future__ import annotations

import math

import numpy as np

from overlay.frames.frame import Array
from overlay.frames.radiometry import Band, surface_temperature_c
from overlay.margin.budget import DRAWS, SEED, Distribution, Input, Shape, draw
from overlay.margin.model import Conditions, SurfaceLimit
from overlay.reading.model import Reading
from overlay.uncertainty import RECTANGULAR, Budget, TermName

_EXPLICIT = frozenset({TermName.EMISSIVITY, TermName.REFLECTED})  # drawn themselves: T bends with them
_LEAST_EMISSIVITY = 1e-3


def projected_distribution(
    reading: Reading,
    conditions: Conditions,
    limit: SurfaceLimit,
    ambient_max_c: float,
    band: Band,
    count: int = DRAWS,
) -> Distribution:
    """Projected temperature plus what the limit itself is uncertain by, as draws to hold against ``limit.limit_c``.

    Emissivity (cut to (0, 1]) and reflected temperature are drawn and go through the measurement equation;
    every other term of the reading is drawn as a radiance that leaves the part, the camera's as a rectangle.
    The reading's peak is kept as the centre: what was added to the radiometric temperature (a small part's
    peak over its mean) stays added.

    JCGM 101:2008, clause 7 (from memory).
    """
    assert reading.peak_c is not None
    assert reading.emissivity is not None
    assert reading.leaving_radiance is not None
    rng = np.random.default_rng(SEED)
    emissivity_u = reading.emissivity_u or 0.0
    emissivity = _cut(draw(Input(reading.emissivity, emissivity_u), rng, count))
    reflected = band.radiance(draw(Input(conditions.reflected_c, conditions.reflected_u_c), rng, count))
    radiance_per_k = reading.emissivity * float(band.slope(reading.peak_c))
    leaving = np.full(count, reading.leaving_radiance)
    for name, u_k in _other_terms(reading.budget).items():
        shape: Shape = "rectangular" if name in RECTANGULAR else "normal"
        leaving += draw(Input(0.0, u_k * radiance_per_k, shape=shape), rng, count)
    centre = surface_temperature_c(
        band, reading.leaving_radiance, reading.emissivity, band.radiance(conditions.reflected_c)
    )
    surface = surface_temperature_c(band, leaving, emissivity, reflected) + (reading.peak_c - float(centre))
    ambient = draw(Input(conditions.ambient_c, conditions.ambient_u_c), rng, count)
    scale = draw(Input(conditions.rise_scale, conditions.rise_scale_u), rng, count)
    projected = ambient_max_c + (surface - ambient) * scale
    limit_u = math.sqrt(math.fsum(term.contribution_k**2 for term in limit.budget))
    return Distribution(np.sort(projected + draw(Input(0.0, limit_u), rng, count)))


def _other_terms(budget: Budget) -> dict[TermName, float]:
    """Standard uncertainty by name, of all terms that are not drawn themselves."""
    sums: dict[TermName, float] = {}
    for term in budget:
        if term.name not in _EXPLICIT:
            sums[term.name] = math.hypot(sums.get(term.name, 0.0), term.contribution_k)
    return sums


def _cut(emissivity: Array) -> Array:
    """Draws outside (0, 1] brought to its ends."""
    cut: Array = np.clip(emissivity, _LEAST_EMISSIVITY, 1.0)
    return cut
