"""``campaign.toml``: which frames, of which units and states, follow which capture."""

from __future__ import annotations

import glob
import re
import tomllib
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from overlay.campaign.model import CampaignPlan, FrameTask
from overlay.errors import InputError, Problem, input_error
from overlay.tables import decode_text, read_bytes

FRAMES_PER_PART = 50
"""Frames that one process does in one piece: starting it costs about what three frames do."""


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class FramesSettings(_Section):
    """One group of frames of a plan."""

    files: str | tuple[str, ...]  # a pattern, or names; relative to the plan, or addresses of a store
    unit: str = ""
    state: str = ""
    name_pattern: str = ""  # a regular expression over the file's name with groups unit, state, time_s
    period_s: Annotated[float, Field(gt=0.0, le=1e7)] | None = None
    begin_s: Annotated[float, Field(ge=-1e9, le=1e9)] = 0.0
    ambient_c: Annotated[float, Field(ge=-100.0, le=300.0)] | None = None


class CampaignSettings(_Section):
    """All of a plan."""

    format: Annotated[int, Field(ge=1, le=1)]
    job: str
    capture: str | None = None
    frames_per_part: Annotated[int, Field(ge=1, le=10_000)] = FRAMES_PER_PART
    frames: Annotated[tuple[FramesSettings, ...], Field(min_length=1)]


def read_plan(path: Path) -> CampaignPlan:
    """Read a plan: a file, or a folder that holds ``campaign.toml``.

    Raises
    ------
    InputError
        With every key that cannot be used, and every group of frames that names none.
    """
    file = path / "campaign.toml" if path.is_dir() else path
    text = decode_text(read_bytes(file, file.name), file.name)
    try:
        settings = CampaignSettings.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise input_error(file.name, None, f"is not valid TOML ({error})", "correct that line") from None
    except ValidationError as error:
        raise InputError([_problem(file.name, item) for item in error.errors()]) from None
    tasks: list[FrameTask] = []
    problems: list[Problem] = []
    for number, group in enumerate(settings.frames, start=1):
        try:
            tasks += _tasks(file, group, len(tasks))
        except InputError as error:
            problems += error.problems
        except re.error as error:
            problems.append(_wrong(file.name, number, f"name_pattern is no regular expression ({error})", "correct it"))
    if problems:
        raise InputError(problems)
    return CampaignPlan(file, file.parent / settings.job, settings.capture, tuple(tasks), settings.frames_per_part)


def _tasks(file: Path, group: FramesSettings, first: int) -> list[FrameTask]:
    names = _names(file.parent, group.files)
    if not names:
        raise input_error(file.name, None, f"[[frames]] {group.files!r} names no file", "correct the pattern")
    pattern = re.compile(group.name_pattern) if group.name_pattern else None
    tasks = []
    for place, name in enumerate(names):
        said: dict[str, Any] = {}
        if pattern is not None:
            found = pattern.search(Path(name).name)
            if found is None:
                what = f"{Path(name).name!r} does not match name_pattern {group.name_pattern!r}"
                raise input_error(file.name, None, what, "correct the pattern, or leave that frame out")
            said = {key: value for key, value in found.groupdict().items() if value is not None}
        time_s = group.begin_s + place * group.period_s if group.period_s is not None else None
        try:
            time_s = float(said["time_s"]) if "time_s" in said else time_s
        except ValueError:
            what = f"time_s {said['time_s']!r} in {Path(name).name!r} is no number"
            raise input_error(file.name, None, what, "let the group time_s catch digits only") from None
        tasks.append(
            FrameTask(
                index=first + place,
                path=name,
                unit=said.get("unit", group.unit),
                state=said.get("state", group.state),
                time_s=time_s,
                ambient_c=group.ambient_c,
            )
        )
    return tasks


def _names(folder: Path, files: str | tuple[str, ...]) -> list[str]:
    """Every file of a pattern or list, patterns in the order of their names."""
    names: list[str] = []
    for entry in (files,) if isinstance(files, str) else files:
        if "://" in entry:
            names += _addresses(entry)
        elif glob.has_magic(entry):
            names += sorted(str(path) for path in folder.glob(entry) if path.is_file())
        else:
            names.append(str(folder / entry))
    return names


def _addresses(entry: str) -> list[str]:
    """Files of a store, through fsspec (extra ``remote``)."""
    try:
        import fsspec
    except ImportError:
        remedy = "install it with pip install 'board-overlay[remote]', or name files of this machine"
        raise input_error("campaign.toml", None, f"{entry!r} needs the package fsspec", remedy) from None
    store, path = fsspec.core.url_to_fs(entry)
    return [store.unstrip_protocol(found) for found in sorted(store.glob(path))]


def _problem(file: str, item: Any) -> Problem:
    key = ".".join(str(part) for part in item["loc"])
    if item["type"] == "extra_forbidden":
        known = ", ".join(FramesSettings.model_fields if "frames" in item["loc"] else CampaignSettings.model_fields)
        return Problem("error", file, None, f"unknown key {key}", f"known keys are {known}")
    if item["type"] == "missing":
        return Problem("error", file, None, f"{key} is missing", f"add {item['loc'][-1]} = …")
    return Problem("error", file, None, f"{key} = {item.get('input')!r} cannot be used", str(item["msg"]).lower())


def _wrong(file: str, number: int, what: str, remedy: str) -> Problem:
    return Problem("error", file, None, f"[[frames]] {number}: {what}", remedy)
