"""What changed between two jobs, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from overlay.comparison.match import MOVED_MM, match_parts
from overlay.comparison.model import Change, ChangeCode, Comparison, Match, Standing
from overlay.frames.frame import Array
from overlay.margin.model import VERDICTS
from overlay.reasons import Reason
from overlay.uncertainty import MAD_TO_SIGMA, OF_THE_FRAME, Budget, Term, TermName, combined_k, difference_k

FALSE_DISCOVERY_RATE = 0.05  # one in twenty parts that are called changed need not be (common practice)
# From so many parts on the shift common to both frames is worked out from the parts themselves.
_PARTS_FOR_COMMON_SHIFT = 8
# Two specimens of one part number differ a little in emissivity (own estimate, about 0.01 at 50 K rise).
_SPECIMEN_SHARE = 0.3


def compare_standings(one: Sequence[Standing], other: Sequence[Standing]) -> Comparison:
    """Compare how the parts of two jobs stood.

    The errors of camera and ambient are common to all parts of a frame. They show as one shift of every part;
    that shift is a finding of its own. Where the two instruments' uncertainty explains it, only what a part did beyond
    it counts as its own change; a larger shift is a change of the whole board.

    References
    ----------
    Significance with the false discovery rate held: Benjamini & Hochberg, J. R. Statist. Soc. B 57 (1995) 289
    (from memory).
    """
    matches, added, removed = match_parts(one, other)
    pairs = [_paired_readings(match) for match in matches]
    deltas = np.array([math.nan if pair is None else pair.delta for pair in pairs])
    private = np.array([math.nan if pair is None or pair.other_means else pair.private_u for pair in pairs])
    common_u = np.array([math.nan if pair is None else pair.common_u for pair in pairs])
    shift, shift_u, taken_off, notes = _common_shift(deltas, private, common_u)
    if taken_off:
        changes_k, total_u = deltas - shift, np.hypot(private, shift_u)
    else:
        changes_k, total_u = deltas, np.hypot(private, common_u)
    p_values = np.array([_two_sided(change, u) for change, u in zip(changes_k, total_u, strict=True)])
    q_values = q_values_of(p_values)
    changes = [
        _change(match, pair, float(delta), float(u), float(p), float(q))
        for match, pair, delta, u, p, q in zip(matches, pairs, changes_k, total_u, p_values, q_values, strict=True)
    ]
    return Comparison(
        changes=tuple(sorted(changes, key=_gravity)),
        added=added,
        removed=removed,
        common_shift_k=shift,
        common_shift_u_k=shift_u,
        common_shift_taken_off=taken_off,
        false_discovery_rate=FALSE_DISCOVERY_RATE,
        notes=notes,
    )


def q_values_of(p_values: Array) -> Array:
    """Benjamini–Hochberg q-values of p-values (n,); nan stays nan and does not count.

    >>> q_values_of(np.array([0.01, 0.04, 0.03, np.nan])).round(3).tolist()
    [0.03, 0.04, 0.04, nan]
    """
    q_values = np.full(p_values.shape, np.nan)
    known = np.flatnonzero(np.isfinite(p_values))
    order = known[np.argsort(p_values[known])]
    scaled = p_values[order] * len(order) / np.arange(1, len(order) + 1)
    q_values[order] = np.minimum(np.minimum.accumulate(scaled[::-1])[::-1], 1.0)
    return q_values


class _Pair:
    """Two readings of one part with the terms of their difference, split in private and common to the frames."""

    __slots__ = ("capture_a", "capture_b", "common_u", "delta", "other_means", "private_u")

    def __init__(
        self, a: tuple[str, float, Budget], b: tuple[str, float, Budget], same_surface: bool, other_means: bool
    ) -> None:
        self.other_means = other_means
        self.capture_a, self.capture_b = a[0], b[0]
        self.delta = b[1] - a[1]
        common = (_common_terms(a[2]), _common_terms(b[2]))
        self.common_u = math.hypot(combined_k(common[0]), combined_k(common[1]))
        own = (_private_terms(a[2], same_surface), _private_terms(b[2], same_surface))
        specimen = 0.0
        if same_surface:
            sizes = [
                abs(term.contribution_k)
                for budget in (a[2], b[2])
                for term in budget
                if term.name is TermName.EMISSIVITY
            ]
            specimen = _SPECIMEN_SHARE * max(sizes, default=0.0)
        self.private_u = math.hypot(difference_k(*own), specimen)


def _common_terms(budget: Budget) -> Budget:
    return tuple(term for term in budget if term.shared and term.name in OF_THE_FRAME)


def _private_terms(budget: Budget, same_surface: bool) -> Budget:
    """Terms that are a part's own; the emissivity of one surface is one draw in both jobs."""
    terms = []
    for term in budget:
        if term.shared and term.name in OF_THE_FRAME:
            continue
        key = "emissivity of this part" if term.name is TermName.EMISSIVITY and same_surface else ""
        terms.append(Term(term.name, term.contribution_k, key))
    return tuple(terms)


def _paired_readings(match: Match) -> _Pair | None:
    """The readings to be compared: of the same state where both jobs have it, else each job's worst."""
    before = {capture: (capture, rise, budget) for capture, rise, budget in match.one.readings}
    after = {capture: (capture, rise, budget) for capture, rise, budget in match.other.readings}
    if not before or not after:
        return None
    a, b = match.one.component, match.other.component
    same_surface = a.package == b.package and a.part_number == b.part_number
    shared = [name for name in after if name in before]
    worst = match.other.capture
    if worst in shared and worst is not None:
        one, other = before[worst], after[worst]
    elif shared:
        name = max(shared, key=lambda capture: round(after[capture][1], 6))  # among equals the first
        one, other = before[name], after[name]
    else:
        one, other = max(before.values(), key=_rounded_rise), max(after.values(), key=_rounded_rise)
    other_means = (one[0] in match.one.by_contact) != (other[0] in match.other.by_contact)
    return _Pair(one, other, same_surface, other_means)


