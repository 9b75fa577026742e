"""The one pipeline: Job → Analysis. Loads capture by capture; each capture's reading is pure once it is loaded."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from importlib import import_module

import numpy as np

from overlay.board.model import Board
from overlay.errors import InputError, Problem, input_error, raise_errors
from overlay.files import InputFile, problems_of
from overlay.forks import answers
from overlay.frames.frame import Array
from overlay.frames.radiometry import leaving_radiance
from overlay.heat.observe import Capture as HeatCapture
from overlay.heat.work_out import work_out_heat
from overlay.job.analysis import Analysis, CaptureAnalysis, Job
from overlay.job.capture import apparent_of, band_of, foreign_problem, register_capture, view_of
from overlay.job.contacts import with_contacts
from overlay.job.load import CaptureData, load_files, load_policy
from overlay.job.settings import CameraSettings, CaptureSettings
from overlay.job.stack import with_settled_values
from overlay.margin.areas import AreaLimit, area_margins
from overlay.margin.derating import Policy
from overlay.margin.load_states import rise_scale_of
from overlay.margin.model import Conditions, Requirement
from overlay.margin.projection import likely_rise_scale_u
from overlay.margin.worst_case import margins
from overlay.reading.read_components import read_nothing, read_view
from overlay.registration.faces import project_faces
from overlay.registration.model import Registration
from overlay.registration.project import pixel_covariance
from overlay.registration.residuals import held_against_points
from overlay.threads import one_algebra_thread
from overlay.unmixing.unmix import Unmixed, unmix
from overlay.view.model import View

_LIBRARIES = (
    "cv2",
    "scipy.ndimage",
    "scipy.sparse.csgraph",
    "scipy.sparse.linalg",
    "scipy.spatial",
    "scipy.special",
    "threadpoolctl",
    "tifffile",
)
"""What every capture's reading loads when it first needs it: loaded once, before forks would do so each."""

Progress = Callable[[str, float], None]  # what is being done, and the share of the whole that is done
_READ_SHARE = 0.8  # of the time that a job takes, for its frames (measured on the demonstration board)


def analyse(job: Job, progress: Progress | None = None, *, workers: int = 1) -> Analysis:
    """Register and read every capture of a job, and hold each part's worst case against its limit.

    Parameters
    ----------
    workers
        Captures that are read at once, in forks of this process (`overlay.forks`): for commands, where no other
        thread is at work. The answer is the same.

    Raises
    ------
    InputError
        With the problems of all captures at once, and where no capture shows the board of the placement. Where only
        some do not, nothing of these is read, and an error among the analysis's ``problems`` says so.
    """
    tell = progress or (lambda _what, _share: None)
    settings = job.settings
    if not settings.capture:
        raise input_error(
            job.path.name, None, "no [[capture]] yet, so there is nothing to read", "add one with a frame"
        )
    problems: list[Problem] = []
    policy, inputs = None, list(job.inputs)
    try:
        policy, own = load_policy(job)
        inputs += own
    except InputError as error:
        problems.extend(error.problems)
    captures = []
    pieces = [partial(_read, job, capture) for capture in settings.capture]
    begins = _telling(tell, settings.capture)
    if min(workers, len(pieces)) > 1:
        for library in _LIBRARIES:
            import_module(library)
    for answer in answers(pieces, workers, begins, same=(job.board, *job.board.components)):
        if isinstance(answer, InputError):
            problems.extend(answer.problems)
        else:
            captures.append(answer[0])
            inputs += answer[1]
    if captures and all(capture.registration.foreign for capture in captures):
        problems += [problem for capture in captures for problem in capture.problems]
    raise_errors(dict.fromkeys(problems))
    tell("working out what makes the heat", _READ_SHARE)
    captures = _with_heat(captures)
    tell("holding parts against their limits", 0.93)
    return _judged(job, captures, policy, inputs)


def judge_again(analysis: Analysis, job: Job) -> Analysis:
    """What was read held against the requirement, the limits and the derating of another state of the job.

    Nothing is read again: frames, registrations, bodies and emissivities must be those of ``analysis``.
    """
    policy, own = load_policy(job)
    board_files = {item.file for item in (*analysis.job.inputs, *job.inputs)}
    frames = [item for item in analysis.inputs if item.file not in board_files]
    return _judged(job, analysis.captures, policy, [*job.inputs, *own, *frames])


def _judged(
    job: Job, captures: Sequence[CaptureAnalysis], policy: Policy | None, inputs: Sequence[InputFile]
) -> Analysis:
    """Each part's worst case over all captures, against its limit."""
    settings = job.settings
    readings = {capture.name: capture.reading for capture in captures}
    conditions = {capture.name: conditions_of(capture.settings) for capture in captures}
    requirement = Requirement(**settings.requirement.model_dump())
    sides = {capture.name: capture.settings.side for capture in captures}
    odd = problems_of(inputs)[len(problems_of(job.inputs)) :]  # the board's own are among the job's problems
    return Analysis(
        job=job,
        captures=tuple(captures),
        margins=margins(job.board, readings, conditions, requirement, policy, band_of(settings.camera)),
        areas=area_margins(areas_of(job), readings, sides, conditions, requirement),
        inputs=_once(inputs),
        problems=(*job.problems, *odd, *(problem for capture in captures for problem in capture.problems)),
    )


def _read(job: Job, capture: CaptureSettings) -> tuple[CaptureAnalysis, tuple[InputFile, ...]]:
    data = load_files(job.folder, capture, job.board, job.settings.camera.size_of_source)
    return read_capture(data, job.board, job.settings.camera), data.inputs


