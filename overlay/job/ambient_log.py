"""The ambient while a stack of pages was taken: ``time_s, ambient_c``."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from overlay.arrays import Array, read_only
from overlay.errors import Problem, raise_errors
from overlay.tables import read_table


@dataclass(frozen=True, slots=True, eq=False)
class AmbientLog:
    """Ambient temperature over time, both (n,), times ascending from the first page's clock."""

    times_s: Array
    ambient_c: Array

    def __post_init__(self) -> None:
        read_only(self)

    def at(self, times_s: Array) -> Array:
        """The ambient at other times, straight between the entries, in °C."""
        return np.asarray(np.interp(times_s, self.times_s, self.ambient_c), dtype=np.float64)


def read_ambient_log(path: Path, file: str) -> AmbientLog:
    """Read a log of the ambient.

    Raises
    ------
    InputError
        With every cell that is no number, times that do not ascend, or fewer than two entries.
    """
    table = read_table(path, file, ("time_s", "ambient_c"), required=("time_s", "ambient_c"))
    problems: list[Problem] = []
    entries = []
    for row in table.rows:
        time_s = row.number("time_s", problems, low=-1e9, high=1e9, required=True)
        ambient_c = row.number("ambient_c", problems, low=-100.0, high=200.0, required=True)
        if time_s is not None and ambient_c is not None:
            entries.append((time_s, ambient_c))
    if any(b[0] <= a[0] for a, b in pairwise(entries)):
        problems.append(Problem("error", file, None, "its times do not ascend", "sort the rows by time_s"))
    if not problems and len(entries) < 2:
        problems.append(Problem("error", file, table.heading_line, "has fewer than two entries", "log more often"))
    raise_errors(problems)
    times, ambients = np.array(entries, dtype=np.float64).T
    return AmbientLog(times, ambients)
