"""Published figures of parts: power over temperature, and life.

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
