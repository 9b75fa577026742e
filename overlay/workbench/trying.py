"""What if: another ambient, limit or emissivity tried on what was read, without a file being touched."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from overlay.board.read import read_board
from overlay.errors import input_error, raise_errors
from overlay.job.analyse import analyse, judge_again
from overlay.job.analysis import Analysis, Job
from overlay.job.read import board_files
from overlay.job.read_settings import read_settings
from overlay.workbench.background import Tell
from overlay.workbench.filling import parts_of_row, rating_contents
from overlay.workbench.folder import digest
from overlay.workbench.reading_json import analysis_json
from overlay.workbench.section_form import with_section

REQUIRED = ("ambient_max_c", "margin_c")
OF_PART = ("limit_c", "emissivity")


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """A trial, in words; what keeping it would write over which versions, and how the board would stand then."""

    words: str
    contents: Mapping[Path, bytes]
    versions: Mapping[Path, str]
    analysis: Analysis
    before: Analysis


def try_out(base: Analysis, refdes: str | None, cells: Mapping[str, str], tell: Tell) -> Trial:
    """What was read, judged with other values; read again where an emissivity is among them.

    Raises
    ------
    InputError
        Where nothing is to be tried, or a value cannot be used.
    """
    job = base.job
    required = {key: cells[key] for key in REQUIRED if cells.get(key, "").strip()}
    of_part = {key: cells[key].strip() for key in OF_PART if cells.get(key, "").strip()} if refdes else {}
    if not required and not of_part:
        raise input_error("what if", None, "nothing is given to be tried", "type another value into one of the fields")
    contents: dict[Path, bytes] = {}
    if of_part:
        assert refdes is not None
        contents = rating_contents(job.path, job.settings, job.board, refdes, of_part, alone=True)
    if required:
        begun = contents.get(job.path, job.path.read_bytes())
        contents[job.path] = _requirement(job, begun, required)
    changed = _job_as_if(job, contents)
    found = analyse(changed, tell) if "emissivity" in of_part else judge_again(base, changed)
    versions = {path: digest(path) for path in contents}
    named = parts_of_row(job.path, job.settings, job.board, refdes) if refdes and of_part else ()
    return Trial(_words(job, _listed(named), required, of_part), contents, versions, found, base)


def _requirement(job: Job, text: bytes, cells: Mapping[str, str]) -> bytes:
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / job.path.name
        path.write_bytes(text)
        return with_section(path, "requirement", cells).encode()


def _job_as_if(job: Job, contents: Mapping[Path, bytes]) -> Job:
    """The job as it would be read if its files held these contents; frames and all else lie where they lie."""
    with tempfile.TemporaryDirectory() as place:
        settings_path = Path(place) / job.path.name
        settings_path.write_bytes(contents.get(job.path, job.path.read_bytes()))
        settings = read_settings(settings_path)
        for path, content in contents.items():
            if path != job.path:
                other = Path(place) / f"table_{path.name}"
                other.write_bytes(content)
                board = settings.board.model_copy(update={"parts": str(other)})
                settings = settings.model_copy(update={"board": board})
        board_read, problems = read_board(job.folder, board_files(settings))
    raise_errors(problems)
    assert board_read is not None, "a board that could not be read without an error being told"
    return Job(job.path, settings, board_read, tuple(problems))


def _listed(names: Sequence[str]) -> str:
    """A part, or all that share its row of the table: what is kept counts for each of them."""
    return names[0] if len(names) == 1 else f"{', '.join(names)} (one row of the table)"


def _words(job: Job, named: str, required: Mapping[str, str], of_part: Mapping[str, str]) -> str:
    names = {"ambient_max_c": "hottest ambient {} °C", "margin_c": "margin wanted {} K"}
    said = [
        f"{names[key].format(value.strip())} instead of {getattr(job.settings.requirement, key):g}"
        for key, value in required.items()
    ]
    if "limit_c" in of_part:
        said.append(f"{named}: limit {of_part['limit_c']} °C")
    if "emissivity" in of_part:
        said.append(f"{named}: emissivity {of_part['emissivity']}")
    return "; ".join(said)


def trial_json(trial: Trial) -> dict[str, Any]:
    """A trial for the page: the result as any reading has it, and which verdicts it changes."""
    before = {margin.refdes: margin.verdict for margin in trial.before.margins}
    changes = {
        margin.refdes: [before[margin.refdes], margin.verdict]
        for margin in trial.analysis.margins
        if before.get(margin.refdes, margin.verdict) != margin.verdict
    }
    return {
        "words": trial.words,
        "changes": changes,
        "files": [path.name for path in trial.contents],
        "result": analysis_json(trial.analysis),
    }
