"""What saving control points would write, worked out before anything is written."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from overlay.board.model import Board
from overlay.job.read_settings import read_settings
from overlay.job.settings import CaptureSettings
from overlay.job.settings_text import with_key
from overlay.workbench.folder import digest, inside
from overlay.workbench.job_files import UnknownError
from overlay.workbench.point_history import PointHistory
from overlay.workbench.points_file import points_csv


class ChangedOnDiskError(Exception):
    """A file is not what it was when the page read it; the message names the files."""


@dataclass(frozen=True, slots=True)
class Saving:
    """Contents of all files to be replaced, and which of them hold the points of which capture."""

    contents: dict[Path, bytes]
    points_files: dict[str, Path]


def files_to_save(job: Path, history: PointHistory, board: Board, *, anyway: bool = False) -> Saving:
    """The files of the captures whose points differ from what is on the disk.

    A capture that names no file gets one beside its frame, and ``job.toml`` the key that names it.

    Raises
    ------
    ChangedOnDiskError
        Where a file is not what this page read or wrote last, unless ``anyway``.
    InputError
        Where a file lies outside the job's folder, or ``job.toml`` cannot be read.
    """
    settings = read_settings(job)
    names = [capture.name for capture in settings.capture]
    text = job.read_bytes().decode("utf-8-sig")
    contents: dict[Path, bytes] = {}
    points_files: dict[str, Path] = {}
    changed = []
    for name in history.unsaved():
        if name not in names:
            raise UnknownError(f"job.toml has no capture “{name}” any more; reload the page")
        capture = settings.capture[names.index(name)]
        file = capture.control_points
        if file is None:
            file = _free_name(job.parent, capture, [path.name for path in contents])
            text = with_key(text, "capture", names.index(name), "control_points", file, after="frame")
            contents[job] = text.encode()
        path = inside(job.parent, file)
        if capture.control_points is not None and digest(path) != history.versions[name]:
            changed.append(file)
        former = path.read_bytes().decode("utf-8", "replace") if path.exists() else ""
        contents[path] = points_csv(history.points[name], board, capture.side, former).encode()
        points_files[name] = path
    if changed and not anyway:
        raise ChangedOnDiskError(", ".join(changed))
    return Saving(contents, points_files)


def _free_name(folder: Path, capture: CaptureSettings, taken: list[str]) -> str:
    stem = Path(capture.frame).stem
    names = [f"{stem}.points.csv", *(f"{stem}.points-{count}.csv" for count in range(2, 1000))]
    return next(name for name in names if name not in taken and not (folder / name).exists())
