"""The thermocouple plan of an analysed job."""

from __future__ import annotations

from overlay.job.analyse import conditions_of
from overlay.job.analysis import Analysis, CaptureAnalysis
from overlay.probes.model import ProbePlan
from overlay.probes.plan import Subject, plan_probes


def plan_job(analysis: Analysis, *, channels: int, awg: int = 36) -> ProbePlan:
    """Plan up to ``channels`` thermocouples of wire gauge ``awg`` for an analysed job."""
    settings = analysis.job.settings
    parts = [part for part in analysis.job.board.components if not part.mechanical]
    subjects = []
    for part, margin in zip(parts, analysis.margins, strict=True):
        capture = _capture_of(analysis, part.refdes, margin.capture)
        if capture is None:
            subjects.append(Subject(part, margin, None, None, None, None, None))
            continue
        reading = next((item for item in capture.reading.readings if item.refdes == part.refdes), None)
        face = next((item for item in capture.faces if item.component.refdes == part.refdes), None)
        conditions = conditions_of(capture.settings)
        subjects.append(Subject(part, margin, reading, capture.view, face, capture.reading.surface_c, conditions))
    return plan_probes(
        subjects,
        channels=channels,
        awg=awg,
        wanted_margin_c=settings.requirement.margin_c,
        ambient_max_c=settings.requirement.ambient_max_c + settings.requirement.enclosure_rise_k,
    )


def _capture_of(analysis: Analysis, refdes: str, worst: str | None) -> CaptureAnalysis | None:
    """The capture of a part's worst case; else the one that saw most of it; None where none has its side."""
    side = analysis.job.board.component(refdes).side
    best: CaptureAnalysis | None = None
    most = (-1.0, -1000.0)
    for capture in analysis.captures:
        if capture.name == worst:
            return capture
        if capture.settings.side != side:
            continue
        for reading in capture.reading.readings:
            around = -999.0 if reading.ring_c is None else reading.ring_c
            seen = (round(reading.visible, 1), around)  # of captures that see it alike, the state that heats it most
            if reading.refdes == refdes and seen > most:
                best, most = capture, seen
    return best
