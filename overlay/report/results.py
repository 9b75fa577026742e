"""``results.json``: the analysis as JSON values; keys may be added, never renamed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np

import overlay
from overlay.board.model import Component
from overlay.frames.frame import Array
from overlay.heat.model import PartHeat
from overlay.job.analysis import Analysis, CaptureAnalysis
from overlay.job.naming import Named
from overlay.margin.areas import AreaMargin
from overlay.margin.joint import joint_risk
from overlay.margin.model import JUDGED, VERDICTS, Margin
from overlay.probes.contact import Meeting
from overlay.reading.model import HotSpot, Reading
from overlay.registration.model import Camera, Confidence, Registration
from overlay.report.content import part_rows
from overlay.report.heat_json import frame_heat_json, part_heat_json
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
    parts = job.board.parts
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
            _component(part, readings.get(part.refdes, []), margin, analysis.heat_of)
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


def registrations_json(registrations: Mapping[str, Registration]) -> dict[str, Any]:
    """The registrations of a job's captures as ``results.json`` has them."""
    return {
        "captures": [
            {"name": name, "side": registration.side, "registration": registration_json(registration)}
            for name, registration in registrations.items()
        ]
    }


def registration_json(registration: Registration) -> dict[str, Any]:
    """One registration: matrix, points with residuals, and the pose and confidence where there are any."""
    values: dict[str, Any] = {
        "model": registration.model,
        "pixel_from_board": [[number(cell, 9) for cell in row] for row in registration.pixel_from_board],
        "points": [
            {
                "at": item.point.at,
                "pixel": numbers(item.point.pixel, 3),
                "board_mm": numbers(item.point.board_mm, 4),
                "z_mm": number(item.point.z_mm, 3),
                "residual_px": number(item.residual_px, 3),
                "left_out_px": number(item.left_out_px, 3),
                "suspect": item.suspect,
                "remark": item.remark,
            }
            for item in registration.points
        ],
        "rms_px": number(registration.rms_px, 4),
        "rms_mm": number(registration.rms_mm, 4),
        "mm_per_px": number(registration.mm_per_px, 5),
        "refined": registration.refined,
        "warnings": list(registration.warnings),
        "findings": [
            {"refdes": finding.refdes, "code": finding.code.value, "what": finding.text}
            for finding in registration.findings
        ],
        "foreign": registration.foreign or None,
    }
    if registration.camera is not None:
        values["pose"] = _pose(registration.camera)
    if registration.confidence is not None:
        values["confidence"] = _confidence(registration.confidence)
    return values


def _pose(camera: Camera) -> dict[str, Any]:
    return {
        "rotation": [numbers(row, 9) for row in camera.rotation],
        "translation_mm": numbers(camera.translation_mm, 5),
        "focal_px": number(camera.focal_px, 4),
        "radial": number(camera.radial, 6),
        "center_px": numbers(camera.center_px, 3),
    }


def _confidence(confidence: Confidence) -> dict[str, Any]:
    return {
        "score": number(confidence.score, 2),
        "parts_agreeing": confidence.parts_agreeing,
        "parts_judged": confidence.parts_judged,
        "precision_px": number(confidence.precision_px, 3),
        "rival_score": number(confidence.rival_score, 2),
        "moved_px": number(confidence.moved_px, 3),
        "outline_shift_mm": numbers(confidence.outline_shift_mm, 3),
        "trusted": confidence.trusted,
        "reason": confidence.reason,
    }


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
    part: Component, readings: Iterable[Reading], margin: Margin, heat_of: Callable[[str, str], PartHeat | None]
) -> dict[str, Any]:
    return {
        "refdes": part.refdes,
        "side": part.side,
        "package": part.package,
        "part_number": part.part_number,
        "kind": part.kind,
        "center_mm": numbers(part.center_mm, 4),
        "readings": [
            reading_json(reading) | {"heat": part_heat_json(heat_of(reading.capture, part.refdes))}
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


def number(value: float | None, digits: int) -> float | None:
    """A finite number rounded for the file; None for none, nan and infinity (JSON has no such numbers)."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits)


def numbers(values: Iterable[float] | Array | None, digits: int) -> list[float | None] | None:
    """Each of ``values`` as `number` gives it; None for none."""
    if values is None:
        return None
    return [number(float(value), digits) for value in np.asarray(list(values), dtype=np.float64)]
