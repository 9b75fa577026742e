"""Published criteria of steady state, and whether a record shows that they are met."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array


@dataclass(frozen=True, slots=True)
class Criterion:
    """A published criterion of steady state: at most ``change_k`` within ``window_s``."""

    source: str
    window_s: float
    change_k: float


# Each as quoted by the standard named; which of them applies is for the product's own standard to say.
CRITERIA = (
    Criterion("IEC 60598-1, 12.4.1 f: less than 1 K in an hour", 3600.0, 1.0),
    Criterion("IEC 61010-1, OSM decision 23: at most 2 K in an hour", 3600.0, 2.0),
    Criterion("IEC 61810-7: less than 1 K between readings over 10 minutes", 600.0, 1.0),
    Criterion("IEC 62282-2: at most 3 K in 15 minutes", 900.0, 3.0),
)


def criteria_words(times_s: Array, curves_c: Array) -> tuple[str, ...]:
    """For each published criterion whether the record's end meets it, the fastest part deciding.

    ``curves_c`` is (n, pages). A record shorter than a criterion's window cannot show that it is met.
    """
    words = []
    for criterion in CRITERIA:
        start = times_s[-1] - criterion.window_s
        inside = times_s >= start - 1e-9
        change = float(np.max(np.ptp(curves_c[:, inside], axis=1), initial=0.0))
        if times_s[0] > start + 1e-9:
            seen = f"not shown, the record is shorter ({change:.1f} K in {times_s[-1] - times_s[0]:.0f} s)"
            words.append(f"{criterion.source}: {'not met' if change > criterion.change_k else seen}")
        else:
            met = "met" if change <= criterion.change_k else "not met"
            words.append(f"{criterion.source}: {met} ({change:.1f} K)")
    return tuple(words)
