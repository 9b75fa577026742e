"""Benchmark of speed: ``python -m tests.truth.speed`` from the root: ``analyse`` on boards, ``map`` on the demo."""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from overlay.job.analyse import analyse
from overlay.job.read import read_job
from tests.truth.harvest import simulated_board

ROOT = Path(__file__).parents[2]
REPEATS = 3
CASES = (("640 × 480, 600 parts", "crowded"), ("640 × 480, 65 parts", "fine"), ("160 × 120, 60 parts", "coarse"))


def main() -> None:
    """Print the figures; each analysis in a process of its own, so that peaks of memory do not mix."""
    if len(sys.argv) == 3 and sys.argv[1] == "--one":
        print_one(Path(sys.argv[2]))
        return
    for label, kind in CASES:
        place = simulated_board(kind, 1)
        print(f"analyse, {label:<22}", end=" ", flush=True)
        subprocess.run([sys.executable, "-m", "tests.truth.speed", "--one", str(place)], check=True, cwd=ROOT)
    with tempfile.TemporaryDirectory() as folder:
        seconds, before = [], resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
        for repeat in range(REPEATS):
            command = [sys.executable, "-c", "from overlay_cli.main import main; main()", "map", "demo_board", "--out"]
            start = time.perf_counter()
            subprocess.run([*command, str(Path(folder) / str(repeat))], check=True, cwd=ROOT, stdout=subprocess.DEVNULL)
            seconds.append(time.perf_counter() - start)
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    note = "" if peak > before else " or less"
    print(f"map demo_board, wall time      median {statistics.median(seconds):.2f} s, peak {peak / 1024:.0f} MB{note}")


def print_one(place: Path) -> None:
    job, seconds = read_job(place), []
    for _ in range(REPEATS):
        start = time.perf_counter()
        analyse(job)
        seconds.append(time.perf_counter() - start)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    threads = os.environ.get("OMP_NUM_THREADS", "as many as the machine has")
    parts = len(job.board.components)
    print(
        f"median {statistics.median(seconds):.2f} s, peak {peak_mb:.0f} MB ({parts} parts, algebra threads: {threads})"
    )


if __name__ == "__main__":
    main()
