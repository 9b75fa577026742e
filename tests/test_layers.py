"""Imports point down the floors of the house only."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
FLOORS = {
    "errors": 0,
    "reasons": 0,
    "uncertainty": 0,
    "files": 0,
    "tables": 0,
    "threads": 0,
    "apart": 0,
    "forks": 0,
    "plain_text": 0,
    "workbooks": 0,
    "arrays": 0,
    "board": 1,
    "frames": 1,
    "registration": 1,
    "view": 2,
    "unmixing": 3,
    "reading": 4,
    "heat": 5,
    "margin": 6,
    "probes": 7,
    "shots": 7,
    "comparison": 7,
    "job": 8,
    "campaign": 9,
    "report": 10,
    "workbench": 11,
}
# rooms of floor 1 in the order in which they may know each other
FLOOR_1 = ["board", "frames", "registration"]
# folders within a room, each with those of its sisters that it may know; whoever knows it is free to
SUB_ROOMS = {"board": {"exchange": set[str](), "packages": set(), "placement": {"exchange"}, "outline": {"exchange"}}}
# what every folder of a room may know of the room itself: its nouns
SHARED_NOUNS = {"board": {"model"}}


def modules_imported(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path}: imports are written in full"
            names += [node.module]
            if node.module == "overlay":
                names += [f"overlay.{alias.name}" for alias in node.names]
    return {name for name in names if name.startswith("overlay.")}


def rooms_imported(path: Path) -> set[str]:
    return {name.split(".")[1] for name in modules_imported(path)}


@pytest.mark.parametrize("path", sorted((ROOT / "overlay").rglob("*.py")), ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_point_down(path: Path) -> None:
    room = path.relative_to(ROOT / "overlay").parts[0].removesuffix(".py")
    if room == "__init__":
        return
    for other in rooms_imported(path) - {room}:
        assert other in FLOORS, f"{path} imports overlay.{other}, which stands on no floor"
        lower = FLOORS[other] < FLOORS[room]
        beside = FLOORS[other] == FLOORS[room] == 0
        known = room in FLOOR_1 and other in FLOOR_1 and FLOOR_1.index(other) < FLOOR_1.index(room)
        assert lower or beside or known, f"{path} (floor {FLOORS[room]}) imports overlay.{other} ({FLOORS[other]})"


def test_every_folder_within_a_room_has_its_place() -> None:
    for room in FLOORS:
        folders = {path.parent.name for path in (ROOT / "overlay" / room).glob("*/__init__.py")}
        assert folders == set(SUB_ROOMS.get(room, ())), f"overlay/{room}: name its folders in SUB_ROOMS"


@pytest.mark.parametrize("path", sorted((ROOT / "overlay").glob("*/*/*.py")), ids=lambda p: str(p.relative_to(ROOT)))
def test_folders_within_a_room_do_not_reach_into_each_other(path: Path) -> None:
    room, folder = path.relative_to(ROOT / "overlay").parts[:2]
    allowed = {folder} | SUB_ROOMS[room][folder] | SHARED_NOUNS[room]
    for name in modules_imported(path):
        words = name.split(".")
        inside = words[2] if words[1] == room and len(words) > 2 else None
        assert inside is None or inside in allowed, f"overlay/{room}/{folder} imports {name}"


@pytest.mark.parametrize("path", sorted((ROOT / "overlay").rglob("*.py")), ids=lambda p: str(p.relative_to(ROOT)))
def test_the_library_neither_prints_nor_reads_the_command_line(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id != "print", f"{path}:{node.lineno} prints"
        if isinstance(node, ast.Attribute) and node.attr == "argv":
            raise AssertionError(f"{path}:{node.lineno} reads sys.argv")
