"""What a frame proposes, refused in words or confirmed by a click, without a browser."""

import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from overlay.errors import InputError
from overlay.workbench.job_files import UnknownError
from overlay.workbench.requests import Confirm, OfCapture
from overlay.workbench.workbench import Workbench
from tests.plain_board import Part, Setting
from tests.workbench.plain_folder import pixel_of, write_job

SETTING = Setting(px_per_mm=3.0, size_mm=(80.0, 60.0))


def uneven() -> list[Part]:
    """Parts of many sizes and warmths, none like another: a layout that fits its frame in one way only."""
    random = np.random.default_rng(7)
    made = []
    for index in range(24):
        at = (8.0 + 13.0 * (index % 6) + random.uniform(-2, 2), 8.0 + 14.0 * (index // 6) + random.uniform(-2, 2))
        size = (round(random.uniform(2.5, 8.0), 1), round(random.uniform(2.5, 8.0), 1))
        made.append(Part(f"U{index + 1}", at, size, random.uniform(42.0, 75.0)))
    return made


def found(workbench: Workbench, wish: OfCapture) -> dict[str, Any]:
    answer = workbench.find(wish)
    began = time.monotonic()
    while answer["state"] == "running":
        assert time.monotonic() - began < 60.0
        time.sleep(0.05)
        answer = workbench.finding(wish)
    result: dict[str, Any] = answer["result"]
    return result


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = write_job(tmp_path / "uneven", uneven(), SETTING)
    path.write_text(path.read_text().replace('control_points = "warm.points.csv"\n', ""))
    return path


def test_an_even_frame_is_refused_with_the_reason_and_what_would_help(job: Path) -> None:
    rows, cols = np.load(job.parent / "warm.npy").shape
    np.save(job.parent / "warm.npy", 25.0 + np.random.default_rng(1).normal(0.0, 0.05, (rows, cols)))
    workbench = Workbench(job.parent)
    wish = OfCapture(session=workbench.open()["session"], capture="warm")
    told = found(workbench, wish)
    assert told["found"] is False
    assert "even" in told["reason"]
    assert told["remedy"]
    with pytest.raises(InputError, match="look for the board again"):
        workbench.confirm(Confirm(session=wish.session, capture="warm", pixel=(10.0, 10.0)))


def test_a_proposal_counts_only_by_a_click_on_the_part_it_asks_for(job: Path) -> None:
    workbench = Workbench(job.parent)
    wish = OfCapture(session=workbench.open()["session"], capture="warm")
    with pytest.raises(UnknownError, match="look for the board again"):
        workbench.confirm(Confirm(session=wish.session, capture="warm", pixel=(10.0, 10.0)))
    told = found(workbench, wish)
    assert told["found"], told["reason"]
    assert told["ask"] in told["agreeing"]
    assert not set(told["agreeing"]) & set(told["differing"])
    part = next(item for item in uneven() if item.refdes == told["ask"])
    x, y = pixel_of(part.center_mm, SETTING)
    with pytest.raises(InputError, match=f"more than 3 pixels from where the proposal puts {told['ask']}"):
        workbench.confirm(Confirm(session=wish.session, capture="warm", pixel=(x + 5.0, y)))
    state = workbench.confirm(Confirm(session=wish.session, capture="warm", pixel=(x + 1.0, y - 1.0)))
    assert len(state["points"]) >= 4
    for point in state["points"]:
        truth = next(item for item in uneven() if item.refdes == point["at"])
        assert np.hypot(*np.subtract(point["pixel"], pixel_of(truth.center_mm, SETTING))) < 1.0
    assert state["can_undo"]
