"""Worked cases of the measurement equation: object → air → window → air → camera.

The equation is printed with one window-less path in Minkina & Dudzik, Infrared Thermography: Errors and Uncertainties,
Wiley 2009 (from memory); the cases with a window were worked out at 30 digits, independently of this project's
code. All with 8–14 µm, air at 23 °C; T_app also for 7.5–13 µm.
"""

import numpy as np
import pytest

from overlay.frames.radiometry import (
    Band,
    Sight,
    apparent_temperature_c,
    leaving_radiance,
    object_radiance,
    sight_partials,
    surface_temperature_c,
)

BAND, OTHER_BAND = Band(8.0, 14.0), Band(7.5, 13.0)
OBJECT_C = 85.0


def window(tau: float, rho: float, own_c: float, mirrored_c: float, tau_1: float = 1.0, tau_2: float = 1.0) -> Sight:
    return Sight(
        air_c=23.0,
        air_transmittance=tau_1,
        window_transmittance=tau,
        window_reflectance=rho,
        window_c=own_c,
        window_reflected_c=mirrored_c,
        camera_air_transmittance=tau_2,
    )


CLEAR = Sight(23.0)
# ε, T_refl, sight, J, S, T_app for 8–14 µm, T_app for 7.5–13 µm
FORWARD = {
    "A": (0.95, 23.0, CLEAR, 356.3097687, 356.30976868, 82.454941, 82.504477),
    "B": (0.60, 23.0, CLEAR, 284.9512552, 284.95125525, 63.408389, 63.718818),
    "C": (0.10, 23.0, CLEAR, 183.0105218, 183.01052177, 30.744228, 30.922111),
    "D": (0.95, 23.0, window(0.70, 0.25, 30, 25), 356.3097687, 300.40381667, 67.737756, 67.992102),
    "E": (0.60, 23.0, window(0.70, 0.25, 30, 25, 0.995, 0.998), 284.9512552, 249.84990153, 53.058431, 53.400880),
    "F": (0.10, 45.0, window(0.90, 0.06, 35, 28, 0.995), 238.5383828, 232.67333456, 47.692043, 47.761098),
}


@pytest.mark.parametrize("case", FORWARD)
def test_forward_cases(case: str) -> None:
    emissivity, reflected_c, sight, leaving, at_camera, apparent, other_apparent = FORWARD[case]
    j = object_radiance(BAND, OBJECT_C, emissivity, reflected_c)
    assert j == pytest.approx(leaving, abs=5e-8)
    found = apparent_temperature_c(BAND, sight, j)
    assert BAND.radiance(found) == pytest.approx(at_camera, abs=1e-8)
    assert found == pytest.approx(apparent, abs=5e-7)
    other = apparent_temperature_c(OTHER_BAND, sight, object_radiance(OTHER_BAND, OBJECT_C, emissivity, reflected_c))
    assert other == pytest.approx(other_apparent, abs=5e-7)
    back = surface_temperature_c(BAND, leaving_radiance(BAND, sight, found), emissivity, BAND.radiance(reflected_c))
    assert back == pytest.approx(OBJECT_C, abs=1e-6)


# ∂T_app, ∂ε, ∂T_refl, ∂τw (ρw fixed), ∂τ1, ∂τ2, ∂T_win, ∂T_wrefl, ∂T_atm of the object's temperature
SENSITIVITIES = {
    "A": "1.03681 -53.1777 -0.033125 -50.5188 -50.5188 -50.5188 0 0 0",
    "B": "1.45238 -84.1981 -0.419587 -50.5188 -50.5188 -50.5188 0 0 0",
    "C": "6.75369 -505.188 -5.66442 -50.5188 -50.5188 -50.5188 0 0 0",
    "D": "1.34943 -53.1777 -0.033125 -65.3263 -50.5188 -51.3387 -0.050446 -0.241060 0",
    "E": "1.94033 -84.1981 -0.419587 -61.2798 -50.7727 -51.9273 -0.080274 -0.383596 -0.008289",
    "F": "8.67632 -352.311 -6.84701 -119.896 -189.054 -193.831 -0.313027 -0.441560 -0.031627",
}


@pytest.mark.parametrize("case", SENSITIVITIES)
def test_sensitivities(case: str) -> None:
    emissivity, reflected_c, sight, *_ = FORWARD[case]
    apparent = float(apparent_temperature_c(BAND, sight, object_radiance(BAND, OBJECT_C, emissivity, reflected_c)))
    per_radiance = 1.0 / (emissivity * float(BAND.slope(OBJECT_C)))
    partials = sight_partials(BAND, sight, apparent)
    contrast = float(BAND.radiance(OBJECT_C) - BAND.radiance(reflected_c))
    found = [
        float(partials.apparent_c) * per_radiance,
        -contrast * per_radiance,
        -(1.0 - emissivity) * float(BAND.slope(reflected_c)) * per_radiance,
        float(partials.window_transmittance) * per_radiance,
        float(partials.air_transmittance) * per_radiance,
        float(partials.camera_air_transmittance) * per_radiance,
        float(partials.window_c) * per_radiance,
        float(partials.window_reflected_c) * per_radiance,
        float(partials.air_c) * per_radiance,
    ]
    for value, printed in zip(found, SENSITIVITIES[case].split(), strict=True):
        decimals = len(printed.partition(".")[2])
        tolerance = 0.5 * 10.0**-decimals if decimals else 1e-9
        assert value == pytest.approx(float(printed), abs=tolerance)


# ε, sight, T_obj for 8–14 µm and for 7.5–13 µm, all from T_app = 66.4 °C and T_refl = 23 °C
INVERSE = {
    "G": (0.95, CLEAR, 68.337030, 68.305801),
    "H": (0.60, CLEAR, 89.334378, 88.838298),
    "I": (0.10, CLEAR, 272.013123, 261.510006),
    "J": (0.95, window(0.70, 0.25, 30, 25), 83.193214, 82.869613),
    "K": (0.95, window(0.70, 0.29, 23, 23), 84.019852, 83.661888),
}


@pytest.mark.parametrize("case", INVERSE)
def test_inverse_cases(case: str) -> None:
    emissivity, sight, object_c, other_c = INVERSE[case]
    for band, expected in [(BAND, object_c), (OTHER_BAND, other_c)]:
        leaving = leaving_radiance(band, sight, 66.4)
        found = surface_temperature_c(band, leaving, emissivity, band.radiance(23.0))
        assert found == pytest.approx(expected, abs=5e-7)


def test_a_shiny_surface_in_warm_surroundings_has_no_solution() -> None:
    leaving = leaving_radiance(BAND, CLEAR, 50.0)
    argument = (leaving - 0.9 * BAND.radiance(60.0)) / 0.10
    assert argument == pytest.approx(-58.2, abs=0.05)
    assert np.isnan(surface_temperature_c(BAND, leaving, 0.10, BAND.radiance(60.0)))
