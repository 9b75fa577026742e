"""Numbers as JSON takes them."""

from __future__ import annotations

import math
from collections.abc import Iterable

from overlay.arrays import Array


def number(value: float | None, digits: int) -> float | None:
    """A finite number rounded for the file; None for none, nan and infinity (JSON has no such numbers)."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits)


def numbers(values: Iterable[float] | Array | None, digits: int) -> list[float | None] | None:
    """Each of ``values`` as `number` gives it; None for none."""
    if values is None:
        return None
    return [number(value, digits) for value in values]
