"""Where emissivity is low the linear budget does not do: the whole distribution of a projected temperature."""

from __future__ import annotations

import numpy as np

from overlay.arrays import Array
from overlay.frames.radiometry import Band, surface_temperature_c
from overlay.margin.budget import DRAWS, SEED, Distribution, drawn
from overlay.margin.model import Conditions
from overlay.reading.model import Reading
from overlay.uncertainty import Budget, TermName, scaled

_EXPLICIT = frozenset({TermName.EMISSIVITY, TermName.STAGE, TermName.REFLECTED})  # drawn themselves: T bends with them
_LEAST_EMISSIVITY = 1e-3  # below any polished metal; the equation divides by it


def surface_distribution(
    reading: Reading, reflected_c: float, reflected_u_c: float, band: Band, rng: np.random.Generator, count: int = DRAWS
) -> Array:
    """Draws (count,) of a reading's surface temperature in °C, unsorted; nan where none solves the equation.

    Emissivity (cut to (0, 1]) and reflected temperature are drawn and go through the measurement equation; every
    other term of the reading is drawn as a radiance that leaves the part. The reading's peak is kept as the centre:
    what was added to the radiometric temperature (a small part's peak over its mean) stays added.

    References
    ----------
    JCGM 101:2008, clause 7 (from memory).
    """
    assert reading.peak_c is not None
    assert reading.emissivity is not None
    assert reading.leaving_radiance is not None
    emissivity = _cut(rng.normal(0.0, 1.0, count) * (reading.emissivity_u or 0.0) + reading.emissivity)
    reflected = band.radiance(rng.normal(0.0, 1.0, count) * reflected_u_c + reflected_c)
    radiance_per_k = reading.emissivity * float(band.slope(reading.peak_c))
    others = tuple(term for term in reading.budget if term.name not in _EXPLICIT)
    leaving = reading.leaving_radiance + drawn(scaled(others, radiance_per_k), rng, count)
    centre = surface_temperature_c(band, reading.leaving_radiance, reading.emissivity, band.radiance(reflected_c))
    return np.asarray(
        surface_temperature_c(band, leaving, emissivity, reflected) + (reading.peak_c - float(centre)), dtype=np.float64
    )


def projected_distribution(
    reading: Reading, conditions: Conditions, beyond: Budget, air_c: float, band: Band, count: int = DRAWS
) -> Distribution:
    """Projected temperature of a reading, as draws to hold against its limit.

    ``beyond`` holds the terms besides the reading's own, in projected minus limit: projection, enclosure, the limit.
    """
    rng = np.random.default_rng(SEED)
    surface = surface_distribution(reading, conditions.reflected_c, conditions.reflected_u_c, band, rng, count)
    ambient = rng.normal(0.0, 1.0, count) * conditions.ambient_u_c + conditions.ambient_c
    scale = rng.normal(0.0, 1.0, count) * conditions.rise_scale_u + conditions.rise_scale
    return Distribution(np.sort(air_c + (surface - ambient) * scale + drawn(beyond, rng, count)))


def _cut(emissivity: Array) -> Array:
    """Draws outside (0, 1] brought to its ends."""
    cut: Array = np.clip(emissivity, _LEAST_EMISSIVITY, 1.0)
    return cut
