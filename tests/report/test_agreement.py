"""``results.json`` agrees with itself: every pixel is the projection of its place on the board."""

from __future__ import annotations

import numpy as np
import pytest

from overlay.job.analysis import Analysis
from overlay.registration.project import pixels_from_board
from overlay.report.results import results


@pytest.mark.parametrize("job", ["demo", "demo_c"])
def test_a_hot_spots_pixel_is_the_projection_of_its_place_to_a_hundredth_of_a_pixel(
    job: str, request: pytest.FixtureRequest
) -> None:
    analysis: Analysis = request.getfixturevalue(job)
    told = {capture["name"]: capture for capture in results(analysis)["captures"]}
    asked = 0
    for capture in analysis.captures:
        for spot in told[capture.name]["hot_spots"]:
            place = np.array([[*spot["board_mm"], spot["z_mm"]]])
            seen = pixels_from_board(capture.registration, place)[0]
            assert seen == pytest.approx(spot["pixel"], abs=0.01), (capture.name, spot["rank"])
            asked += 1
    assert asked >= 10


@pytest.mark.parametrize("job", ["demo", "demo_c"])
def test_probabilities_of_every_spot_sum_to_one(job: str, request: pytest.FixtureRequest) -> None:
    for capture in results(request.getfixturevalue(job))["captures"]:
        for spot in capture["hot_spots"]:
            assert sum(candidate["probability"] for candidate in spot["candidates"]) == pytest.approx(1.0, abs=1e-4)
