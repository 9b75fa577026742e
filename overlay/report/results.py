"""``results.json``: the analysis as JSON values; keys may be added, never renamed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import overlay
from overlay.board.model import Component
from overlay.heat.model import PartHeat
from overlay.job.analysis import Analysis, CaptureAnalysis
from overlay.job.naming import Named
from overlay.margin.areas import AreaMargin
from overlay.margin.joint import joint_risk
from overlay.margin.model import JUDGED, VERDICTS, Margin
from overlay.probes.contact import Meeting
from overlay.reading.model import HotSpot, Reading
from overlay.report.content import part_rows
from overlay.report.heat_json import frame_heat_json, part_heat_json
from overlay.report.numbers import number, numbers
from overlay.report.registration_json import registration_json
from overlay.report.tasks import tasks
from overlay.uncertainty import Budget

FORMAT = 1  # raised when a program that reads results.json would have to change


def results(analysis: Analysis) -> dict[str, Any]:
    """Everything that a later program may want of an analysis."""
    job, requirement = analysis.job, analysis.job.settings.requirement
    readings: dict[str, list[Reading]] = {}
    for capture in analysis.captures:
        for reading in capture.reading.readings:
            readings.setdefault(reading.refdes, []).append(reading)
    parts, heats = job.board.parts, analysis.heats()
    return {
        "format": FORMAT,
        "tool": "board-overlay",
        "version": overlay.__version__,
        "job": job.path.name,
        "inputs": [{"file": item.file, "sha256": item.sha256} for item in analysis.inputs],
        "board": {"name": job.board.name, "revision": job.board.revision},
        "requirement": {
            "ambient_max_c": requirement.ambient_max_c,
            "margin_c": requirement.margin_c,
            "confidence": requirement.confidence,
            "derating": requirement.derating,
            "enclosure_rise_k": requirement.enclosure_rise_k,
            "enclosure_rise_u_k": requirement.enclosure_rise_u_k,
            "altitude_m": requirement.altitude_m,
        },
        "record": job.settings.record.model_dump(),
        "captures": [_capture(capture) for capture in analysis.captures],
        "components": [
            _component(part, readings.get(part.refdes, []), margin, heats)
            for part, margin in zip(parts, analysis.margins, strict=True)
        ],
        "summary": summary(analysis),
        "areas": [_area(area) for area in analysis.areas],
        "risk": _risk(analysis),
        "next": [
            {"what": task.what, "parts": list(task.parts), "why": task.why}
            for task in tasks(part_rows(analysis), analysis.areas)
        ],
        "problems": [str(problem) for problem in analysis.problems],
    }


def _area(found: AreaMargin) -> dict[str, Any]:
    return {
        "name": found.area.name,
        "kind": found.area.kind,
        "side": found.area.side,
        "parts": list(found.area.parts),
        "capture": found.capture,
        "where": found.where or None,
        "projected_c": number(found.projected_c, 3),
        "limit_c": number(found.area.limit_c, 3),
        "limit_source": found.area.source,
        "margin_c": number(found.margin_c, 3),
        "u_c": number(found.u_c, 3),
        "probability_within": number(found.probability_within, 6),
        "verdict": found.verdict,
    }


def _risk(analysis: Analysis) -> dict[str, Any]:
    """The probability that any judged part is over its limit, and that any is besides those that are ``over``."""
    judged = [margin for margin in analysis.margins if margin.verdict in JUDGED]
    every, others = joint_risk(judged), joint_risk([margin for margin in judged if margin.verdict != "over"])
    return {
        "parts": every.parts,
        "any_over": number(every.probability_any_over, 6),
        "any_other_over": number(others.probability_any_over, 6),
        "if_independent": number(every.if_independent, 6),
    }


def summary(analysis: Analysis) -> dict[str, int]:
    """How many parts have each verdict, in the order of gravity."""
    return {verdict: sum(margin.verdict == verdict for margin in analysis.margins) for verdict in VERDICTS}


def _capture(capture: CaptureAnalysis) -> dict[str, Any]:
    return {
        "name": capture.name,
        "side": capture.settings.side,
        "registration": registration_json(capture.registration),
        "hot_spots": [_hot_spot(spot) for spot in capture.reading.hot_spots],
        "heat": frame_heat_json(capture.heat),
        "blur_px": number(capture.reading.blur_px, 3),
        "blur_source": capture.reading.blur_source,
        "contacts": [_contact(meeting) for meeting in capture.contacts],
        "notes": [*capture.notes, *capture.reading.notes],
    }


def _contact(meeting: Meeting) -> dict[str, Any]:
    return {
        "refdes": meeting.contact.refdes,
        "temperature_c": number(meeting.contact.temperature_c, 3),
        "at_hottest_c": number(meeting.contact_c, 3),
        "u_c": number(meeting.contact_u_c, 3),
        "infrared_c": number(meeting.infrared_c, 3),
        "difference_u_k": number(meeting.difference_u_c, 3),
        "agrees": meeting.agrees,
        "emissivity": number(meeting.emissivity, 4),
        "emissivity_u": number(meeting.emissivity_u, 4),
        "alike": list(meeting.alike),
    }


def _hot_spot(spot: HotSpot) -> dict[str, Any]:
    return {
        "rank": spot.rank,
        # one digit more than is known: pixel is the projection of board_mm at z_mm, to 0.01 px
        "pixel": numbers(spot.pixel, 3),
        "board_mm": numbers(spot.board_mm, 4),
        "z_mm": number(spot.z_mm, 4),
        "position_u_mm": number(spot.position_u_mm, 3),
        "temperature_c": number(spot.temperature_c, 2),
        "u_c": number(spot.u_c, 2),
        "rise_k": number(spot.rise_k, 2),
        "candidates": [
            {"refdes": candidate.refdes, "probability": number(candidate.probability, 6)}
            for candidate in spot.candidates
        ],
        "why": list(spot.why),
    }


def _component(
    part: Component, readings: Iterable[Reading], margin: Margin, heats: Mapping[tuple[str, str], PartHeat]
) -> dict[str, Any]:
    return {
        "refdes": part.refdes,
        "side": part.side,
        "package": part.package,
        "part_number": part.part_number,
        "kind": part.kind,
        "center_mm": numbers(part.center_mm, 4),
        "readings": [
            reading_json(reading) | {"heat": part_heat_json(heats.get((reading.capture, part.refdes)))}
            for reading in readings
        ],
        "worst": margin_json(margin),
    }


def reading_json(reading: Reading) -> dict[str, Any]:
    """One part's reading in one capture."""
    return {
        "capture": reading.capture,
        "state": reading.state,
        "peak_c": number(reading.peak_c, 3),
        "mean_c": number(reading.mean_c, 3),
        "u_c": number(reading.u_c, 3),
        "apparent_peak_c": number(reading.apparent_peak_c, 3),
        "peak_at_mm": numbers(reading.peak_at_mm, 3),
        "pixels": number(reading.pixels, 2),
        "visible": number(reading.visible, 3),
        "emissivity": number(reading.emissivity, 4),
        "emissivity_u": number(reading.emissivity_u, 4),
        "emissivity_source": reading.emissivity_source,
        "ring_c": number(reading.ring_c, 3),
        "last_peak_c": number(reading.last_peak_c, 3),
        "case_c": number(None if reading.case is None else reading.case.temperature_c, 3),
        "budget": _budget(reading.budget),
        "why": list(reading.why),
    }


