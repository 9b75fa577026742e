"""What tests of several rooms share: the demonstration board analysed, a drawn board, a browser, the gold option."""

from __future__ import annotations

import fcntl
import os
import pickle
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar, cast

import pytest
from hypothesis import HealthCheck, settings

from overlay.job.analyse import analyse
from overlay.job.analysis import Analysis
from overlay.job.read import read_job
from tests.plain_board import Bench
from tests.truth.harvest import simulated_board

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


Made = TypeVar("Made")


def _made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[], Made]) -> Made:
    """What takes seconds to make, made by the first worker that asks for it; the others read it from a file."""
    worker = "PYTEST_XDIST_WORKER" in os.environ
    folder = factory.getbasetemp().parent if worker else factory.getbasetemp()
    with (folder / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        kept = folder / f"{name}.pickle"
        if not kept.exists():
            kept.write_bytes(pickle.dumps(make()))
        return cast(Made, pickle.loads(kept.read_bytes()))


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Analysis:
    """The demonstration board, read and analysed."""
    return _made_once(tmp_path_factory, "demo", lambda: analyse(read_job(DEMO)))


@pytest.fixture(scope="session")
def demo_c(tmp_path_factory: pytest.TempPathFactory) -> Analysis:
    """Its next revision."""
    return _made_once(tmp_path_factory, "demo_c", lambda: analyse(read_job(DEMO / "revision_c")))


@pytest.fixture(scope="session")
def small_board(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small simulated board whose truth is known, as a job folder; to be copied before it is changed."""
    place = tmp_path_factory.mktemp("boards")
    return _made_once(tmp_path_factory, "small_board", lambda: simulated_board("small", 4, place))


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
