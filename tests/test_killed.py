"""SIGKILL at any moment: what lies in the folder is whole, and the next run leaves nothing behind."""

import os
import random
import signal
import time
from pathlib import Path

import pytest

from overlay.files import write_all

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


def test_what_another_computer_writes_is_left_alone(tmp_path: Path) -> None:
    other = tmp_path / ".results.json.abc.elsewhere-999999.part"
    other.write_bytes(b"")
    write_all({tmp_path / "results.json": b"1"})
    assert other.exists()
