"""Pieces of one command's work side by side, in forks of its process: nothing is imported twice, nothing handed over.

Only the command line asks for them, which knows its own threads; a library's caller may be in the middle of anything.
"""

from __future__ import annotations

import io
import multiprocessing
import os
import pickle
import signal
import sys
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any, TypeVar

from overlay.errors import InputError

T = TypeVar("T")


def cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def answers(
    pieces: Sequence[Callable[[], T]],
    workers: int,
    begins: Callable[[int], None],
    same: Sequence[object] = (),
) -> list[T | InputError]:
    """What each piece returns, or the `InputError` it raises; any other fault is raised here, as the piece raises it.

    Parameters
    ----------
    workers
        How many run at once. With one, with one piece, in a process that is itself a worker, and off Linux, where
        forks are not safe, pieces are called here, one after the other.
    begins
        Told the number of each piece when it begins.
    same
        Objects that answers may refer to: they come back as these very objects, not as copies.
    """
    workers = min(workers, len(pieces))
    if workers < 2 or not sys.platform.startswith("linux") or multiprocessing.parent_process() is not None:
        return [_here(piece, index, begins) for index, piece in enumerate(pieces)]
    found: dict[int, T | InputError] = {}
    running: dict[Connection, tuple[int, BaseProcess]] = {}
    waiting = list(range(len(pieces)))
    try:
        while waiting or running:
            while waiting and len(running) < workers:
                index = waiting.pop(0)
                begins(index)
                end, process = _forked(pieces[index], same)
                running[end] = index, process
            ready = wait(list(running))
            for end in [end for end in running if end in ready]:
                index, process = running.pop(end)
                told = _received(end, same)
                process.join()
                # one that was killed, or met a fault, is done again here, where a fault can be looked at
                found[index] = _here(pieces[index], index, begins) if told is None else told[0]
    finally:
        for _, process in running.values():  # after an interruption
            process.terminate()
            process.join()
    return [found[index] for index in range(len(pieces))]


def _here(piece: Callable[[], T], index: int, begins: Callable[[int], None]) -> T | InputError:
    begins(index)
    try:
        return piece()
    except InputError as error:
        return error


def _forked(piece: Callable[[], Any], same: Sequence[object]) -> tuple[Connection, BaseProcess]:
    context = multiprocessing.get_context("fork")
    receiving, sending = context.Pipe(duplex=False)
    process = context.Process(target=_answer, args=(piece, sending, same), daemon=True)
    process.start()
    sending.close()  # this end's copy, so that the fork's death is seen
    return receiving, process


def _answer(piece: Callable[[], Any], sending: Connection, same: Sequence[object]) -> None:
    """The life of a fork. It says nothing of faults: where no answer comes, the piece is done again."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever forked it ends it
    try:
        stream = io.BytesIO()
        _Pickler(stream, same).dump(_here(piece, 0, lambda _index: None))
        sending.send_bytes(stream.getbuffer())
    except Exception:
        os._exit(1)


def _received(end: Connection, same: Sequence[object]) -> tuple[Any] | None:
    try:
        return (_Unpickler(io.BytesIO(end.recv_bytes()), same).load(),)
    except EOFError:
        return None
    finally:
        end.close()


class _Pickler(pickle.Pickler):
    """Writes of the objects that are the same on both sides only which they are."""

    def __init__(self, stream: io.BytesIO, same: Sequence[object]) -> None:
        super().__init__(stream, protocol=pickle.HIGHEST_PROTOCOL)
        self._number = {id(item): number for number, item in enumerate(same)}

    def persistent_id(self, obj: object) -> int | None:
        return self._number.get(id(obj))


class _Unpickler(pickle.Unpickler):
    def __init__(self, stream: io.BytesIO, same: Sequence[object]) -> None:
        super().__init__(stream)
        self._same = same

    def persistent_load(self, pid: int) -> object:
        return self._same[pid]
