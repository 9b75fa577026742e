"""What tests of several rooms share: the demonstration board analysed, a drawn board, a browser, the gold option."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

from overlay.job.analyse import analyse
from overlay.job.analysis import Analysis
from overlay.job.read import read_job
from tests.plain_board import Bench

if TYPE_CHECKING:
    from playwright.sync_api import Browser

DEMO = Path(__file__).parents[1] / "demo_board"

# The same examples every time, so that a red suite is about the change at hand; `--hypothesis-profile=thorough` and
# tests.fuzz look for new ones.
_UNHURRIED = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.filter_too_much]
settings.register_profile("suite", max_examples=20, derandomize=True, deadline=None, suppress_health_check=_UNHURRIED)
settings.register_profile("thorough", max_examples=500, deadline=None, suppress_health_check=_UNHURRIED)
settings.load_profile("suite")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--accept-gold", action="store_true", help="write the golden reports anew")


@pytest.fixture(scope="session")
def demo() -> Analysis:
    """The demonstration board, read and analysed."""
    return analyse(read_job(DEMO))


@pytest.fixture(scope="session")
def demo_c() -> Analysis:
    """Its next revision."""
    return analyse(read_job(DEMO / "revision_c"))


@pytest.fixture(scope="session")
def bench() -> Bench:
    """Parts on a small board before a camera."""
    return Bench()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """The machine's own Chromium; one per module, because its driver keeps an event loop of its own."""
    from tests.browser import chromium

    with chromium() as one:
        yield one
