"""`board-overlay name`: the part at a pixel."""

from __future__ import annotations

from typing import Annotated

import typer
from overlay_cli.options import JobArgument, JsonOption
from overlay_cli.terminal import print_result, progress_bar


def name(
    job: JobArgument,
    x: Annotated[float, typer.Argument(metavar="X", help="Column of the pixel, counting from 0.")],
    y: Annotated[float, typer.Argument(metavar="Y", help="Row of the pixel, counting from 0 at the top.")],
    capture: Annotated[str, typer.Option(metavar="NAME", help="Which capture; default: the job's first.")] = "",
    json: JsonOption = False,
) -> None:
    """Name the part at a pixel, with probabilities.

    Each candidate comes with its reading and margin.
    """
    from overlay.forks import cores
    from overlay.job.analyse import analyse
    from overlay.job.naming import part_at
    from overlay.job.read import read_job
    from overlay.report.results import named_json
    from overlay.report.text import named_text

    with progress_bar() as progress:
        named = part_at(analyse(read_job(job), progress, workers=cores()), x, y, capture or None)
    print_result(named_json(named) if json else named_text(named))
