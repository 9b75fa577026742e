"""What is printed, and where: results to standard output, remarks and progress to standard error."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any

from overlay.errors import input_error
from overlay.plain_text import visible, visible_json

if TYPE_CHECKING:
    from overlay.job.analyse import Progress


def say(text: str, *, err: bool = False) -> None:
    """Print; a reader who has gone is no failure, a device that is full is told."""
    stream = sys.stderr if err else sys.stdout
    if stream is None:
        return
    try:
        stream.write(visible(text) + "\n")
        stream.flush()
    except OSError as error:
        with suppress(OSError, ValueError):  # what is still held back would fail again at the end
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        if not isinstance(error, BrokenPipeError) and not err:
            raise input_error("standard output", None, f"cannot be written ({error.strerror})", "make room") from None


def print_result(content: str | dict[str, Any]) -> None:
    """Print what a command found: sentences, or an object as JSON."""
    if not isinstance(content, str):
        content = visible_json(json.dumps(content, indent=1, ensure_ascii=False))
    say(content)


def part_of(progress: Progress, number: int, count: int) -> Progress:
    """Progress of one of several jobs, counting from 0, as a share of all of them."""
    return lambda what, share: progress(f"job {number + 1} of {count}: {what}", (number + share) / (count + 1))


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """Tell on a terminal what is being done; in a pipe say nothing."""
    if not sys.stderr.isatty():
        yield lambda what, share: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading the files", total=1.0)
        yield lambda what, share: bar.update(task, description=what, completed=share)
