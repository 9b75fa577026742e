"""Job folders: what the files say, with every problem found in one pass."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from overlay.board.model import Board, BoardFiles
from overlay.board.read import read_board
from overlay.errors import InputError, Problem, raise_errors
from overlay.files import noted_inputs, problems_of
from overlay.job.analysis import Job
from overlay.job.path import job_path
from overlay.job.read_settings import read_settings
from overlay.job.settings import CaptureSettings, Settings


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """A job as far as it could be understood; None for what could not."""

    path: Path
    settings: Settings | None
    board: Board | None
    problems: tuple[Problem, ...]


def read_job(path: Path | str) -> Job:
    """Read settings and board of a job.

    Raises
    ------
    InputError
        With every problem of ``job.toml`` and of the board's files if any of them is an error.
    """
    file = job_path(path)
    with noted_inputs() as inputs:
        settings = read_settings(file)
        board, problems = read_board(file.parent, board_files(settings))
    problems += problems_of(inputs)
    raise_errors(problems)
    assert board is not None, "a board that could not be read without an error being told"
    return Job(file, settings, board, tuple(problems), tuple(inputs))


def survey_job(path: Path | str, *, registered: bool = True) -> Survey:
    """Read everything a job names, frames and control points too, and raise nothing that the files are to blame for.

    Without ``registered`` captures are read only, and need no points yet: whether points hold a frame takes seconds to
    work out.
    """
    try:
        file = job_path(path)
        with noted_inputs() as inputs:
            settings = read_settings(file)
            board, problems = read_board(file.parent, board_files(settings))
    except InputError as error:
        return Survey(Path(path), None, None, error.problems)
    problems += problems_of(inputs)
    for capture in settings.capture:
        problems += _capture_problems(file.parent, capture, settings, board, registered)
    return Survey(file, settings, board, tuple(_once(problems)))


def board_files(settings: Settings) -> BoardFiles:
    """What the board's room needs of the settings."""
    board = settings.board
    return BoardFiles(**{name: getattr(board, name) for name in BoardFiles.__dataclass_fields__})


def _capture_problems(
    folder: Path, capture: CaptureSettings, settings: Settings, board: Board | None, registered: bool
) -> list[Problem]:
    """Everything that is wrong with a capture's files, and with its registration where they can be read."""
    from overlay.job.capture import emissivity_map_of, foreign_problem, try_capture
    from overlay.job.load import load_files, read_capture_frame

    try:
        if board is None:
            read_capture_frame(folder, capture)
            return []
        data = load_files(folder, capture, board, settings.camera.size_of_source, registered=registered)
        odd = problems_of(data.inputs)
        if not registered:
            return odd
        registration = try_capture(data, board, settings.camera)
        emissivity_map_of(data, board, settings.camera, registration)
        if registration.foreign:
            return [*odd, foreign_problem(capture, board, registration.foreign)]
    except InputError as error:
        return list(error.problems)
    return odd


def _once(problems: list[Problem]) -> list[Problem]:
    return list(dict.fromkeys(problems))
