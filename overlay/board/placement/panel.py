"""Panels: the same parts several times over, each copy moved or turned as a whole."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from overlay.board.model import PanelBoard
from overlay.board.placement.rows import Placed
from overlay.errors import Problem

_SAME_PLACE_MM = 0.05  # copies agree to this: exports round to 0.01 mm or 1 mil (0.025 mm), twice
_FEWEST_NAMES = 3  # one or two names that repeat are names used twice, not boards
_SHARE = 0.8  # of the names that repeat: they repeat alike, the rest belong to the frame or were edited

Occurrences = Mapping[str, Sequence[Placed]]


@dataclass(frozen=True, slots=True)
class Panel:
    """The boards of a panel, the first where the file has it first, and the parts that belong to none."""

    boards: tuple[PanelBoard, ...]
    parts: tuple[tuple[Placed, ...], ...]  # of each board
    loose: tuple[Placed, ...]


def find_panel(parts: Sequence[Placed]) -> Panel | None:
    """Equal boards among parts whose names repeat; None where the repeats are no moved or turned copies."""
    by_name: dict[str, list[Placed]] = {}
    for part in parts:
        same = by_name.setdefault(part.refdes, [])
        if not any(_near(part, other) for other in same):
            same.append(part)
    counts = Counter(len(same) for same in by_name.values() if len(same) > 1)
    if not counts:
        return None
    count, names = counts.most_common(1)[0]
    if names < _FEWEST_NAMES or names < _SHARE * sum(counts.values()):
        return None
    repeated = {name: same for name, same in by_name.items() if len(same) == count}
    boards = _boards(repeated)
    if boards is None:
        return None
    base = _base(repeated, boards)
    if len(base) < max(_FEWEST_NAMES, _SHARE * len(repeated)):
        return None
    return _divided(parts, boards, base)


def _near(one: Placed, other: Placed) -> bool:
    return one.side == other.side and math.hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm) < _SAME_PLACE_MM


def _boards(repeated: Occurrences) -> tuple[PanelBoard, ...] | None:
    """How each board lies to the first, tried on one name after the other until most names agree."""
    names = sorted(repeated, key=lambda name: (repeated[name][0].side != "top", repeated[name][0].line))
    for name in names[:5]:
        first, *others = repeated[name]
        moves = [PanelBoard(0.0, (0.0, 0.0))]
        for other in others:
            turn = (other.rotation_deg - first.rotation_deg) % 360.0
            x, y = PanelBoard(turn, (0.0, 0.0)).moved(first.x_mm, first.y_mm)
            moves.append(PanelBoard(turn, (other.x_mm - x, other.y_mm - y)))
        if len(_base(repeated, moves)) >= _SHARE * len(repeated):
            return tuple(moves)
    return None


def _base(repeated: Occurrences, boards: Sequence[PanelBoard]) -> dict[str, Placed]:
    """Of each name the one that lies on the first board: from it the moves lead to all others."""
    found: dict[str, list[Placed]] = {}
    for name, same in repeated.items():
        fitting = [part for part in same if all(_has(same, *board.moved(part.x_mm, part.y_mm)) for board in boards)]
        if fitting:
            found[name] = fitting
    if all(len(fitting) == 1 for fitting in found.values()):
        return {name: fitting[0] for name, fitting in found.items()}
    return {name: fitting[0] for name, fitting in _apart(found)}


def _has(same: Sequence[Placed], x_mm: float, y_mm: float) -> bool:
    return any(math.hypot(part.x_mm - x_mm, part.y_mm - y_mm) < 2 * _SAME_PLACE_MM for part in same)


def _apart(found: Occurrences) -> Iterator[tuple[str, list[Placed]]]:
    """Where boards turned by half a circle make two parts fit: those of the first board lie to one side of the rest.

    The side is that of the axis along which copies lie farthest apart at the least.
    """
    pairs = [fitting for fitting in found.values() if len(fitting) > 1]

    def gap(axis: int) -> float:
        return min(abs(_along(fitting[0], axis) - _along(fitting[1], axis)) for fitting in pairs)

    axis = max((0, 1), key=gap)
    lower = _along(pairs[0][0], axis) < _along(pairs[0][1], axis)
    for name, fitting in found.items():
        yield name, sorted(fitting, key=lambda part: _along(part, axis), reverse=not lower)


def _along(part: Placed, axis: int) -> float:
    return part.y_mm if axis else part.x_mm


def _divided(parts: Sequence[Placed], boards: Sequence[PanelBoard], base: Mapping[str, Placed]) -> Panel:
    """Every part given to the board on which it lies: by its copy's place, else by the room the copies take up."""
    members: list[list[Placed]] = [[] for _ in boards]
    boxes = [_box([board.moved(part.x_mm, part.y_mm) for part in base.values()]) for board in boards]
    loose = []
    for part in parts:
        first = base.get(part.refdes)
        if first is not None:
            distances = [math.dist(board.moved(first.x_mm, first.y_mm), (part.x_mm, part.y_mm)) for board in boards]
            at: int | None = min(range(len(boards)), key=distances.__getitem__)
        else:
            inside = [index for index, box in enumerate(boxes) if _inside(box, part)]
            at = inside[0] if len(inside) == 1 else None
        if at is None:
            loose.append(part)
        else:
            members[at].append(part)
    return Panel(tuple(boards), tuple(map(tuple, members)), tuple(loose))


def _box(points: Sequence[tuple[float, float]]) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def _inside(box: tuple[float, float, float, float], part: Placed) -> bool:
    return box[0] <= part.x_mm <= box[2] and box[1] <= part.y_mm <= box[3]


def of_panel(panel: Panel, chosen: int | Literal["all"] | None, file: str) -> tuple[list[Placed], str, list[Problem]]:
    """The parts that are meant, a note for the reader, and the question where nobody has chosen.

    With ``"all"`` each part is named with its board, as in ``R96@2``.
    """
    count = len(panel.boards)
    where = "; ".join(f"{number}: {_described(panel, number - 1)}" for number in range(1, count + 1))
    if chosen is None or (chosen != "all" and chosen > count):
        what = f"is a panel of {count} equal boards (units), counted {where}"
        if chosen is not None:
            what = f"panel_board is {chosen}, but the panel holds {count} equal boards (units), counted {where}"
        remedy = f'say which is meant with panel_board = 1 (to {count}), or "all" of them, in [board] of job.toml'
        line = panel.parts[1][0].line
        first = list(panel.parts[0])
        return first, "", [Problem("error", file, line, what, remedy)]
    if chosen == "all":
        kept = [
            replace(part, refdes=f"{part.refdes}@{number}")
            for number, members in enumerate(panel.parts, start=1)
            for part in members
        ]
        note = f"panel of {count} equal boards, all of them read, named as {kept[0].refdes}; counted {where}"
        return [*kept, *panel.loose], note, []
    note = f"panel of {count} equal boards, board {chosen} of them read; counted {where}"
    problems = [
        Problem("warning", file, part.line, f"{part.refdes} lies on no board of the panel, it is left out", "nothing")
        for part in panel.loose
    ]
    return list(panel.parts[chosen - 1]), note, problems


def _described(panel: Panel, index: int) -> str:
    box = _box([(part.x_mm, part.y_mm) for part in panel.parts[index]])
    turn = panel.boards[index].turn_deg
    turned = f", turned {turn:g}°" if turn else ""
    return f"x {box[0]:.1f} … {box[2]:.1f}, y {box[1]:.1f} … {box[3]:.1f} mm{turned}"
