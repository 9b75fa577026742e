import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.frames.sampling import bilinear, nearest

Y, X = np.mgrid[0:7, 0:9].astype(float)


@given(st.floats(0.0, 8.0), st.floats(0.0, 6.0))
def test_a_plane_is_met_exactly_between_pixels(x: float, y: float) -> None:
    found = bilinear(20.0 + 0.5 * X - 0.25 * Y, np.array([[x, y]]))
    assert found[0] == pytest.approx(20.0 + 0.5 * x - 0.25 * y)


def test_places_outside_or_unknown_are_nan() -> None:
    places = np.array([[-0.1, 3.0], [8.1, 3.0], [3.0, 6.01], [np.nan, 2.0]])
    assert np.isnan(bilinear(X, places)).all()


def test_an_invalid_pixel_spoils_only_what_leans_on_it() -> None:
    values = X.copy()
    values[3, 4] = np.nan
    assert np.isnan(bilinear(values, np.array([[4.5, 3.0], [4.0, 3.0], [3.5, 2.5]]))).all()
    assert bilinear(values, np.array([[3.0, 3.0], [5.0, 4.0], [4.0, 2.0]])).tolist() == [3.0, 5.0, 4.0]


def test_the_nearest_pixel_is_the_one_whose_square_holds_the_place() -> None:
    places = np.array([[3.4, 2.0], [3.6, 2.4], [8.4, 6.4], [-0.4, -0.4]])
    assert nearest(X, places).tolist() == [3.0, 4.0, 8.0, 0.0]
    outside = np.array([[8.6, 2.0], [2.0, -0.6], [np.nan, 1.0], [np.inf, 1.0]])
    assert np.isnan(nearest(X, outside)).all()
