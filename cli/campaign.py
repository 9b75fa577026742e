"""`board-overlay campaign`: many frames of one board."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from overlay_cli.options import JsonOption, OutOption
from overlay_cli.terminal import print_result, progress_bar


def campaign(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="A campaign.toml, or the folder that holds one.")],
    out: OutOption,
    workers: Annotated[int, typer.Option(min=0, max=1024, help="Processes to share the frames; 0: one a core.")] = 0,
    cluster: Annotated[str, typer.Option(metavar="ADDRESS", help="Scheduler of a running cluster instead.")] = "",
    format_: Annotated[str, typer.Option("--format", metavar="csv|parquet", help="How rows are kept.")] = "csv",
    json: JsonOption = False,
) -> None:
    """Read many frames of one board: units, states, soaks.

    Every frame follows a capture of a job. Rows are written part by part: a run that was stopped goes on where it
    was. Writes rows/, campaign.pdf, campaign_parts.csv and campaign_summary.json.
    """
    from overlay.campaign.plan import read_plan
    from overlay.campaign.run import run_campaign
    from overlay.campaign.store import format_named
    from overlay.forks import cores
    from overlay.report.campaign_pages import campaign_json, campaign_text
    from overlay.report.write import write_campaign_reports

    read, kept = read_plan(plan), format_named(format_)
    with progress_bar() as progress:
        summary = run_campaign(
            read, out, workers=workers or cores(), cluster=cluster or None, format_=kept, progress=progress
        )
        write_campaign_reports(summary, read.file.parent.resolve().name, out)
    print_result(campaign_json(summary) if json else campaign_text(summary))
