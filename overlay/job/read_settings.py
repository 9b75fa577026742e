"""Reads ``job.toml``, and tells every key that cannot be used with its line."""

from __future__ import annotations

import difflib
import tomllib
from pathlib import Path

from pydantic import BaseModel, ValidationError

from overlay.errors import InputError, Problem, input_error
from overlay.job.settings import (
    BoardSettings,
    CameraSettings,
    CaptureSettings,
    RecordSettings,
    RequirementSettings,
    Settings,
    TouchSettings,
)
from overlay.tables import decode_text, read_bytes

_MOST_BYTES = 200_000  # two hundred captures with every key
_MOST_TOLD = 100  # problems at once: each is looked up in the text
_LONGEST_SHOWN = 80  # characters of a value that cannot be used: a line of a terminal


def read_settings(path: Path) -> Settings:
    """Read a ``job.toml``.

    Raises
    ------
    InputError
        With every key that is unknown (and the nearest known one), missing or out of bounds, and its line.
    """
    file = path.name
    data_read = read_bytes(path, file)
    if len(data_read) > _MOST_BYTES:
        what = f"is {len(data_read) / 1e3:.0f} kB long, more than {_MOST_BYTES / 1e3:.0f} kB"
        raise input_error(file, None, what, "keep tables in files of their own, and a campaign's frames in its plan")
    text = decode_text(data_read, file)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what, line = _toml_place(str(error))
        raise input_error(file, line, f"is not valid TOML ({what})", "correct that line") from None
    except (ValueError, RecursionError):  # numbers of thousands of digits, brackets within brackets
        raise input_error(file, None, "holds a number too long or brackets nested too deep", "write it anew") from None
    try:
        return Settings.model_validate(data)
    except ValidationError as error:
        told = error.errors()[:_MOST_TOLD]
        raise InputError([_problem(file, text, data, item) for item in told]) from None


def _toml_place(message: str) -> tuple[str, int | None]:
    head, _, place = message.partition(" (at line ")
    digits = place.split(",")[0]
    return head, int(digits) if digits.isdigit() else None


def _problem(file: str, text: str, data: object, item: object) -> Problem:
    assert isinstance(item, dict)
    path: tuple[str | int, ...] = tuple(item["loc"])
    key = _name(path, data)
    line = _line_of(text, path)
    leaf = next((part for part in reversed(path) if isinstance(part, str)), "")
    if item["type"] == "extra_forbidden":
        near = difflib.get_close_matches(leaf, sorted(_known_keys(path)), 1)
        remedy = f"the nearest known key is {near[0]!r}" if near else f"known keys are {', '.join(_known_keys(path))}"
        return Problem("error", file, line, f"unknown key {key}", remedy, leaf)
    if item["type"] == "missing":
        return Problem("error", file, line, f"{key} is missing", f"add {leaf} = …", leaf)
    message = _REMEDIES.get(item["type"]) or str(item["msg"]).removeprefix("Value error, ")
    value = item.get("input")
    told = repr(value) if len(repr(value)) <= _LONGEST_SHOWN else f"{repr(value)[:_LONGEST_SHOWN]}…"
    shown = f"{key} = {told} cannot be used" if not isinstance(value, dict | list) else f"{key}: cannot be used"
    if item["type"] == "value_error" and isinstance(value, dict):
        return Problem(
            "error", file, line, f"[{key}] does not fit together" if key else "does not fit together", message
        )
    return Problem("error", file, line, shown, message[:1].lower() + message[1:], leaf, str(value))


# What the library says of wrong types, in the words of this format.
_REMEDIES = {
    "float_parsing": "write a number, such as 60.0",
    "float_type": "write a number, such as 60.0",
    "int_parsing": "write a whole number",
    "int_type": "write a whole number",
    "int_from_float": "write a whole number",
    "bool_parsing": "write true or false",
    "bool_type": "write true or false",
    "string_type": 'write text in quotes, such as "top"',
    "list_type": "write a list in brackets, such as [8.0, 14.0]",
    "tuple_type": "write a list in brackets, such as [8.0, 14.0]",
}


def _name(path: tuple[str | int, ...], data: object) -> str:
    """``capture "full load".ambient_c`` for ("capture", 0, "ambient_c")."""
    words = ""
    for part in path:
        try:
            data = data[part]  # type: ignore[index]
        except (KeyError, IndexError, TypeError):
            data = None
        if isinstance(part, int):
            name = data.get("name") if isinstance(data, dict) else None
            words += f' "{name}"' if name else f" {part + 1}"
        else:
            words += f".{part}" if words else part
    return words


def _known_keys(path: tuple[str | int, ...]) -> list[str]:
    models: dict[str, type[BaseModel]] = {
        "board": BoardSettings,
        "requirement": RequirementSettings,
        "camera": CameraSettings,
        "record": RecordSettings,
        "touch": TouchSettings,
        "capture": CaptureSettings,
    }
    return list(models.get(str(path[0]) if len(path) > 1 else "", Settings).model_fields)


def _line_of(text: str, path: tuple[str | int, ...]) -> int | None:
    """Line of a key in the TOML text, or of its table's heading; good enough for a message."""
    section = str(path[0]) if path else ""
    index = next((part for part in path if isinstance(part, int)), 0)
    leaf = next((part for part in reversed(path[1:]) if isinstance(part, str)), None)
    seen, heading, inside = -1, None, len(path) == 1
    for number, raw in enumerate(text.split("\n"), start=1):
        line = raw.strip()
        if line.startswith("["):
            name = line.strip("[] \t").split("]")[0].strip()
            seen += name == section
            inside = name == section and (section != "capture" or seen == index)
            heading = number if inside else heading
            if inside and leaf is None:
                return number
        elif inside and line.partition("=")[0].strip().strip('"') == (leaf or section):
            return number
    return heading
