"""What holds for the house as a whole: every room is shipped, and nothing in it is dead."""

from __future__ import annotations

import ast
import subprocess
import tomllib
from collections.abc import Iterator
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
    # hooks of the standard library's pickling
    "overlay/forks.py": {"persistent_id", "persistent_load"},
    # what a notebook asks an analysis for
    "overlay/job/analysis.py": {"to_frame"},
    # how a test waits for a thread
    "overlay/workbench/background.py": {"wait"},
}


def test_no_function_is_dead() -> None:
    vulture = Vulture(ignore_decorators=CALLED_BY_DECORATION, ignore_names=["__*__", "_repr_*_"])
    vulture.scavenge([str(ROOT / "overlay"), str(ROOT / "cli")])
    dead = {
        (Path(item.filename).relative_to(ROOT).as_posix(), item.name)
        for item in vulture.get_unused_code(min_confidence=60)
        if item.typ in ("function", "method", "class", "property")
    }
    excused = {(file, name) for file, names in CALLED_BY_OTHERS.items() for name in names}
    assert dead - excused == set(), "only tests call these: delete them, or make the product use them"


@pytest.mark.parametrize(("room", "name"), [("overlay", "overlay"), ("cli", "overlay_cli")])
def test_every_room_is_shipped(room: str, name: str) -> None:
    listed = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["packages"]
    folders = {init.parent.relative_to(ROOT / room).parts for init in (ROOT / room).rglob("__init__.py")}
    modules = {path.parent.relative_to(ROOT / room).parts for path in (ROOT / room).rglob("*.py")}
    assert modules == folders, "a folder with modules has no __init__.py"
    assert {".".join((name, *parts)) for parts in folders} == {one for one in listed if one.split(".")[0] == name}


MODULES = sorted(
    path.relative_to(ROOT).as_posix() for room in ("overlay", "cli") for path in (ROOT / room).rglob("*.py")
)
LONGEST_FILE, LONGEST_FUNCTION, MOST_PARAMETERS = 320, 60, 8  # lines, lines without the docstring, parameters
# Files and functions beyond those, each with its reason.
LONG = {
    "overlay/board/outline/gerber.py": "one reader: the state that the words of a drawing change",
}


def _functions(tree: ast.Module) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef))


def _lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Of the function, its docstring left out."""
    first = function.body[0]
    told = (first.end_lineno or 0) - first.lineno + 1 if ast.get_docstring(function, clean=False) is not None else 0
    return (function.end_lineno or 0) - function.lineno + 1 - told


def _parameters(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    told = function.args
    return len([arg for arg in (*told.posonlyargs, *told.args, *told.kwonlyargs) if arg.arg not in ("self", "cls")])


def test_files_and_functions_stay_of_a_size_to_be_read() -> None:
    large = set()
    for module in MODULES:
        text = (ROOT / module).read_text(encoding="utf-8")
        if text.count("\n") > LONGEST_FILE:
            large.add(module)
        for function in _functions(ast.parse(text)):
            if _lines(function) > LONGEST_FUNCTION or _parameters(function) > MOST_PARAMETERS:
                large.add(f"{module}: {function.name}")
    assert large - LONG.keys() == set(), "part them, or give the reason in LONG"
    assert LONG.keys() - large == set(), "these are small by now: take them off the list"


def _numbers(value: ast.expr) -> bool:
    inside = list(ast.walk(value))
    figures = [node for node in inside if isinstance(node, ast.Constant) and type(node.value) in (int, float)]
    return bool(figures) and not any(isinstance(node, ast.Lambda) for node in inside)


def _unreasoned(text: str) -> Iterator[str]:
    """Constants of a module that have no comment beside or above them, nor a string below.

    A comment above serves all that follow it without an empty line.
    """
    lines, body = text.splitlines(), ast.parse(text).body
    for node, after in zip(body, [*body[1:], None], strict=False):
        if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None or not _numbers(node.value):
            continue
        own = lines[node.lineno - 1 : node.end_lineno]
        above = node.lineno - 1  # of the lines above, the nearest comment or the end of the block
        while above > 0 and lines[above - 1].strip() and not lines[above].startswith("#"):
            above -= 1
        told_below = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
        if not (any("#" in line for line in own) or lines[above].startswith("#") or told_below):
            yield own[0]


def test_each_constant_has_its_reason_beside_it() -> None:
    example = "A = 1\n\n# why\nB = 2\nC = 3\n\nD = 4  # why\nE = 5\n'''why'''\nF = 6\n"
    assert list(_unreasoned(example)) == ["A = 1", "F = 6"]
    bare = {f"{name}: {line}" for name in MODULES for line in _unreasoned((ROOT / name).read_text(encoding="utf-8"))}
    assert bare == set(), "say where the figure comes from: a source, common practice, tuned on what, or why it will do"


def test_nothing_strays_to_the_top_level() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a checkout")
    files = {".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "pyproject.toml"}
    found = {Path(name).parts[0] for name in listed.stdout.splitlines()}
    assert found == files | {"overlay", "cli", "tests", "demo_board"}
