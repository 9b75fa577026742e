"""Job folders: what the files say, with every problem found in one pass."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from overlay.board.model import Board, BoardFiles
from overlay.board.read import read_board
from overlay.errors import InputError, Problem, input_error, raise_errors
from overlay.job.analysis import Job
from overlay.job.settings import CaptureSettings, Settings, read_settings


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """A job as far as it could be understood; None for what could not."""

    path: Path
    settings: Settings | None
    board: Board | None
    problems: tuple[Problem, ...]


def job_path(path: Path) -> Path:
    """The ``job.toml`` meant by a job argument: that file, or the folder that holds one."""
    file = path / "job.toml" if path.is_dir() else path
    if not file.is_file():
        remedy = "name a job.toml or the folder that holds one; `board-overlay new` writes one"
        raise input_error(str(path), None, "no job here", remedy)
    return file


def read_job(path: Path) -> Job:
    """Read settings and board of a job.

    Raises
    ------
    InputError
        With every problem of ``job.toml`` and of the board's files if any of them is an error.
    """
    file = job_path(path)
    settings = read_settings(file)
    board, problems = read_board(file.parent, board_files(settings))
    raise_errors(problems)
    assert board is not None, "a board that could not be read without an error being told"
    return Job(file, settings, board, tuple(problems))


def survey_job(path: Path) -> Survey:
    """Read everything a job names, frames and control points too, and raise nothing that the files are to blame for."""
    try:
        file = job_path(path)
        settings = read_settings(file)
    except InputError as error:
        return Survey(path, None, None, error.problems)
    board, problems = read_board(file.parent, board_files(settings))
    for capture in settings.capture:
        problems += _capture_problems(file.parent, capture, settings, board)
    return Survey(file, settings, board, tuple(_once(problems)))


def board_files(settings: Settings) -> BoardFiles:
    """What the board's room needs of the settings."""
    board = settings.board
    return BoardFiles(**{name: getattr(board, name) for name in BoardFiles.__dataclass_fields__})


def _capture_problems(folder: Path, capture: CaptureSettings, settings: Settings, board: Board | None) -> list[Problem]:
    from overlay.job.capture import read_capture_frame, read_cold_frames, register_capture

    problems: list[Problem] = []

    def attempt(step: Callable[[], object]) -> object:
        try:
            return step()
        except InputError as error:
            problems.extend(error.problems)
            return None

    frame = attempt(lambda: read_capture_frame(folder, capture))
    if board is None:
        return problems
    if frame is None:
        # the frame's size is not known, but the table of control points can be read without it
        attempt(lambda: read_points_only(folder, capture, board))
        return problems
    registration = attempt(lambda: register_capture(folder, capture, settings, board, frame.shape_px))  # type: ignore[attr-defined]
    if registration is not None and capture.emissivity_map:
        attempt(lambda: read_cold_frames(folder, capture, settings, board, registration))  # type: ignore[arg-type]
    return problems


def read_points_only(folder: Path, capture: CaptureSettings, board: Board) -> None:
    """Read a capture's control points for their problems alone."""
    from overlay.registration.control_points import read_control_points

    if capture.control_points is not None:
        read_control_points(folder / capture.control_points, capture.control_points, board, capture.side)


def _once(problems: list[Problem]) -> list[Problem]:
    return list(dict.fromkeys(problems))