def _telling(tell: Progress, captures: Sequence[CaptureSettings]) -> Callable[[int], None]:
    return lambda index: tell(f"reading “{captures[index].name}”", _READ_SHARE * index / len(captures))


def _with_heat(captures: Sequence[CaptureAnalysis]) -> list[CaptureAnalysis]:
    """The captures with what makes the heat in each, worked out of all together."""
    seen = [
        HeatCapture(
            capture.name,
            capture.view,
            capture.reading,
            load=capture.settings.load or 1.0 / capture.settings.rise_scale,
            input_power_w=capture.settings.input_power_w,
            input_power_u_w=capture.settings.input_power_u_w,
        )
        for capture in captures
    ]
    heat = work_out_heat(seen)
    return [replace(capture, heat=heat.get(capture.name)) for capture in captures]


@one_algebra_thread
def read_capture(
    data: CaptureData, board: Board, camera: CameraSettings, start: Registration | None = None
) -> CaptureAnalysis:
    """Register one capture and read every part in it; nothing of it where the placement is not that of the frame.

    ``start``: a registration to begin with in the place of the control points' own, such as that of the frame before.
    """
    capture = data.settings
    given = view_of(data, board, camera, register_capture(data, board, camera, start))
    if given.registration.foreign:
        problem = foreign_problem(capture, board, given.registration.foreign)
        return CaptureAnalysis(capture, data.frame, given, read_nothing(given), data.frame.notes, (problem,))
    joint = unmix(given)
    view = settled_view(given, joint)

    def leaving_of(temperature_c: Array) -> Array:
        return leaving_radiance(view.band, view.sight, apparent_of(capture, view.band, temperature_c))

    last = read_view(given, joint, view.faces)
    reading, notes = with_settled_values(data.page, view, last, leaving_of, capture.frame, data.ambient)
    reading, contacts, problems = with_contacts(data, view, reading)
    return CaptureAnalysis(capture, data.frame, view, reading, (*data.frame.notes, *notes), problems, contacts)


def settled_view(view: View, joint: Unmixed) -> View:
    """The view in the pose that the joint solution read it with, so that what is stored is what was used."""
    if joint.registration is view.registration:
        return view
    places = np.array([[*view.registration.center_mm, 0.0]])
    u_px = math.sqrt(float(np.trace(pixel_covariance(joint.registration, places)[0])) / 2.0)
    registration = held_against_points(joint.registration, u_px)
    return replace(view, registration=registration, faces=project_faces(registration, view.board))


def register_all(job: Job, *, refine: bool = False, progress: Progress | None = None) -> dict[str, Registration]:
    """The registration of every capture by its name, as `analyse` begins with it.

    With ``refine`` the frame's own registration takes the place of the points' wherever it can be trusted. Raises the
    problems of all captures at once.
    """
    tell = progress or (lambda _what, _share: None)
    settings = job.settings
    registrations: dict[str, Registration] = {}
    problems: list[Problem] = []
    for index, capture in enumerate(settings.capture):
        tell(f"registering {capture.name}", index / len(settings.capture))
        try:
            data = load_files(job.folder, capture, job.board, settings.camera.size_of_source)
            registrations[capture.name] = register_capture(data, job.board, settings.camera, always=refine)
        except InputError as error:
            problems.extend(error.problems)
    raise_errors(problems)
    return registrations


def areas_of(job: Job) -> tuple[AreaLimit, ...]:
    """The surfaces of a job that have limits of their own: the laminate of each captured side, and what is touched.

    Raises
    ------
    InputError
        Where a surface to touch names a part that is not on the board.
    """
    board, touch = job.settings.board, job.settings.touch
    known = {part.refdes: part for part in job.board.parts}
    raise_errors(
        Problem("error", job.path.name, None, f'touch "{one.name}": no part {name}', "name parts of the board", "parts")
        for one in touch
        for name in one.parts
        if name not in known
    )
    areas = []
    if board.laminate_limit_c is not None:
        for side in dict.fromkeys(capture.side for capture in job.settings.capture):
            source = board.laminate_limit_source or "job.toml, laminate_limit_c"
            areas.append(AreaLimit(f"laminate, {side} side", "laminate", side, board.laminate_limit_c, source))
    for one in touch:
        source = one.limit_source or "job.toml, touch"
        areas.append(AreaLimit(one.name, "touch", known[one.parts[0]].side, one.limit_c, source, one.parts))
    return tuple(areas)


def conditions_of(capture: CaptureSettings) -> Conditions:
    """What a projection needs to know of a capture."""
    scale, scale_u = capture.rise_scale, likely_rise_scale_u(capture.rise_scale)
    if capture.load is not None and scale == 1.0:
        scale, scale_u = rise_scale_of(capture.load)
    return Conditions(
        capture=capture.name,
        ambient_c=capture.ambient_c,
        ambient_u_c=capture.ambient_u_c,
        reflected_c=capture.reflected_or_ambient_c,
        reflected_u_c=capture.reflected_u_c,
        rise_scale=scale,
        rise_scale_u=scale_u if capture.rise_scale_u is None else capture.rise_scale_u,
        load=capture.load,
        altitude_m=capture.altitude_m,
    )


def _once(inputs: Sequence[InputFile]) -> tuple[InputFile, ...]:
    """Each file once, as it was read first."""
    first: dict[str, InputFile] = {}
    for item in inputs:
        first.setdefault(item.file, item)
    return tuple(first.values())
