import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.frames.radiometry import (
    Band,
    Sight,
    air_transmittance,
    apparent_temperature_c,
    leaving_radiance,
    object_radiance,
    sight_partials,
    surface_temperature_c,
    undo_instrument_settings,
)

BAND = Band(8.0, 14.0)
BANDS = st.sampled_from([BAND, Band(7.5, 13.0), Band(3.0, 5.0), Band(1.0, 2.5), Band(7.0, 14.0), Band(10.0, 10.1)])


@given(band=BANDS, temperature_c=st.floats(-150.0, 2000.0))
def test_radiance_and_temperature_are_inverse(band: Band, temperature_c: float) -> None:
    assert band.temperature_c(band.radiance(temperature_c)) == pytest.approx(temperature_c, abs=1e-7)


@given(band=BANDS, temperature_c=st.floats(-150.0, 2000.0))
def test_slope_is_the_derivative_of_radiance(band: Band, temperature_c: float) -> None:
    step = 0.01
    rise = band.radiance(temperature_c + step) - band.radiance(temperature_c - step)
    assert band.slope(temperature_c) == pytest.approx(float(rise) / (2 * step), rel=1e-5)


def test_shapes_are_kept_and_what_is_no_temperature_is_nan() -> None:
    field = np.linspace(20.0, 90.0, 24).reshape(2, 3, 4)
    assert BAND.radiance(field).shape == (2, 3, 4)
    assert np.isnan(BAND.temperature_c(np.array([0.0, -3.0, np.nan, np.inf]))).all()
    assert np.isnan(BAND.radiance(np.array([np.nan, -300.0, 1e9]))).all()


@pytest.mark.parametrize("edges", [(14.0, 8.0), (8.0, 8.0), (0.1, 0.4), (float("nan"), 14.0)])
def test_a_band_that_does_not_ascend_or_leaves_the_infrared_is_refused(edges: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="a band ascends"):
        Band(*edges)


SIGHTS = st.builds(
    Sight,
    air_c=st.floats(10.0, 40.0),
    air_transmittance=st.floats(0.95, 1.0),
    window_transmittance=st.floats(0.5, 0.9),
    window_reflectance=st.floats(0.0, 0.1),
    window_c=st.floats(15.0, 50.0),
    window_reflected_c=st.floats(15.0, 40.0),
    camera_air_transmittance=st.floats(0.95, 1.0),
)


@given(sight=SIGHTS, surface_c=st.floats(10.0, 300.0), emissivity=st.floats(0.1, 1.0), reflected_c=st.floats(0.0, 60.0))
def test_the_measurement_equation_forward_and_back_is_the_same_surface(
    sight: Sight, surface_c: float, emissivity: float, reflected_c: float
) -> None:
    leaving = object_radiance(BAND, surface_c, emissivity, reflected_c)
    apparent = apparent_temperature_c(BAND, sight, leaving)
    back = leaving_radiance(BAND, sight, apparent)
    assert back == pytest.approx(float(leaving), rel=1e-9)
    surface = surface_temperature_c(BAND, back, emissivity, BAND.radiance(reflected_c))
    assert surface == pytest.approx(surface_c, abs=1e-5)


@given(sight=SIGHTS, apparent_c=st.floats(25.0, 200.0))
def test_sensitivities_of_the_way_are_derivatives(sight: Sight, apparent_c: float) -> None:
    from dataclasses import replace

    partials = sight_partials(BAND, sight, apparent_c)
    for name in partials._fields:
        if name == "apparent_c":
            shifted = [leaving_radiance(BAND, sight, apparent_c + step) for step in (1e-3, -1e-3)]
        else:
            middle = getattr(sight, name)
            shifted = [
                leaving_radiance(BAND, replace(sight, **{name: middle + step}), apparent_c) for step in (1e-3, -1e-3)
            ]
        numeric = float(shifted[0] - shifted[1]) / 2e-3
        assert getattr(partials, name) == pytest.approx(numeric, rel=2e-5, abs=1e-5), name


def test_instrument_settings_are_undone_and_one_changes_nothing() -> None:
    reading = np.array([25.0, 60.0, 110.0])
    apparent = undo_instrument_settings(BAND, reading, 0.9, 23.0)
    assert (apparent[1:] < reading[1:]).all()
    again = surface_temperature_c(BAND, BAND.radiance(apparent), 0.9, BAND.radiance(23.0))
    np.testing.assert_allclose(again, reading, rtol=0, atol=1e-7)
    np.testing.assert_array_equal(undo_instrument_settings(BAND, reading, 1.0, 23.0), reading)


def test_a_surface_that_would_send_out_less_than_nothing_has_no_temperature() -> None:
    leaving = BAND.radiance(50.0)
    assert np.isnan(surface_temperature_c(BAND, leaving, 0.10, BAND.radiance(60.0)))
    assert np.isnan(surface_temperature_c(BAND, leaving, np.array([0.0, -0.1, 1.2, np.nan]), 0.0)).all()


def test_no_air_takes_nothing_and_more_air_takes_more() -> None:
    assert air_transmittance(0.0, 50.0, 23.0, BAND) == (1.0, 0.0)
    series = [air_transmittance(distance, 50.0, 23.0, BAND)[0] for distance in (0.1, 0.3, 1.0, 3.0)]
    assert series == sorted(series, reverse=True)
    assert air_transmittance(0.3, 90.0, 30.0, BAND)[0] < air_transmittance(0.3, 10.0, 30.0, BAND)[0]
    for band in (Band(7.5, 14.0), Band(3.0, 5.0)):
        tau, u = air_transmittance(0.3, 50.0, 23.0, band)
        assert u > air_transmittance(0.3, 50.0, 23.0, BAND)[1]
        assert tau < 1.0
