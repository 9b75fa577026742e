"""Values of ``job.toml`` changed, begun or taken out; comments, order and all else in it stay."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Mapping
from typing import Any

import tomlkit

from overlay.errors import input_error

Value = str | float | int | bool | list[float] | list[str]


def with_key(text: str, section: str, index: int, key: str, value: Value, after: str) -> str:
    """The text with ``key = value`` in a table, behind the line of the key ``after``.

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
    _table(wanted, section, index)[key] = value
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
    written = f"{key} = {tomlkit.item(value).as_string()}"
    if place is not None:
        changed = "\n".join([*lines[: place + 1], f"{written}{end}", *lines[place + 1 :]])
        try:
            if tomllib.loads(changed) == wanted:
                return changed
        except tomllib.TOMLDecodeError:
            pass
    remedy = f"add the line {written} to that table yourself"
    raise input_error("job.toml", None, f"{key} could not be added to [{section}] without changing the rest", remedy)


def with_values(text: str, section: str, index: int | None, values: Mapping[str, Value | None]) -> str:
    """The text with the values of one table changed; None takes a key out, ``index`` None begins another table.

    Keys that the table has keep their place and their comment; others follow the one before them in ``values``.

    Raises
    ------
    InputError
        Where a key cannot be added without changing the rest.
    """
    data = tomllib.loads(text)
    if index is None or section not in data:
        return _begun(text, section, {key: value for key, value in values.items() if value is not None}, index is None)
    present = _table(data, section, index)
    document = tomlkit.parse(text)
    for key, value in values.items():
        table: Any = _table(document, section, index)
        if value is None and key in present:
            table.remove(key)
        elif value is not None and key in present and present[key] != value:
            table[key] = value
    changed = tomlkit.dumps(document)
    before = "name"
    for key, value in values.items():
        if value is not None and key not in present:
            changed = with_key(changed, section, index, key, value, before)
        before = key if value is not None else before
    return changed


def _begun(text: str, section: str, values: Mapping[str, Value], one_of_many: bool) -> str:
    end = "\r\n" if "\r\n" in text else "\n"
    heading = f"[[{section}]]" if one_of_many else f"[{section}]"
    lines = [heading, *(f"{key} = {tomlkit.item(value).as_string()}" for key, value in values.items())]
    return text.rstrip() + end + end + end.join(lines) + end


def _table(data: dict[str, Any], section: str, index: int) -> dict[str, Any]:
    table: dict[str, Any] = data[section][index] if isinstance(data[section], list) else data[section]
    return table
