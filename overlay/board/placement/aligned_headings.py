"""Headings of aligned text: which words beside each other are one heading."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from functools import cache

from overlay.board.placement.aligned import Token, tokens_of
from overlay.board.placement.headings import column_of, heading_score
from overlay.board.placement.units import heading_unit

_LONGEST = 4  # words of a heading, such as "Component Center X (mm)"
_AFTER_AXIS = ("pos", "position", "coord", "coordinate", "coordinates", "loc", "location")


def heading_tokens(text: str, below: Sequence[str] = ()) -> tuple[Token, ...] | None:
    """The headings of a line of aligned text, None where it is no heading.

    ``Mid X`` is one heading and ``Ref X Y`` are three: of all divisions the one with most known headings is taken.
    Where single blanks part everything, the rows ``below`` tell by their words how many headings there are.
    """
    words = tokens_of(text)
    if not 3 <= len(words) <= 60 or any(text.count(delimiter) >= 3 for delimiter in ",;|!"):
        return None
    wide = [b.start - a.end > 1 for a, b in itertools.pairwise(words)]
    count = None if any(wide) else _usual_count(below)
    options = [(option, 40 if len(option) == count else 0) for option in _divisions(words)]
    if 3 * sum(wide) >= len(words):
        # where gaps of several blanks are the rule, a single one belongs to the heading
        options.append((_by_wide_gaps(words), 30))
    scored = [(worth + bonus if (worth := _worth(option)) else 0, -len(option), option) for option, bonus in options]
    worth, _, best = max(scored, key=lambda item: item[:2], default=(0, 0, ()))
    return best if worth > 0 else None


def _usual_count(below: Sequence[str]) -> int | None:
    counts = Counter(len(tokens_of(line)) for line in below if line.strip() and "  " not in line.strip())
    return counts.most_common(1)[0][0] if counts else None


def _worth(words: Sequence[Token]) -> int:
    columns = [column_of(word.text) for word in words]
    if not heading_score(columns):
        return 0
    known = sum(column.known for column in columns)
    if 2 * known <= len(columns):
        return 0  # a sentence about X and Y
    named = sum(column.rank("refdes") is not None for column in columns)
    xs = sorted(column.kind for column in columns if column.rank("x") is not None)
    ys = sorted(column.kind for column in columns if column.rank("y") is not None)
    unnamed = not named and not any(column.rank("refdes?") is not None for column in columns)
    others = [column.name.casefold() for column in columns if not {"x", "y"} & {role for role, _ in column.roles}]
    strays = sum(column.rank("xy") is not None for column in columns) if xs else 0
    odd = 30 * (xs != ys) + 20 * unnamed + 25 * (len(others) - len(set(others))) + 25 * strays
    return max(1, 10 * known - 15 * (len(columns) - known) - 25 * max(0, named - 1) - odd)


def _divisions(words: Sequence[Token]) -> list[tuple[Token, ...]]:
    """For each number of headings the division into that many that has most known ones."""

    @cache
    def best(start: int, count: int) -> tuple[int, tuple[Token, ...]] | None:
        if start == len(words) or count == 0:
            return (0, ()) if start == len(words) and count == 0 else None
        found = None
        for size in range(1, min(_LONGEST, len(words) - start) + 1):
            group = words[start : start + size]
            if size > 1 and not _is_heading(group):
                continue
            rest = best(start + size, count - 1)
            if rest is None:
                continue
            token = _join(group)
            # of two equal divisions the one with axes behind their words: "Y", "Pad X" rather than "Y Pad", "X"
            value = 10 * column_of(token.text).known - (size > 1 and len(heading_unit(group[0].text)[0]) == 1)
            if found is None or rest[0] + value > found[0]:
                found = rest[0] + value, (token, *rest[1])
        return found

    least = -(-len(words) // _LONGEST)
    divisions = (best(0, count) for count in range(least, len(words) + 1))
    return [division[1] for division in divisions if division is not None]


def _join(words: Sequence[Token]) -> Token:
    return Token(" ".join(word.text for word in words), words[0].start, words[-1].end)


def _is_heading(group: Sequence[Token]) -> bool:
    """Whether words one blank apart are a known heading together, and none of them ends or begins another."""
    close = all(b.start - a.end == 1 and a.text[-1] not in ")]}" for a, b in itertools.pairwise(group))
    return close and _is_natural(group) and column_of(_join(group).text).known


def _is_natural(group: Sequence[Token]) -> bool:
    """Not ``PosY Pad``, nor ``Pad X Pad``: there the next heading begins."""
    words = [heading_unit(word.text)[0].casefold() for word in group if word.text[0] not in "([{"]
    axes = [index for index, word in enumerate(words) if {"x", "y"} & {role for role, _ in column_of(word).roles}]
    if not axes:
        return True
    if len(axes) > 1 or len(words[axes[0]]) > 1:
        return len(axes) == 1 and len(words) == 1
    return axes[0] in (0, len(words) - 1) or (words[-1] in _AFTER_AXIS and words[0] not in _AFTER_AXIS)


def _by_wide_gaps(words: Sequence[Token]) -> tuple[Token, ...]:
    groups: list[list[Token]] = []
    for word in words:
        if groups and word.start - groups[-1][-1].end == 1:
            groups[-1].append(word)
        else:
            groups.append([word])
    found: list[Token] = []
    for group in groups:
        joined = _join(group)
        if column_of(joined.text).known or len(group) == 1:
            found.append(joined)
        else:
            best: tuple[Token, ...] = max(_divisions(group), key=_known_less_unknown)
            found += best
    return tuple(found)


def _known_less_unknown(words: Sequence[Token]) -> int:
    columns = [column_of(word.text) for word in words]
    named = sum(column.rank("refdes") is not None for column in columns)
    return 2 * sum(column.known for column in columns) - len(columns) - 3 * max(0, named - 1)
