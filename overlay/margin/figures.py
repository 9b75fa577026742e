"""Published figures of parts: power over temperature, and life.

Each names its source; a part's own data sheet comes first.
"""

from __future__ import annotations

import math

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
# The core of a can above its surface at the rated ripple (common practice).
CORE_RISE_K = 5.0
_FUSE_SHARE, _FUSE_FALLS_PER_K, _FUSE_RATED_AT_C = 0.75, 0.005, 25.0
_CONTACT_RISE_K = 37.5


def resistor_load(ambient_c: float, zero_at_c: float, full_up_to_c: float = FULL_POWER_UP_TO_C) -> float:
    """Share of a resistor's rated power allowed in an ambient: level to one temperature, straight down to zero."""
    return load_line(ambient_c, ((full_up_to_c, 1.0), (zero_at_c, 0.0)))


def fuse_load(ambient_c: float) -> float:
    """Share of a fuse's rated current to be carried where its data sheet's line is not at hand.

    Three quarters at 25 °C (a rule that many makers state), and half a per cent of that less for every kelvin above
    (rerating of slow fuses; applications pages of makers).

    >>> fuse_load(20.0), round(fuse_load(85.0), 3)
    (0.75, 0.525)
    """
    return _FUSE_SHARE * min(max(1.0 - _FUSE_FALLS_PER_K * (ambient_c - _FUSE_RATED_AT_C), 0.0), 1.0)


def contact_rise_load(ambient_c: float, limit_c: float) -> float:
    """Share of a connector's rated current that lets its contacts rise to their limit and no further.

    A contact's rise goes with the square of the current (derived); at the rated current it is 30 K in plug connectors
    (IEC 60512-5-1) and 45 K in terminal blocks (IEC 60998-1), here the middle of both. At most the rating itself.

    >>> round(contact_rise_load(85.0, 105.0), 2), contact_rise_load(105.0, 105.0)
    (0.73, 0.0)
    """
    return min(math.sqrt(max(limit_c - ambient_c, 0.0) / _CONTACT_RISE_K), 1.0)


def current_heating(rating: Rating | None) -> float:
    """Heat that the current makes inside a part over that of its rated current, (I/I_rated)², never less than 1.

    Less than rated would leave a capacitor's core cooler; that is not counted on, for the endurance test has its own
    ripple.
    """
    if rating is None or rating.current_a is None or not rating.rated_current_a:
        return 1.0
    return max((rating.current_a / rating.rated_current_a) ** 2, 1.0)


def electrolytic_life_h(endurance_h: float, endurance_c: float, case_c: float) -> float:
    """Life that doubles every 10 K below the temperature of the endurance test, at most fifteen years.

    Rubycon, Aluminum Electrolytic Capacitor Technical Notes, 5-1 (fits best between 60 and 105 °C; not for series of
    125 °C and more). ``case_c`` at the place the endurance refers to, at the rated ripple.
    """
    # an exponent this large is far beyond the cap
    return min(float(endurance_h * 2.0 ** min((endurance_c - case_c) / 10.0, 100.0)), LONGEST_LIFE_H)


def life_of(rating: Rating | None, case_c: float | None) -> tuple[float | None, Reason | None]:
    """Life of an electrolytic capacitor at its projected case and its ripple; or why none can be told.

    The endurance test has the same core above the same case, so that at the rated ripple the two cancel; more ripple
    heats the core by its square (`current_heating`). The rule of 10 K is refused above the temperature of the endurance
    test, and for series of 125 °C and more; below 60 °C life is not counted any longer.
    """
    if rating is None or rating.endurance_h is None or rating.endurance_c is None or case_c is None:
        return None, None
    if rating.endurance_c >= _NO_RULE_FROM_C:
        text = f"no life is worked out: the 10 K rule does not hold for series of {_NO_RULE_FROM_C:g} °C and more"
        return None, Reason(MarginCode.LIFE_REFUSED, text)
    ripple_k = CORE_RISE_K * (current_heating(rating) - 1.0)
    as_at_rated_c = case_c + ripple_k
    if as_at_rated_c > rating.endurance_c:
        by_ripple = f" with {ripple_k:.0f} K by more ripple than rated" if ripple_k >= 0.5 else ""
        text = (
            f"no life is worked out: at {as_at_rated_c:.0f} °C{by_ripple} it is above its endurance test's "
            f"{rating.endurance_c:g} °C"
        )
        return None, Reason(MarginCode.LIFE_REFUSED, text)
    return electrolytic_life_h(rating.endurance_h, rating.endurance_c, max(as_at_rated_c, _RULE_FROM_C)), None
