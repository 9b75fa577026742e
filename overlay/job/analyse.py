"""The one pipeline: Job → Analysis."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

from overlay.errors import InputError, Problem, input_error, raise_errors
from overlay.frames.frame import Array
from overlay.frames.radiometry import leaving_radiance
from overlay.job.analysis import Analysis, CaptureAnalysis, Input, Job
from overlay.job.capture import (
    apparent_of,
    band_of,
    read_capture_frame,
    read_cold_frames,
    read_reflection_check,
    register_capture,
    view_of,
)
from overlay.job.contacts import with_contacts
from overlay.job.registration_policy import contradicted, held_by_points, without_the_points
from overlay.job.settings import CaptureSettings
from overlay.job.stack import page_of, with_settled_values
from overlay.margin.derating import read_policy
from overlay.margin.model import Conditions, Requirement
from overlay.margin.projection import likely_rise_scale_u
from overlay.margin.worst_case import margins
from overlay.reading.read_components import read_view
from overlay.registration.model import Registration
from overlay.registration.refine import check_registration, refine_registration
from overlay.threads import one_algebra_thread
from overlay.unmixing.unmix import Unmixed, unmix
from overlay.view.model import View

Progress = Callable[[str, float], None]  # what is being done, and the share of the whole that is done


def analyse(job: Job, progress: Progress | None = None) -> Analysis:
    """Register and read every capture of a job, and hold each part's worst case against its limit.

    Raises
    ------
    InputError
        With the problems of all captures at once.
    """
    tell = progress or (lambda _what, _share: None)
    settings = job.settings
    if not settings.capture:
        raise input_error(
            job.path.name, None, "no [[capture]] yet, so there is nothing to read", "add one with a frame"
        )
    requirement = Requirement(**settings.requirement.model_dump())
    problems: list[Problem] = []
    policy = None
    try:
        policy = read_policy(requirement.derating, job.folder)
    except InputError as error:
        problems.extend(error.problems)
    captures = []
    for index, capture in enumerate(settings.capture):
        tell(f"reading {capture.name}", index / len(settings.capture))
        try:
            captures.append(analyse_capture(job, capture))
        except InputError as error:
            problems.extend(error.problems)
    raise_errors(dict.fromkeys(problems))
    tell("margins", 1.0)
    return Analysis(
        job=job,
        captures=tuple(captures),
        margins=margins(
            job.board,
            {capture.name: capture.reading for capture in captures},
            {capture.name: conditions_of(capture.settings) for capture in captures},
            requirement,
            policy,
            band_of(settings),
        ),
        inputs=inputs_of(job),
        problems=(*job.problems, *(problem for capture in captures for problem in capture.problems)),
    )


@one_algebra_thread
def analyse_capture(job: Job, capture: CaptureSettings) -> CaptureAnalysis:
    """Register one capture and read every part in it."""
    frame = read_capture_frame(job.folder, capture)
    page = page_of(frame, capture.frame)
    by_hand = register_capture(job.folder, capture, job.settings, job.board, frame.shape_px)
    band = band_of(job.settings)
    apparent_c = apparent_of(capture, band, page.temperature_c)

    second_c = read_reflection_check(job.folder, capture, frame.shape_px)

    def seen_by(registration: Registration) -> tuple[View, Unmixed]:
        cold = read_cold_frames(job.folder, capture, job.settings, job.board, registration)
        view = view_of(
            capture,
            job.settings,
            job.board,
            registration,
            page.temperature_c,
            pages=page.averaged,
            emissivity_map=cold,
            frame=frame,
            second_c=second_c,
        )
        return view, unmix(view)

    view, joint = seen_by(held_by_points(by_hand, apparent_c, capture, job.settings, job.board))
    if contradicted(view, joint):
        second = without_the_points(by_hand, apparent_c, capture, job.settings, job.board)
        view, joint = (view, joint) if second is by_hand else seen_by(second)

    def leaving_of(temperature_c: Array) -> Array:
        return leaving_radiance(band, view.sight, apparent_of(capture, band, temperature_c))

    reading, notes = with_settled_values(page, view, read_view(view, joint), leaving_of, capture.frame)
    reading, problems = with_contacts(job.folder, capture, view, reading)
    return CaptureAnalysis(capture, frame, view, reading, (*frame.notes, *notes), problems)


def register_all(job: Job, *, refine: bool = False, progress: Progress | None = None) -> dict[str, Registration]:
    """The registration of every capture by its name, each held against its frame (``confidence``).

    With ``refine`` the frame's own registration takes the place of the points' where it can be trusted. Raises the
    problems of all captures at once.
    """
    tell = progress or (lambda _what, _share: None)
    settings = job.settings
    held = refine_registration if refine else check_registration
    registrations: dict[str, Registration] = {}
    problems: list[Problem] = []
    for index, capture in enumerate(settings.capture):
        tell(f"registering {capture.name}", index / len(settings.capture))
        try:
            frame = read_capture_frame(job.folder, capture)
            by_hand = register_capture(job.folder, capture, settings, job.board, frame.shape_px)
            page_c = page_of(frame, capture.frame).temperature_c
            registrations[capture.name] = held(
                by_hand,
                apparent_of(capture, band_of(settings), page_c),
                job.board,
                hfov_deg=settings.camera.hfov_deg,
                distance_m=capture.distance_m,
            )
        except InputError as error:
            problems.extend(error.problems)
    raise_errors(problems)
    return registrations


def conditions_of(capture: CaptureSettings) -> Conditions:
    """What a projection needs to know of a capture."""
    return Conditions(
        capture=capture.name,
        ambient_c=capture.ambient_c,
        ambient_u_c=capture.ambient_u_c,
        reflected_c=capture.reflected_or_ambient_c,
        reflected_u_c=capture.reflected_u_c,
        rise_scale=capture.rise_scale,
        rise_scale_u=likely_rise_scale_u(capture.rise_scale) if capture.rise_scale_u is None else capture.rise_scale_u,
    )


def inputs_of(job: Job) -> tuple[Input, ...]:
    """Every file that the job names, with its SHA-256, ``job.toml`` first, each once."""
    board = job.settings.board
    names: list[str | None] = [job.path.name, board.placement, board.outline, board.parts, board.bodies]
    derating = job.settings.requirement.derating
    names.append(derating if derating.lower().endswith(".csv") else None)
    for capture in job.settings.capture:
        names += [capture.frame, capture.control_points, *capture.emissivity_map]
        names += [capture.emissivity_map_points, capture.contact_readings, capture.reflection_check]
    return tuple(Input(name, _digest(job.folder / name)) for name in dict.fromkeys(names) if name is not None)


def _digest(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
