"""Facts of the trade without a source: common practice."""

import math

from overlay.frames.emissivity import DEFAULTS, SHINY_BELOW
from overlay.frames.radiometry import Band
from overlay.job.settings import CameraSettings


def test_an_uncooled_camera_is_off_by_one_to_two_kelvin() -> None:
    """Common practice: data sheets state ± 2 °C or ± 2 %, the larger."""
    camera = CameraSettings()
    assert camera.accuracy_c == 2.0
    assert camera.accuracy_percent == 2.0
    assert 1.0 <= camera.accuracy_c / math.sqrt(3.0) <= 2.0
    assert 0.03 <= camera.netd_c <= 0.1


def test_bare_metal_mirrors_the_room_and_moulded_packages_do_not() -> None:
    """Common practice: metal below 0.2, plastics and ceramics above 0.7."""
    for emissivity in DEFAULTS.values():
        assert emissivity.value < 0.2 < SHINY_BELOW or emissivity.value > 0.7 > SHINY_BELOW


def test_an_emissivity_taken_three_hundredths_wrong_costs_about_a_kelvin_at_sixty_degrees() -> None:
    """Common practice, in a room of 23 °C."""
    band = Band(8.0, 14.0)
    cost = 0.03 * float(band.radiance(60.0) - band.radiance(23.0)) / (0.95 * float(band.slope(60.0)))
    assert 0.8 <= cost <= 1.2
