"""`board-overlay probe`: where thermocouples go."""

from __future__ import annotations

from typing import Annotated

import typer
from overlay_cli.options import JobArgument, OutOption
from overlay_cli.terminal import progress_bar, say


def probe(
    job: JobArgument,
    out: OutOption,
    channels: Annotated[int, typer.Option(min=1, max=200, help="How many thermocouples there are.")] = 8,
    gauge: Annotated[int, typer.Option("--awg", min=20, max=44, help="Wire gauge of the thermocouples.")] = 36,
    part: Annotated[str, typer.Option(metavar="U1,U2", help="On these parts, whatever their verdict.")] = "",
) -> None:
    """Plan thermocouples: which parts, where exactly.

    Ranked by what a reading would settle, or on the parts that --part names; says what a misplaced bead costs.
    Writes probe_plan.pdf and probe_plan.csv; with its temperatures filled in the CSV serves as contact_readings.
    """
    from overlay.forks import cores
    from overlay.job.analyse import analyse
    from overlay.job.probe import plan_job
    from overlay.job.read import read_job
    from overlay.report.text import plan_text
    from overlay.report.write import write_probe_reports

    with progress_bar() as progress:
        analysis = analyse(read_job(job), progress, workers=cores())
        plan = plan_job(analysis, channels=channels, awg=gauge, parts=part)
        written = write_probe_reports(analysis, plan, out)
    say(plan_text(plan, written))
