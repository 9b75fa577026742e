"""`board-overlay new`: a job begun from the files at hand."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from overlay_cli.options import OptionalFile
from overlay_cli.terminal import say


def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder of the new job; made if missing.")],
    placement: Annotated[Path, typer.Option(metavar="FILE", help="Placement (centroid) file.")],
    outline: Annotated[OptionalFile, typer.Option(metavar="FILE", help="SVG, Gerber profile or DXF.")] = None,
    parts: Annotated[OptionalFile, typer.Option(metavar="FILE", help="Parts table with ratings, CSV or XLSX.")] = None,
) -> None:
    """Begin a job from the files you have.

    Writes a commented job.toml to fill in, with what could be read from the files.
    """
    from overlay.job.new import write_new_job
    from overlay.report.text import new_text

    begun = write_new_job(folder, placement, outline, parts)
    say(new_text(begun))
    if begun.board is None:
        raise typer.Exit(2)
