"""What can be wrong with an input, said so that a user can mend it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning"]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing found in an input: where it stands, what is wrong, what to do.

    Parameters
    ----------
    severity
        ``"error"`` stops the job, ``"warning"`` is reported and the job goes on.
    file
        Name of the file as the job writes it.
    line
        Line in that file counting from 1, or None where a line has no meaning.
    what, remedy
        Each a clause without a full stop: what is wrong, and what to do about it.
    column, value
        Heading of the column and the text of the cell, where there is one.
    """

    severity: Severity
    file: str
    line: int | None
    what: str
    remedy: str
    column: str | None = None
    value: str | None = None

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        return f"{place}: {self.what}; {self.remedy}"


@dataclass(frozen=True, slots=True)
class Source:
    """The row of an input that something was read from; it prints as ``bodies.csv, line 4``."""

    file: str
    line: int

    def __str__(self) -> str:
        return f"{self.file}, line {self.line}"


class InputError(ValueError):
    """Input that cannot be used: every problem that one pass could find."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__(self.problems)  # args hold all: else it cannot return from a worker process

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


def input_error(
    file: str,
    line: int | None,
    what: str,
    remedy: str,
    *,
    column: str | None = None,
    value: str | None = None,
) -> InputError:
    """Return an `InputError` that holds one problem."""
    return InputError([Problem("error", file, line, what, remedy, column, value)])


def raise_errors(problems: Iterable[Problem]) -> None:
    """Raise one `InputError` with all problems if any of them is an error."""
    problems = tuple(problems)
    if any(problem.severity == "error" for problem in problems):
        raise InputError(problems)
