"""``python -m tests.truth.campaign [FRAMES]`` from the root: rates, memory, kills and a cluster on the demo's board.

Frames of 320 × 240 follow "full load" through a warm-up with noise and a camera that creeps; two of them are broken.
Rates are by processor time, which a busy machine changes little; wall time stands beside it.
"""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import mean
from threading import Event, Thread

os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}  # before any library counts the cores

import numpy as np
from scipy.ndimage import shift

from overlay.campaign.plan import read_plan
from overlay.campaign.run import parts_of, run_campaign
from overlay.campaign.store import part_path, read_rows
from overlay.campaign.work import do_part
from overlay.job.load import load_capture
from overlay.job.read import read_job

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_board"
CAPTURE = "full load"
PER_PART = 10
BROKEN = (7, 23)  # frames
CREEP_PX, NOISE_K, LATE = 1.5, 0.06, 0.15  # over all frames; of a pixel; share of the rise that is still to come
CLUSTER_FRAMES = 40
_LOOK_S = 0.2  # a fifth of a frame, between looks at the memory
_MEGABYTE = 1024


def main() -> None:
    """Make the frames, then measure one thing after the other."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory(prefix="campaign-") as name:
        place = Path(name)
        make_frames(place, count)
        one_core(place)
        killed_and_resumed(place, count)
        on_a_cluster_with_a_kill(place)


def make_frames(place: Path, count: int) -> None:
    """Frames and their plan."""
    job = read_job(DEMO)
    data = load_capture(job, CAPTURE)
    settings, seen_c = data.settings, data.page.temperature_c
    rng = np.random.default_rng(1)
    (place / "frames").mkdir()
    for index in range(count):
        share = index / max(count - 1, 1)
        rise = (seen_c - settings.ambient_c) * (1.0 - LATE * (1.0 - share))
        moved = shift(rise, (0.3 * CREEP_PX * share, CREEP_PX * share), order=1, mode="nearest")
        celsius = settings.ambient_c + moved + rng.normal(0.0, NOISE_K, moved.shape)
        raw = np.rint((celsius - settings.frame_offset) / settings.frame_scale)
        np.save(place / "frames" / f"f{index:05d}.npy", raw.astype(np.uint16))
    (place / "frames" / f"f{BROKEN[0]:05d}.npy").write_bytes(b"\x93NUMPY and no more")
    np.save(place / "frames" / f"f{BROKEN[1]:05d}.npy", np.full((20, 30), 6000, dtype=np.uint16))
    (place / "campaign.toml").write_text(
        f'format = 1\njob = "{DEMO}"\ncapture = "{CAPTURE}"\nframes_per_part = {PER_PART}\n'
        '[[frames]]\nfiles = "frames/*.npy"\nunit = "A"\nperiod_s = 60.0\n',
        encoding="utf-8",
    )


def one_core(place: Path) -> None:
    """The reference: two parts in this process."""
    plan = read_plan(place)
    parts = parts_of(plan, place / "loop", "csv")
    for part in (parts[0], parts[-1]):
        begun = time.process_time()
        do_part(part)
        spent = time.process_time() - begun
        print(f"in turn, part {part.number}: {spent / PER_PART:.2f} s of processor a frame", flush=True)


def killed_and_resumed(place: Path, count: int) -> None:
    """Two workers, killed with all they have after a third of the parts, and begun again."""
    out = place / "pool"
    command = [sys.executable, "-m", "overlay_cli.main", "campaign", str(place), "--out", str(out), "--workers", "2"]
    run = subprocess.Popen(command, start_new_session=True, stdout=subprocess.DEVNULL, cwd=ROOT)
    parts = count // PER_PART
    while len(list((out / "rows").glob("*.csv"))) < parts // 3 and run.poll() is None:
        time.sleep(0.1)
    os.killpg(run.pid, signal.SIGKILL)
    run.wait()
    kept = {path.name: path.stat().st_mtime_ns for path in (out / "rows").glob("part-*.csv")}
    print(f"killed with {len(kept)} of {parts} parts done", flush=True)
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    with Watched() as watched:
        summary = run_campaign(read_plan(place), out, workers=2)
    after, wall = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter() - begun
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    frames = (parts - len(kept)) * PER_PART
    print(f"two workers: {spent / frames:.2f} s of processor a frame, {frames / wall:.2f} frames a second of wall time")
    print(f"  two cores kept busy: {spent / wall / 2:.0%}; load of the machine {os.getloadavg()[0]:.1f}")
    print(f"memory of a worker: {watched.told()}")
    again = [name for name, at in kept.items() if (out / "rows" / name).stat().st_mtime_ns != at]
    rows = list(read_rows(out, "csv"))
    keys = [(row.frame, row.refdes) for row in rows]
    print(f"rows: {len(rows)}, twice {len(keys) - len(set(keys))}, frames missing {count - len({k[0] for k in keys})}")
    print(f"  parts done again {len(again)}; as in turn: {same_rows(place, out)}")
    print(f"broken frames told: {[Path(row.path).name for row in summary.broken]}", flush=True)


class Watched:
    """Memory of the workers in MB, looked at all the while: at any one moment a frame is half read."""

    def __init__(self) -> None:
        self.seen: dict[int, list[float]] = {}
        self._over = Event()
        self._thread = Thread(target=self._watch)

    def __enter__(self) -> Watched:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _watch(self) -> None:
        while not self._over.wait(_LOOK_S):
            for status in Path("/proc").glob("[0-9]*/status"):
                try:
                    lines = dict(line.split(":", 1) for line in status.read_text().splitlines() if ":" in line)
                except OSError:  # it has just ended
                    continue
                if int(lines["PPid"]) == os.getpid() and "VmRSS" in lines:
                    self.seen.setdefault(int(lines["Pid"]), []).append(int(lines["VmRSS"].split()[0]) / _MEGABYTE)

    def told(self) -> str:
        """Of each worker: mean and peak in the second tenth of its life, and in the last."""
        workers = [seen for seen in self.seen.values() if max(seen) > 100.0]  # not the pool's own helpers
        tenths = [(seen[len(seen) // 10 : len(seen) // 5], seen[-len(seen) // 10 :]) for seen in workers]
        return "; ".join(
            f"mean {mean(early):.0f} → {mean(late):.0f} MB ({mean(late) / mean(early) - 1.0:+.0%}),"
            f" peak {max(early):.0f} → {max(late):.0f} MB"
            for early, late in tenths
        )


def same_rows(place: Path, out: Path) -> bool:
    """Whether the parts that were done in turn are the same to the byte."""
    loop = list((place / "loop" / "rows").glob("part-*.csv"))
    return bool(loop) and all(path.read_bytes() == (out / "rows" / path.name).read_bytes() for path in loop)


def on_a_cluster_with_a_kill(place: Path) -> None:
    """The first parts on a local cluster of two workers, one of which is killed after the first part."""
    import distributed

    plan = read_plan(place)
    some = type(plan)(plan.file, plan.job, plan.capture, plan.tasks[:CLUSTER_FRAMES], plan.frames_per_part)
    out = place / "cluster"
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        kill = _killing(cluster)
        run_campaign(some, out, cluster=cluster.scheduler_address, progress=kill)
    parts = sorted((out / "rows").glob("part-*.csv"))
    same = all(
        path.read_bytes() == part_path(place / "pool", int(path.stem[-6:]), "csv").read_bytes() for path in parts
    )
    print(f"cluster of two workers, one killed: {len(parts)} parts, as on the pool: {same}")


def _killing(cluster: object) -> Callable[[str, float], None]:
    """Kill one worker when it is first told of progress."""
    alive = [worker.pid for worker in cluster.workers.values()]  # type: ignore[attr-defined]

    def kill(_what: str, _share: float) -> None:
        if alive:
            os.kill(alive.pop(), signal.SIGKILL)
            alive.clear()

    return kill


if __name__ == "__main__":
    main()
