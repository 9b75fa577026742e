"""SIGKILL at random moments of `map` and of a save in the workbench: `python -m tests.kills --kills 50`.

After each kill the reports are those of one run, whole, as the next look at the folder finds them; control points are
the old or the new, whole; and a run that is not killed leaves nothing else behind.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import json
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from overlay.files import finish_writing
from overlay.workbench.guard import TOKEN_HEADER

COMMAND = [sys.executable, "-c", "from overlay_cli.main import main; main()"]
REPORTS = ("margin_map.pdf", "margin_map.html", "components.csv", "hot_spots.csv", "results.json")
SETTINGS = (
    'format = 1\n[board]\nname = "{name}"\nplacement = "placement.csv"\n'
    '[[capture]]\nname = "only"\nframe = "frame.csv"\ncontrol_points = "frame.points.csv"\nambient_c = 22.0\n'
)
POINTS = "pixel_x,pixel_y,board_x_mm,board_y_mm\n4,4,0,30\n60,4,40,30\n60,44,40,0\n4,44,0,0\n"


def small_job(folder: Path) -> Path:
    """A board of six parts, which is soon read."""
    folder.mkdir()
    parts = "".join(f"R{i},1k,R1206,{6 * i + 2},{4 * i + 3},0,top\n" for i in range(6))
    (folder / "placement.csv").write_text("Designator,Value,Package,Mid X (mm),Mid Y (mm),Rotation,Side\n" + parts)
    rows = [",".join(f"{25 + (x * y) % 7 + 0.01 * x:.2f}" for x in range(64)) for y in range(48)]
    (folder / "frame.csv").write_text("\n".join(rows) + "\n")
    (folder / "frame.points.csv").write_text(POINTS)
    return folder


def digests(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}


def kill_maps(work: Path, kills: int, chance: random.Random) -> tuple[list[str], int]:
    """What was wrong after kills of `map`, and how many of them fell while reports were written."""
    jobs = [small_job(work / name) for name in ("first", "second")]
    wanted = []
    for job in jobs:
        (job / "job.toml").write_text(SETTINGS.format(name=job.name))
        begun = time.perf_counter()
        subprocess.run(
            [*COMMAND, "map", str(job), "--out", str(work / f"{job.name} whole")], check=True, stdout=subprocess.DEVNULL
        )
        lasts_s = time.perf_counter() - begun
        wanted.append(digests(work / f"{job.name} whole"))
    out, wrong, caught = work / "out", [], 0
    shutil.copytree(work / "second whole", out)
    for number in range(kills):
        process = subprocess.Popen(
            [*COMMAND, "map", str(jobs[number % 2]), "--out", str(out)], stdout=subprocess.DEVNULL
        )
        if number % 2:  # at any moment
            time.sleep(chance.uniform(0.0, lasts_s))
        else:  # while files are written
            while process.poll() is None and not any(path.name.startswith(".") for path in out.iterdir()):
                pass
            time.sleep(chance.uniform(0.0, 0.01))
        process.kill()
        process.wait()
        hidden = [path.name for path in out.iterdir() if path.name.startswith(".")]
        caught += bool(hidden)
        finish_writing(out)
        found = {name: value for name, value in digests(out).items() if name in REPORTS}
        if found not in wanted:
            wrong.append(f"map, kill {number}: reports are of different ages, or not whole")
    subprocess.run([*COMMAND, "map", str(jobs[0]), "--out", str(out)], check=True, stdout=subprocess.DEVNULL)
    if digests(out) != wanted[0]:
        wrong.append(f"map: {sorted(path.name for path in out.iterdir())} after the last run")
    return wrong, caught


def kill_saves(work: Path, kills: int, chance: random.Random) -> tuple[list[str], int]:
    """What was wrong after kills of a workbench that saves points, and how many fell while files were written."""
    job = small_job(work / "saved")
    (job / "job.toml").write_text(SETTINGS.format(name="saved"))
    wrong, caught = [], 0
    for number in range(kills):
        before = (job / "frame.points.csv").read_bytes()
        process = subprocess.Popen(
            [*COMMAND, "workbench", str(job), "--no-browser"],
            stderr=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            text=True,
        )
        assert process.stderr is not None
        address, token = re.match(r"(http\S+)/#(\S+)", process.stderr.readline()).groups()  # type: ignore[union-attr]

        def post(path: str, body: dict[str, object], address: str = address, token: str = token) -> dict[str, object]:
            headers = {TOKEN_HEADER: token, "Content-Type": "application/json"}
            request = urllib.request.Request(f"{address}/api/{path}", json.dumps(body).encode(), headers)
            with urllib.request.urlopen(request, timeout=60) as answer:
                return dict(json.load(answer))

        session = post("open", {})["session"]
        move = {"do": "move", "session": session, "capture": "only", "index": 0, "pixel": [4.0 + number / 100, 4.5]}
        post("edit", {"edit": move})
        if number % 5 == 4:  # one that is not killed
            post("save", {"session": session, "anyway": False})
        else:
            subprocess.Popen(
                [
                    sys.executable,
                    "-c",
                    f"import time, os; time.sleep({chance.uniform(0.0, 0.02)}); os.kill({process.pid}, 9)",
                ]
            )
            with contextlib.suppress(OSError):  # it is killed before it can answer
                post("save", {"session": session, "anyway": False})
        process.send_signal(signal.SIGKILL)
        process.wait()
        caught += any(path.name.startswith(".") for path in job.iterdir())
        finish_writing(job)
        after = (job / "frame.points.csv").read_bytes()
        if after != before and (f"{4 + number / 100:g}".encode() not in after or not after.endswith(b"\n")):
            wrong.append(f"save, kill {number}: points are neither the old nor the new")
        if number % 5 == 4 and any(path.name.startswith(".") for path in job.iterdir()):
            wrong.append(
                f"save {number}: {sorted(path.name for path in job.iterdir())} after a save that was not killed"
            )
    return wrong, caught


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=50, help="of each kind")
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    failed: list[str] = []
    with tempfile.TemporaryDirectory(prefix="kills-") as folder:
        for kill in (kill_maps, kill_saves):
            wrong, caught = kill(Path(folder), wanted.kills, random.Random(wanted.seed))
            print(f"{kill.__name__}: {wanted.kills} kills, {caught} of them while files were written", flush=True)
            failed += wrong
    print("\n".join(failed) or "all whole, all of one age, nothing left behind")
    return bool(failed)


if __name__ == "__main__":
    raise SystemExit(main())
