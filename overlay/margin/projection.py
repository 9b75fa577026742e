"""From the ambient of the bench to the hottest one."""

from __future__ import annotations

import math
from dataclasses import dataclass

from overlay.margin.model import Conditions, Requirement
from overlay.uncertainty import Budget, Term, TermName, scaled

# Change of copper's resistance per kelvin, at 20 °C (textbook value).
COPPER_PER_K = 0.00393
# On-resistance of a power MOSFET: about twice from 25 to 150 °C, so 0.6 %/K of its value at 25 °C (data sheets'
# normalised curves, common practice).
ON_RESISTANCE_PER_K = 0.006
# A rise at constant power falls as the ambient rises, since radiation grows: by 0.4 %/K at most on painted boards
# (Churchill–Chu and Stefan–Boltzmann on a 0.1 m plate: 20 K at 25 °C are 17.2 K at 60 °C) …
COOLING_FALLS_PER_K = 0.004
# … and grows slightly where convection alone cools, as on bare metal (the same model, ε = 0: 40 K are 41 K at 60 °C).
COOLING_GROWS_PER_K = 0.0008
# A junction's forward voltage falls by 2 mV/K of about 0.7 V (textbook value): less power at the same current.
_FORWARD_FALLS_PER_K = 0.003
# Half of a converter's loss is in its switch (own estimate).
_HALF_A_SWITCH_PER_K = 0.5 * ON_RESISTANCE_PER_K
# ΔT ~ P^0.8 where h ~ ΔT^¼ (textbook form of laminar natural convection).
_CONVECTION_EXPONENT = 0.8

# The same laminar natural convection in thinner air: Nu ~ Gr^¼ and Gr ~ ρ², so h ~ ρ^½·ΔT^¼, and at constant power
# ΔT ~ ρ^−0.4 (derived; where radiation helps, about half of that).
_THIN_AIR_EXPONENT = 0.5 * _CONVECTION_EXPONENT
# Lapse of temperature, sea-level temperature and exponent of density in the standard atmosphere up to 11 km (ISO 2533,
# from memory).
_LAPSE_K_PER_M, _SEA_LEVEL_K, _DENSITY_EXPONENT = 0.0065, 288.15, 4.2559

_GROWS_PER_K = {
    "inductor": COPPER_PER_K,
    "transformer": COPPER_PER_K,
    "relay": COPPER_PER_K,
    "connector": COPPER_PER_K,
    "fuse": COPPER_PER_K,
    "transistor": ON_RESISTANCE_PER_K,
    "regulator": _HALF_A_SWITCH_PER_K,
    "module": _HALF_A_SWITCH_PER_K,
}
_FALLS_PER_K = {"diode": _FORWARD_FALLS_PER_K, "led": _FORWARD_FALLS_PER_K}


@dataclass(frozen=True, slots=True)
class Band:
    """How far a true rise in another ambient may lie below and above the same rise, in kelvin; half widths."""

    below_k: float
    above_k: float


def projected_c(surface_c: float, conditions: Conditions, ambient_max_c: float) -> float:
    """ambient_max + (surface − ambient) × rise_scale.

    The rise is kept; `projection_band` says how far that may be off.
    """
    return ambient_max_c + (surface_c - conditions.ambient_c) * conditions.rise_scale


def projection_band(kind: str, rise_k: float, ambient_c: float, air_c: float) -> Band:
    """How far "the same rise" may be off for a kind of part between two ambients.

    Constant power into radiation and natural convection lets a rise fall by up to an eighth over 35 K; copper at
    constant current lets it grow by as much, on-resistance by a fifth; forced air and conduction keep it.

    References
    ----------
    Plate model and power laws: see the constants of this module.
    """
    change = abs(air_c - ambient_c)
    grows = _GROWS_PER_K.get(kind, 0.0)
    if grows == COPPER_PER_K:
        grows /= 1.0 + COPPER_PER_K * (min(ambient_c, air_c) - 20.0)  # exact for copper from the colder ambient
    above = (grows + COOLING_GROWS_PER_K) * change * abs(rise_k)
    below = min((COOLING_FALLS_PER_K + _FALLS_PER_K.get(kind, 0.0)) * change, 1.0) * abs(rise_k)
    return Band(below, above) if air_c >= ambient_c else Band(above, below)


def air_density_ratio(altitude_m: float) -> float:
    """Density of the standard atmosphere over that at sea level.

    >>> round(air_density_ratio(2000.0), 2)
    0.82
    """
    return math.pow(1.0 - _LAPSE_K_PER_M * altitude_m / _SEA_LEVEL_K, _DENSITY_EXPONENT)


def thin_air_growth(bench_m: float, use_m: float) -> float:
    """By what share a rise grows at most in the air of another altitude at constant power: 0.08 from 0 to 2000 m.

    Negative where the air is denser. Natural convection alone; radiation halves it, a fan is not covered.
    """
    return math.pow(air_density_ratio(bench_m) / air_density_ratio(use_m), _THIN_AIR_EXPONENT) - 1.0


def likely_rise_scale_u(rise_scale: float) -> float:
    """Standard uncertainty of a rise scale that nobody stated one for; none at 1.

    A rise goes with the power to between 0.8 (laminar natural convection) and 1 (linear cooling): a scale worked out
    from powers may be off by |s − s^0.8|, taken as the half width of a rectangle. For s = 2: 0.15.
    """
    return abs(rise_scale - math.pow(rise_scale, _CONVECTION_EXPONENT)) / math.sqrt(3.0)


def projected_budget(surface_c: float, budget: Budget, conditions: Conditions) -> Budget:
    """Terms of a projected temperature: those of the surface, the ambient's, and the rise scale's."""
    scale = conditions.rise_scale
    terms = [
        Term(TermName.AMBIENT, -scale * conditions.ambient_u_c, f"ambient:{conditions.capture}"),
        Term(
            TermName.RISE_SCALE,
            (surface_c - conditions.ambient_c) * conditions.rise_scale_u,
            f"rise scale:{conditions.capture}",
        ),
    ]
    return (*scaled(budget, scale), *(term for term in terms if term.contribution_k != 0.0))


def model_terms(kind: str, rise_k: float, conditions: Conditions, requirement: Requirement, *, kept: bool) -> Budget:
    """Terms of the projection itself: the rise's band and the enclosure's air. A half width counts as a rectangle's.

    ``kept``: the limit lies above the projection, so that a greater rise could break it. Below a projection that is
    over already the band does not count: heating tests are judged by the same rise (IEC 61010-1 and others add the
    difference of the ambients, from memory), and over by that rule is over.
    """
    band = projection_band(kind, rise_k, conditions.ambient_c, requirement.air_c)
    thinner_k = max(thin_air_growth(conditions.altitude_m, requirement.altitude_m), 0.0) * abs(rise_k)
    terms = (
        Term(TermName.PROJECTION, (band.above_k + thinner_k) / math.sqrt(3.0) if kept else 0.0),
        Term(TermName.ENCLOSURE, requirement.enclosure_rise_u_k, "enclosure"),
    )
    return tuple(term for term in terms if term.contribution_k != 0.0)
