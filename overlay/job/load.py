"""Every file of a job's captures, read once; what comes after touches no file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from overlay.board.model import Board
from overlay.errors import InputError, Problem, input_error, raise_errors
from overlay.files import InputFile, noted_inputs
from overlay.frames.frame import Frame
from overlay.frames.read import read_frame
from overlay.frames.size_of_source import SizeOfSource, read_size_of_source
from overlay.job.ambient_log import AmbientLog, read_ambient_log
from overlay.job.analysis import Job
from overlay.job.settings import CaptureSettings
from overlay.job.stack import Page, page_of
from overlay.registration.control_points import read_control_points
from overlay.registration.model import ControlPoint

if TYPE_CHECKING:
    from overlay.margin.derating import Policy
    from overlay.probes.model import ContactReading

T = TypeVar("T")


@dataclass(frozen=True, slots=True, eq=False)
class CaptureData:
    """One capture with everything its files say."""

    settings: CaptureSettings
    frame: Frame  # of a stack whose board is settled only the last page: the mean of all is in ``page``
    page: Page  # what of the frame is read
    points: tuple[ControlPoint, ...]
    cold: tuple[Frame, ...]  # of the unpowered board, for an emissivity map
    cold_points: tuple[ControlPoint, ...]  # empty: taken in the capture's pose
    contacts: tuple[ContactReading, ...]
    reflection_check: Frame | None  # the same scene with something else reflected
    size_of_source: SizeOfSource | None  # of the camera, where it was measured
    inputs: tuple[InputFile, ...]  # the files of all this, with the digests of the bytes that were used
    ambient: AmbientLog | None = None  # the ambient over the pages of a stack


def load_capture(job: Job, name: str) -> CaptureData:
    """Read all files of a job's capture; KeyError where it has none of that name.

    Examples
    --------
    >>> import overlay
    >>> job = overlay.read_job("demo_board")
    >>> overlay.load_capture(job, "full load").frame.shape_px
    (240, 320)
    """
    for capture in job.settings.capture:
        if capture.name == name:
            return load_files(job.folder, capture, job.board, job.settings.camera.size_of_source)
    raise KeyError(name)


def load_files(
    folder: Path, capture: CaptureSettings, board: Board, size_of_source: str | None = None, *, registered: bool = True
) -> CaptureData:
    """Read all files that a capture names, and the camera's measured curve where ``size_of_source`` names one.

    Without ``registered`` it need not have control points yet.

    Raises
    ------
    InputError
        With the problems of all its files at once.
    """
    problems: list[Problem] = []

    def attempt(read: Callable[[], T]) -> T | None:
        try:
            return read()
        except InputError as error:
            problems.extend(error.problems)
            return None

    with noted_inputs() as inputs:
        frame = attempt(lambda: read_capture_frame(folder, capture))
        page = None if frame is None else attempt(lambda: page_of(frame, capture.frame))
        points = None
        if registered or capture.control_points is not None:
            points = attempt(lambda: _points(folder, capture, capture.control_points, board))
        cold = [attempt(partial(_cold_frame, folder, capture, file, frame)) for file in capture.emissivity_map]
        cold_points: tuple[ControlPoint, ...] | None = ()
        if capture.emissivity_map_points is not None:
            cold_points = attempt(lambda: _points(folder, capture, capture.emissivity_map_points, board))
        contacts = attempt(lambda: _contacts(folder, capture, board))
        second = attempt(lambda: _reflection_check(folder, capture, frame))
        ambient = attempt(lambda: _ambient_log(folder, capture, frame))
        curve = None
        if size_of_source is not None:
            curve = attempt(partial(read_size_of_source, folder / size_of_source, size_of_source))
    raise_errors(problems)
    assert frame is not None
    assert page is not None
    settled = frame.pages > 1 and page.warming is None
    return CaptureData(
        settings=capture,
        frame=_last_page(frame) if settled else frame,
        page=page,
        points=points or (),
        cold=tuple(item for item in cold if item is not None),
        cold_points=cold_points or (),
        contacts=contacts or (),
        reflection_check=second,
        ambient=ambient,
        size_of_source=curve,
        inputs=tuple(inputs),
    )


def _last_page(frame: Frame) -> Frame:
    """The last page alone: a long record takes more memory than all that is made of it."""
    times_s = None if frame.times_s is None else frame.times_s[-1:]
    return replace(frame, temperature_c=np.array(frame.temperature_c[-1:], dtype=np.float64), times_s=times_s)


def _ambient_log(folder: Path, capture: CaptureSettings, frame: Frame | None) -> AmbientLog | None:
    file = capture.ambient_log
    if file is None:
        return None
    log = read_ambient_log(folder / file, file)
    times = None if frame is None else frame.times_s
    if times is not None and (log.times_s[0] > times[0] + 1.0 or log.times_s[-1] < times[-1] - 1.0):
        what = f"covers {log.times_s[0]:g} to {log.times_s[-1]:g} s, the pages {times[0]:g} to {times[-1]:g} s"
        raise input_error(file, None, what, "log the ambient from the first page to the last")
    return log


def load_policy(job: Job) -> tuple[Policy | None, tuple[InputFile, ...]]:
    """The derating policy a job asks for, and the file it was read from where it is the job's own."""
    from overlay.margin.derating import read_policy

    derating = job.settings.requirement.derating
    with noted_inputs() as inputs:
        policy = read_policy(derating, job.folder)
    own = (job.folder / derating).is_file()
    return policy, tuple(inputs) if own else ()


