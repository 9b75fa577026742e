"""What was assumed of bodies: sizes worked out rather than known, and how packages lie, one line a package."""

from __future__ import annotations

from collections.abc import Sequence

from overlay.board.bodies import table_key
from overlay.board.model import Board, Component
from overlay.board.packages.names import named_package


def assumptions(board: Board) -> tuple[str, ...]:
    """One line for each package of assumed size or orientation, those first on which most rests.

    What rests on a package are its parts, those with a limit counting threefold: their verdicts stand on it.
    """
    packages: dict[str, list[Component]] = {}
    for part in board.parts:
        if part.body is not None and part.body.row is None:
            packages.setdefault(table_key(part.package), []).append(part)
    weighed = [(_rests(group), _line(group)) for group in packages.values()]
    told = [(weight, line) for weight, line in weighed if line]
    return tuple(line for _, line in sorted(told, key=lambda item: (-item[0], item[1])))


def _rests(group: Sequence[Component]) -> int:
    return sum(3 if part.rating is not None and part.rating.limit_c is not None else 1 for part in group)


def _line(group: Sequence[Component]) -> str:
    """What is assumed of one package; empty where nothing is."""
    first = group[0]
    body = first.body
    assert body is not None
    assumed = []
    if body.estimated:
        size = f"{body.length_mm:g} × {body.width_mm:g} mm" if body.shape == "box" else f"⌀ {body.length_mm:g} mm"
        assumed.append(f"size {size} ({body.source})")
    named = named_package(first.package, first.kind)
    if named is not None and named.turns and abs(body.length_mm - body.width_mm) > 0.1 * body.width_mm:
        assumed.append(f"pin rows {'upright' if body.level == 'A' else 'along x'} at 0° (level {body.level})")
    if first.placed_mm is not None:
        assumed.append("placed by pin 1")
    if not assumed:
        return ""
    names = ", ".join(part.refdes for part in group[:5]) + (f" and {len(group) - 5} more" if len(group) > 5 else "")
    return f"{first.package.strip() or 'no package'}: {'; '.join(assumed)} ({names})"
