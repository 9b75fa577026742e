"""The camera's and the requirement's values: what a form begins with, and their way into ``job.toml``."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel

from overlay.errors import input_error
from overlay.job.read_settings import read_settings
from overlay.job.settings import CameraSettings, RequirementSettings, Settings
from overlay.job.settings_text import Value, with_values
from overlay.job.template import words_of
from overlay.workbench.folder import replace_files

SectionName = Literal["camera", "requirement"]
_MODELS: dict[SectionName, type[BaseModel]] = {"camera": CameraSettings, "requirement": RequirementSettings}
_TEXTS = ("derating", "size_of_source")
_WHOLE = ("pixels",)
_LISTS = ("pixels", "band_um")


def sections_json(settings: Settings) -> dict[str, Any]:
    """Every key of both sections: its value where the job states one, its default, and what it is."""
    return {
        name: [
            {
                "key": key,
                "value": shown(told[key]) if key in told else "",
                "default": "" if field.default is None else shown(field.default),
                "words": words_of(name).get(key, ("", ""))[1],
            }
            for key, field in model.model_fields.items()
        ]
        for name, model in _MODELS.items()
        for told in [getattr(settings, name).model_dump(exclude_unset=True, exclude_none=True)]
    }


def shown(value: object) -> str:
    """A value as a form shows it."""
    if isinstance(value, tuple | list):
        return ", ".join(shown(one) for one in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def write_section(job: Path, section: SectionName, cells: Mapping[str, str]) -> None:
    """Write values of a section into ``job.toml``; a blank one goes back to its default. Comments stay.

    Raises
    ------
    InputError
        With every value that cannot be used; nothing is written then.
    """
    replace_files({job: with_section(job, section, cells).encode()})


def with_section(job: Path, section: SectionName, cells: Mapping[str, str]) -> str:
    """The text of ``job.toml`` with values of a section, as `write_section` would write it."""
    known = _MODELS[section].model_fields
    values = {key: value_of(key, cells[key]) for key in known if key in cells}
    changed = with_values(job.read_bytes().decode("utf-8-sig"), section, 0, values)
    refuse_unreadable(changed)
    return changed


def value_of(key: str, text: str) -> Value | None:
    """What was typed for a key; None where that is nothing."""
    text = text.strip().strip("[]")
    if not text:
        return None
    if key in _TEXTS:
        return text
    number = int if key in _WHOLE else float
    try:
        if key in _LISTS:
            parts = text.replace("×", ",").replace("x", ",").replace(";", ",").replace("…", ",").split(",")
            return [number(part) for part in parts]
        return number(text.replace(",", "."))
    except ValueError:
        example = "320, 240" if key in _WHOLE else "8, 14" if key in _LISTS else "23.4"
        raise input_error("job.toml", None, f"{key} = {text!r} is not a number", f"write it as {example}") from None


def refuse_unreadable(text: str) -> None:
    """Raise what reading such a ``job.toml`` would raise."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        path.write_text(text, encoding="utf-8")
        read_settings(path)
