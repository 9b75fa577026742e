"""How many threads the linear-algebra library may take."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import ParamSpec, TypeVar

_P = ParamSpec("_P")
_R = TypeVar("_R")


def one_algebra_thread(step: Callable[_P, _R]) -> Callable[_P, _R]:
    """Run a step with one linear-algebra thread.

    Readings are thousands of small products: several threads spend their time waiting for each other, on a busy
    machine six times over.
    """

    @functools.wraps(step)
    def limited(*args: _P.args, **kwargs: _P.kwargs) -> _R:
        from threadpoolctl import threadpool_limits

        with threadpool_limits(limits=1, user_api="blas"):
            return step(*args, **kwargs)

    return limited
