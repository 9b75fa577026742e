"""`board-overlay check`: all files read, every problem told."""

from __future__ import annotations

import typer
from overlay_cli.options import JobArgument, JsonOption
from overlay_cli.terminal import print_result, progress_bar


def check(job: JobArgument, json: JsonOption = False) -> None:
    """Read everything; print coverage and every problem.

    Says what was understood and from which words of the files; exits with 2 if anything is wrong.
    """
    from overlay.job.read import survey_job
    from overlay.report.check import check_json, check_text

    with progress_bar():
        survey = survey_job(job)
    print_result(check_json(survey) if json else check_text(survey))
    if any(problem.severity == "error" for problem in survey.problems):
        raise typer.Exit(2)
