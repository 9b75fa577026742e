"""Small files that ask for much are answered or refused within the limits, by a command of its own."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.bombs import MEMORY_BYTES, make_bomb

START_S = 1.5  # of the interpreter, this package and the process that reads apart, on a busy machine
# One of each kind; `python -m tests.bombs FOLDER` makes all of them.
FEW = (
    "blank_in_the_last_cell.xlsx",
    "deflated_strip.tiff",
    "circles.svg",
    "uses_of_uses.svg",
    "array_of_blocks.dxf",
    "many_ranges.csv",
    "many_tables.toml",
    "many_points.csv",
)
LIMIT_S = 6.0  # of the processor: the reader's own two seconds and what a few megabytes add, twice over


# run by a small process of its own: a child's peak begins with that of whoever forked it, and a test worker is large
MEASURED = """
import resource, subprocess, sys
resource.setrlimit(resource.RLIMIT_CPU, (30, 31))
with open(sys.argv[1], "wb") as log:
    command = [sys.executable, "-c", "from overlay_cli.main import main; main()", "check", sys.argv[2]]
    code = subprocess.call(command, stdout=log, stderr=log)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(code, used.ru_utime + used.ru_stime, used.ru_maxrss * 1024)
"""


def checked(job: Path, log: Path) -> tuple[int, float, float, str]:
    """Exit status, processor seconds, bytes, and what was said."""
    command = [sys.executable, "-c", MEASURED, str(log), str(job)]
    code, seconds, memory = subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()
    return int(code), float(seconds), float(memory), log.read_text()


@pytest.mark.parametrize("name", FEW)
def test_a_bomb_is_small_and_refused_within_the_limits(name: str, tmp_path: Path) -> None:
    job = make_bomb(name, tmp_path / "job")
    assert all(path.stat().st_size <= 5_000_000 for path in job.iterdir())
    code, seconds, memory, told = checked(job, tmp_path / "log")
    assert code == 2, told
    assert "Traceback" not in told
    assert seconds < LIMIT_S + START_S
    assert memory < MEMORY_BYTES
