import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.frames.optics import (
    edge_response,
    fill_fraction,
    fill_fraction_1d,
    gaussian_fwhm_px,
    gaussian_sigma_px,
)

PLACES = np.arange(-40.0, 41.0)


@given(st.floats(0.1, 5.0), st.floats(0.2, 12.0), st.floats(-0.5, 0.5))
def test_what_all_pixels_see_of_a_strip_adds_up_to_its_width(sigma: float, width: float, offset: float) -> None:
    assert fill_fraction_1d(width, PLACES - offset, sigma).sum() == pytest.approx(width, abs=1e-9)


@given(st.floats(0.05, 3.0), st.floats(0.2, 9.0), st.floats(-3.0, 3.0))
def test_fractions_lie_within_zero_and_one_and_are_even(sigma: float, width: float, offset: float) -> None:
    fraction = float(fill_fraction_1d(width, offset, sigma))
    assert -1e-12 <= fraction <= 1.0 + 1e-12
    assert fraction == pytest.approx(float(fill_fraction_1d(width, -offset, sigma)), abs=1e-12)


def test_without_blur_the_fraction_is_the_plain_overlap() -> None:
    np.testing.assert_allclose(fill_fraction_1d(2.0, PLACES[38:43] - 0.25, 0.0), [0.0, 0.25, 1.0, 0.75, 0.0])
    assert fill_fraction(2.0, 1.0, 0.0, 0.25, 0.0) == pytest.approx(0.75)


def test_half_width_and_sigma_convert_there_and_back() -> None:
    assert gaussian_sigma_px(2.354820045030949) == pytest.approx(1.0)
    assert gaussian_fwhm_px(gaussian_sigma_px(1.3)) == pytest.approx(1.3)


def test_a_pixel_on_an_edge_sees_half() -> None:
    assert edge_response(0.0, 0.7) == pytest.approx(0.5)
