"""What holds for the house as a whole: every room is shipped, and nothing in it is dead."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from vulture import Vulture

ROOT = Path(__file__).parents[1]

# The command line's own library calls what holds for all commands, pydantic its checks.
CALLED_BY_DECORATION = ["@app.callback", "@model_validator", "@field_validator"]
# Functions, methods and classes that nothing in the product names, each with its reason.
CALLED_BY_OTHERS = {
    # handlers that the standard library's parsers call
    "overlay/board/exchange/xml.py": {"setDocumentLocator", "startElement", "endElement", "characters"},
    "overlay/board/placement/text.py": {"handle_starttag", "handle_endtag", "handle_data"},
    # what a notebook asks an analysis for
    "overlay/job/analysis.py": {"to_frame"},
    # how a test waits for a thread
    "overlay/workbench/background.py": {"wait"},
}

# Only tests call these so far. Each is to be deleted, or used by the product; none is to be added.
ONLY_TESTED = {
    "overlay/shots/plan.py": {"shot_from"},
}


def test_no_function_is_dead() -> None:
    vulture = Vulture(ignore_decorators=CALLED_BY_DECORATION, ignore_names=["__*__", "_repr_*_"])
    vulture.scavenge([str(ROOT / "overlay"), str(ROOT / "cli")])
    dead = {
        (Path(item.filename).relative_to(ROOT).as_posix(), item.name)
        for item in vulture.get_unused_code(min_confidence=60)
        if item.typ in ("function", "method", "class", "property")
    }
    excused = {
        (file, name) for listed in (CALLED_BY_OTHERS, ONLY_TESTED) for file, names in listed.items() for name in names
    }
    assert dead - excused == set(), "only tests call these: delete them, or make the product use them"


@pytest.mark.parametrize(("room", "name"), [("overlay", "overlay"), ("cli", "overlay_cli")])
def test_every_room_is_shipped(room: str, name: str) -> None:
    listed = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["packages"]
    folders = {init.parent.relative_to(ROOT / room).parts for init in (ROOT / room).rglob("__init__.py")}
    modules = {path.parent.relative_to(ROOT / room).parts for path in (ROOT / room).rglob("*.py")}
    assert modules == folders, "a folder with modules has no __init__.py"
    assert {".".join((name, *parts)) for parts in folders} == {one for one in listed if one.split(".")[0] == name}
