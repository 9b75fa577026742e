"""Files written whole or not at all, and the digests of those that were read."""

from __future__ import annotations

import glob
import os
import platform
import re
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from pathlib import Path

from overlay.errors import Problem


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that a reader sees the old content or the new, never a part."""
    write_all({path: content})


def write_all(contents: Mapping[Path, bytes]) -> None:
    """Write several files; none is replaced before all of them lie complete on the disk."""
    waiting: list[tuple[Path, Path]] = []
    try:
        for path, content in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            _sweep(path)
            handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=_MINE.format(os.getpid()))
            waiting.append((Path(name), path))
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            # mkstemp makes files private; a report is to be read by whoever may read its folder
            mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()
            Path(name).chmod(mode)
        for temporary, path in waiting:
            temporary.replace(path)
    finally:
        for temporary, _ in waiting:
            temporary.unlink(missing_ok=True)


# Names the computer and the process, so that another one can tell what was left behind by one that was killed.
_HOST = re.sub(r"\W", "", platform.node())[:30]
_MINE = f".{_HOST}-{{}}.part"


def _sweep(path: Path) -> None:
    """Take away what processes of this computer that live no more have left of this file."""
    for left in path.parent.glob(f".{glob.escape(path.name)}.*.{_HOST}-*.part"):
        process = left.name.removesuffix(".part").rpartition("-")[2]
        if process.isdecimal() and not _lives(int(process)):
            left.unlink(missing_ok=True)


def _lives(process: int) -> bool:
    if os.name != "posix":
        return True  # there, asking a process for a sign of life would end it
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


@dataclass(frozen=True, slots=True)
class InputFile:
    """A file that took part, with the digest of the bytes that were used, and what is odd about them as a file."""

    file: str
    sha256: str
    problems: tuple[Problem, ...] = ()


_NOTED: ContextVar[list[InputFile] | None] = ContextVar("inputs", default=None)


@contextmanager
def noted_inputs() -> Iterator[list[InputFile]]:
    """The files whose bytes are read meanwhile (`note_input`), each once, in the order of reading."""
    inputs: list[InputFile] = []
    token = _NOTED.set(inputs)
    try:
        yield inputs
    finally:
        _NOTED.reset(token)


def note_input(file: str, sha256: str) -> None:
    """Note the digest of an input at the moment its bytes are read: the file may change afterwards."""
    inputs = _NOTED.get()
    if inputs is not None and all(item.file != file for item in inputs):
        inputs.append(InputFile(file, sha256))


def problems_of(inputs: Iterable[InputFile]) -> list[Problem]:
    """What is odd about the files, in their order."""
    return [problem for item in inputs for problem in item.problems]


def note_problem(problem: Problem) -> None:
    """Note a warning about an input that was noted: whoever asked for the inputs gets it with them."""
    inputs = _NOTED.get()
    for index, item in enumerate(inputs or ()):
        if inputs is not None and item.file == problem.file and problem not in item.problems:
            inputs[index] = replace(item, problems=(*item.problems, problem))
