"""Which way two-row packages lie: decided package by package, by what their neighbours leave room for.

One library draws a SOIC with its pin rows upright at rotation 0 (IPC-7351 level A), the next a quarter turn on (level
B), and one board may hold parts of both. Laid the wrong way a body covers its neighbours; laid the right way it does
not, for two bodies cannot be in one place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.board.bodies import table_key
from overlay.board.crowding import covered_shares
from overlay.board.model import Component, Level
from overlay.errors import Problem

# share of a face that neighbours cover from which a level is doubted, and how much less it must be a quarter turn on
# (bodies of libraries differ by 0.1 … 0.4 mm, which alone covers a few hundredths)
_DOUBTED = 0.08
_LESS = 0.2  # a fifth: the wrong level covers most pairs


@dataclass(frozen=True, slots=True)
class Lying:
    """How much of a package's faces other bodies cover under each level, the mean over its parts."""

    package: str
    parts: tuple[Component, ...]
    covered: dict[Level, float]

    @property
    def level(self) -> Level | None:
        """The level that its neighbours leave room for; None where both or neither do."""
        a, b = self.covered["A"], self.covered["B"]
        if a >= _DOUBTED and b <= _LESS * a:
            return "B"
        return "A" if b >= _DOUBTED and a <= _LESS * b else None


def lying_of(upright: Sequence[Component], turned: Sequence[Component]) -> tuple[Lying, ...]:
    """How each package that the level turns lies.

    Parameters
    ----------
    upright, turned
        The same parts in the same order, with their bodies under level A and under level B.
    """
    groups: dict[str, list[int]] = {}
    for index, (one, other) in enumerate(zip(upright, turned, strict=True)):
        if _turns(one, other):
            groups.setdefault(table_key(one.package), []).append(index)
    if not groups:
        return ()
    members = sorted({index for group in groups.values() for index in group})
    covered = {"A": covered_shares(upright, members), "B": covered_shares(turned, members)}
    return tuple(
        Lying(
            upright[group[0]].package.strip(),
            tuple(upright[index] for index in group),
            {level: float(np.mean([shares[index] for index in group])) for level, shares in covered.items()},  # type: ignore[misc]
        )
        for group in groups.values()
    )


def lying_problems(lying: Sequence[Lying], stated: Level | None, file: str) -> list[Problem]:
    """One warning for each package whose neighbours speak against the level it was stated, or is usual, to have."""
    problems = []
    against = [one for one in lying if one.level is not None and one.level != (stated or "A")]
    every = len(against) > 1 and not any(one.level == (stated or "A") for one in lying)
    for one in against:
        names = ", ".join(part.refdes for part in one.parts[:6]) + (" …" if len(one.parts) > 6 else "")
        usual, found = stated or "A", one.level
        figures = f"{one.covered[usual]:.0%} of their faces would lie under other bodies at level {usual}, "
        figures += f"{one.covered['B' if usual == 'A' else 'A']:.0%} a quarter turn on"
        taken = "" if stated else f"; taken as level {found}"
        what = f"package {one.package!r} ({names}) lies the other way: {figures}{taken}"
        row = f"zero_orientation {found} in a row of bodies.csv for it"
        remedy = f'write zero_orientation = "{found}" in [board], or {row}' if every else f"write {row}"
        problems.append(Problem("warning", file, one.parts[0].line, what, remedy, "package", one.package))
    return problems


def _turns(one: Component, other: Component) -> bool:
    if one.body is None or other.body is None or one.mechanical:
        return False
    sides = one.body.length_mm, one.body.width_mm
    return sides != (other.body.length_mm, other.body.width_mm) and max(sides) > 1.1 * min(sides)
