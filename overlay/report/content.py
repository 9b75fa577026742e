"""The rows that all reports share: what is said, in which order, and how it is rounded."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from overlay.board.model import Component, Side
from overlay.heat.model import PartHeat
from overlay.job.analysis import Analysis
from overlay.margin.budget import coverage_factor
from overlay.margin.model import VERDICTS, Margin, Verdict
from overlay.reading.model import HotSpot, Reading, ReadingCode, State
from overlay.reasons import Reason
from overlay.registration.model import Registration
from overlay.uncertainty import Budget, largest

DASH = "–"

# Parts up to this size are the ones that nobody thinks of (own choice: up to a 2512 chip) …
OVERLOOKED_UP_TO_MM = 6.6
# … unless they are of a kind that everybody looks at.
_WATCHED_KINDS = frozenset({"ic", "regulator", "module", "connector", "transformer", "battery", "heatsink", "shield"})

_BURN_CAUTION_C = 60.0  # projected surface from which a burn caution is printed (common practice)


# A part that nobody rated counts as hot from here: 85 °C is the lowest rating that is common among parts, and a rise
# of 20 K shows that it takes part in the heating (own choices).
_HOT_FROM_C, _HOT_FROM_RISE_K = 85.0, 20.0


_NUMBERED = re.compile(r"(.*?[^\d])(0|[1-9]\d{0,8})")
_SHORTEST_RUN = 3  # designators that are drawn together


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part as every report shows it; what its cells say, the list of columns knows."""

    component: Component
    state: State
    verdict: Verdict
    margin: Margin
    reading: Reading | None  # of the worst capture; without one, of the capture that saw most of it
    capture: str
    k: float  # coverage factor: U = k·u
    why: tuple[Reason, ...]
    terms: tuple[str, ...]  # the three largest terms of the budget, in words
    heat: PartHeat | None = None  # what makes its heat in that capture

    @property
    def refdes(self) -> str:
        return self.component.refdes

    @property
    def side(self) -> Side:
        return self.component.side

    @property
    def u_c(self) -> float | None:
        """Standard uncertainty of the margin, else of the reading."""
        if self.margin.u_c is not None:
            return self.margin.u_c
        return None if self.trusted is None else self.trusted.u_c

    @property
    def expanded_c(self) -> float | None:
        """U = k·u, with the k of the confidence that was asked for."""
        return None if self.u_c is None else self.k * self.u_c

    @property
    def trusted(self) -> Reading | None:
        """The reading where its temperature means something."""
        return self.reading if self.reading is not None and self.reading.trusted else None

    @property
    def peak(self) -> str:
        """The temperature that was read; a bound where the range ended; a dash where none means anything."""
        if self.reading is not None and self.reading.state == "saturated":
            return f"≥ {kelvin(self.reading.peak_c)}"
        return kelvin(None if self.trusted is None else self.trusted.peak_c)

    @property
    def rise_k(self) -> float | None:
        """Above the ambient, at the required load."""
        return self.margin.rise_k


_ROWS: WeakKeyDictionary[Analysis, tuple[PartRow, ...]] = WeakKeyDictionary()


def part_rows(analysis: Analysis) -> tuple[PartRow, ...]:
    """A row for each non-mechanical part, gravest verdict first, then by margin, then by designator.

    All reports of an analysis ask for them; they are made once.
    """
    rows = _ROWS.get(analysis)
    if rows is None:
        rows = _ROWS[analysis] = _part_rows(analysis)
    return rows


def _part_rows(analysis: Analysis) -> tuple[PartRow, ...]:
    readings: dict[str, list[Reading]] = {}
    for capture in analysis.captures:
        for reading in capture.reading.readings:
            readings.setdefault(reading.refdes, []).append(reading)
    confidence = analysis.job.settings.requirement.confidence
    heats = analysis.heats()
    rows = [
        _part_row(part, margin, readings.get(part.refdes, []), heats, confidence)
        for part, margin in zip(analysis.job.board.parts, analysis.margins, strict=True)
    ]
    return tuple(sorted(rows, key=_gravity))


