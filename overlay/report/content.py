"""The rows that all reports share: what is said, in which order, and how it is rounded."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from overlay.board.model import Component
from overlay.job.analysis import Analysis
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


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part as every table shows it; the numbers behind the words stay for sorting and charts."""

    refdes: str
    side: str
    kind: str
    package: str
    part_number: str
    component: Component
    state: State
    verdict: Verdict
    margin: Margin
    reading: Reading | None  # of the worst capture; without one, of the capture that saw most of it
    capture: str
    peak: str
    u: str
    rise: str
    projected: str
    limit: str
    margin_text: str
    rating_margin: str
    probability: str
    life: str
    load: str
    why: tuple[Reason, ...]
    terms: tuple[str, ...]  # the three largest terms of the budget, in words


def part_rows(analysis: Analysis) -> tuple[PartRow, ...]:
    """A row for each non-mechanical part, gravest verdict first, then by margin, then by designator."""
    parts = [part for part in analysis.job.board.components if not part.mechanical]
    readings: dict[str, list[Reading]] = {}
    for capture in analysis.captures:
        for reading in capture.reading.readings:
            readings.setdefault(reading.refdes, []).append(reading)
    ambients = {capture.name: capture.settings.ambient_c for capture in analysis.captures}
    rows = [
        _part_row(part, margin, readings.get(part.refdes, []), ambients)
        for part, margin in zip(parts, analysis.margins, strict=True)
    ]
    return tuple(sorted(rows, key=_gravity))


def _gravity(row: PartRow) -> tuple[int, float, float, str]:
    margin = row.margin.margin_c
    projected = row.margin.projected_c
    return (
        VERDICTS.index(row.verdict),
        float("inf") if margin is None else margin,
        0.0 if projected is None else -projected,
        row.refdes,
    )


def _part_row(part: Component, margin: Margin, readings: list[Reading], ambients: dict[str, float]) -> PartRow:
    reading = next((item for item in readings if item.capture == margin.capture), None)
    if reading is None:
        reading = max(readings, key=lambda item: (item.state != "hidden", item.visible), default=None)
    peak = None if reading is None else reading.peak_c
    ambient = None if reading is None else ambients.get(reading.capture)
    return PartRow(
        refdes=part.refdes,
        side=part.side,
        kind=part.kind,
        package=part.package,
        part_number=part.part_number,
        component=part,
        state="hidden" if reading is None else reading.state,
        verdict=margin.verdict,
        margin=margin,
        reading=reading,
        capture=(margin.capture or "") if reading is None else reading.capture,
        peak=kelvin(peak),
        u=kelvin(margin.u_c if margin.u_c is not None else None if reading is None else reading.u_c),
        rise=kelvin(None if peak is None or ambient is None else peak - ambient),
        projected=kelvin(margin.projected_c),
        limit=kelvin(margin.limit_c),
        margin_text=kelvin(margin.margin_c),
        rating_margin=kelvin(margin.rating_margin_c),
        probability=probability(margin.probability_within),
        life=DASH if margin.life_h is None else f"{margin.life_h:,.0f} h".replace(",", "\N{NARROW NO-BREAK SPACE}"),
        load=DASH if margin.load_ratio is None else f"{margin.load_ratio:.0%}",
        why=_telling((*margin.why, *(() if reading is None else reading.why)), margin.verdict),
        terms=budget_words(margin.budget or (() if reading is None else reading.budget)),
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


def hot_spot_words(spot: HotSpot) -> str:
    """A hot spot's candidates: ``R17 93 %, R18 5 %, bare board 2 %``."""
    return ", ".join(
        f"{candidate.refdes or 'bare board'} {100 * candidate.probability:.0f} %"
        for candidate in spot.candidates
        if candidate.probability >= 0.005
    )


def cautions(analysis: Analysis) -> tuple[str, ...]:
    """What a reader who goes on to touch or probe the board must know."""
    hottest = max((margin.projected_c for margin in analysis.margins if margin.projected_c is not None), default=None)
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
        "Projection to the hottest ambient takes the rise as constant. Power that grows with temperature, throttling, "
        "fans or an unsettled board make that optimistic."
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
