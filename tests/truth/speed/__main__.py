"""``python -m tests.truth.speed [--accept]`` from the root: figures beside their floors, and the answers' check."""

from __future__ import annotations

import os
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}  # before any library counts the cores
# commands keep their bytecode, as an installation does: in a folder of its own, whatever is set for the tree
os.environ["PYTHONPYCACHEPREFIX"] = str(Path(tempfile.gettempdir()) / "board_overlay_bytecode")
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

from overlay.forks import cores
from overlay.job.analyse import analyse
from overlay.job.read import read_job
from tests.truth.harvest import simulated_board
from tests.truth.speed.answers import TABLE, accept, answers_of, differences
from tests.truth.speed.first_paint import first_paint
from tests.truth.speed.floors import child, floors_s

ROOT = Path(__file__).parents[3]
DEMO = ROOT / "demo_board"
REPEATS = 3
_COMMAND = "from overlay_cli.main import main; main()"
_READ = (
    "import resource, sys, time\nfrom pathlib import Path\n"
    "from overlay.job.analyse import read_capture\nfrom overlay.job.load import load_files\n"
    "from overlay.job.read import read_job\n"
    "job = read_job(Path(sys.argv[1]))\ntimes = []\n"
    "for _ in range(int(sys.argv[2])):\n"
    "    begun = time.process_time(), time.perf_counter()\n"
    "    for capture in job.settings.capture:\n"
    "        read_capture(load_files(job.folder, capture, job.board), job.board, job.settings.camera)\n"
    "    times.append((time.process_time() - begun[0], time.perf_counter() - begun[1]))\n"
    "print(*min(times), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)"
)


def main() -> int:
    """Print everything; 1 where an answer changed."""
    boards = {kind: simulated_board(kind, 1) for kind in ("crowded", "fine", "coarse")}
    floors = floors_s()
    print("floors, seconds of processor on this machine")
    for name, seconds in floors.items():
        print(f"  {name:<34}{seconds:8.3f}")
    frame = sum(seconds for name, seconds in floors.items() if name.split()[0] in ("warp", "labels", "normal"))
    page, plain, printed = (floors[name] for name in list(floors)[-3:])
    print(f"figures, seconds{'':<20}processor    wall     aim   floor   ratio")
    for label, folder, aim_s in (
        ("reading, 600 parts, 640 × 480", boards["crowded"], 1.2),
        ("reading, 65 parts, 640 × 480", boards["fine"], 0.6),
        ("reading, the demo's three captures", DEMO, None),
    ):
        found_s, wall_s, peak_mb = reading(folder)
        told(label, found_s, wall_s, aim_s, frame * (3 if folder == DEMO else 1))
        print(f"  {'  peak of memory, MB':<36}{peak_mb:7.0f}{300:16d}")
    with tempfile.TemporaryDirectory() as out:
        for label, words, floor_s in (
            ("map, 600 parts", ["map", str(boards["crowded"]), "--out", out], frame + page + printed),
            ("map demo_board", ["map", str(DEMO), "--out", out], 3 * frame + page + printed),
        ):
            told(label, *command(words), 2.0, floor_s)
    told("check demo_board", *command(["check", str(DEMO)]), 0.5, plain)
    for label, folder in (("demo_board", DEMO), ("600 parts", boards["crowded"])):
        soon = first_paint(folder)
        print(f"  workbench, {label}, wall time: served after {soon.served:.2f} s; from the address on", end="")
        print(f" first paint {soon.painted:.2f} s (aim 0.50), all parts {soon.board:.2f} s")
    side_by_side()
    found = answers_of({"demo": analyse(read_job(DEMO)), **{k: analyse(read_job(v)) for k, v in boards.items()}})
    if "--accept" in sys.argv[1:] or not TABLE.exists():
        accept(found)
    changed = differences(found)
    print(f"answers: {len(found) - len(changed)} of {len(found)} as in {TABLE.name}, to 0.02 K")
    print("".join(f"  {line}\n" for line in changed[:20]), end="")
    return 1 if changed else 0


def told(label: str, found_s: float, wall_s: float, aim_s: float | None, floor_s: float) -> None:
    """One line of the table."""
    aim = "" if aim_s is None else f"{aim_s:.2f}"
    print(f"  {label:<34}{found_s:9.2f}{wall_s:8.2f}{aim:>8}{floor_s:8.2f}{found_s / floor_s:8.1f}", flush=True)


def reading(folder: Path) -> tuple[float, float, float]:
    """Seconds to load, register and read all captures, what is loaded lazily aside; and memory in MB."""
    found_s, wall_s, peak_mb = child(_READ, str(folder), str(REPEATS)).printed.split()
    return float(found_s), float(wall_s), float(peak_mb)


def command(words: Sequence[str]) -> tuple[float, float]:
    """Seconds of a command as a user starts it, its forks included: the quicker of some runs."""
    runs = [child(_COMMAND, *words) for _ in range(REPEATS)]
    return min(run.processor_s for run in runs), min(run.wall_s for run in runs)


def side_by_side() -> None:
    """Wall time of two equal captures in turn and on two workers: what this machine leaves idle, they can take."""
    if cores() < 2:
        print("  one core: no captures side by side")
        return
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "twice"
        shutil.copytree(simulated_board("crowded", 1), folder)
        settings = folder / "job.toml"
        head, capture = settings.read_text(encoding="utf-8").split("[[capture]]")
        other = re.sub(r'(?m)^name = ".*"', 'name = "again"', capture, count=1)
        settings.write_text(f"{head}[[capture]]{capture}\n[[capture]]{other}", encoding="utf-8")
        job = read_job(folder)
        walls = []
        for workers in (1, 2):
            begun = time.perf_counter()
            analyse(job, workers=workers)
            walls.append(time.perf_counter() - begun)
    print(f"  two captures of 600 parts, wall time: {walls[0]:.2f} s in turn, {walls[1]:.2f} s side by side", end="")
    print(f" ({walls[0] / walls[1]:.2f} ×; load of the machine {os.getloadavg()[0]:.1f})")


if __name__ == "__main__":
    sys.exit(main())
