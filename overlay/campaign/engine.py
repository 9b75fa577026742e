"""Where parts of a campaign are worked out: a plain loop, a pool of processes, or a cluster. All do the same tasks.

A part is a run of frames that is done as one piece. What comes back has been written already by whoever did it, so an
engine only says which parts are done; one killed on the way is done again.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import parent_process
from threading import Thread
from typing import Any, TypeVar

from overlay.errors import input_error

T = TypeVar("T")
MOST_TRIES = 3
"""Times a part is begun again after its worker died: a frame that kills every worker must not do so for ever."""


class WorkerLostError(RuntimeError):
    """A part whose worker died each time it was tried."""


def in_turn(work: Callable[[T], Any], parts: Sequence[T]) -> Iterator[T]:
    """Every part in this process, one after the other: the reference."""
    for part in parts:
        work(part)
        yield part


def in_a_pool(work: Callable[[T], Any], parts: Sequence[T], workers: int) -> Iterator[T]:
    """Parts on a pool of processes, as they get done; a killed worker's parts are begun again.

    Raises
    ------
    WorkerLostError
        If a part was lost `MOST_TRIES` times.
    """
    from multiprocessing import get_context

    waiting = list(range(len(parts)))
    tries = [0] * len(parts)
    while waiting:
        # fresh processes: a fork of one that has used threads may hang
        with ProcessPoolExecutor(workers, get_context("spawn"), initializer=end_with_parent) as pool:
            running: dict[Future[Any], int] = {}
            lost: list[int] = []
            try:
                while waiting or running:
                    while waiting and len(running) < 2 * workers:  # a short queue: all frames' tasks need no memory
                        index = waiting.pop(0)
                        running[pool.submit(work, parts[index])] = index
                    done, _ = wait(running, return_when=FIRST_COMPLETED)
                    for future in done:
                        index = running[future]
                        future.result()
                        del running[future]
                        yield parts[index]
            except BrokenProcessPool:
                lost = sorted(running.values())
        for index in lost:
            tries[index] += 1
            if tries[index] >= MOST_TRIES:
                raise WorkerLostError(f"part {index + 1} of {len(parts)} lost its worker {MOST_TRIES} times")
        waiting = lost + waiting


def end_with_parent() -> None:
    """In a worker: end when whoever began it is gone; killed, it cannot say so, and its workers would wait for ever."""
    parent = parent_process()
    assert parent is not None

    def wait_for_it() -> None:
        parent.join()
        os._exit(1)  # parts are written whole or not at all

    Thread(target=wait_for_it, daemon=True).start()


def on_a_cluster(work: Callable[[T], Any], parts: Sequence[T], address: str) -> Iterator[T]:
    """Parts on a running cluster (extra ``cluster``), as they get done; it begins lost ones again by itself."""
    try:
        import distributed
    except ImportError:
        remedy = "install it with pip install 'board-overlay[cluster]', or leave --cluster out"
        raise input_error("--cluster", None, "needs the package distributed, which is not installed", remedy) from None
    library: Any = distributed  # its functions carry no types
    with library.Client(address, timeout=30) as client:
        futures = {client.submit(work, part, retries=MOST_TRIES, pure=False): part for part in parts}
        for future in library.as_completed(list(futures)):
            future.result()
            yield futures[future]
