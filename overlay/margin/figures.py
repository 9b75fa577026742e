"""Published figures of parts: power over temperature, life, and what a code letter stands for.

Each names its source; a part's own data sheet comes first.
"""

from __future__ import annotations

from overlay.board.model import Rating
from overlay.margin.derating import load_line
from overlay.margin.model import MarginCode
from overlay.reasons import Reason

# Full power of chip resistors up to this ambient (data sheets of general thick-film chips; MIL-PRF-55342 practice).
FULL_POWER_UP_TO_C = 70.0
# Makers guarantee no more than fifteen years whatever the formula says (note in a power-supply manual).
LONGEST_LIFE_H = 131_400.0
# The rule fits from 60 to 105 °C and is not meant for series of 125 °C (Rubycon, the same notes).
_RULE_FROM_C, _NO_RULE_FROM_C = 60.0, 125.0
# EIA class 2 ceramic: upper temperature by the code's digit (EIA code, as printed in makers' guides).
_UPPER_BY_DIGIT = {"5": 85.0, "6": 105.0, "7": 125.0, "8": 150.0}
# IEC 60085 thermal classes by letter (tables citing the standard).
INSULATION_CLASS_C = {"A": 105.0, "E": 120.0, "B": 130.0, "F": 155.0, "H": 180.0, "N": 200.0, "R": 220.0}
# Limits of windings by class, resistance method (IEC 62368-1 Table 9, from memory); a sensor on the surface: 10 K less.
_WINDING_LIMIT_C = {"A": 100.0, "E": 115.0, "B": 120.0, "F": 140.0, "H": 165.0, "N": 180.0, "R": 200.0}
_SURFACE_SENSOR_K = 10.0
_INFERRED_ZERO_C = {"copper": 234.5, "aluminium": 225.0}
# IEC 60512-5-2: usable current is the measured base curve times this (makers' derating sheets).
CONNECTOR_CURRENT_FACTOR = 0.8


def resistor_load(ambient_c: float, zero_at_c: float, full_up_to_c: float = FULL_POWER_UP_TO_C) -> float:
    """Share of a resistor's rated power allowed in an ambient: level to one temperature, straight down to zero."""
    return load_line(ambient_c, ((full_up_to_c, 1.0), (zero_at_c, 0.0)))


def electrolytic_life_h(endurance_h: float, endurance_c: float, case_c: float) -> float:
    """Life that doubles every 10 K below the temperature of the endurance test, at most fifteen years.

    Rubycon, Aluminum Electrolytic Capacitor Technical Notes, 5-1 (fits best between 60 and 105 °C; not for series of
    125 °C and more). ``case_c`` at the place the endurance refers to, at the rated ripple.
    """
    # an exponent this large is far beyond the cap
    return min(float(endurance_h * 2.0 ** min((endurance_c - case_c) / 10.0, 100.0)), LONGEST_LIFE_H)


def life_of(rating: Rating | None, case_c: float | None) -> tuple[float | None, Reason | None]:
    """Life of an electrolytic capacitor at its projected case, at the rated ripple; or why none can be told.

    The rule of 10 K is refused above the temperature of the endurance test, and for series of 125 °C and more; below
    60 °C life is not counted any longer.
    """
    if rating is None or rating.endurance_h is None or rating.endurance_c is None or case_c is None:
        return None, None
    if rating.endurance_c >= _NO_RULE_FROM_C:
        text = f"no life is worked out: the 10 K rule does not hold for series of {_NO_RULE_FROM_C:g} °C and more"
        return None, Reason(MarginCode.LIFE_REFUSED, text)
    if case_c > rating.endurance_c:
        text = f"no life is worked out: at {case_c:.0f} °C it is above its endurance test's {rating.endurance_c:g} °C"
        return None, Reason(MarginCode.LIFE_REFUSED, text)
    return electrolytic_life_h(rating.endurance_h, rating.endurance_c, max(case_c, _RULE_FROM_C)), None


def junction_c(top_c: float, psi_jt_k_per_w: float, power_w: float) -> float:
    """Junction temperature from the middle of the package's top: T_J = T_T + ψ_JT·P (JESD51-2, JESD51-12)."""
    return top_c + psi_jt_k_per_w * power_w


def dielectric_limit_c(code: str) -> float | None:
    """Upper temperature of a ceramic capacitor's dielectric (``X7R`` → 125); None for an unknown code."""
    code = code.strip().upper()
    if code in ("C0G", "COG", "NP0", "NPO"):
        return 125.0
    if len(code) == 3 and code[0] in "XYZ" and code[2] in "FRSTUV":
        return _UPPER_BY_DIGIT.get(code[1])
    return None


def winding_limit_c(insulation_class: str, *, on_surface: bool) -> float:
    """Highest temperature of a winding of that class, by resistance or by a sensor (or camera) on its outside."""
    return _WINDING_LIMIT_C[insulation_class] - (_SURFACE_SENSOR_K if on_surface else 0.0)


def winding_rise_k(
    cold_ohm: float, hot_ohm: float, cold_c: float, hot_ambient_c: float, metal: str = "copper"
) -> float:
    """Rise of a winding by the resistance method: (R₂−R₁)/R₁·(k + t₁) − (t₂ − t₁)."""
    return (hot_ohm - cold_ohm) / cold_ohm * (_INFERRED_ZERO_C[metal] + cold_c) - (hot_ambient_c - cold_c)


def connector_current_a(base_a: float) -> float:
    """Usable current of a connector from its measured base curve (IEC 60512-5-2)."""
    return CONNECTOR_CURRENT_FACTOR * base_a
