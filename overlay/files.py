"""Files written whole or not at all, and the digests of those that were read."""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that a reader sees the old content or the new, never a part."""
    write_all({path: content})


def write_all(contents: Mapping[Path, bytes]) -> None:
    """Write several files; none is replaced before all of them lie complete on the disk."""
    waiting: list[tuple[Path, Path]] = []
    try:
        for path, content in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
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


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


@dataclass(frozen=True, slots=True)
class InputFile:
    """A file that took part, with the digest of the bytes that were used."""

    file: str
    sha256: str


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


def note_input(file: str, data: bytes) -> None:
    """Note the digest of an input at the moment its bytes are read: the file may change afterwards."""
    inputs = _NOTED.get()
    if inputs is not None and all(item.file != file for item in inputs):
        inputs.append(InputFile(file, hashlib.sha256(data).hexdigest()))