def _gravity(row: PartRow) -> tuple[int, float, float, str]:
    """Compared to the tenths that are shown, so that rounding in the last bits changes no order."""
    margin, rise = row.margin.margin_c, row.margin.rise_k
    return (
        VERDICTS.index(row.verdict),
        float("inf") if margin is None else round(margin, 1),
        0.0 if rise is None else -round(rise, 1),
        row.refdes,
    )


def _part_row(
    part: Component,
    margin: Margin,
    readings: list[Reading],
    heats: Mapping[tuple[str, str], PartHeat],
    confidence: float,
) -> PartRow:
    reading = next((item for item in readings if item.capture == margin.capture), None)
    if reading is None:
        # of captures that show it alike, the first
        reading = max(readings, key=lambda item: (item.state != "hidden", round(item.visible, 2)), default=None)
    capture = (margin.capture or "") if reading is None else reading.capture
    return PartRow(
        component=part,
        state="hidden" if reading is None else reading.state,
        verdict=margin.verdict,
        margin=margin,
        reading=reading,
        capture=capture,
        k=coverage_factor(confidence, margin.freedom),
        why=_telling((*margin.why, *(() if reading is None else reading.why)), margin.verdict),
        terms=budget_words(margin.budget or (() if reading is None or not reading.trusted else reading.budget)),
        heat=heats.get((capture, part.refdes)),
    )


def _telling(why: Iterable[Reason], verdict: Verdict) -> tuple[Reason, ...]:
    """Each remark once, without those that go without saying beside the others."""
    remarks = tuple(dict.fromkeys(why))
    if verdict != "unseen":
        return remarks
    # that another side's capture does not show a part explains nothing where its own side's capture failed
    own = tuple(reason for reason in remarks if reason.code is not ReadingCode.OTHER_SIDE)
    return own or remarks


def sentences(remarks: Iterable[str]) -> str:
    """Remarks as sentences: a capital at the start, a full stop at the end."""
    return " ".join(f"{text[:1].upper()}{text[1:].rstrip('.')}." for text in remarks if text)


def kelvin(value: float | None) -> str:
    """A temperature or difference to a tenth; a dash for none."""
    return DASH if value is None else f"{value:.1f}".replace("-", "\N{MINUS SIGN}")


def probability(value: float | None) -> str:
    """A probability as a percentage that never claims certainty it does not have."""
    if value is None:
        return DASH
    if value > 0.9995:
        return ">99.9 %"
    if value < 0.0005:
        return "<0.1 %"
    return f"{100 * value:.1f} %"


def budget_words(budget: Budget, count: int = 3) -> tuple[str, ...]:
    """The largest terms of a budget: ``camera 1.2 K``."""
    return tuple(f"{term.name} {abs(term.contribution_k):.2g} K" for term in largest(budget, count))


def attention(rows: Iterable[PartRow]) -> tuple[PartRow, ...]:
    """The parts a reader must see first: over, undecided, near; the rows keep their order."""
    return tuple(row for row in rows if row.verdict in ("over", "undecided", "near"))


def hot_unjudged(rows: Iterable[PartRow]) -> tuple[PartRow, ...]:
    """Parts that are hot and that nobody rated, hottest first."""
    unrated = [row for row in rows if row.verdict == "unrated" and row.margin.surface_c is not None]
    hot = [
        row
        for row in unrated
        if (row.margin.surface_c or 0.0) >= _HOT_FROM_C or (row.margin.rise_k or 0.0) >= _HOT_FROM_RISE_K
    ]
    return tuple(sorted(hot, key=lambda row: (-round(row.margin.rise_k or 0.0, 1), row.refdes)))


