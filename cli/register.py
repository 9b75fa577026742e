"""`board-overlay register`: frames tied to the board."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer
from overlay_cli.options import JobArgument, JsonOption
from overlay_cli.terminal import print_result, progress_bar


def register(
    job: JobArgument,
    refine: Annotated[
        bool, typer.Option("--refine", help="Take the pose that the frame itself shows, where it can be trusted.")
    ] = False,
    propose: Annotated[bool, typer.Option("--propose", help="Look for the board without any points.")] = False,
    confirm: Annotated[
        Optional[tuple[float, float]],  # noqa: UP045 - typer reads the annotation at run time
        typer.Option(metavar="X Y", help="Confirm a proposal: the pixel at which the part asked for is seen."),
    ] = None,
    capture: Annotated[str, typer.Option(metavar="NAME", help="Which capture to confirm; default: the first.")] = "",
    json: JsonOption = False,
) -> None:
    """Tie each frame to the board; print residuals.

    Names a suspect point, and says by how much the frame itself disagrees with the points. With --propose it looks
    for the board without any points; map uses none of that before --confirm says where the part asked for is seen.
    """
    if propose or confirm is not None:
        _propose(job, confirm, capture, json)
        return
    from overlay.job.analyse import register_all
    from overlay.job.read import read_job
    from overlay.report.registration_json import registrations_json
    from overlay.report.text import registrations_text

    with progress_bar() as progress:
        registrations = register_all(read_job(job), refine=refine, progress=progress)
    print_result(registrations_json(registrations) if json else registrations_text(registrations))
    if any(registration.foreign for registration in registrations.values()):
        raise typer.Exit(2)


def _propose(path: Path, pixel: tuple[float, float] | None, capture: str, json: bool) -> None:
    from overlay.job import propose
    from overlay.job.read import read_job
    from overlay.report.proposals import confirmed_text, proposals_json, proposals_text

    job = read_job(path)
    if pixel is not None:
        first = job.settings.capture[0].name if job.settings.capture else ""
        print_result(confirmed_text(propose.confirm(job, capture or first, pixel)))
        return
    with progress_bar() as progress:
        proposals = propose.propose_all(job, progress)
    files = propose.write_proposals(job, proposals)
    print_result(proposals_json(proposals, files) if json else proposals_text(proposals, files))