def margin_json(margin: Margin) -> dict[str, Any]:
    """One part's worst case, held against its limit."""
    return {
        "capture": margin.capture,
        "projected_c": number(margin.projected_c, 3),
        "limit_c": number(margin.limit_c, 3),
        "margin_c": number(margin.margin_c, 3),
        "rating_margin_c": number(margin.rating_margin_c, 3),
        "u_c": number(margin.u_c, 3),
        "probability_within": number(margin.probability_within, 6),
        "verdict": margin.verdict,
        "limit_at": margin.limit_at,
        "limit_source": margin.limit_source or None,
        "surface_c": number(margin.surface_c, 3),
        "rise_k": number(margin.rise_k, 3),
        "life_h": number(margin.life_h, 0),
        "load_ratio": number(margin.load_ratio, 4),
        "budget": _budget(margin.budget),
        "every": {name: number(projected, 3) for name, projected in margin.every},
        "why": list(margin.why),
    }


def named_json(named: Named) -> dict[str, Any]:
    """Who is at a pixel, with reading and margin of each candidate that is a part."""
    readings = {reading.refdes: reading for reading in named.readings}
    margins = {margin.refdes: margin for margin in named.margins}
    heats = {heat.refdes: heat for heat in named.heats}
    return {
        "capture": named.capture,
        "pixel": numbers(named.pixel, 3),
        "board_mm": numbers(named.board_mm, 3),
        "beyond_mm": number(named.beyond_mm, 3),
        "apparent_c": number(named.apparent_c, 3),
        "surface_c": number(named.surface_c, 3),
        "candidates": [
            {
                "refdes": candidate.refdes,
                "probability": number(candidate.probability, 6),
                "reading": reading_json(readings[candidate.refdes]) if candidate.refdes in readings else None,
                "heat": part_heat_json(heats.get(candidate.refdes or "")),
                "worst": margin_json(margins[candidate.refdes]) if candidate.refdes in margins else None,
            }
            for candidate in named.candidates
        ],
    }


def _budget(budget: Budget) -> list[dict[str, Any]]:
    return [
        {"term": term.name, "contribution_k": number(term.contribution_k, 4), "shared": term.shared or None}
        for term in budget
    ]
