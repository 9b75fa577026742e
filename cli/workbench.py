"""`board-overlay workbench`: the local page."""

from __future__ import annotations

from typing import Annotated

import typer
from overlay_cli.options import JobArgument
from overlay_cli.terminal import say


def workbench(
    job: JobArgument,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port on 127.0.0.1; 0: any free one.")] = 0,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Do not open the browser.")] = False,
) -> None:
    """Open the local page: place points, read, point.

    Serves this computer only.
    """
    from overlay.workbench.server import serve

    serve(job, port=port, open_browser=not no_browser, announce=lambda text: say(text, err=True))
