"""Foreign code run where it can be stopped: a process of its own with limits on time and memory.

Some readers of other people's formats can be made to abort, or to ask for any amount of time or memory, by a small
file. Run apart, they take nothing with them: the caller gets an answer or an `InputError`.
"""

from __future__ import annotations

import importlib
import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

from overlay.errors import InputError, input_error

T = TypeVar("T")

# Four times what the largest honest workbooks and drawings tried took, and short enough to wait for.
CPU_S, CPU_S_PER_MB = 2.0, 0.5
MEMORY_BYTES = 700_000_000  # likewise, the interpreter and its libraries included
# A busy computer may give little of its processors: what is asleep longer will not wake.
WALL_S = 60.0

_START = "import sys; sys.path[:] = {path!r}; from overlay.apart import answer; answer()"


def run_apart(step: Callable[..., T], data: bytes, *more: Any, file: str, remedy: str) -> T:
    """``step(data, *more)`` in a process of its own.

    Parameters
    ----------
    step
        A function of a module, found there by its name; arguments and answer can be pickled.
    file, remedy
        Name of the file for messages, and what to do where its reading had to be stopped.

    Raises
    ------
    InputError
        What the step raised itself, or that it took too long, wanted too much memory, or broke down.
    """
    cpu_s = CPU_S + CPU_S_PER_MB * len(data) / 1e6
    wish = pickle.dumps((step.__module__, step.__qualname__, (data, *more), cpu_s))
    with subprocess.Popen(
        [sys.executable, "-c", _START.format(path=[*sys.path])],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,  # what a library has to say about a broken file helps nobody
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
    ) as process:
        try:
            told, _ = process.communicate(wish, timeout=WALL_S)
        except subprocess.TimeoutExpired:
            raise input_error(file, None, f"takes more than {WALL_S:.0f} s to read", remedy) from None
        finally:
            process.kill()
    kind: str
    value: Any
    kind, value = pickle.loads(told) if process.returncode == 0 else ("broken", process.returncode)
    if kind == "answer":
        return cast(T, value)
    if kind == "refused":
        raise value
    if value in (-27, -24):  # SIGPROF, SIGXCPU
        raise input_error(file, None, f"takes more than {cpu_s:.0f} s of the processor to read", remedy)
    what = f"cannot be read within {MEMORY_BYTES / 1e6:.0f} MB of memory" if kind == "memory" or value == -6 else ""
    raise input_error(file, None, what or "makes its reader break down", remedy)


def answer() -> None:
    """The other process's side: read a wish from standard input, write the answer to standard output."""
    out = os.dup(1)
    os.dup2(2, 1)  # whatever a library prints is no part of the answer
    module, name, arguments, cpu_s = pickle.load(sys.stdin.buffer)
    step = getattr(importlib.import_module(module), name)
    _limit(cpu_s)
    try:
        told: tuple[str, Any] = ("answer", step(*arguments))
    except InputError as error:
        told = ("refused", error)
    except MemoryError:
        told = ("memory", None)
    with os.fdopen(out, "wb") as stream:
        pickle.dump(told, stream)


def _limit(cpu_s: float) -> None:
    try:
        import resource
    except ImportError:  # not every system knows such limits; the time on the wall holds everywhere
        return
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    used_s = sum(resource.getrusage(resource.RUSAGE_SELF)[:2])
    soft = int(used_s + cpu_s) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (soft, soft + 1))
    signal.setitimer(signal.ITIMER_PROF, cpu_s)  # to the moment, where the limit above knows whole seconds
    try:
        used = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    except OSError:
        return
    resource.setrlimit(resource.RLIMIT_AS, (used + MEMORY_BYTES, used + MEMORY_BYTES))
