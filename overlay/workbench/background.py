"""Work that takes seconds, in a thread of its own, while the page stays usable."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any, Generic, TypeVar

from overlay.errors import InputError

T = TypeVar("T")
Tell = Callable[[str, float], None]  # what is being done, and the share of the whole that is done


class Task(Generic[T]):
    """One piece of work: what it is at, and what came of it."""

    def __init__(self, name: str, work: Callable[[Tell], T]) -> None:
        self.what, self.share = "starting", 0.0
        self.result: T | None = None
        self.problems: tuple[str, ...] = ()
        self._began = time.monotonic()
        self._work = work
        self._name = name
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def wait(self) -> None:
        """Return when it is done."""
        self._thread.join()

    @property
    def done(self) -> bool:
        """Whether there is a result, or the reasons why there is none."""
        return self.result is not None or bool(self.problems)

    def state(self, shown: Callable[[T], Any]) -> dict[str, Any]:
        """How far it is, as the page asks for it; the result as ``shown`` has it once there is one."""
        if self.result is not None:
            return {"state": "done", "result": shown(self.result)}
        if self.problems:
            return {"state": "failed", "problems": list(self.problems)}
        seconds = round(time.monotonic() - self._began)
        return {"state": "running", "what": self.what, "share": self.share, "seconds": seconds}

    def _tell(self, what: str, share: float) -> None:
        self.what, self.share = what, share

    def _run(self) -> None:
        try:
            self.result = self._work(self._tell)
        except InputError as error:
            self.problems = tuple(str(problem) for problem in error.problems)
        except Exception as error:  # a thread that dies silently would leave the page waiting for ever
            told = f"{self._name} failed: {type(error).__name__}: {error}; this is a defect of the program"
            self.problems = (told,)
            raise
