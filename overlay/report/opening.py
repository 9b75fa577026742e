"""What a report says first: what was tested, by what rule, what failed, what nobody knows."""

from __future__ import annotations

from collections.abc import Sequence

from overlay.job.analysis import Analysis
from overlay.job.settings import RecordSettings
from overlay.margin.budget import coverage_factor
from overlay.margin.joint import joint_risk
from overlay.report.content import PartRow, hot_unjudged, kelvin, name_ranges, probability

_RECORD_WORDS = {
    "date": "date",
    "place": "place",
    "operator": "tested by",
    "sample": "sample",
    "serial": "serial number",
    "supply": "supply",
    "load": "load",
    "duration": "duration",
    "orientation": "orientation",
    "airflow": "airflow or chamber",
    "instrument": "instrument",
    "instrument_serial": "instrument's serial number",
    "lens": "lens",
    "calibration_due": "calibration due",
    "notes": "notes",
}
_MOST_NAMED = 8  # names in one sentence


def tested_words(analysis: Analysis) -> str:
    """Which unit was looked at, when, and in which states."""
    record = analysis.job.settings.record
    told = ", ".join(filter(None, (record.sample, record.serial and f"serial number {record.serial}")))
    which = f"One unit ({told})" if told else "One unit"
    when = ", ".join(filter(None, (record.date, record.place)))
    states = "; ".join(
        f"“{capture.name}” ({capture.settings.side}, ambient {capture.settings.ambient_c:g} °C)"
        for capture in analysis.captures
    )
    missing = "" if when else " Date and place are not recorded."
    return f"{which}{f', {when}' if when else ''}; {states}.{missing} One unit shows nothing of others."


def rule_words(analysis: Analysis) -> str:
    """The decision rule in a sentence, with the coverage factor behind every U."""
    requirement = analysis.job.settings.requirement
    k = coverage_factor(requirement.confidence)
    derated = "" if requirement.derating == "none" else f", derated by {requirement.derating}"
    air = ""
    if requirement.enclosure_rise_k:
        air = f", plus {requirement.enclosure_rise_k:g} ± {requirement.enclosure_rise_u_k:g} K in its enclosure"
    if requirement.altitude_m:
        air += f", up to {requirement.altitude_m:g} m above the sea"
    return (
        f"Temperatures are projected with the same rise to {requirement.ambient_max_c:g} °C ambient{air}, and "
        f"held against their limits{derated}. A limit counts as kept with at least {requirement.confidence:.0%} "
        f"probability, that is, with a guard band of U = k·u, k = {k:.2f} (guarded acceptance, JCGM 106); as broken "
        f"likewise; between, a part is undecided. “Clear” also asks for {requirement.margin_c:g} K of margin, less is "
        "“near”. Tables show U; its k is larger for small parts and thermocouples."
    )


def result_words(analysis: Analysis, rows: Sequence[PartRow]) -> str:
    """What failed, what is open and what holds, in words; surfaces that are no parts by their names."""
    margin_k = analysis.job.settings.requirement.margin_c
    said = {
        "over": ("is over its limit", "are over their limits"),
        "undecided": ("is undecided", "are undecided"),
        "near": (f"keeps its limit by less than {margin_k:g} K", f"keep their limits by less than {margin_k:g} K"),
    }
    words = []
    for verdict, (one, many) in said.items():
        found = [row for row in rows if row.verdict == verdict]
        if found:
            named = _named([f"{row.refdes}{_excess(row)}" for row in found])
            words.append(f"{len(found)} {f'part {one}' if len(found) == 1 else f'parts {many}'}: {named}")
    clear = sum(row.verdict == "clear" for row in rows)
    words.append(f"{clear} {'is' if clear == 1 else 'are'} clear" if words else f"{clear} parts are clear")
    for area in analysis.areas:
        if area.verdict != "clear":
            words.append(f"{area.area.name} is {area.verdict}")
    return f"{'; '.join(words)}."


def _excess(row: PartRow) -> str:
    margin_c, ratio = row.margin.margin_c, row.margin.load_ratio
    if row.verdict == "over" and margin_c is not None and margin_c < 0.0:
        return f" (by {kelvin(-margin_c)} K)"
    return f" (at {ratio:.0%} of its load)" if row.verdict == "over" and ratio is not None and ratio > 1.0 else ""


