"""Outlines are read in this process here: that a command reads them in one with limits is what `tests.bombs` shows."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import pytest

Read = TypeVar("Read")


def _here(step: Callable[..., Read], data: bytes, *more: object, file: str, remedy: str) -> Read:
    return step(data, *more)


@pytest.fixture(autouse=True)
def read_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("overlay.board.outline.read.run_apart", _here)
