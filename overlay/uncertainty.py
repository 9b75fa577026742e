"""Terms of an uncertainty budget that remember with what they are shared.

The one algebra behind every ``u_c`` of the project: the law of propagation for
terms that are either private to one value or common to many (JCGM 100:2008,
5.1.2 and 5.2.2, clause numbers from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

# Standard deviation of normal values ÷ the median of their absolute deviations: 1/Φ⁻¹(3/4).
MAD_TO_SIGMA = 1.4826


class TermName(StrEnum):
    """What a term of a budget stands for: every input whose uncertainty is accounted for, once."""

    CAMERA = "camera"
    COLOUR_SCALE = "colour scale"  # of a picture in false colour
    EMISSIVITY = "emissivity"
    STAGE = "heated stage"  # of an emissivity map: common to all that it maps
    REFLECTED = "reflected"
    AIR = "air"
    WINDOW = "window"
    NOISE = "noise"
    FILL_AND_BLUR = "fill and blur"
    CONTROL_POINTS = "control points"
    POSITION = "position"
    FACE_EDGE = "face edge"
    UNEVENNESS = "unevenness of the frame"
    SIZE_OF_SOURCE = "size of source"
    GLOW = "glow of others"
    TWO_WAYS = "two ways of reading"
    PEAK_OVER_MEAN = "peak over mean"
    BODY_UNKNOWN = "body unknown"
    SETTLING = "settling"
    CONTACT = "contact"
    READING = "reading"  # what a stated u_c holds beyond its budget
    BOARD_AROUND = "board around the part"
    AMBIENT = "ambient"
    RISE_SCALE = "rise scale"
    LOAD_FIT = "fit over loads"
    POWER = "power"
    RESISTANCE = "junction to top"
    LIMIT = "limit"
    HIDDEN_PLACE = "hidden hotter place"
    AIR_UNKNOWN = "air cooler than the board"
    PROJECTION = "projection model"
    ENCLOSURE = "enclosure"


# Common to all parts of a frame, and another draw in another frame.
OF_THE_FRAME = frozenset(
    {TermName.CAMERA, TermName.COLOUR_SCALE, TermName.AIR, TermName.WINDOW, TermName.AMBIENT, TermName.RISE_SCALE}
)
# What another unit of the same board answers to anew. All else (camera, emissivity of the finish, projection) is the
# same for every unit and hides in no scatter.
OF_ONE_UNIT = frozenset(
    {TermName.NOISE, TermName.CONTROL_POINTS, TermName.POSITION, TermName.AMBIENT, TermName.REFLECTED}
)
# Limits of error rather than a spread: every value between them is as likely (JCGM 100:2008, 4.3.7, from memory).
RECTANGULAR = frozenset({TermName.CAMERA})
# Of a bead: attachment and place are somebody's judgement, which is itself known to about a third.
OF_A_BEAD = frozenset({TermName.CONTACT, TermName.READING})
# From a model of a small part's metal and blur, whose uncertainty is itself known to about a third.
OF_A_MODEL = frozenset({TermName.FILL_AND_BLUR, TermName.PEAK_OVER_MEAN, TermName.BODY_UNKNOWN})


@dataclass(frozen=True, slots=True)
class Term:
    """One input's share of an uncertainty.

    Parameters
    ----------
    name
        What the input is.
    contribution_k
        Sensitivity times standard uncertainty of the input, in kelvin, with the
        sign of the sensitivity: two values that share the input move together
        or against each other.
    shared
        Key of the input where other values depend on the same draw of it
        (``camera:full load``); empty for an input of this value alone.
    """

    name: TermName
    contribution_k: float
    shared: str = ""


Budget = tuple[Term, ...]


def combined_k(budget: Budget) -> float:
    """Standard uncertainty of one value, in kelvin."""
    private = (term.contribution_k**2 for term in budget if not term.shared)
    return math.sqrt(math.fsum([*private, *(value**2 for value in shared_sums(budget).values())]))


def covariance_k2(one: Budget, other: Budget, *, same_value: bool = False) -> float:
    """Covariance of two values from what their budgets share, in kelvin squared.

    With ``same_value`` the private terms count as well, which gives the variance.
    """
    first, second = shared_sums(one), shared_sums(other)
    shared = math.fsum(first[key] * second[key] for key in first.keys() & second.keys())
    private = math.fsum(term.contribution_k**2 for term in one if not term.shared) if same_value else 0.0
    return shared + private


def difference_k(one: Budget, other: Budget) -> float:
    """Standard uncertainty of the difference of two values, in kelvin.

    Common errors cancel as far as both values answer to them alike.
    """
    variance = (
        covariance_k2(one, one, same_value=True)
        + covariance_k2(other, other, same_value=True)
        - 2.0 * covariance_k2(one, other)
    )
    return math.sqrt(max(variance, 0.0))


def scaled(budget: Budget, factor: float) -> Budget:
    """The budget of a value multiplied by a constant."""
    if factor == 1.0:
        return budget
    return tuple(Term(term.name, term.contribution_k * factor, term.shared) for term in budget)


def largest(budget: Budget, count: int) -> Budget:
    """The ``count`` terms of largest size, terms of one name and key added up first."""
    sums: dict[tuple[TermName, str], float] = {}
    for term in budget:
        key = (term.name, term.shared)
        if term.shared:
            sums[key] = sums.get(key, 0.0) + term.contribution_k
        else:
            sums[key] = math.hypot(sums.get(key, 0.0), term.contribution_k)
    terms = (Term(name, value, shared) for (name, shared), value in sums.items())
    return tuple(sorted(terms, key=lambda term: -abs(term.contribution_k))[:count])


def shared_sums(budget: Iterable[Term]) -> dict[str, float]:
    """Signed sum of a value's shared terms by the key of the error that they answer to."""
    sums: dict[str, float] = {}
    for term in budget:
        if term.shared:
            sums[term.shared] = sums.get(term.shared, 0.0) + term.contribution_k
    return sums