def risk_words(analysis: Analysis) -> str:
    """The probability that any part is over, for all judged parts together."""
    judged = [margin for margin in analysis.margins if margin.verdict in ("undecided", "near", "clear")]
    risk = joint_risk(judged)
    over = sum(margin.verdict == "over" for margin in analysis.margins)
    if not risk.parts:
        return "No part was judged by its temperature."
    others = f"of the other {risk.parts}" if over else f"of the {risk.parts}"
    likeliest = min(judged, key=lambda margin: 1.0 if margin.probability_within is None else margin.probability_within)
    alone = 1.0 - (1.0 if likeliest.probability_within is None else likeliest.probability_within)
    return (
        f"Probability that any {others} judged parts is over its limit: {probability(risk.probability_any_over)}, "
        f"errors common to them counted once; the likeliest is {likeliest.refdes} ({probability(alone)})."
    )


def unknown_words(rows: Sequence[PartRow]) -> str:
    """What nobody knows, in words, the hottest first."""
    unseen = [row for row in rows if row.verdict == "unseen"]
    unrated = [row for row in rows if row.verdict == "unrated"]
    if not unseen and not unrated:
        return "Every part was read and rated."
    hot = hot_unjudged(rows)
    words = [
        f"{_parts(unseen)} could not be read" if unseen else "",
        f"{_parts(unrated)} {'has' if len(unrated) == 1 else 'have'} no limit that could be checked" if unrated else "",
    ]
    text = f"{'; '.join(filter(None, words))}."
    if hot:
        text += f" The hottest of these is {hot[0].refdes}, {kelvin(hot[0].rise_k)} K above the ambient."
    return text


def _parts(rows: Sequence[PartRow]) -> str:
    return f"{len(rows)} {'part' if len(rows) == 1 else 'parts'} ({_named([row.refdes for row in rows])})"


def _named(names: Sequence[str]) -> str:
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return ", ".join(names[:_MOST_NAMED]) + more


AREA_HEADINGS = ("surface", "verdict", "hottest", "projected °C", "limit °C", "margin K", "U K", "limit from")


def area_rows(analysis: Analysis) -> tuple[tuple[str, ...], ...]:
    """Surfaces that are no parts, as rows under `AREA_HEADINGS`; touch limits hold in a room of 25 °C."""
    k = coverage_factor(analysis.job.settings.requirement.confidence)
    return tuple(
        (
            one.area.name,
            one.verdict,
            one.where,
            kelvin(one.projected_c),
            kelvin(one.area.limit_c),
            kelvin(one.margin_c),
            kelvin(None if one.u_c is None else k * one.u_c),
            one.area.source,
        )
        for one in analysis.areas
    )


def opening(analysis: Analysis, rows: Sequence[PartRow]) -> tuple[tuple[str, str], ...]:
    """What every report begins with, as (what, sentences)."""
    return (
        ("Tested", tested_words(analysis)),
        ("Rule", rule_words(analysis)),
        ("Result", result_words(analysis, rows)),
        ("Risk", risk_words(analysis)),
        ("Not known", unknown_words(rows)),
    )


def record_lines(record: RecordSettings) -> tuple[tuple[str, str], ...]:
    """The test record as (what, value), in order; what is missing has an empty value."""
    return tuple((words, str(getattr(record, name)).strip()) for name, words in _RECORD_WORDS.items())


def limit_sources(rows: Sequence[PartRow]) -> tuple[tuple[tuple[str, str], ...], int]:
    """Data sheets and policies that limits come from, each with its parts; and how many limits name no data sheet."""
    found: dict[str, list[str]] = {}
    silent = 0
    for row in rows:
        rating = row.component.rating
        limits = [] if rating is None else [one for one in rating.rows if one.limit_c is not None]
        for one in limits:
            if one.limit_source:
                found.setdefault(one.limit_source, []).append(row.refdes)
        silent += any(not one.limit_source for one in limits)
        if row.margin.policy:
            found.setdefault(row.margin.policy, []).append(row.refdes)
    return tuple((source, name_ranges(names)) for source, names in found.items()), silent
