"""Mutated inputs through every reader: `python -m tests.fuzz --cases 100000`.

Each case must end in an answer or an `InputError`, within `SECONDS` of the processor and `MEMORY_BYTES`. Cases run in
forked processes, so that one which kills its process is told too; what fails is kept in a folder to be looked at.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import signal
import tempfile
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from overlay.board.bodies import read_bodies
from overlay.board.model import Board
from overlay.board.outline.dxf import read_dxf
from overlay.board.outline.read import read_outline
from overlay.board.parts import read_parts
from overlay.board.placement.read import read_placement
from overlay.errors import InputError
from overlay.frames.read import read_frame
from overlay.job.read import read_job
from overlay.job.read_settings import read_settings
from overlay.probes.read import read_contacts
from overlay.registration.control_points import read_control_points
from overlay.workbooks import _sheets
from tests import bombs

DEMO = Path(__file__).parents[1] / "demo_board"
SECONDS = 2
MEMORY_BYTES = 1_000_000_000
_BATCH = 500  # cases a process: a leak of one does not reach the next
_WORDS = (
    b"",
    b"\0",
    b"nan",
    b"1e999",
    b"-1",
    b"9" * 40,
    b"\xff\xfe",
    b"<",
    b'"',
    b",",
    b"\n",
    b"[",
    b"%",
    b"\x1b[31m",
    b"9" * 5000,
    "¹½٣".encode(),
    b"-0",
    b"1e-320",
)


@dataclass(frozen=True)
class Reader:
    """A reader, and whole inputs to begin from."""

    read: Callable[[Path], object]
    seeds: tuple[bytes, ...]


def readers(board: Board) -> dict[str, Reader]:
    """Every reader by name."""
    lines = bombs.dxf("".join(f"0\nLINE\n8\n0\n10\n{x}\n20\n0\n11\n{x + 1}\n21\n9\n" for x in range(4)))
    sheet = bombs.workbook(
        bombs.sheet(b'<row r="1">' + bombs.inline("A1", "refdes") + bombs.inline("B1", "limit_c") + b"</row>")
    )
    gerber = (
        b"%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.1*%\nD10*\nX0Y0D02*\nX9000000Y0D01*\nX9000000Y9000000D01*\nX0Y0D01*\nM02*\n"
    )
    frames = (bombs.tiff(16, 16, b"\x10\x0e" * 256, pages=2), bombs.png(16, 16), b"20.0,21.0\n" * 9)

    def demo(*names: str) -> tuple[bytes, ...]:
        return tuple((DEMO / name).read_bytes() for name in names)

    return {
        "frame": Reader(lambda path: read_frame(path, path.name), (*frames, *demo("telemetry_idle.tiff"))),
        "placement": Reader(lambda path: read_placement(path, path.name), demo("placement.csv")),
        "outline": Reader(lambda path: read_outline(path, path.name), (*demo("outline.svg"), gerber)),
        "drawing": Reader(lambda path: read_dxf(path.read_bytes(), path.name), (lines,)),
        "workbook": Reader(lambda path: _sheets(path.read_bytes(), path.name, False), (sheet,)),
        "parts": Reader(lambda path: read_parts(path, path.name), demo("parts.csv")),
        "bodies": Reader(lambda path: read_bodies(path, path.name), demo("bodies.csv")),
        "points": Reader(lambda path: read_control_points(path, path.name, board, "top"), demo("full_load.points.csv")),
        "contacts": Reader(lambda path: read_contacts(path, path.name, board), demo("full_load.contact.csv")),
        "settings": Reader(read_settings, demo("job.toml")),
    }


def mutated(data: bytes, chance: random.Random) -> bytes:
    """The bytes after one to six changes: flips, cuts, copies, words of trouble, and the end cut off."""
    out = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        place, length = chance.randrange(len(out) + 1), chance.choice((1, 1, 2, 4, 16, 200))
        kind = chance.randrange(6)
        if kind == 0 and place < len(out):
            out[place] ^= 1 << chance.randrange(8)
        elif kind == 1:
            del out[place : place + length]
        elif kind == 2:
            out[place:place] = out[place : place + length] * chance.choice((1, 2, 30))
        elif kind == 3:
            out[place : place + chance.choice((0, 1, 4))] = chance.choice(_WORDS)
        elif kind == 4:
            out[place : place + 4] = chance.randbytes(4)
        elif chance.random() < 0.3:
            del out[place:]
    return bytes(out)


def cases(reader: Reader, seed: int, count: int) -> Iterator[bytes]:
    """The inputs of one batch: the same for the same seed."""
    chance = random.Random(seed)
    for _ in range(count):
        yield mutated(chance.choice(reader.seeds), chance)


def fuzz(reader: Reader, name: str, seed: int, count: int, kept: Path) -> list[str]:
    """Run a batch in a process of its own; what failed, each with the file that holds its input."""
    log = kept / f"{name}-{seed}.log"
    child = os.fork()
    if child == 0:
        _run(reader, seed, count, kept / f"{name}-{seed}", log)
    _, status = os.waitpid(child, 0)
    failed = log.read_text().splitlines() if log.exists() else []
    if status:
        failed.append(f"{kept / f'{name}-{seed}'}: ended its process ({os.waitstatus_to_exitcode(status)})")
    return failed


def _run(reader: Reader, seed: int, count: int, path: Path, log: Path) -> None:
    used = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (used + MEMORY_BYTES,) * 2)
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)

    def late(_number: int, _frame: object) -> None:
        raise TimeoutError(f"more than {SECONDS} s")

    signal.signal(signal.SIGVTALRM, late)
    for number, data in enumerate(cases(reader, seed, count)):
        path.write_bytes(data)
        signal.setitimer(signal.ITIMER_VIRTUAL, SECONDS)
        try:
            reader.read(path)
        except InputError:
            pass
        except BaseException:
            found = path.with_name(f"{path.name}-{number}")
            found.write_bytes(data)
            with log.open("a") as stream:
                stream.write(f"{found}: {traceback.format_exc(limit=-2).strip().splitlines()[-1]}\n")
        finally:
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
    os._exit(0)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--reader", default="", help="only this one")
    wanted = parser.parse_args()
    all_readers = readers(read_job(DEMO).board)
    names = [wanted.reader] if wanted.reader else list(all_readers)
    kept = Path(tempfile.mkdtemp(prefix="fuzz-"))
    failed: list[str] = []
    for name in names:
        for batch in range(max(1, wanted.cases // len(names) // _BATCH)):
            failed += fuzz(all_readers[name], name, wanted.seed + batch, min(_BATCH, wanted.cases), kept)
        print(f"{name}: {len(failed)} failed so far", flush=True)
    print("\n".join(failed) or "all answered or refused")
    return bool(failed)


if __name__ == "__main__":
    raise SystemExit(main())
