"""What tests of several rooms share: the demonstration board, analysed once, and the gold option."""

from __future__ import annotations

from pathlib import Path

import pytest

from overlay.job.analyse import analyse
from overlay.job.analysis import Analysis
from overlay.job.read import read_job

DEMO = Path(__file__).parents[1] / "demo_board"


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
