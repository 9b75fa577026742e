"""`board-overlay compare`: two revisions, or two units."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from overlay_cli.options import JsonOption, OutOption
from overlay_cli.terminal import part_of, print_result, progress_bar


def compare(
    job_a: Annotated[Path, typer.Argument(metavar="JOB_A", help="The earlier job.")],
    job_b: Annotated[Path, typer.Argument(metavar="JOB_B", help="The later job.")],
    out: OutOption,
    json: JsonOption = False,
) -> None:
    """Compare two revisions or two units of a board.

    Part by part: what changed, how sure that is, and what became hot that nobody changed. Writes comparison.pdf,
    comparison.html, comparison.csv and comparison.json.
    """
    from overlay.forks import cores
    from overlay.job.analyse import analyse
    from overlay.job.compare import compare_jobs, refuse_unrelated
    from overlay.job.read import read_job
    from overlay.report.comparison import comparison_json
    from overlay.report.comparison_pages import comparison_text
    from overlay.report.write import write_comparison_reports

    with progress_bar() as progress:
        jobs = read_job(job_a), read_job(job_b)
        refuse_unrelated(*jobs)  # before minutes are spent on reading them
        before, after = (analyse(job, part_of(progress, number, 2), workers=cores()) for number, job in enumerate(jobs))
        progress("comparing, and writing reports", 2 / 3)
        comparison = compare_jobs(before, after)
        write_comparison_reports(before, after, comparison, out)
    print_result(comparison_json(comparison) if json else comparison_text(before, after, comparison))
