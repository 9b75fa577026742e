"""The thermocouple plan of an analysed job."""

from __future__ import annotations

import difflib

from overlay.board.designators import expand_designators
from overlay.errors import Problem, input_error, raise_errors
from overlay.job.analyse import conditions_of
from overlay.job.analysis import Analysis, CaptureAnalysis
from overlay.probes.model import ProbePlan
from overlay.probes.plan import Subject, plan_probes


def plan_job(analysis: Analysis, *, channels: int, awg: int = 36, parts: str = "") -> ProbePlan:
    """Plan up to ``channels`` thermocouples of wire gauge ``awg`` for an analysed job.

    With ``parts``, a list such as ``U1, R4-R7``, one on each of these, whatever their verdict.

    Raises
    ------
    InputError
        With every name that the board does not have.
    """
    settings = analysis.job.settings
    wanted = _wanted(analysis, parts)
    components = analysis.job.board.parts
    subjects = []
    for part, margin in zip(components, analysis.margins, strict=True):
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
        wanted=wanted,
    )


def _wanted(analysis: Analysis, parts: str) -> tuple[str, ...]:
    """Designators as the board writes them, each once."""
    known = {part.refdes.casefold(): part.refdes for part in analysis.job.board.parts}
    try:
        names = expand_designators(parts)
    except ValueError as error:
        raise input_error("--part", None, f"{parts!r}: {error}", "write parts as U1,U2 or R4-R7") from None
    problems = []
    for name in names:
        if name.casefold() not in known:
            near = difflib.get_close_matches(name.casefold(), known, 1)
            remedy = f"did you mean {known[near[0]]}?" if near else "write designators of the placement"
            problems.append(Problem("error", "--part", None, f"the board has no part {name}", remedy, value=name))
    raise_errors(problems)
    return tuple(dict.fromkeys(known[name.casefold()] for name in names))


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
