"""SIGKILL at any moment: what lies in the folder is whole, and the next run leaves nothing behind."""

import json
import os
import random
import signal
import time
from pathlib import Path

import pytest

from overlay.files import _LIST, _MINE, finish_writing, write_all
from tests import kills

NAMES = ("margin_map.pdf", "components.csv", "results.json")
SIZE = 300_000


def write_for_ever(folder: Path) -> None:
    letter = 0
    while True:
        letter += 1
        write_all({folder / name: bytes([65 + letter % 20]) * SIZE for name in NAMES})


@pytest.mark.parametrize("seed", range(3))
def test_files_are_whole_after_a_kill_and_nothing_stays_behind(tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    left = 0
    for _ in range(17):
        child = os.fork()
        if child == 0:
            write_for_ever(tmp_path)
        time.sleep(chance.uniform(0.005, 0.08))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        for name in NAMES:
            path = tmp_path / name
            if path.exists():
                data = path.read_bytes()
                assert len(data) == SIZE
                assert len(set(data)) == 1
        left += any(path.name.startswith(".") for path in tmp_path.iterdir())
    assert left > 0, "no kill fell into a writing: the test proves nothing"
    write_all({tmp_path / name: b"" for name in NAMES})
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(NAMES)


@pytest.mark.parametrize("moved", range(len(NAMES) + 1))
def test_a_kill_between_two_files_is_made_good_by_the_next_look(tmp_path: Path, moved: int) -> None:
    write_all({tmp_path / name: b"old" for name in NAMES})
    child = os.fork()
    if child == 0:
        rename, places = Path.replace, []

        def killed(self: Path, target: Path) -> Path:
            places.append(self.name)
            if sum(not name.startswith("..to-be-moved") for name in places) > moved:
                os.kill(os.getpid(), signal.SIGKILL)
            return rename(self, target)

        Path.replace = killed  # type: ignore[assignment, method-assign]
        write_all({tmp_path / name: b"new" for name in NAMES})
        os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(child, 0)
    finish_writing(tmp_path)
    assert {(tmp_path / name).read_bytes() for name in NAMES} == {b"new"}
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(NAMES)


def test_a_list_that_names_other_files_moves_nothing(tmp_path: Path) -> None:
    write_all({tmp_path / "a": b"1", tmp_path / "b": b"2"})
    ended = os.fork()
    if ended == 0:
        os._exit(0)
    os.waitpid(ended, 0)
    strange = _MINE.format(ended)
    for moves in ([["a", "../a"]], [["b", "a"]], [1], {"a": 1}, [["../b", "a"]], [[f"..a.x{strange}", "a"]]):
        (tmp_path / f"{_LIST}.x{strange}").write_text(json.dumps(moves))
        finish_writing(tmp_path)
        assert ((tmp_path / "a").read_bytes(), (tmp_path / "b").read_bytes()) == (b"1", b"2")


def test_commands_killed_at_any_moment_leave_reports_of_one_age_and_points_whole(tmp_path: Path) -> None:
    """A few of the kills of `python -m tests.kills`."""
    for kill, number in ((kills.kill_maps, 2), (kills.kill_saves, 1)):
        wrong, _ = kill(tmp_path, number, random.Random(3))
        assert wrong == []


def test_what_another_computer_writes_is_left_alone(tmp_path: Path) -> None:
    other = tmp_path / ".results.json.abc.elsewhere-999999.part"
    other.write_bytes(b"")
    write_all({tmp_path / "results.json": b"1"})
    assert other.exists()
