"""Memory that was given back, given back to the system as well."""

from __future__ import annotations

import ctypes
import ctypes.util
import functools
from collections.abc import Callable


@functools.cache
def _trim() -> Callable[[int], int] | None:
    """The C library's own function for it; only that of GNU has one."""
    try:
        return ctypes.CDLL(ctypes.util.find_library("c")).malloc_trim
    except (OSError, AttributeError, TypeError):
        return None


def trimmed() -> None:
    """Have the C library return what lies free between pieces still in use.

    Thousands of arrays of changing sizes leave it with holes that none of the next fit into: without this a process
    takes three times what it uses.
    """
    trim = _trim()
    if trim is not None:
        trim(0)
