"""Engines do every part once, also when a worker is killed on the way."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from overlay.campaign.engine import WorkerLostError, in_a_pool, in_turn, on_a_cluster
from overlay.errors import InputError


@dataclass(frozen=True)
class Part:
    folder: Path
    number: int
    kills: int = 0  # how many times its worker dies


def note(part: Part) -> None:
    """Leave a file; a part that kills dies as long as it has not died often enough."""
    marks = list(part.folder.glob(f"killed-{part.number}-*"))
    if len(marks) < part.kills:
        (part.folder / f"killed-{part.number}-{len(marks)}").touch()
        os.kill(os.getpid(), signal.SIGKILL)
    (part.folder / f"done-{part.number}").touch()


def fail(part: Part) -> None:
    raise ValueError(f"part {part.number}")


def test_in_turn_is_the_reference(tmp_path: Path) -> None:
    parts = [Part(tmp_path, i) for i in range(5)]
    assert list(in_turn(note, parts)) == parts
    assert len(list(tmp_path.glob("done-*"))) == 5


def test_a_pool_does_the_same_parts_and_outlives_a_killed_worker(tmp_path: Path) -> None:
    parts = [Part(tmp_path, i, kills=1 if i == 3 else 0) for i in range(7)]
    done = list(in_a_pool(note, parts, 2))
    assert sorted(part.number for part in done) == list(range(7))
    assert (tmp_path / "killed-3-0").exists()


SLEEPERS = """
import os, sys, time
from pathlib import Path
from overlay.campaign.engine import in_a_pool

def work(place):
    Path(place).write_text(str(os.getpid()))
    time.sleep(300.0)

if __name__ == "__main__":
    list(in_a_pool(work, sys.argv[1:], 2))
"""


def lives(process: int) -> bool:
    try:
        return "(zombie)" not in Path(f"/proc/{process}/status").read_text()
    except OSError:
        return False


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="asks the kernel which processes live")
def test_workers_do_not_outlive_a_run_that_was_killed(tmp_path: Path) -> None:
    (tmp_path / "sleepers.py").write_text(SLEEPERS)
    places = [tmp_path / "one", tmp_path / "two"]
    run = subprocess.Popen([sys.executable, str(tmp_path / "sleepers.py"), *map(str, places)])
    deadline = time.monotonic() + 60.0
    while not all(place.exists() and place.read_text() for place in places) and time.monotonic() < deadline:
        time.sleep(0.05)
    workers = [int(place.read_text()) for place in places]
    assert all(lives(worker) for worker in workers)
    run.kill()
    run.wait()
    while any(lives(worker) for worker in workers) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not any(lives(worker) for worker in workers)


def test_a_part_that_kills_every_worker_is_named(tmp_path: Path) -> None:
    with pytest.raises(WorkerLostError, match="lost its worker 3 times"):
        list(in_a_pool(note, [Part(tmp_path, 0, kills=99)], 1))


def test_an_error_of_the_work_itself_comes_through(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="part 0"):
        list(in_a_pool(fail, [Part(tmp_path, 0)], 1))


def test_a_cluster_does_the_same_parts(tmp_path: Path) -> None:
    import distributed

    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        parts = [Part(tmp_path, i, kills=1 if i == 2 else 0) for i in range(5)]
        done = list(on_a_cluster(note, parts, cluster.scheduler_address))
    assert sorted(part.number for part in done) == list(range(5))
    assert (tmp_path / "killed-2-0").exists()


def test_a_missing_cluster_library_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(InputError, match=r"board-overlay\[cluster\]"):
        list(on_a_cluster(note, [Part(tmp_path, 0)], "tcp://127.0.0.1:1"))
