"""Where a job lies."""

from __future__ import annotations

from pathlib import Path

from overlay.errors import input_error
from overlay.files import finish_writing


def job_path(path: Path | str) -> Path:
    """The ``job.toml`` meant by a job argument: that file, or the folder that holds one."""
    path = Path(path)
    try:
        file = path / "job.toml" if path.is_dir() else path
        found = file.is_file()
    except (OSError, ValueError) as error:  # a folder nobody may enter, a name that no file can have
        reason = error.strerror if isinstance(error, OSError) else error
        raise input_error(str(path), None, f"cannot be looked into ({reason})", "check the name") from None
    if not found:
        remedy = "name a job.toml or the folder that holds one; `board-overlay new` writes one"
        raise input_error(str(path), None, "no job here", remedy)
    finish_writing(file.parent)  # a save may have been killed in its middle
    return file
