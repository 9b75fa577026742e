"""From the ambient of the bench to the hottest one."""

from __future__ import annotations

import math

from overlay.margin.model import Conditions
from overlay.uncertainty import Budget, Term, TermName, scaled

# Change of copper's resistance per kelvin, at 20 °C (textbook value).
COPPER_PER_K = 0.00393
# ΔT ~ P^0.8 where h ~ ΔT^¼ (textbook form of laminar natural convection).
_CONVECTION_EXPONENT = 0.8
_LIKELY_SETTLING, _ILL_CONDITIONED = 1.0, 0.9


def projected_c(surface_c: float, conditions: Conditions, ambient_max_c: float) -> float:
    """ambient_max + (surface − ambient) × rise_scale.

    The rise is kept: on painted boards, whose radiation grows with temperature, that is cautious by up to an
    eighth over 35 K; it is not where the power itself rises with temperature (copper losses, leakage, on-resistance).
    """
    return ambient_max_c + (surface_c - conditions.ambient_c) * conditions.rise_scale


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


def copper_loss_rise_k(rise_k: float, ambient_c: float, ambient_max_c: float) -> float:
    """Rise of a winding at constant current in another ambient: its resistance, and so its loss, grows with it.

    Exact for a loss proportional to resistance and linear cooling.
    """
    return rise_k * (1.0 + COPPER_PER_K * (ambient_max_c - 20.0)) / (1.0 + COPPER_PER_K * (ambient_c - 20.0))


def settled_c(first_c: float, second_c: float, third_c: float, interval: float) -> tuple[float, float] | None:
    """Final value and time constant from three equally spaced readings of an exponential warm-up.

    T∞ = (T₁T₃ − T₂²)/(T₁ + T₃ − 2T₂), τ = Δt / ln((T₂−T₁)/(T₃−T₂)). None where the readings do not approach
    a value, or so slowly that the answer would be a guess (ratio of the two steps above 0.9: common practice).
    """
    if second_c == first_c:
        return None
    ratio = (third_c - second_c) / (second_c - first_c)
    if not 0.0 < ratio < _LIKELY_SETTLING or ratio > _ILL_CONDITIONED:
        return None
    final = (first_c * third_c - second_c**2) / (first_c + third_c - 2.0 * second_c)
    return final, interval / math.log(1.0 / ratio)
