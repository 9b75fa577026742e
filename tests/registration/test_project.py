"""From board to frame and back: conventions, one by one, and the covariance."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from overlay.registration.camera import Pinhole
from overlay.registration.fit import fit_registration
from overlay.registration.fit_models import fit_flat
from overlay.registration.least_squares import CameraPriors, Sightings, camera_prior_terms, minimise
from overlay.registration.model import Lens
from overlay.registration.project import (
    board_covariance,
    board_from_pixels,
    board_jacobian,
    camera_jacobian,
    outside_hull,
    pixel_covariance,
    pixels_from_board,
)

SHAPE = (240, 320)
CORNERS = np.array([[5.0, 5, 0], [95, 5, 0], [95, 59, 0], [5, 59, 0], [50, 32, 4.0], [30, 45, 1.0]])
MIDDLE = np.array([[50.0, 32.0, 0.0]])


@pytest.fixture(scope="module", params=[("top", None), ("bottom", None), ("top", 28.0), ("bottom", 28.0)])
def straight(request, look, control):
    side, hfov_deg = request.param
    points = CORNERS if hfov_deg else CORNERS * [1.0, 1.0, 0.0]
    return fit_registration(control(points, look(points, side)), side, SHAPE, Lens(hfov_deg))


def test_the_middle_of_an_even_frame_lies_between_pixels(straight):
    # 320 columns count 0 … 319 at their centres: what the axis meets is at 159.5, half a pixel off 160
    assert_allclose(pixels_from_board(straight, MIDDLE), [[159.5, 119.5]], atol=1e-3)


def test_board_y_points_up_in_the_frame_and_rows_count_down(straight):
    up = pixels_from_board(straight, MIDDLE + [0.0, 10.0, 0.0])[0]
    assert up[1] < 119.5 - 10.0
    assert up[0] == pytest.approx(159.5, abs=0.01)


def test_board_x_runs_right_on_the_top_and_left_on_the_bottom(straight):
    right = pixels_from_board(straight, MIDDLE + [10.0, 0.0, 0.0])[0, 0] - 159.5
    assert right > 10.0 if straight.side == "top" else right < -10.0


def test_a_board_turned_clockwise_in_the_frame_is_found_so(look, control):
    found = fit_registration(control(CORNERS, look(CORNERS, up_deg=30.0)), "top", SHAPE, Lens(28.0))
    along_x = np.diff(pixels_from_board(found, np.array([[50.0, 32, 0], [60, 32, 0]])), axis=0)[0]
    # clockwise on the screen: to the right and, rows counting down, to larger rows
    assert np.degrees(np.arctan2(along_x[1], along_x[0])) == pytest.approx(30.0, abs=0.1)


def test_taller_parts_shift_away_from_the_axis(look, control):
    found = fit_registration(control(CORNERS, look(CORNERS)), "top", SHAPE, Lens(28.0))
    foot = pixels_from_board(found, np.array([[85.0, 50.0, 0.0]]))[0]
    top = pixels_from_board(found, np.array([[85.0, 50.0, 12.0]]))[0]
    # similar triangles: distances from the axis grow by 290 / (290 - 12)
    axis = np.array([159.5, 119.5])
    assert_allclose(top - axis, (foot - axis) * 290 / 278, atol=0.05)


@given(
    x=st.floats(-20.0, 120.0),
    y=st.floats(-20.0, 80.0),
    z=st.floats(0.0, 20.0),
    eye=st.tuples(st.floats(-50.0, 150.0), st.floats(-60.0, 120.0)),
    side=st.sampled_from(["top", "bottom"]),
    hfov_deg=st.sampled_from([None, 28.0]),
)
def test_there_and_back_is_the_same_point(look, control, x, y, z, eye, side, hfov_deg):
    points = CORNERS * [1.0, 1.0, 1.0 if hfov_deg else 0.0]
    uv = look(points, side, eye_mm=(*eye, 330.0), up_deg=20.0)
    found = fit_registration(control(points, uv), side, SHAPE, Lens(hfov_deg))
    pixel = pixels_from_board(found, np.array([[x, y, z]]))
    assert_allclose(board_from_pixels(found, pixel, z), [[x, y]], atol=1e-6)


def test_pixels_of_the_surface_need_no_height(straight):
    uv = np.array([[20.0, 30.0], [300.0, 200.0]])
    places = board_from_pixels(straight, uv)
    assert_allclose(pixels_from_board(straight, np.column_stack([places, [0, 0]])), uv, atol=1e-6)
    assert camera_jacobian(straight, MIDDLE).shape == (1, 2, len(straight.parameters))


def test_points_of_a_wrong_shape_are_refused(straight):
    with pytest.raises(ValueError, match=r"\(n, 3\)"):
        pixels_from_board(straight, np.zeros((2, 2)))


def test_uncertainty_grows_outside_the_hull_of_the_points(look, control):
    corner = CORNERS[:4] * [0.3, 0.3, 0.0]
    corner = np.vstack([corner, [[12.0, 8.0, 0.0]]])
    found = fit_registration(control(corner, look(corner)), "top", SHAPE)
    line = np.array([[t, 0.64 * t, 0.0] for t in (15.0, 40.0, 70.0, 100.0)])
    u = np.sqrt(np.trace(pixel_covariance(found, line), axis1=1, axis2=2))
    assert (np.diff(u) > 0).all()
    assert u[-1] > 5 * u[0]
    assert outside_hull(found, line[:, :2]).tolist() == [False, True, True, True]


def test_board_covariance_is_the_pixels_own_in_millimetres(look, control):
    noise = np.random.default_rng(2).normal(0.0, 0.4, (6, 2))
    found = fit_registration(control(CORNERS, look(CORNERS) + noise), "top", SHAPE, Lens(28.0))
    places = np.array([[20.0, 20.0, 0.0], [80.0, 50.0, 0.0]])
    in_mm = board_covariance(found, pixels_from_board(found, places))
    in_px = pixel_covariance(found, places)
    area = np.linalg.det(board_jacobian(found, places)[:, :, :2])  # px² per mm²
    assert_allclose(np.linalg.det(in_mm), np.linalg.det(in_px) / area**2, rtol=1e-6)


def test_a_pixel_above_the_horizon_has_neither_place_nor_covariance(look, control):
    low = look(CORNERS, eye_mm=(50.0, -250.0, 150.0))
    for hfov_deg in (None, 28.0):
        found = fit_registration(control(CORNERS, low), "top", SHAPE, Lens(hfov_deg))
        sky = np.array([[160.0, -2000.0], [160.0, 120.0]])
        assert np.isnan(board_from_pixels(found, sky)).any(axis=1).tolist() == [True, False]
        assert np.isnan(board_covariance(found, sky)).any(axis=(1, 2)).tolist() == [True, False]


PLACES = np.array([[50.0, 32.0, 0.0], [5.0, 5.0, 0.0], [100.0, 64.0, 0.0], [20.0, 60.0, 10.0]])


def normalised(errors: np.ndarray, covariances: np.ndarray) -> np.ndarray:
    """Mean over the simulations of eᵀ C⁻¹ e / 2 at each place: 1 where the covariance is right."""
    return np.mean(np.einsum("kni,knij,knj->kn", errors, np.linalg.inv(covariances), errors), axis=0) / 2.0


def test_a_thousand_homographies_scatter_as_their_covariance_says(look):
    rng = np.random.default_rng(7)
    points = np.array([[8.0, 6, 0], [90, 10, 0], [85, 55, 0], [12, 50, 0], [40, 30, 0], [65, 20, 0]])
    truth = look(points, eye_mm=(130.0, 0.0, 280.0))
    expected = look(PLACES * [1, 1, 0], eye_mm=(130.0, 0.0, 280.0))
    errors, covariances = [], []
    for _ in range(1000):
        seen = Sightings(points, truth + rng.normal(0.0, 0.5, truth.shape), np.full(6, 0.5))
        fit = fit_flat(seen, "top", SHAPE, widen=False)
        slopes = fit.projection.jacobian(fit.parameters, PLACES)
        errors.append(fit.projection.pixels(fit.parameters, PLACES) - expected)
        covariances.append(slopes @ fit.covariance @ slopes.transpose(0, 2, 1))
    assert_allclose(normalised(np.array(errors), np.array(covariances)), 1.0, atol=0.08)


@pytest.mark.parametrize("count", [3, 8])
def test_cameras_drawn_from_their_priors_scatter_as_their_covariance_says(look, count):
    rng = np.random.default_rng(count)
    all_points = np.array(
        [[8.0, 6, 0], [90, 10, 2.0], [85, 55, 0], [12, 50, 8.0], [40, 30, 0], [65, 20, 12], [30, 58, 0], [55, 45, 1.0]]
    )
    points = all_points[:count]
    pinhole = Pinhole("top", SHAPE, (50.0, 32.0))
    priors = CameraPriors(focal_px=640.0)
    errors, covariances = [], []
    for _ in range(700):
        tilt = rng.normal(0.0, priors.tilt_u, 2)
        truth = np.array([np.pi, 0.0, 0.0, 3.0, -2.0, 280.0, 0.0, 0.0])
        truth[6] = np.log(640.0) + rng.normal(0.0, priors.focal_u)
        truth[7] = rng.normal(0.0, priors.radial_u)
        # turn until the normal's two components are the tilt that was drawn
        for _ in range(6):
            normal, slopes = pinhole.normal(truth)
            truth[:3] -= np.linalg.pinv(slopes[:2]) @ (normal[:2] - tilt)
        uv = pinhole.pixels(truth, points)
        seen = Sightings(points, uv + rng.normal(0.0, 0.5, uv.shape), np.full(count, 0.5))
        fit = minimise(pinhole, seen, [truth], lambda p: camera_prior_terms(pinhole, p, priors), widen=False)
        slopes = pinhole.jacobian(fit.parameters, PLACES)
        errors.append(pinhole.pixels(fit.parameters, PLACES) - pinhole.pixels(truth, PLACES))
        covariances.append(slopes @ fit.covariance @ slopes.transpose(0, 2, 1))
    assert_allclose(normalised(np.array(errors), np.array(covariances)), 1.0, atol=0.25 if count == 3 else 0.15)


def test_scatter_beyond_the_statement_widens_the_claim_and_none_within_it(look, control):
    rng = np.random.default_rng(4)
    points = np.vstack([CORNERS, [[75.0, 40.0, 0.0], [20.0, 15.0, 0.0]]]) * [1.0, 1.0, 0.0]
    truth = look(points)
    ratios = {}
    for noise in (0.5, 2.0):
        errors, claims = [], []
        for _ in range(150):
            seen = Sightings(points, truth + rng.normal(0.0, noise, truth.shape), np.full(8, 0.5))
            fit = fit_flat(seen, "top", SHAPE)
            slopes = fit.projection.jacobian(fit.parameters, MIDDLE)
            errors.append(fit.projection.pixels(fit.parameters, MIDDLE)[0] - look(MIDDLE)[0])
            claims.append(np.trace((slopes @ fit.covariance @ slopes.transpose(0, 2, 1))[0]))
        ratios[noise] = float(np.sqrt(np.mean(claims) / np.mean(np.sum(np.square(errors), axis=1))))
    assert 0.95 < ratios[0.5] < 1.25
    assert 0.75 < ratios[2.0] < 1.1
