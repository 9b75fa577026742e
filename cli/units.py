"""`board-overlay units`: several units side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from overlay_cli.options import JsonOption, OutOption
from overlay_cli.terminal import part_of, print_result, progress_bar


def units(
    jobs: Annotated[list[Path], typer.Argument(metavar="JOB_1 JOB_2 …", help="Jobs of several units of one board.")],
    out: OutOption,
    json: JsonOption = False,
) -> None:
    """Set several units of one board side by side.

    Per part mean, spread and worst, and the tolerance bound that 95 % of all units keep; odd units and parts by name.
    Writes units.pdf, units.csv and units.json.
    """
    from overlay.forks import cores
    from overlay.job.analyse import analyse
    from overlay.job.read import read_job
    from overlay.job.units import units_of
    from overlay.report.units import units_json, units_text
    from overlay.report.write import write_unit_reports

    with progress_bar() as progress:
        analyses = [
            analyse(read_job(job), part_of(progress, number, len(jobs)), workers=cores())
            for number, job in enumerate(jobs)
        ]
        progress("comparing units, and writing reports", len(jobs) / (len(jobs) + 1))
        found = units_of(analyses)
        write_unit_reports(analyses, found, out)
    print_result(units_json(found) if json else units_text(found))
