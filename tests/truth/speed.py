"""Benchmark of speed: ``python -m tests.truth.speed`` from the root: ``analyse`` on boards, ``map`` on the demo."""

from __future__ import annotations

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
    print_map()


def print_map() -> None:
    """Wall time and peak memory of ``map`` on the demo, as a user starts it."""
    command = (
        "import resource, sys\n"
        "from overlay_cli.main import main\n"
        "try:\n    main()\n"
        "finally:\n    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, file=sys.stderr)"
    )
    seconds, peaks_mb = [], []
    with tempfile.TemporaryDirectory() as folder:
        for repeat in range(REPEATS):
            run = [sys.executable, "-c", command, "map", "demo_board", "--out", str(Path(folder) / str(repeat))]
            start = time.perf_counter()
            done = subprocess.run(run, check=True, cwd=ROOT, capture_output=True, text=True)
            seconds.append(time.perf_counter() - start)
            peaks_mb.append(int(done.stderr.split()[-1]) / 1024)
    print(f"map demo_board: median {statistics.median(seconds):.2f} s of wall time, peak {max(peaks_mb):.0f} MB")


def print_one(place: Path) -> None:
    job, seconds, busy = read_job(place), [], []
    for _ in range(REPEATS):
        start, busy_start = time.perf_counter(), time.process_time()
        analyse(job)
        seconds.append(time.perf_counter() - start)
        busy.append(time.process_time() - busy_start)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"median {statistics.median(seconds):.2f} s of wall time ({statistics.median(busy):.2f} s of processor), "
        f"peak {peak_mb:.0f} MB, {len(job.board.components)} parts"
    )


if __name__ == "__main__":
    main()
