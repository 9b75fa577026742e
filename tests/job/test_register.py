"""Registering the demonstration board's captures, and holding them against their frames."""

from pathlib import Path

import numpy as np
import pytest

from overlay.job.analyse import register_all
from overlay.job.analysis import Job
from overlay.job.read import read_job
from overlay.registration.model import Registration

DEMO = Path(__file__).parents[2] / "demo_board"


@pytest.fixture(scope="module")
def job() -> Job:
    return read_job(DEMO)


@pytest.fixture(scope="module")
def by_hand(job: Job) -> dict[str, Registration]:
    return dict(register_all(job))


def test_every_capture_is_held_against_its_frame_and_keeps_its_registration(by_hand: dict[str, Registration]) -> None:
    for name, registration in by_hand.items():
        assert not registration.refined, name
        assert registration.confidence is not None
        assert registration.confidence.trusted, name
        assert registration.confidence.moved_px < 1.0, name


def test_refining_moves_the_captures_by_what_the_check_said(job: Job, by_hand: dict[str, Registration]) -> None:
    told: list[str] = []
    refined = register_all(job, refine=True, progress=lambda what, _share: told.append(what))
    assert [f"registering {name}" for name in refined] == told
    for name, registration in refined.items():
        assert registration.refined, name
        assert registration.confidence == by_hand[name].confidence, name
        middle = np.array([*registration.center_mm, 1.0])
        places = [r.pixel_from_board @ middle for r in (by_hand[name], registration)]
        moved = np.hypot(*(places[0][:2] / places[0][2] - places[1][:2] / places[1][2]))
        assert moved < 2.0 * registration.confidence.moved_px + 0.1, name  # type: ignore[union-attr]
