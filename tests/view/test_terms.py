"""The budget against the measurement equation itself, moved input by input."""

from dataclasses import replace

import numpy as np
import pytest

from overlay.frames.frame import Emissivity
from overlay.frames.radiometry import Sight, apparent_temperature_c, leaving_radiance, surface_temperature_c
from overlay.uncertainty import combined_k, difference_k
from overlay.view.terms import camera_u_c, common_terms, noise_radiance, private_terms

SIGHT = Sight(23.0, 0.998, 0.001, 0.9, 0.02, 0.06, 30.0, 25.0)


def surface(view, apparent: float, emissivity: float) -> float:
    leaving = leaving_radiance(view.band, view.sight, apparent)
    return float(surface_temperature_c(view.band, leaving, emissivity, view.band.radiance(view.reflected_c)))


@pytest.mark.parametrize(("surface_c", "emissivity"), [(85.0, 0.95), (60.0, 0.6), (120.0, 0.85)])
def test_each_term_is_what_moving_its_input_does(bench, surface_c: float, emissivity: float) -> None:
    view = replace(bench.view(bench.part("U1", (20.0, 15.0), (6.0, 6.0))), sight=SIGHT)
    leaving = emissivity * view.band.radiance(surface_c) + (1.0 - emissivity) * view.band.radiance(view.reflected_c)
    apparent = float(apparent_temperature_c(view.band, view.sight, leaving))
    (budget,) = common_terms(
        view, np.array([surface_c]), np.array([float(leaving)]), [Emissivity(emissivity, 0.01, "")], ["U1"]
    )
    told = {term.name: term.contribution_k for term in budget}
    u_camera = float(camera_u_c(view, np.array([apparent]))[0])

    def moved(apparent_by: float = 0.0, emissivity_by: float = 0.0, **changes: object) -> float:
        return surface(replace(view, **changes), apparent + apparent_by, emissivity + emissivity_by)

    def half(up: float, down: float) -> float:
        return (up - down) / 2.0

    assert moved() == pytest.approx(surface_c, abs=1e-6)
    assert told["camera"] == pytest.approx(half(moved(u_camera), moved(-u_camera)), rel=0.01)
    assert told["emissivity"] == pytest.approx(half(moved(0.0, 0.01), moved(0.0, -0.01)), rel=0.01)
    warmer, colder = moved(reflected_c=view.reflected_c + 1.0), moved(reflected_c=view.reflected_c - 1.0)
    assert told["reflected"] == pytest.approx(half(warmer, colder), rel=0.01)
    clearer = moved(sight=replace(SIGHT, window_transmittance=0.92))
    dimmer = moved(sight=replace(SIGHT, window_transmittance=0.88))
    assert told["window"] == pytest.approx(half(clearer, dimmer), rel=0.02)
    clearer = moved(sight=replace(SIGHT, air_transmittance=0.999))
    dimmer = moved(sight=replace(SIGHT, air_transmittance=0.997))
    assert told["air"] == pytest.approx(half(clearer, dimmer), rel=0.01)


def test_the_camera_counts_by_the_larger_of_its_two_limits(bench) -> None:
    view = bench.view(bench.part("U1", (20.0, 15.0), (6.0, 6.0)))
    assert camera_u_c(view, np.array([40.0, 250.0])) == pytest.approx([2.0 / np.sqrt(3.0), 5.0 / np.sqrt(3.0)])


def test_noise_is_stated_at_thirty_degrees(bench) -> None:
    view = bench.view(bench.part("U1", (20.0, 15.0), (6.0, 6.0)), noise_c=0.1)
    up = leaving_radiance(view.band, view.sight, 30.1) - leaving_radiance(view.band, view.sight, 30.0)
    assert noise_radiance(view) == pytest.approx(float(up), rel=0.01)


def test_a_reading_without_a_temperature_has_no_terms(bench) -> None:
    view = bench.view(bench.part("U1", (20.0, 15.0), (6.0, 6.0)))
    assert common_terms(view, np.array([np.nan]), np.array([np.nan]), [Emissivity(0.9, 0.02, "")], ["U1"]) == ((),)


def test_private_terms_add_in_squares() -> None:
    assert combined_k(private_terms(0.5, {"noise": 6.0, "position": 8.0, "none": 0.0})) == pytest.approx(5.0)


def test_the_stage_of_an_emissivity_map_is_one_draw_for_all_that_it_maps(bench) -> None:
    view = bench.view(bench.part("U1", (20.0, 15.0), (6.0, 6.0)))
    leaving = [0.9 * float(view.band.radiance(80.0)) + 0.1 * float(view.band.radiance(view.reflected_c))] * 2
    mapped = [Emissivity(0.9, 0.03, "cold.tiff", common_u=0.024), Emissivity(0.9, 0.03, "cold.tiff", common_u=0.024)]
    one, other = common_terms(view, np.array([80.0, 80.0]), np.array(leaving), mapped, ["U1", "U2"])
    (stated,) = common_terms(view, np.array([80.0]), np.array(leaving[:1]), [Emissivity(0.9, 0.03, "")], ["U1"])
    assert combined_k(one) == pytest.approx(combined_k(stated))
    shares = {term.name: term for term in one}
    assert shares["heated stage"].contribution_k / shares["emissivity"].contribution_k == pytest.approx(0.024 / 0.018)
    assert shares["heated stage"].shared == {term.name: term.shared for term in other}["heated stage"]
    # half a kelvin of the stage does not average away: the difference of the two parts does not know it
    own = shares["emissivity"].contribution_k
    assert difference_k(one, other) == pytest.approx(abs(own) * np.sqrt(2.0), rel=0.01)
