"""The one pipeline: Job → Analysis. Loads capture by capture; each capture's reading is pure once it is loaded."""

from __future__ import annotations

from collections.abc import Callable

from overlay.board.model import Board
from overlay.errors import InputError, Problem, input_error, raise_errors
from overlay.files import InputFile
from overlay.frames.frame import Array
from overlay.frames.radiometry import leaving_radiance
from overlay.job.analysis import Analysis, CaptureAnalysis, Job
from overlay.job.capture import apparent_of, apparent_page_c, band_of, register_capture, view_of
from overlay.job.contacts import with_contacts
from overlay.job.load import CaptureData, load_files, load_policy
from overlay.job.registration_policy import contradicted, held_by_points, without_the_points
from overlay.job.settings import CameraSettings, CaptureSettings, lens_of
from overlay.job.stack import with_settled_values
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
    problems: list[Problem] = []
    policy, inputs = None, list(job.inputs)
    try:
        policy, own = load_policy(job)
        inputs += own
    except InputError as error:
        problems.extend(error.problems)
    captures = []
    for index, capture in enumerate(settings.capture):
        tell(f"reading {capture.name}", index / len(settings.capture))
        try:
            data = load_files(job.folder, capture, job.board)
            captures.append(read_capture(data, job.board, settings.camera))
            inputs += data.inputs
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
            Requirement(**settings.requirement.model_dump()),
            policy,
            band_of(settings.camera),
        ),
        inputs=_once(inputs),
        problems=(*job.problems, *(problem for capture in captures for problem in capture.problems)),
    )


@one_algebra_thread
def read_capture(
    data: CaptureData, board: Board, camera: CameraSettings, start: Registration | None = None
) -> CaptureAnalysis:
    """Register one capture and read every part in it.

    ``start``: a registration to begin with in the place of the control points' own, such as that of the frame before.
    """
    capture, lens = data.settings, lens_of(camera, data.settings)
    by_hand = register_capture(data, board, camera) if start is None else start
    apparent_c = apparent_page_c(data, camera)

    def seen_by(registration: Registration) -> tuple[View, Unmixed]:
        view = view_of(data, board, camera, registration)
        return view, unmix(view)

    view, joint = seen_by(held_by_points(by_hand, apparent_c, board, lens))
    if contradicted(view, joint):
        second = without_the_points(by_hand, apparent_c, board, lens)
        view, joint = (view, joint) if second is by_hand else seen_by(second)

    def leaving_of(temperature_c: Array) -> Array:
        return leaving_radiance(view.band, view.sight, apparent_of(capture, view.band, temperature_c))

    reading, notes = with_settled_values(data.page, view, read_view(view, joint), leaving_of, capture.frame)
    reading, problems = with_contacts(data, view, reading)
    return CaptureAnalysis(capture, data.frame, view, reading, (*data.frame.notes, *notes), problems)


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
            data = load_files(job.folder, capture, job.board)
            by_hand = register_capture(data, job.board, settings.camera)
            apparent_c = apparent_page_c(data, settings.camera)
            registrations[capture.name] = held(by_hand, apparent_c, job.board, lens_of(settings.camera, capture))
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


def _once(inputs: list[InputFile]) -> tuple[InputFile, ...]:
    """Each file once, as it was read first."""
    first: dict[str, InputFile] = {}
    for item in inputs:
        first.setdefault(item.file, item)
    return tuple(first.values())
