"""What the columns of a table without a heading hold, told by their cells."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Sequence

from overlay.board.placement.headings import Column, column_of
from overlay.board.placement.marks import looks_like_package, looks_like_refdes, looks_like_value
from overlay.board.placement.numbers import looks_numeric, parse_angle, parse_figure
from overlay.board.placement.sides import side_of_word

# shares of the rows, common sense: a table may hold an odd line, a column of packages a part without one
NEARLY_ALL = 0.9
_LONGEST_NUMBER = 10  # digits; no list has more rows
_MOST = 0.6  # more than half, and not by one row


def column_roles(rows: Sequence[Sequence[str]]) -> dict[int, str] | str:
    """Which column holds what, or the doubt in words."""
    by_place = [[row[index].strip() for row in rows] for index in range(len(rows[0]))]
    named = _name_column(by_place)
    if named is None:
        return "no column holds reference designators throughout"
    places = place_columns(by_place, named)
    if isinstance(places, str):
        return places
    x, y, turn = places
    roles = {named: "Designator", x: "X", y: "Y", turn: "Rotation"}
    rest = [i for i in range(len(by_place)) if i not in roles and any(by_place[i])]
    sides = [i for i in rest if all(map(side_of_word, by_place[i]))]
    marks = [i for i in rest if {cell.casefold() for cell in by_place[i]} <= {"", "m"}]
    if len(sides) == 1:
        roles[sides[0]] = "Side"
    elif not sides and len(marks) == 1:
        roles[marks[0]] = "Mirror"
    rest = [i for i in rest if i not in roles and not _is_count(by_place[i])]
    return roles | _text_roles(rest, by_place)


def _name_column(by_place: Sequence[Sequence[str]]) -> int | None:
    """The column whose cells are names: designators by their look, else the first of different words."""

    words = [i for i in range(len(by_place)) if share(by_place[i], may_be_name) >= NEARLY_ALL]
    distinct = [i for i in words if len(set(by_place[i])) >= NEARLY_ALL * len(by_place[i])]
    alike = [i for i in distinct if share(by_place[i], looks_like_refdes) > 0.5]
    if alike:
        return max(alike, key=lambda i: (share(by_place[i], looks_like_refdes), -i))
    plain = [i for i in distinct if share(by_place[i], looks_like_package) < 0.5]
    return plain[0] if plain and plain[0] <= 1 else None


def place_columns(by_place: Sequence[Sequence[str]], named: int) -> tuple[int, int, int] | str:
    """The columns of X, Y and rotation."""
    usable = [i for i in range(len(by_place)) if i != named and not _is_running(by_place[i])]
    numbers = [i for i in usable if share(by_place[i], looks_numeric) >= 1.0]
    lettered = [i for i in usable if share(by_place[i], _is_lettered) >= 1.0]
    suffixed = [i for i in numbers if share(by_place[i], _has_unit) >= 1.0]
    turned = lettered or ([i for i in numbers if i not in suffixed] if len(suffixed) == 2 else [])
    if not turned and len(numbers) == 3:
        turned = [i for i in numbers if all(map(is_round_angle, by_place[i]))]
        turned = turned or [
            i for i in numbers if share(by_place[i], is_round_angle) >= _MOST and all(map(is_angle, by_place[i]))
        ]
        if len(turned) == 1 and numbers.index(turned[0]) == 1:
            turned = []
    places = suffixed if len(suffixed) == 2 else [i for i in numbers if i not in turned]
    if len(turned) != 1 or len(places) != 2:
        return f"which of the {len(numbers)} columns of numbers are X, Y and rotation cannot be told"
    return places[0], places[1], turned[0]


def _text_roles(rest: Sequence[int], by_place: Sequence[Sequence[str]]) -> dict[int, str]:
    """Package and value among the columns of text: by the look of their cells, where both look alike by custom."""
    if not rest:
        return {}

    def worth(index: int) -> float:
        return share(by_place[index], looks_like_package) - share(by_place[index], looks_like_value)

    # by custom a lone text is the package, and of two that look alike the package is the last
    if len(rest) == 1:
        return {rest[0]: "Value" if worth(rest[0]) < 0.0 else "Footprint"}
    package = max(rest, key=lambda index: (round(worth(index), 2), index))
    others = [index for index in rest if index != package]
    if worth(package) <= 0.0 and len(rest) > 2:
        return {}
    value = max(others, key=lambda index: share(by_place[index], looks_like_value), default=None)
    return {package: "Footprint"} | ({} if value is None else {value: "Value"})


def may_be_name(cell: str) -> bool:
    """Whether a cell can name a part: it holds a letter or digit, and is no number."""
    return not looks_numeric(cell) and re.search(r"[^\W_]", cell) is not None


def share(cells: Sequence[str], test: Callable[[str], object]) -> float:
    """The share of cells that pass a test, 0 … 1."""
    return sum(bool(test(cell)) for cell in cells) / len(cells) if cells else 0.0


def _is_running(cells: Sequence[str]) -> bool:
    """1, 2, 3 … down the rows."""
    numbers = [int(cell) if cell.isdecimal() and len(cell) < _LONGEST_NUMBER else None for cell in cells]
    return len(cells) > 1 and all(
        a is not None and b is not None and b == a + 1 for a, b in itertools.pairwise(numbers)
    )


def _is_count(cells: Sequence[str]) -> bool:
    return all(cell.isdigit() and len(cell) < 4 for cell in cells if cell)


def column_named(name: str) -> Column:
    """A column of a table without headings: understood where its name is one of ours, else without a role."""
    known = ("Designator", "X", "Y", "Rotation", "Side", "Mirror", "Footprint", "Value")
    return column_of(name) if name in known else Column(name)


def _is_lettered(cell: str) -> bool:
    angle = parse_angle(cell, "point")
    is_size = re.search(r"[A-Za-z]0\d", cell) is not None  # R0201 is a package
    return angle is not None and angle.lettered and abs(angle.degrees) <= 360.0 and not is_size


def _has_unit(cell: str) -> bool:
    figure = parse_figure(cell, "point") or parse_figure(cell, "comma")
    return figure is not None and figure.unit is not None


def is_angle(cell: str) -> bool:
    """Whether a cell can be an angle within a turn."""
    angle = parse_angle(cell, "point") or parse_angle(cell, "comma")
    return angle is not None and abs(angle.degrees) <= 360.0


def is_round_angle(cell: str) -> bool:
    """Multiples of 15° within a turn, as rotations are and places on a board rarely all are."""
    figure = parse_figure(cell, "point") or parse_figure(cell, "comma")
    return figure is not None and figure.unit is None and abs(figure.value) <= 360 and figure.value % 15 == 0
