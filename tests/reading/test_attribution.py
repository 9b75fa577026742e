"""Probabilities of a hot spot's bodies."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr

from overlay.reading.attribution import BARE_BOARD_ODDS, bodies_of, candidates_at
from overlay.view.tops import tops_of


def bodies(bench, *parts, pixel_u: float = 0.0):
    from dataclasses import replace

    view = bench.view(*parts, noise_c=0.0)
    return bodies_of(tops_of([replace(face, pixel_u=pixel_u) for face in view.faces], 1.3))


def pixel(x_mm: float, y_mm: float) -> tuple[float, float]:
    """Where the bench's camera sees a place of its board of 30 mm height."""
    return 2.5 + 5.0 * x_mm, 2.5 + 5.0 * (30.0 - y_mm)


def test_probabilities_are_the_normal_integral_over_each_face(bench) -> None:
    # one square of 2 mm = 10 px; a spot 3 px beside its middle, 4 px uncertain either way
    known = bodies(bench, bench.part("U1", (20.0, 15.0), (2.0, 2.0)))
    x, y = pixel(20.0, 15.0)
    found = candidates_at(known, (x + 3.0, y), 16.0 * np.eye(2), np.zeros((2, 2)), np.ones(1))
    inside = (ndtr((5.0 - 3.0) / 4.0) - ndtr((-5.0 - 3.0) / 4.0)) * (ndtr(5.0 / 4.0) - ndtr(-5.0 / 4.0))
    expected = inside / (inside + BARE_BOARD_ODDS * (1.0 - inside))
    assert found[0].refdes == "U1"
    assert found[0].probability == pytest.approx(expected, abs=0.015)
    assert found[1].refdes is None


def test_registration_of_each_body_counts_as_well_as_the_spots_own(bench) -> None:
    part = bench.part("U1", (20.0, 15.0), (2.0, 2.0))
    own = candidates_at(bodies(bench, part), pixel(20.0, 15.0), 16.0 * np.eye(2), np.zeros((2, 2)), np.ones(1))
    registered = candidates_at(
        bodies(bench, part, pixel_u=4.0), pixel(20.0, 15.0), 1e-9 * np.eye(2), 16.0 * np.eye(2), np.ones(1)
    )
    assert registered[0].probability == pytest.approx(own[0].probability, abs=0.01)


def test_a_spot_midway_between_two_alike_is_either(bench) -> None:
    known = bodies(bench, bench.part("R1", (19.0, 15.0), (1.6, 0.8)), bench.part("R2", (21.0, 15.0), (1.6, 0.8)))
    found = candidates_at(known, pixel(20.0, 15.0), 9.0 * np.eye(2), np.zeros((2, 2)), np.ones(2))
    shares = {candidate.refdes: candidate.probability for candidate in found}
    assert shares["R1"] == pytest.approx(shares["R2"], abs=0.03)


def test_a_body_too_cold_to_be_the_source_loses_to_its_neighbour(bench) -> None:
    known = bodies(bench, bench.part("R1", (19.0, 15.0), (1.6, 0.8)), bench.part("R2", (21.0, 15.0), (1.6, 0.8)))
    found = candidates_at(known, pixel(20.0, 15.0), 9.0 * np.eye(2), np.zeros((2, 2)), np.array([1.0, 0.05]))
    assert found[0].refdes == "R1"
    assert all(candidate.probability < 0.1 for candidate in found if candidate.refdes == "R2")


@pytest.fixture(scope="module")
def known(bench):
    return bodies(
        bench, bench.part("R1", (10.0, 10.0), (3.0, 2.0)), bench.part("R2", (30.0, 20.0), (6.0, 6.0), shape="round")
    )


@given(st.floats(-20.0, 60.0), st.floats(-20.0, 50.0), st.floats(0.05, 15.0))
def test_probabilities_sum_to_one_wherever_the_spot_is(known, x_mm: float, y_mm: float, sigma: float) -> None:
    found = candidates_at(known, pixel(x_mm, y_mm), sigma**2 * np.eye(2), 0.1 * np.eye(2), np.ones(2))
    assert sum(candidate.probability for candidate in found) == pytest.approx(1.0)
    assert all(candidate.probability > 0.0 for candidate in found)
