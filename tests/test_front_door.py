"""What `import overlay` offers: lazily, documented, and enough for a notebook."""

from __future__ import annotations

import doctest
import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

import overlay
from overlay.errors import InputError
from overlay.job.analyse import analyse
from overlay.job.analysis import Analysis

ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize("name", overlay.__all__)
def test_every_offer_is_there_and_says_what_it_is(name: str) -> None:
    offer = getattr(overlay, name)
    assert offer is not None
    if callable(offer):
        assert offer.__doc__


def test_importing_loads_nothing_heavy() -> None:
    heavy = "('numpy', 'pydantic', 'overlay.job')"
    code = f"import sys, overlay; overlay.__version__; print(*[name for name in {heavy} if name in sys.modules])"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert ran.stdout.strip() == ""


def test_what_is_not_offered_is_an_attribute_error_that_names_the_offers() -> None:
    with pytest.raises(AttributeError, match="it offers Analysis, InputError"):
        overlay.nothing  # noqa: B018


def read_once(monkeypatch: pytest.MonkeyPatch, demo: Analysis) -> None:
    """Examples read the demonstration board, which these tests have read already."""
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr(overlay, "analyse", lambda job: demo if job.folder.name == "demo_board" else analyse(job))


@pytest.mark.parametrize("module", ["overlay", "overlay.board.plain", "overlay.job.arrays", "overlay.job.load"])
def test_examples_hold(module: str, monkeypatch: pytest.MonkeyPatch, demo: Analysis) -> None:
    read_once(monkeypatch, demo)
    result = doctest.testmod(import_module(module))
    assert result.attempted > 0
    assert result.failed == 0


def test_the_walk_through_a_notebook_in_the_readme_runs(monkeypatch: pytest.MonkeyPatch, demo: Analysis) -> None:
    read_once(monkeypatch, demo)
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    walks = re.findall(r"```python\n(.*?)```", text, flags=re.DOTALL)
    assert walks
    for walk in walks:
        result = doctest.DocTestRunner().run(doctest.DocTestParser().get_doctest(walk, {}, "README", "README.md", 0))
        assert result.attempted > 3
        assert result.failed == 0


def test_parts_are_asked_for_by_designator(demo: Analysis) -> None:
    part = demo["R17"]
    assert part.margin.refdes == "R17"
    assert part.readings["full load"] is demo.capture("full load")["R17"]
    for lookup in (demo, demo.capture("full load")):
        with pytest.raises(KeyError):
            lookup["X99"]


def test_rows_are_plain_and_go_into_a_data_frame(demo: Analysis) -> None:
    rows = demo.rows()
    assert len(rows) == len(demo.margins)
    assert {type(value) for row in rows for value in row.values()} <= {str, float, int, bool, type(None)}
    import pandas

    frame = demo.to_frame()
    assert isinstance(frame, pandas.DataFrame)
    assert frame.set_index("refdes").loc["R17", "verdict"] == "over"


def test_a_notebook_shows_the_margin_map(demo: Analysis) -> None:
    assert overlay.Analysis is Analysis
    drawn = demo._repr_html_()
    assert drawn is not None
    assert drawn.startswith("<svg")
    assert "R17" in drawn


def test_a_board_from_plain_values_says_what_is_wrong_with_them() -> None:
    with pytest.raises(ValueError, match=r"part 1 \(R1\) lacks y_mm and has the unknown key 'rot'"):
        overlay.board_of([{"refdes": "R1", "x_mm": 1.0, "rot": 90}])


def test_a_frame_from_an_array_is_refused_as_one_from_a_file_is() -> None:
    board = overlay.board_of([{"refdes": "R1", "x_mm": 1.0, "y_mm": 1.0, "length_mm": 3.0}])
    with pytest.raises(InputError, match="kelvin or counts"):
        overlay.read(board, np.full((20, 20), 300.0), {"R1": (5.0, 5.0)}, ambient_c=20.0)
    with pytest.raises(InputError, match="'R9' is no known refdes"):
        overlay.read(board, np.full((20, 20), 30.0), {"R9": (5.0, 5.0)}, ambient_c=20.0)
