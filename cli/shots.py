"""`board-overlay shots`: where the camera goes."""

from __future__ import annotations

from typing import Annotated

import typer
from overlay_cli.options import JobArgument, JsonOption, OptionalFile
from overlay_cli.terminal import print_result, progress_bar


def shots(
    job: JobArgument,
    after: Annotated[
        OptionalFile, typer.Option(metavar="REPORT", help="Only what this report of map left open.")
    ] = None,
    out: Annotated[
        OptionalFile, typer.Option(metavar="FOLDER", help="Also write the page for the bench there.")
    ] = None,
    json: JsonOption = False,
) -> None:
    """Plan where to put the camera, before any frame.

    Distances, number of frames and where each is aimed; which parts stay too small, and what would help. Needs
    pixels and hfov_deg of the camera. With --out writes shot_plan.pdf, shot_plan.csv and shot_plan.json.
    """
    from overlay.job.read import read_job
    from overlay.job.shots import plan_job_shots
    from overlay.report.shot_pages import shot_plan_json, shot_plan_text
    from overlay.report.write import write_shot_reports

    read = read_job(job)
    with progress_bar() as progress:
        plan = plan_job_shots(read, after, progress)
    if out is not None:
        write_shot_reports(read, plan, out)
    print_result(shot_plan_json(plan) if json else shot_plan_text(plan))