def overlooked(rows: Iterable[PartRow]) -> tuple[PartRow, ...]:
    """Among them the small parts that nobody thinks of."""
    return tuple(row for row in attention(rows) if is_overlooked(row.component))


def is_overlooked(part: Component) -> bool:
    """Whether a part is small and of a kind that is seldom watched."""
    if part.body is None or part.kind in _WATCHED_KINDS:
        return False
    return max(part.body.length_mm, part.body.width_mm) <= OVERLOOKED_UP_TO_MM


def not_judged(rows: Iterable[PartRow]) -> tuple[PartRow, ...]:
    """Parts without a verdict on their temperature: unseen or unrated."""
    return tuple(row for row in rows if row.verdict in ("unseen", "unrated"))


def counted(count: int, noun: str) -> str:
    """``1 part``, ``2 parts``."""
    return f"{count} {noun}{'' if count == 1 else 's'}"


def name_ranges(names: Iterable[str]) -> str:
    """Designators with runs drawn together: ``C1, R1–R4, R7``; in the order of letters, then numbers."""
    runs: list[list[tuple[str, int]]] = []
    numbered = {}
    for name in dict.fromkeys(names):
        found = _NUMBERED.fullmatch(name)
        numbered[(found[1], int(found[2])) if found else (name, -1)] = name
    for prefix, number in sorted(numbered):
        if runs and number >= 0 and runs[-1][-1] == (prefix, number - 1):
            runs[-1].append((prefix, number))
        else:
            runs.append([(prefix, number)])
    words = []
    for run in runs:
        first, last = numbered[run[0]], numbered[run[-1]]
        words += [numbered[one] for one in run] if len(run) < _SHORTEST_RUN else [f"{first}\N{EN DASH}{last}"]
    return ", ".join(words)


def hot_spot_words(spot: HotSpot) -> str:
    """A hot spot's candidates: ``R17 93 %, R18 5 %, bare board 2 %``."""
    return ", ".join(
        f"{candidate.refdes or 'bare board'} {100 * candidate.probability:.0f} %"
        for candidate in spot.candidates
        if candidate.probability >= 0.005
    )


def cautions(analysis: Analysis) -> tuple[str, ...]:
    """What a reader who goes on to touch or probe the board must know."""
    hottest = max((margin.surface_c for margin in analysis.margins if margin.surface_c is not None), default=None)
    kinds = {part.kind for part in analysis.job.board.components}
    lines = []
    if hottest is not None and hottest >= _BURN_CAUTION_C:
        lines.append(
            f"Surfaces of up to {hottest:.0f} °C are expected at the hottest ambient: they burn skin. Let the board "
            "cool before touching it."
        )
    lines += [
        "The board is read while powered. Parts tied to the mains, and the capacitors behind them, hold lethal voltage "
        "even after unplugging; verify that they are discharged by measuring.",
        "Attach thermocouples with power removed and capacitors discharged. A bare bead on a live node ties the meter "
        "and all that hangs on it to that node: insulate the bead or isolate the input, rated for the full working "
        "voltage.",
        "Metal tape and conductive glue bridge clearances; tape and beads do not keep creepage distances.",
    ]
    if "battery" in kinds:
        lines.append("Stop charging or discharging at the cell maker's limits; never probe or pierce a cell.")
    lines.append(
        "Projection to the hottest ambient takes the rise as constant, with a band for each kind of loss. Throttling, "
        "a fan's curve or an unsettled board are not in that band, and make the projection optimistic."
    )
    lines.append(
        "Local electrical codes, the site's safety rules and qualified, licensed persons take precedence. This report "
        "is not a safety assessment."
    )
    return tuple(lines)


def rms_words(registration: Registration) -> str:
    """The scatter of a registration's control points; points that fit exactly whatever they are tell none."""
    if registration.rms_px is None or registration.rms_mm is None:
        return "rms not known (no point left over to tell)"
    return f"rms {registration.rms_px:.2f} px = {registration.rms_mm:.2f} mm"
