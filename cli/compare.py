"""`board-overlay compare`: two revisions, or two units."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from overlay_cli.options import JsonOption, OutOption
from overlay_cli.terminal import print_result, progress_bar


def compare(
    job_a: Annotated[Path, typer.Argument(metavar="JOB_A", help="The earlier job.")],
    job_b: Annotated[Path, typer.Argument(metavar="JOB_B", help="The later job.")],
    out: OutOption,
    json: JsonOption = False,
) -> None:
    """Compare two revisions or two units of a board.

    Part by part: what changed, how sure that is, and what became hot that nobody changed.
    """
    from overlay.forks import cores
    from overlay.job.analyse import analyse
    from overlay.job.compare import compare_jobs
    from overlay.job.read import read_job
    from overlay.report.comparison import comparison_json
    from overlay.report.comparison_pages import comparison_text
    from overlay.report.write import write_comparison_reports

    with progress_bar() as progress:
        before, after = (analyse(read_job(job), progress, workers=cores()) for job in (job_a, job_b))
        comparison = compare_jobs(before, after)
        write_comparison_reports(before, after, comparison, out)
    print_result(comparison_json(comparison) if json else comparison_text(before, after, comparison))
