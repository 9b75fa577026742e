"""Arrays by what they hold, and the one way frozen nouns keep theirs from being written into."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Mask = NDArray[np.bool_]


def runs(first: Index | int, count: Index) -> Index:
    """Whole numbers ``first[i]``, ``first[i]`` + 1, …, ``count[i]`` of them, one run after the other."""
    begins = np.cumsum(count) - count
    return np.repeat(first - begins, count) + np.arange(int(count.sum()))


def read_only(noun: DataclassInstance) -> None:
    """Make every array of a frozen dataclass read-only; to be called from its ``__post_init__``.

    ``frozen=True`` stops at the array's door. The noun gets views of its own: what the caller holds stays as it was.
    """
    for name in noun.__dataclass_fields__:
        value = getattr(noun, name)
        if isinstance(value, np.ndarray) and value.flags.writeable:
            own = value.view()
            own.setflags(write=False)
            object.__setattr__(noun, name, own)
