"""Arguments and options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer


def _folder(text: str) -> Path:
    if not text.strip():
        raise typer.BadParameter("is empty; name a folder, or . for this one")
    return Path(text)


JobArgument = Annotated[Path, typer.Argument(metavar="JOB", help="A job.toml, or the folder that holds one.")]
OutOption = Annotated[
    Path, typer.Option("--out", metavar="FOLDER", parser=_folder, help="Folder to write the reports to.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON, and nothing else, to standard output.")]
OptionalFile = Optional[Path]  # noqa: UP045 - typer reads the annotation at run time
