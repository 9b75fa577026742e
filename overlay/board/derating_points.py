"""Derating lines as tables write them: ``70:1 155:0``."""

from __future__ import annotations

from itertools import pairwise

from overlay.errors import Problem
from overlay.tables import Row, parse_number


def parse_points(row: Row, column: str, problems: list[Problem], most: float = 1.0) -> tuple[tuple[float, float], ...]:
    """Ascending temperatures in °C, each with the share allowed there; none where the cell is empty.

    ``most``: the largest share that makes sense. What cannot be used is added to ``problems``.
    """
    pairs = [word.partition(":") for word in row.text(column).split()]
    numbers = [
        (parse_number(left, decimal_comma=row.decimal_comma), parse_number(right, decimal_comma=row.decimal_comma))
        for left, _, right in pairs
    ]
    points = tuple((left, right) for left, right in numbers if left is not None and right is not None)
    ascending = all(a[0] < b[0] for a, b in pairwise(points))
    if len(points) < len(pairs) or not ascending or any(not 0.0 <= share <= most for _, share in points):
        remedy = f"write ascending temperature:share pairs such as 70:0.6 118:0, shares from 0 to {most:g}"
        problems.append(row.problem(column, "is no derating line", remedy))
        return ()
    return points
