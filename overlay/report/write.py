"""Writes a command's reports into a folder: all of them, or none. Each command loads what its own reports need."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.errors import input_error
from overlay.files import write_all
from overlay.job.analysis import Analysis, Job
from overlay.plain_text import visible_json

if TYPE_CHECKING:
    from overlay.campaign.summary import CampaignSummary
    from overlay.comparison.model import Comparison
    from overlay.comparison.units import Units
    from overlay.probes.model import ProbePlan
    from overlay.shots.model import ShotPlan


def write_map_reports(analysis: Analysis, folder: Path, *, only_page_one: bool = False) -> tuple[Path, ...]:
    """Write the five files of `map`; returns their paths, the report for people first.

    With ``only_page_one`` the PDF is its first page.

    Raises
    ------
    InputError
        Where the folder cannot be written to; what lay there stays as it was.
    """
    from overlay.report.html import margin_map_html
    from overlay.report.pdf import margin_map_pdf
    from overlay.report.results import results
    from overlay.report.tables import components_csv, hot_spots_csv

    return _write(
        folder,
        {
            "margin_map.pdf": margin_map_pdf(analysis, only_page_one=only_page_one),
            "margin_map.html": margin_map_html(analysis).encode(),
            "components.csv": components_csv(analysis).encode(),
            "hot_spots.csv": hot_spots_csv(analysis).encode(),
            "results.json": json_bytes(results(analysis)),
        },
        [analysis.job],
    )


def write_probe_reports(analysis: Analysis, plan: ProbePlan, folder: Path) -> tuple[Path, ...]:
    """Write the two files of `probe`; returns their paths, the one for people first."""
    from overlay.report.probe_pages import probe_plan_csv, probe_plan_pdf

    contents = {
        "probe_plan.pdf": probe_plan_pdf(analysis, plan),
        "probe_plan.csv": probe_plan_csv(plan).encode(),
    }
    _refuse_filled_plan(folder / "probe_plan.csv")
    return _write(folder, contents, [analysis.job])


def write_campaign_reports(summary: CampaignSummary, name: str, folder: Path) -> tuple[Path, ...]:
    """Write the three files of `campaign` beside its rows; returns their paths, the report for people first."""
    from overlay.report.campaign_pages import campaign_csv, campaign_json, campaign_pdf

    contents = {
        "campaign.pdf": campaign_pdf(summary, name),
        "campaign_parts.csv": campaign_csv(summary).encode(),
        "campaign_summary.json": json_bytes(campaign_json(summary)),
    }
    return _write(folder, contents, [])


def write_shot_reports(job: Job, plan: ShotPlan, folder: Path) -> tuple[Path, ...]:
    """Write the three files of `shots`; returns their paths, the page for the bench first."""
    from overlay.report.shot_pages import shot_plan_csv, shot_plan_json, shot_plan_pdf

    board = job.board
    name = f"{board.name} {board.revision}".strip() or board.placement_file.stem
    contents = {
        "shot_plan.pdf": shot_plan_pdf(board, plan, name),
        "shot_plan.csv": shot_plan_csv(plan).encode(),
        "shot_plan.json": json_bytes(shot_plan_json(plan)),
    }
    return _write(folder, contents, [job])


def write_comparison_reports(
    before: Analysis, after: Analysis, comparison: Comparison, folder: Path
) -> tuple[Path, ...]:
    """Write the four files of `compare`; returns their paths, the report for people first."""
    from overlay.report.comparison import comparison_csv, comparison_json
    from overlay.report.comparison_pages import comparison_html, comparison_pdf

    return _write(
        folder,
        {
            "comparison.pdf": comparison_pdf(before, after, comparison),
            "comparison.html": comparison_html(before, after, comparison).encode(),
            "comparison.csv": comparison_csv(comparison).encode(),
            "comparison.json": json_bytes(comparison_json(comparison)),
        },
        [before.job, after.job],
    )


def write_unit_reports(analyses: Sequence[Analysis], units: Units, folder: Path) -> tuple[Path, ...]:
    """Write the three files of `units`; returns their paths, the report for people first."""
    from overlay.report.units import units_csv, units_json, units_pdf

    return _write(
        folder,
        {
            "units.pdf": units_pdf(analyses, units),
            "units.csv": units_csv(units).encode(),
            "units.json": json_bytes(units_json(units)),
        },
        [analysis.job for analysis in analyses],
    )


def json_bytes(values: object) -> bytes:
    """JSON with an indent of one down to what holds plain values only, each on a line; no number JSON does not know.

    What no reader would see stands escaped, which keeps its value.
    """
    return visible_json(_json_text(values, "\n") + "\n").encode()


_HOLDERS = frozenset({dict, list, tuple})
_ON_A_LINE = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode
"""The standard library's own loop in C, which an indent would keep it from."""


@cache
def _by_lines(line: str) -> Callable[[object], str]:
    return json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(f",{line}", ": ")).encode


def _json_text(value: object, line: str) -> str:
    """``line``: a new line with the indent where the value stands."""
    inner = f"{line} "
    if isinstance(value, dict) and not _HOLDERS.isdisjoint(map(type, value.values())):
        entries, plain = [], {}  # plain values that follow each other are written at once
        for key, item in value.items():
            if type(item) not in _HOLDERS:
                plain[key] = item
                continue
            if plain:
                entries.append(_by_lines(inner)(plain)[1:-1])
                plain = {}
            entries.append(f"{_ON_A_LINE(str(key))}: {_json_text(item, inner)}")
        if plain:
            entries.append(_by_lines(inner)(plain)[1:-1])
        return f"{{{inner}{f',{inner}'.join(entries)}{line}}}"
    if isinstance(value, list | tuple) and not _HOLDERS.isdisjoint(map(type, value)):
        if all(type(item) is dict and _HOLDERS.isdisjoint(map(type, item.values())) for item in value):
            # written at once, parted by a letter that JSON escapes within texts
            items = _by_lines("\0")(value)[1:-1].replace("},\0{", f"}},{inner}{{").replace("\0", " ")
            return f"[{inner}{items}{line}]"
        return f"[{inner}{f',{inner}'.join(_json_text(item, inner) for item in value)}{line}]"
    return _ON_A_LINE(value)


def _refuse_filled_plan(path: Path) -> None:
    """A plan that was filled in is never replaced: measured temperatures cannot be had again."""
    if not path.is_file():
        return
    rows = csv.DictReader(io.StringIO(path.read_text(encoding="utf-8-sig", errors="replace")))
    if any((row.get("temperature_c") or "").strip() for row in rows):
        what = "holds measured temperatures, which a new plan would replace"
        raise input_error(str(path), None, what, "give --out another folder, or move the file away")


def _write(folder: Path, contents: dict[str, bytes], jobs: Sequence[Job]) -> tuple[Path, ...]:
    """Write all of them or none, and never over what one of the jobs reads."""
    paths = {folder / name: content for name, content in contents.items()}
    inputs = {path.resolve() for job in jobs for path in job.files()}
    taken = [path.name for path in paths if path.resolve() in inputs]
    if taken:
        what = f"holds {', '.join(taken)}, which the job reads and a report would replace"
        raise input_error(str(folder), None, what, "give --out another folder")
    try:
        write_all(paths)
    except OSError as error:
        reason = error.strerror or str(error)
        remedy = "give --out a folder that can be written to"
        raise input_error(str(folder), None, f"cannot be written ({reason})", remedy) from None
    return tuple(paths)
