"""Names that stand for more than one part: repeated rows, designators used twice, names that differ in case only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from overlay.board.placement.rows import Placed
from overlay.errors import Problem

_SAME_PLACE_MM = 0.02  # a part listed twice, in two units, is the same to the rounding of the coarser one


def each_named_once(parts: Sequence[Placed], file: str) -> tuple[list[Placed], list[Problem]]:
    """Parts whose names are all different.

    Equal rows are one part. Parts elsewhere that share a name are all kept under names of their own, which tell
    their lines: nobody could say which of them the bare name means. Marks and hardware are kept once.
    """
    problems: list[Problem] = []
    groups: dict[str, list[Placed]] = {}
    for part in parts:
        same = groups.setdefault(part.refdes, [])
        twin = next((other for other in same if _equal(part, other)), None)
        if twin is not None:
            what = f"{part.refdes} stands here again as in line {twin.line}, it is kept once"
            problems.append(Problem("warning", file, part.line, what, "remove one of the rows"))
        elif same and part.mechanical and same[0].mechanical:
            what = f"{part.refdes} stands here again, elsewhere than in line {same[0].line}; only the first is kept"
            remedy = "number such items to have all of them"
            problems.append(Problem("warning", file, part.line, f"{what}, this one is left out", remedy))
        else:
            same.append(part)
    problems += _shared(groups, file) + _differing_in_case(groups, file)
    renamed = {
        id(part): replace(part, refdes=f"{part.refdes} (line {part.line})")
        for same in groups.values()
        if len(same) > 1
        for part in same
    }
    kept = {id(part) for same in groups.values() for part in same}
    return [renamed.get(id(part), part) for part in parts if id(part) in kept], problems


def _equal(one: Placed, other: Placed) -> bool:
    close = abs(one.x_mm - other.x_mm) < _SAME_PLACE_MM and abs(one.y_mm - other.y_mm) < _SAME_PLACE_MM
    turned = abs((one.rotation_deg - other.rotation_deg + 180.0) % 360.0 - 180.0) < 0.02
    return close and turned and one.side == other.side


def _shared(groups: dict[str, list[Placed]], file: str) -> list[Problem]:
    problems = []
    for name, same in groups.items():
        if len(same) > 1:
            lines = ", ".join(str(part.line) for part in same)
            what = f"{name} names {len(same)} parts (lines {lines}): the bare name is left out"
            remedy = f"number the parts; until then they are called {name} (line {same[0].line}) and so on"
            problems.append(Problem("warning", file, same[1].line, what, remedy, value=name))
    return problems


def _differing_in_case(groups: dict[str, list[Placed]], file: str) -> list[Problem]:
    folded: dict[str, str] = {}
    problems = []
    for name, same in groups.items():
        first = folded.setdefault(name.casefold(), name)
        if first != name:
            what = f"{name} differs from {first} (line {groups[first][0].line}) in capitals only; both are kept"
            problems.append(Problem("warning", file, same[0].line, what, "give them names that differ in more"))
    return problems
