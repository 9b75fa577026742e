"""Files written whole or not at all, and the digests of those that were read."""

from __future__ import annotations

import glob
import json
import os
import platform
import re
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass, replace
from pathlib import Path

from overlay.errors import Problem


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that a reader sees the old content or the new, never a part."""
    write_all({path: content})


def write_all(contents: Mapping[Path, bytes]) -> None:
    """Write several files; none is replaced before all of them lie complete on the disk.

    No system replaces several files at one stroke. Between the first and the last of them a list of what is still to
    be moved lies in their folder: should the process be killed there, `finish_writing` goes on from it, so that what
    is read afterwards is of one age.
    """
    waiting: list[tuple[Path, Path]] = []
    lists: list[Path] = []
    try:
        for folder in dict.fromkeys(path.parent for path in contents):
            folder.mkdir(parents=True, exist_ok=True)
            finish_writing(folder)
            _sweep(folder / _LIST)
        for path, content in contents.items():
            _sweep(path)
            waiting.append((_beside(path, content), path))
        for folder in dict.fromkeys(path.parent for path in contents):
            moves = [(temporary.name, path.name) for temporary, path in waiting if path.parent == folder]
            if len(moves) > 1:
                written = _beside(folder / _LIST, json.dumps(moves).encode())
                lists.append(written.replace(folder / written.name[1:]))
        _move(waiting)
    except KeyboardInterrupt:
        if lists:
            _move(waiting)
        raise
    finally:
        for left in (*lists, *(temporary for temporary, _ in waiting)):
            left.unlink(missing_ok=True)


def finish_writing(folder: Path) -> None:
    """Move what processes of this computer that live no more had complete, but had no time to move all of."""
    for name in folder.glob(f"{_LIST}.*.{_HOST}-*.part"):
        if _left_behind(name):
            own = name.name[name.name.rindex(f".{_HOST}-") :]
            with suppress(ValueError, TypeError, AttributeError, OSError):  # a list that is none of ours
                moves = [(str(temporary), str(target)) for temporary, target in json.loads(name.read_bytes())]
                if all(
                    one.startswith(f".{to}.") and one.endswith(own) and not set(one) & set("/\\") for one, to in moves
                ):
                    _move([(folder / temporary, folder / target) for temporary, target in moves])
            with suppress(OSError):
                name.unlink(missing_ok=True)


def _move(files: Iterable[tuple[Path, Path]]) -> None:
    """Give temporary files their names; those that have them already are not there any more."""
    for temporary, path in files:
        if temporary.exists():
            temporary.replace(path)


def _beside(path: Path, content: bytes) -> Path:
    """A file with that content, complete on the disk, in the folder of the one that it will take the place of."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=_MINE.format(os.getpid()))
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        # mkstemp makes files private; a report is to be read by whoever may read its folder
        Path(name).chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


# Names the computer and the process, so that another one can tell what was left behind by one that was killed.
_HOST = re.sub(r"\W", "", platform.node())[:30]
_MINE = f".{_HOST}-{{}}.part"
_LIST = ".to-be-moved"


def _sweep(path: Path) -> None:
    """Take away what processes of this computer that live no more have left of this file."""
    for left in path.parent.glob(f".{glob.escape(path.name)}.*.{_HOST}-*.part"):
        if _left_behind(left):
            left.unlink(missing_ok=True)


def _left_behind(path: Path) -> bool:
    """Whether the process that a file is named after lives no more."""
    process = path.name.removesuffix(".part").rpartition("-")[2]
    return process.isdecimal() and not _lives(int(process))


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
