"""A key added to ``job.toml`` without touching anything else in it."""

from __future__ import annotations

import copy
import tomllib
from typing import Any

from overlay.errors import input_error


def with_key(text: str, section: str, index: int, key: str, value: str, after: str) -> str:
    """The text with ``key = "value"`` in a table, behind the line of the key ``after``.

    Parameters
    ----------
    section, index
        ``board``, 0; or ``capture`` and which of the captures, from 0.

    Raises
    ------
    InputError
        Where the result would not say the same as before and the new key: then the user must write it.
    """
    wanted: dict[str, Any] = copy.deepcopy(tomllib.loads(text))
    table = wanted[section][index] if isinstance(wanted[section], list) else wanted[section]
    table[key] = value
    lines = text.split("\n")
    end = "\r" if lines[0].endswith("\r") else ""
    seen, place, heading = -1, None, None
    for number, raw in enumerate(lines):
        line = raw.strip()
        if line.startswith("["):
            seen += line.strip("[] \t").split("]")[0].strip() == section
            inside = line.strip("[] \t").split("]")[0].strip() == section and seen == index
            heading = number if inside else heading
        elif heading is not None and seen == index and line.partition("=")[0].strip() == after:
            place = number
    place = heading if place is None else place
    if place is not None:
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        changed = "\n".join([*lines[: place + 1], f'{key} = "{escaped}"{end}', *lines[place + 1 :]])
        try:
            if tomllib.loads(changed) == wanted:
                return changed
        except tomllib.TOMLDecodeError:
            pass
    remedy = f'add the line {key} = "{value}" to that table yourself'
    raise input_error("job.toml", None, f"{key} could not be added to [{section}] without changing the rest", remedy)
