"""The command line called in this process, as its users call it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from overlay_cli import main as command_line

from overlay.job.analysis import Analysis

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    def call(*arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.argv", ["board-overlay", *arguments])
        with pytest.raises(SystemExit) as caught:
            command_line.main()
        printed = capsys.readouterr()
        return int(caught.value.code or 0), printed.out, printed.err

    return call


@pytest.fixture
def analysed(monkeypatch: pytest.MonkeyPatch, demo: Analysis) -> None:
    """Commands get the demo's analysis without working it out again."""
    monkeypatch.setattr("overlay.job.analyse.analyse", lambda job, progress=None, workers=1: demo)
