"""Registering the demonstration board's captures, and holding them against their frames."""

from pathlib import Path

import numpy as np
import pytest

from overlay.job.analyse import register_all
from overlay.job.analysis import Job
from overlay.job.load import load_files
from overlay.job.read import read_job
from overlay.job.settings import lens_of
from overlay.registration.fit import fit_registration
from overlay.registration.model import Registration

DEMO = Path(__file__).parents[2] / "demo_board"


@pytest.fixture(scope="module")
def job() -> Job:
    return read_job(DEMO)


@pytest.fixture(scope="module")
def registered(job: Job) -> dict[str, Registration]:
    told: list[str] = []
    found = dict(register_all(job, progress=lambda what, _share: told.append(what)))
    assert [f"registering {name}" for name in found] == told
    return found


def test_every_capture_is_held_against_its_frame_which_is_believed_where_it_knows_better(
    registered: dict[str, Registration],
) -> None:
    for name, registration in registered.items():
        assert registration.confidence is not None
        assert registration.confidence.trusted, name
        assert registration.confidence.moved_px < 1.0, name
        assert registration.refined, name


def test_the_frame_moves_the_captures_by_what_it_says(job: Job, registered: dict[str, Registration]) -> None:
    for capture in job.settings.capture:
        held = registered[capture.name]
        points = load_files(job.folder, capture, job.board).points
        by_hand = fit_registration(points, capture.side, held.shape_px, lens_of(job.settings.camera, capture))
        middle = np.array([*held.center_mm, 1.0])
        places = [r.pixel_from_board @ middle for r in (by_hand, held)]
        moved = np.hypot(*(places[0][:2] / places[0][2] - places[1][:2] / places[1][2]))
        assert held.confidence is not None
        assert moved < 2.0 * held.confidence.moved_px + 0.1, capture.name