def read_capture_frame(folder: Path, capture: CaptureSettings) -> Frame:
    """The capture's frame, scaled to °C, with its times."""
    return read_frame(
        folder / capture.frame,
        capture.frame,
        scale=capture.frame_scale,
        offset=capture.frame_offset,
        times_s=capture.frame_times_s,
        period_s=capture.frame_period_s,
        colour_scale=capture.colour_scale,
    )


def _points(folder: Path, capture: CaptureSettings, file: str | None, board: Board) -> tuple[ControlPoint, ...]:
    if file is None:
        remedy = 'add control_points = "….points.csv", or place points in `board-overlay workbench`'
        raise input_error("job.toml", None, f'capture "{capture.name}" has no control points', remedy)
    return read_control_points(folder / file, file, board, capture.side)


def _cold_frame(folder: Path, capture: CaptureSettings, file: str, frame: Frame | None) -> Frame:
    cold = read_frame(folder / file, file, scale=capture.frame_scale, offset=capture.frame_offset)
    if frame is not None and cold.shape_px != frame.shape_px and capture.emissivity_map_points is None:
        what = f"has {cold.shape_px} pixels, the capture's frame {frame.shape_px}"
        raise input_error(file, None, what, "take it with the same pose, or give emissivity_map_points")
    return cold


def _contacts(folder: Path, capture: CaptureSettings, board: Board) -> tuple[ContactReading, ...]:
    if capture.contact_readings is None:
        return ()
    from overlay.probes.read import read_contacts

    return tuple(read_contacts(folder / capture.contact_readings, capture.contact_readings, board))


def _reflection_check(folder: Path, capture: CaptureSettings, frame: Frame | None) -> Frame | None:
    file = capture.reflection_check
    if file is None:
        return None
    second = read_frame(
        folder / file,
        file,
        scale=capture.frame_scale,
        offset=capture.frame_offset,
        colour_scale=capture.colour_scale,
    )
    if frame is not None and second.shape_px != frame.shape_px:
        (rows, cols), wanted = second.shape_px, frame.shape_px
        what = f"is {cols} × {rows} pixels, but {capture.frame} is {wanted[1]} × {wanted[0]}"
        raise input_error(file, None, what, "take both frames with the same camera from the same place")
    return second
