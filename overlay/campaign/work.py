"""One part of a campaign: its frames read one after the other, and its rows written."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from overlay.campaign.model import FrameTask, Row
from overlay.campaign.store import Format, part_path, write_rows
from overlay.errors import InputError, input_error
from overlay.frames.frame import Frame
from overlay.frames.read import read_frame
from overlay.job.analyse import conditions_of, read_capture
from overlay.job.analysis import CaptureAnalysis, Job
from overlay.job.capture import band_of
from overlay.job.load import CaptureData, load_files, load_policy
from overlay.job.read import read_job
from overlay.job.settings import CaptureSettings
from overlay.job.stack import page_of
from overlay.margin.derating import Policy
from overlay.margin.model import Margin, Requirement
from overlay.margin.worst_case import margins
from overlay.reading.model import Reading
from overlay.registration.model import Registration
from overlay.registration.project import pixels_from_board


@dataclass(frozen=True, slots=True)
class Part:
    """A run of frames that is done as one piece, by whichever process takes it."""

    number: int
    job: Path
    capture: str | None
    tasks: tuple[FrameTask, ...]
    folder: Path
    format_: Format


@dataclass(frozen=True, slots=True, eq=False)
class Base:
    """What every frame of a campaign starts from: the job, its capture as loaded, and where that saw the board."""

    job: Job
    data: CaptureData
    registration: Registration
    policy: Policy | None


def do_part(part: Part) -> None:
    """Read a part's frames and write its rows: the task that engines hand out."""
    base = base_of(part.job, part.capture)
    write_rows(part_path(part.folder, part.number, part.format_), rows_of(base, part.tasks))


@lru_cache(maxsize=2)
def base_of(job_path: Path, capture_name: str | None) -> Base:
    """The job and its registered capture, once a process.

    Raises
    ------
    InputError
        As `read_job` and `read_capture`; or if the job has no capture of that name.
    """
    job = read_job(job_path)
    capture = _capture(job, capture_name)
    data = load_files(job.folder, capture, job.board, job.settings.camera.size_of_source)
    policy, _ = load_policy(job)
    return Base(job, data, read_capture(data, job.board, job.settings.camera).registration, policy)


def rows_of(base: Base, tasks: tuple[FrameTask, ...]) -> list[Row]:
    """Rows of frames in their order; each frame starts from where the one before saw the board.

    A frame that cannot be read is one row with its reason, whatever it was that failed: others go on.
    """
    rows: list[Row] = []
    start = base.registration
    for task in tasks:
        try:
            analysis = read_capture(_loaded(base, task), base.job.board, base.job.settings.camera, start)
        except InputError as error:
            rows.append(_broken(task, "; ".join(f"{item.what}; {item.remedy}" for item in error.problems)))
            continue
        except Exception as error:  # a fault in one frame must not end a night's run; the row names it
            rows.append(_broken(task, f"fault of the program: {type(error).__name__}: {error}"))
            continue
        # the covariance stays that of the base: one grown surer frame by frame could not follow a board that moves
        start = replace(analysis.registration, covariance=base.registration.covariance)
        rows += _rows(base, task, analysis)
    return rows


def _loaded(base: Base, task: FrameTask) -> CaptureData:
    """The base's capture with this frame in the place of its own."""
    ambient_c = base.data.settings.ambient_c if task.ambient_c is None else task.ambient_c
    settings = base.data.settings.model_copy(update={"frame": task.path, "ambient_c": ambient_c})
    frame = _frame(settings, task)
    if frame.shape_px != base.data.frame.shape_px:
        what = f"has {frame.shape_px} pixels, the campaign's capture {base.data.frame.shape_px}"
        raise input_error(task.path, None, what, "take all frames with one camera and setting")
    return replace(base.data, settings=settings, frame=frame, page=page_of(frame, task.path), contacts=())


def _frame(settings: CaptureSettings, task: FrameTask) -> Frame:
    if "://" not in task.path:
        return _read(Path(task.path), settings)
    import fsspec

    with tempfile.TemporaryDirectory(prefix="board-overlay-") as folder:
        here = Path(folder) / "frame"
        with fsspec.open(task.path, "rb") as stream:
            here.write_bytes(stream.read())
        return _read(here, settings)


def _read(path: Path, settings: CaptureSettings) -> Frame:
    return read_frame(path, settings.frame, scale=settings.frame_scale, offset=settings.frame_offset)


def _rows(base: Base, task: FrameTask, analysis: CaptureAnalysis) -> list[Row]:
    settings = base.job.settings
    found = margins(
        base.job.board,
        {analysis.name: analysis.reading},
        {analysis.name: conditions_of(analysis.settings)},
        Requirement(**settings.requirement.model_dump()),
        base.policy,
        band_of(settings.camera),
    )
    moved_px = _moved_px(base.registration, analysis)
    margin_of = {margin.refdes: margin for margin in found}
    return [_row(task, reading, margin_of[reading.refdes], moved_px, analysis) for reading in analysis.reading.readings]


def _row(task: FrameTask, reading: Reading, margin: Margin, moved_px: float, analysis: CaptureAnalysis) -> Row:
    held = analysis.registration.confidence
    why = "" if reading.trusted or not reading.why else str(reading.why[0])
    return Row(
        frame=task.index,
        path=task.path,
        unit=task.unit,
        state=task.state,
        time_s=task.time_s,
        refdes=reading.refdes,
        reading=reading.state,
        peak_c=reading.peak_c,
        mean_c=reading.mean_c,
        u_c=reading.u_c,
        projected_c=margin.projected_c,
        margin_c=margin.margin_c,
        verdict=margin.verdict,
        moved_px=moved_px,
        agreement=None if held is None or not held.parts_judged else held.parts_agreeing / held.parts_judged,
        why=why,
    )


def _moved_px(base: Registration, analysis: CaptureAnalysis) -> float:
    """Root mean square of how far the parts moved in the frame."""
    places = np.array([[*face.component.center_mm, face.z_mm] for face in analysis.faces])
    apart = pixels_from_board(analysis.registration, places) - pixels_from_board(base, places)
    return float(np.sqrt(np.nanmean((apart**2).sum(axis=1))))


def _broken(task: FrameTask, why: str) -> Row:
    return Row(task.index, task.path, task.unit, task.state, task.time_s, why=why)


def _capture(job: Job, name: str | None) -> CaptureSettings:
    for capture in job.settings.capture:
        if name is None or capture.name == name:
            return capture
    names = ", ".join(repr(capture.name) for capture in job.settings.capture) or "none"
    what = "has no capture to follow" if name is None else f"has no capture {name!r}"
    raise input_error(str(job.path), None, what, f"its captures are {names}: name one of them as capture of the plan")
