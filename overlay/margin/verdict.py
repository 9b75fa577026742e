"""From a margin and its uncertainty to a verdict.

JCGM 106:2012, clauses 7 to 9 (from memory): the probability that a value conforms, acceptance and rejection with a
guard band, and what lies between.
"""

from __future__ import annotations

import math

from overlay.errors import Problem, raise_errors
from overlay.margin.model import VERDICTS, Requirement, Verdict


def probability_within(limit: float, value: float, u: float, freedom: float = math.inf) -> float:
    """Probability that the true value is at or below the limit, for a normal distribution: Φ((limit − value)/u).

    With ``freedom`` finite, Student's t of so many degrees of freedom: its tails are as heavy as ``u`` itself is
    uncertain. Without uncertainty 1 or 0; a value exactly at the limit is within it ("shall not exceed").
    """
    if u <= 0.0:
        return 1.0 if value <= limit else 0.0
    if math.isfinite(freedom):
        from scipy.special import stdtr

        return float(stdtr(freedom, (limit - value) / u))
    return 0.5 * math.erfc((value - limit) / (u * math.sqrt(2.0)))


def verdict_of(margin_c: float, probability: float, requirement: Requirement) -> Verdict:
    """``over``, ``undecided``, ``near`` or ``clear``; both bounds of ``undecided`` belong to its neighbours."""
    # a probability worked out from a guard band comes back with the noise of the last binary digits
    probability = round(probability, 12)
    confidence = requirement.confidence
    if probability <= round(1.0 - confidence, 12):
        return "over"
    if probability < confidence:
        return "undecided"
    return "near" if margin_c < requirement.margin_c else "clear"


def verdicts_named(text: str) -> frozenset[Verdict]:
    """The verdicts of a list such as ``over,undecided``; an empty text names none.

    Raises
    ------
    InputError
        With every word that is no verdict.
    """
    words = [word.strip() for word in text.split(",") if word.strip()]
    known = {str(verdict): verdict for verdict in VERDICTS}
    raise_errors(
        Problem("error", "--fail-on", None, f"{word!r} is no verdict", f"write one or more of {', '.join(VERDICTS)}")
        for word in words
        if word not in known
    )
    return frozenset(known[word] for word in words)
