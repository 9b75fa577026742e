"""Room air at bench distance.

Transmittances: runs of LOWTRAN 7 (public Fortran source, horizontal paths at 1013.25 hPa, weighted by a black body of
60 °C). Measured at the bench: about 100 % within 2 % (Infrared and Laser Engineering 2017(9) 208–212, abstract).
Vapour pressure: WMO-No. 8, Annex 4.B; comparison values by IAPWS-IF97.
"""

import pytest

from overlay.frames.radiometry import Band, air_transmittance, lowest_air_transmittance, vapour_density_g_per_m3

LONG, SHORT = Band(8.0, 14.0), Band(7.5, 13.0)


@pytest.mark.parametrize(("distance_m", "lowtran"), [(0.1, 0.9988), (0.3, 0.9978), (1.0, 0.9957), (2.0, 0.9935)])
def test_the_fit_meets_the_band_model_for_8_to_14_um(distance_m: float, lowtran: float) -> None:
    assert lowest_air_transmittance(distance_m, 50.0, 23.0, LONG) == pytest.approx(lowtran, abs=4.0e-4 + 5e-5)


@pytest.mark.parametrize(("distance_m", "lowtran"), [(0.1, 0.9985), (0.3, 0.9973), (1.0, 0.9948), (2.0, 0.9923)])
def test_the_fit_meets_the_band_model_for_7_5_to_13_um(distance_m: float, lowtran: float) -> None:
    assert lowest_air_transmittance(distance_m, 50.0, 23.0, SHORT) == pytest.approx(lowtran, abs=8.0e-4 + 5e-5)


def test_the_fits_own_check_values() -> None:
    for distance_m, tau in [(0.1, 0.99890), (0.3, 0.99791), (1.0, 0.99576), (2.0, 0.99364)]:
        assert lowest_air_transmittance(distance_m, 50.0, 23.0, LONG) == pytest.approx(tau, abs=5e-6)
    assert lowest_air_transmittance(1.0, 50.0, 23.0, SHORT) == pytest.approx(0.99505, abs=5e-6)
    assert lowest_air_transmittance(0.0, 50.0, 23.0, LONG) == 1.0


def test_extremes_of_room_climate_at_one_metre() -> None:
    assert lowest_air_transmittance(1.0, 10.0, 15.0, LONG) == pytest.approx(0.9976, abs=4.5e-4)
    assert lowest_air_transmittance(1.0, 90.0, 35.0, LONG) == pytest.approx(0.9915, abs=4.5e-4)


def test_the_rectangle_between_clear_air_and_the_band_model() -> None:
    tau, u = air_transmittance(0.3, 50.0, 23.0, LONG)
    assert tau == pytest.approx(0.9990, abs=5e-5)
    assert u == pytest.approx(0.0006, abs=5e-5)
    tau, u = air_transmittance(1.0, 50.0, 23.0, LONG)
    assert tau == pytest.approx(0.9979, abs=5e-5)
    assert u == pytest.approx(0.0012, abs=5e-5)


def test_leaving_the_air_out_costs_a_fifth_of_a_kelvin_at_most() -> None:
    from overlay.frames.radiometry import Sight, apparent_temperature_c, object_radiance, surface_temperature_c

    leaving = object_radiance(LONG, 85.0, 0.95, 23.0)
    for distance_m, error_k in [(0.3, -0.11), (1.0, -0.21)]:
        sight = Sight(23.0, air_transmittance=lowest_air_transmittance(distance_m, 50.0, 23.0, LONG))
        seen = LONG.radiance(apparent_temperature_c(LONG, sight, leaving))
        error = float(surface_temperature_c(LONG, seen, 0.95, LONG.radiance(23.0))) - 85.0
        assert error == pytest.approx(error_k, abs=0.005)


def test_water_vapour_in_room_air() -> None:
    assert vapour_density_g_per_m3(23.0, 50.0) == pytest.approx(10.252, abs=5e-4)
    for air_c, magnus_pa, iapws_pa in [(20.0, 2332.60, 2339.21), (25.0, 3160.06, 3169.75), (50.0, 12345.16, 12351.27)]:
        pressure_pa = vapour_density_g_per_m3(air_c, 100.0) / 1000.0 * 461.523 * (air_c + 273.15)
        assert pressure_pa == pytest.approx(magnus_pa, abs=0.005)
        assert pressure_pa == pytest.approx(iapws_pa, rel=0.0035)
