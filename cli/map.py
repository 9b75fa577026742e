"""`board-overlay map`: the margin map."""

from __future__ import annotations

from typing import Annotated

import typer
from overlay_cli.options import JobArgument, OutOption
from overlay_cli.terminal import progress_bar, say


def map_(
    job: JobArgument,
    out: OutOption,
    fail_on: Annotated[
        str,
        typer.Option(
            "--fail-on", metavar="VERDICT[,VERDICT]", help="Exit with 1 if a part or surface has such a verdict."
        ),
    ] = "",
    page_one: Annotated[
        bool, typer.Option("--page-one", help="Only the first page of the PDF; the other files as ever.")
    ] = False,
) -> None:
    """Read every part, judge margins, write the reports.

    Writes margin_map.pdf, margin_map.html, components.csv, hot_spots.csv and results.json.
    """
    from overlay.forks import cores
    from overlay.job.analyse import analyse
    from overlay.job.read import read_job
    from overlay.margin.verdict import verdicts_named
    from overlay.report.text import map_text
    from overlay.report.write import write_map_reports

    unwanted = verdicts_named(fail_on)
    with progress_bar() as progress:
        analysis = analyse(read_job(job), progress, workers=cores())
        progress("writing reports", 0.95)
        written = write_map_reports(analysis, out, only_page_one=page_one)
    say(map_text(analysis, written))
    errors = [problem for problem in analysis.problems if problem.severity == "error"]
    for problem in errors:
        say(str(problem), err=True)
    if errors:
        raise typer.Exit(2)
    if any(judged.verdict in unwanted for judged in (*analysis.margins, *analysis.areas)):
        raise typer.Exit(1)
