"""A short run of the fuzzers; `python -m tests.fuzz` is the long one."""

from pathlib import Path

import pytest

from overlay.job.analysis import Analysis
from tests.fuzz import Reader, fuzz, readers

NAMES = ("frame", "placement", "outline", "drawing", "workbook", "parts", "bodies", "points", "contacts", "settings")


@pytest.mark.parametrize("name", NAMES)
def test_mutated_inputs_are_answered_or_refused(name: str, demo: Analysis, tmp_path: Path) -> None:
    assert fuzz(readers(demo.job.board)[name], name, 7, 15 if name == "outline" else 40, tmp_path) == []


def test_the_fuzzer_tells_what_fails(tmp_path: Path) -> None:
    def breaks(path: Path) -> None:
        raise KeyError(path.name)

    told = fuzz(Reader(breaks, (b"abc",)), "broken", 1, 2, tmp_path)
    assert len(told) == 2
    assert "KeyError" in told[0]
