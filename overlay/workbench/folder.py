"""The job's folder: nothing outside it is served or written."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

from overlay.errors import input_error
from overlay.files import write_all

REPORT_FOLDER = "report"  # beside the job's own files, never among them


def inside(folder: Path, name: str) -> Path:
    """The path of a file of the job.

    Raises
    ------
    InputError
        Where the name leads out of the folder, by dots, by a root, or by a link.
    """
    try:
        path = (folder / name).resolve()
        within = path.is_relative_to(folder.resolve())
    except (OSError, ValueError, RuntimeError):  # NUL characters, links in a circle
        within = False
    if not within:
        remedy = "put the file into the job's folder: the workbench leaves everything else alone"
        raise input_error(name, None, "lies outside the job's folder", remedy)
    return path


def digest(path: Path) -> str:
    """Names the content of a file; empty where there is none."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return ""


def replace_files(contents: Mapping[Path, bytes]) -> None:
    """Write files whole; what they held before is kept beside each as ``.bak``."""
    writing: dict[Path, bytes] = {}
    for path, content in contents.items():
        if path.exists():
            former = path.read_bytes()
            if former == content:
                continue
            writing[path.with_name(path.name + ".bak")] = former
    for path, content in contents.items():
        writing[path] = content
    try:
        write_all(writing)
    except OSError as error:
        reason = error.strerror or str(error)
        raise input_error(
            ", ".join(path.name for path in contents), None, f"cannot be written ({reason})", "check the folder"
        ) from None