def _rounded_rise(item: tuple[str, float, Budget]) -> float:
    """A rise to compare by: the noise of its last digits must not choose between captures."""
    return round(item[1], 6)


def _common_shift(deltas: Array, private: Array, common: Array) -> tuple[float, float, bool, tuple[str, ...]]:
    """The shift of most parts, its uncertainty, whether it is taken off, and what there is to say of it."""
    known = np.isfinite(deltas) & np.isfinite(private)
    if known.sum() < _PARTS_FOR_COMMON_SHIFT:
        note = f"Fewer than {_PARTS_FOR_COMMON_SHIFT} parts were read in both jobs: camera and ambient count in full."
        return 0.0, float(np.nanmedian(common)) if known.any() else 0.0, False, (note,)
    values, u = deltas[known], np.maximum(private[known], 0.1)
    shift = _weighted_median(values, 1.0 / u)
    for _ in range(10):  # Huber's mean about the weighted median: parts that changed weigh little
        weights = np.minimum(1.0, 1.5 * u / np.maximum(np.abs(values - shift), 1e-9)) / u**2
        shift = float(np.sum(weights * values) / np.sum(weights))
    scatter = MAD_TO_SIGMA * float(np.median(np.abs(values - shift)))
    shift_u = 1.25 * max(scatter, float(np.median(u))) / math.sqrt(len(values))
    explained = float(np.median(common[known]))
    if abs(shift) <= 2.0 * math.hypot(explained, shift_u):
        note = (
            f"All parts together moved by {_signed(shift)} K. Camera and ambient explain as much "
            f"(u = {explained:.1f} K), so each part's own change is what it did beyond that shift; the shift may as "
            "well be a real warming or cooling of the whole board."
        )
        return shift, shift_u, True, (note,)
    note = (
        f"All parts together moved by {_signed(shift)} K, more than camera and ambient explain "
        f"(u = {explained:.1f} K): the whole board changed."
    )
    return shift, shift_u, False, (note,)


def _signed(value_k: float) -> str:
    return f"{value_k:+.1f}".replace("-", "\N{MINUS SIGN}")


def _weighted_median(values: Array, weights: Array) -> float:
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(reached, reached[-1] / 2)])


def _two_sided(change: float, u: float) -> float:
    if not (math.isfinite(change) and math.isfinite(u)) or u <= 0:
        return math.nan
    return math.erfc(abs(change) / u / math.sqrt(2.0))


def _change(match: Match, pair: _Pair | None, delta: float, u: float, p: float, q: float) -> Change:
    one, other = match.one, match.other
    known = pair is not None and math.isfinite(p)
    changed = known and q <= FALSE_DISCOVERY_RATE
    rerated = one.margin.limit_c != other.margin.limit_c
    moved = match.moved_mm > MOVED_MM
    same_part = one.component.part_number == other.component.part_number
    margins = (one.margin.margin_c, other.margin.margin_c)
    why = []
    if moved:
        why.append(Reason(ChangeCode.MOVED, f"moved by {match.moved_mm:.2f} mm"))
    if match.matched_by != "refdes":
        why.append(Reason(ChangeCode.RENAMED, f"was {one.component.refdes}"))
    if not same_part:
        text = f"was {one.component.part_number or 'without part number'}"
        why.append(Reason(ChangeCode.OTHER_PART, text))
    if rerated:
        why.append(Reason(ChangeCode.RERATED, f"limit was {_limit(one)}, is {_limit(other)}"))
    mixed = pair is not None and pair.other_means
    only = ("the later" if other.readings else "the earlier") if bool(one.readings) != bool(other.readings) else ""
    if mixed:
        by = "later" if pair is not None and pair.capture_b in other.by_contact else "earlier"
        text = f"read by a thermocouple in the {by} job only: the way of reading may be what differs"
        why.append(Reason(ChangeCode.OTHER_MEANS, text))
    elif not known:
        text = f"read in {only} job only" if only else "no trustworthy reading in both jobs"
        why.append(Reason(ChangeCode.NOT_COMPARED, text))
    unprompted = changed and delta > 0 and not moved and same_part and not rerated
    if unprompted:
        why.append(Reason(ChangeCode.UNPROMPTED, "hotter although nothing about it was changed"))
    return Change(
        match=match,
        capture_a=None if pair is None else pair.capture_a,
        capture_b=None if pair is None else pair.capture_b,
        delta_rise_k=pair.delta if pair is not None and (known or mixed) else None,
        u_k=math.hypot(pair.private_u, pair.common_u) if pair is not None and (known or mixed) else None,
        own_change_k=delta if known else None,
        own_u_k=u if known else None,
        p_value=p if known else None,
        q_value=q if known else None,
        changed=changed,
        delta_margin_k=None if margins[0] is None or margins[1] is None else margins[1] - margins[0],
        verdict_changed=one.margin.verdict != other.margin.verdict,
        rerated=rerated,
        unprompted=unprompted,
        set_apart=mixed or bool(only),
        why=tuple(why),
    )


def _limit(standing: Standing) -> str:
    return "unknown" if standing.margin.limit_c is None else f"{standing.margin.limit_c:.1f} °C"


def _gravity(change: Change) -> tuple[bool, bool, int, bool, float, str]:
    return (
        change.set_apart,
        not change.verdict_changed,
        VERDICTS.index(change.match.other.margin.verdict) if change.verdict_changed else 0,
        not change.changed,
        -round(abs(change.own_change_k or 0.0), 2),
        change.match.other.component.refdes,
    )
