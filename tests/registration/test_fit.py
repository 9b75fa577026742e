"""From control points to a registration, or to the reason why there is none."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from overlay.errors import InputError
from overlay.registration.fit import UNKNOWN_HEIGHT_U_MM, fit_registration
from overlay.registration.model import UNTOLD, ControlPoint, Lens
from overlay.registration.project import board_jacobian, pixel_covariance, pixels_from_board

SHAPE = (240, 320)
SPREAD = np.array([[8, 8, 0], [90, 6, 1.2], [92, 58, 0], [10, 56, 8.0], [50, 30, 0.6], [70, 45, 12], [30, 20, 3.0]])
TILTED = {"eye_mm": (130.0, 0.0, 280.0), "up_deg": 12.0}


def flat(points):
    return points * [1.0, 1.0, 0.0]


def refusal(points, side="top", lens=UNTOLD) -> str:
    with pytest.raises(InputError) as caught:
        fit_registration(points, side, SHAPE, lens)
    return str(caught.value)


@pytest.mark.parametrize(("count", "model"), [(2, "similarity"), (3, "affine"), (4, "camera"), (7, "camera")])
def test_the_number_of_points_decides_the_model_of_a_lens_nobody_told(look, control, count, model):
    seen = flat(SPREAD)[[0, 2, 1, 3, 4, 5, 6]][:count]
    found = fit_registration(control(seen, look(seen)), "top", SHAPE)
    assert found.model == model
    assert found.pixel_from_board[2, 2] == 1.0
    assert (found.rms_px is None) == (count <= 4), "points that fit exactly whatever they are tell no scatter"
    assert not any(item.suspect for item in found.points)
    assert_allclose(pixels_from_board(found, flat(SPREAD)), look(flat(SPREAD)), atol=0.01)  # seen straight on: all hold


def test_an_untold_lens_is_held_loosely_and_the_distance_tells_it(look, control):
    """The whole board seen at 30° of tilt through a lens of 42°: a homography runs off above the surface."""
    view = {"eye_mm": (50.0, -75.0, 135.0), "aim_mm": (50.0, 32.0), "hfov_deg": 42.0}
    points = control(SPREAD, look(SPREAD, **view) + np.random.default_rng(3).normal(0, 0.3, (len(SPREAD), 2)), 0.5)
    tops = np.array([[x, y, 15.0] for x in (5.0, 50.0, 95.0) for y in (5.0, 60.0)])
    untold, far = (fit_registration(points, "top", SHAPE, Lens(distance_m=told)) for told in (None, 0.172))
    for found in (untold, far):
        off = pixels_from_board(found, tops) - look(tops, **view)
        distance2 = np.einsum("ni,nij,nj->n", off, np.linalg.inv(pixel_covariance(found, tops)), off)
        assert distance2.max() < 13.8  # chi-squared of 2, one in a thousand
    assert np.hypot(*off.T).max() < 2.0
    assert abs(np.log(far.camera.focal_px / (160 / np.tan(np.radians(21.0))))) < 0.05


def test_a_cropped_frame_that_no_camera_suits_is_fitted_flat(look, control):
    """A sheared picture is none that a camera takes: such points ask for a homography, and it is said."""
    seen = look(flat(SPREAD)) @ np.array([[0.8, 0.0], [0.15, 0.8]])
    found = fit_registration(control(flat(SPREAD), seen, 0.1), "top", SHAPE)
    assert found.model == "homography"
    assert any("cropped" in text for text in found.warnings)
    assert_allclose(pixels_from_board(found, flat(SPREAD)), seen, atol=0.05)


def test_points_a_hundredth_of_a_pixel_off_make_nobody_suspect(look, control):
    seen = look(SPREAD, **TILTED)
    seen[4] += [0.02, -0.02]
    found = fit_registration(control(SPREAD, seen, 0.002), "top", SHAPE, Lens(28.0))
    assert not any(item.suspect or item.left_out for item in found.points)


@pytest.mark.parametrize("side", ["top", "bottom"])
def test_exact_points_at_their_heights_give_the_camera_back(look, control, side):
    points = control(SPREAD, look(SPREAD, side, **TILTED))
    found = fit_registration(points, side, SHAPE, Lens(28.0, 0.29))
    assert found.model == "camera"
    assert found.camera is not None
    assert_allclose(found.camera.position_mm(), (130.0, 0.0, 280.0), atol=0.5)  # priors pull a little
    elsewhere = np.array([[20.0, 40.0, 15.0], [85.0, 10.0, 0.0], [60.0, 60.0, 5.0]])
    assert_allclose(pixels_from_board(found, elsewhere), look(elsewhere, side, **TILTED), atol=0.05)
    assert found.rms_px < 0.03


def test_lens_distortion_is_found_where_the_points_carry_it(look, control):
    grid = np.array([[x, y, z] for x in (4, 50, 96) for y in (4, 32, 60) for z in (0.0,)])
    seen = look(grid, radial=-0.06, hfov_deg=45.0, eye_mm=(50, 32, 150))
    found = fit_registration(control(grid, seen, 0.05), "top", SHAPE, Lens(45.0))
    assert found.camera is not None
    assert found.camera.radial == pytest.approx(-0.06, abs=0.005)
    # a matrix cannot bend: it is the nearest one, and stays within a pixel
    u, v, w = found.pixel_from_board @ np.vstack([grid[:, :2].T, np.ones(9)])
    off = np.hypot(*(np.stack([u / w, v / w], 1) - seen).T)
    assert 0.05 < off.max() < 1.5


def test_few_points_with_a_known_lens_say_how_little_they_know(look, control):
    seen = flat(SPREAD)[[0, 4]]
    found = fit_registration(control(seen, look(seen)), "top", SHAPE, Lens(28.0))
    u = np.sqrt(np.trace(pixel_covariance(found, np.array([[8.0, 8, 0], [92, 58, 0]])), axis1=1, axis2=2))
    assert u[0] < 1.0 < 5.0 < u[1]
    assert "neither tilt nor perspective" in found.warnings[0]


def test_a_wrong_distance_is_told_and_not_used(look, control):
    points = control(SPREAD, look(SPREAD, **TILTED))
    found = fit_registration(points, "top", SHAPE, Lens(28.0, 0.8))
    assert any("distance_m = 0.8 contradicts hfov_deg" in warning for warning in found.warnings)
    assert found.rms_px < 0.03


def test_a_field_of_view_that_does_not_suit_the_points_is_told(look, control):
    points = control(SPREAD, look(SPREAD, eye_mm=(150.0, -30.0, 150.0), hfov_deg=50.0), 0.2)
    wrong = fit_registration(points, "top", SHAPE, Lens(42.0))
    assert any("hfov_deg = 42 does not suit the points, which ask for about 50" in text for text in wrong.warnings)
    assert not fit_registration(points, "top", SHAPE, Lens(50.0)).warnings


def test_heights_without_a_known_lens_weaken_a_point(look, control):
    points = control(SPREAD[[0, 2, 4]], look(SPREAD[[0, 2, 4]], **TILTED))  # too few for a camera
    found = fit_registration(points, "top", SHAPE)
    assert found.lean_u > 0.27
    place = np.array([[50.0, 30.0, 0.0], [50.0, 30.0, 10.0]])
    low, high = np.sqrt(np.trace(pixel_covariance(found, place), axis1=1, axis2=2) / 2.0)
    per_mm = np.sqrt((board_jacobian(found, place)[0] ** 2).sum() / 2.0)
    assert high == pytest.approx(np.hypot(low, found.lean_u * 10.0 * per_mm), rel=0.02)


def test_an_unknown_height_is_told(look, control):
    points = control(flat(SPREAD), look(flat(SPREAD)))
    points = (*points[:-1], replace(points[-1], height_known=False))
    found = fit_registration(points, "top", SHAPE, Lens(28.0))
    assert any(f"P7 is unknown and was taken as 0 ± {UNKNOWN_HEIGHT_U_MM:g} mm" in text for text in found.warnings)


def test_residuals_come_with_and_without_the_point(look, control):
    uv = look(flat(SPREAD))
    uv[4] += [1.0, 0.0]
    found = fit_registration(control(flat(SPREAD), uv), "top", SHAPE)
    item = found.points[4]
    assert item.left_out_px is not None
    assert 0.2 < item.residual_px < item.left_out_px
    assert item.left_out_px == pytest.approx(1.0, abs=1e-3)
    assert item.residual_xy_px[0] > 0  # observed minus fitted
    assert found.rms_mm == pytest.approx(found.rms_px * found.mm_per_px, rel=0.05)


def test_too_few_points_are_refused(look, control):
    assert "2 control points are needed at least, 1 given" in refusal(control(SPREAD[:1], look(SPREAD[:1])))
    assert "0 given" in refusal(())


def test_points_outside_the_frame_are_named_with_their_lines(look, control):
    uv = look(flat(SPREAD))
    uv[1], uv[3] = (-0.6, 20.0), (20.0, 239.6)
    text = refusal(control(flat(SPREAD), uv))
    assert "control points:3: pixel (-0.6, 20) of P2 lies outside the frame of 320 × 240" in text
    assert "control points:5:" in text


def test_points_on_a_line_are_refused_by_name(look, control):
    row = np.array([[10.0, 10, 0], [50, 30.1, 0], [90, 50, 0]])
    assert "P1, P2, P3 lie on one line (within 0.1 mm); add a point well off" in refusal(control(row, look(row)))
    with_one_off = np.vstack([row, [[70.0, 15.0, 0.0]]])
    points = control(with_one_off, look(with_one_off))
    assert "all control points but P4 lie on one line" in refusal(points)
    assert fit_registration(points, "top", SHAPE, Lens(28.0)).model == "camera"


def test_coincident_points_are_refused(look, control):
    twice = np.vstack([SPREAD[:3], SPREAD[:1] + [0.1, 0.1, 0.0]])
    assert "P1 (line 2) and P4 lie at the same pixel" in refusal(control(twice, look(twice)))


@pytest.mark.parametrize("count", [3, 4, 7])
@pytest.mark.parametrize("hfov_deg", [None, 28.0])
@pytest.mark.parametrize(("given", "other"), [("top", "bottom"), ("bottom", "top")])
def test_a_mirrored_view_contradicts_the_side(look, control, count, hfov_deg, given, other):
    seen = flat(SPREAD)[:count]
    text = refusal(control(seen, look(seen, other, **TILTED)), given, Lens(hfov_deg))
    assert "mirrored" in text
    assert f'set side = "{other}"' in text


def test_pixel_rows_counted_upwards_are_refused(look, control):
    uv = look(flat(SPREAD))
    uv[:, 1] = 239.0 - uv[:, 1]
    assert "it counts downwards" in refusal(control(flat(SPREAD), uv))


def test_points_that_fit_no_view_are_refused(control):
    rng = np.random.default_rng(3)
    messages = []
    for _ in range(2):
        uv = rng.uniform([10, 10], [310, 230], (7, 2))
        messages.append(refusal(control(flat(SPREAD), uv), lens=Lens(28.0)))
    assert all("fit no view" in text or "mirrored" in text or "horizon" in text for text in messages)


def test_a_horizon_inside_the_frame_is_refused(control):
    close = np.array([[48.0, 30, 0], [52, 30, 0], [48, 33, 0], [52, 33, 0]])
    uv = np.array([[140.0, 150], [180, 150], [156, 120], [164, 120]])  # converges far too fast
    assert "horizon" in refusal(control(close, uv))


def test_four_points_say_that_nothing_checks_them(look, control):
    seen = flat(SPREAD)[:4]
    found = fit_registration(control(seen, look(seen)), "top", SHAPE)
    assert any("leave nothing over to check" in text for text in found.warnings)
    assert [item.left_out_px for item in found.points] == [None] * 4


def test_a_board_placed_far_from_its_origin_fits_as_well(look, control):
    shift = np.array([4000.0, -7000.0, 0.0])
    uv = look(SPREAD, **TILTED)
    here = fit_registration(control(SPREAD, uv), "top", SHAPE, Lens(28.0))
    there = fit_registration(control(SPREAD + shift, uv), "top", SHAPE, Lens(28.0))
    assert_allclose(pixels_from_board(there, SPREAD + shift), pixels_from_board(here, SPREAD), atol=1e-4)


PLACES_MM = st.sampled_from([0.0, 1e-3, 5.0, 50.0, 51.0, -20.0, 1e5])


@given(
    rows=st.lists(
        st.tuples(
            st.floats(-0.5, 319.5) | st.sampled_from([0.0, 100.0]),
            st.floats(-0.5, 239.5),
            PLACES_MM | st.floats(-100.0, 100.0),
            PLACES_MM | st.floats(-100.0, 100.0),
            st.sampled_from([0.0, 1.6, 300.0, -5.0]),
            st.sampled_from([1e-3, 0.5, 100.0]),
        ),
        max_size=6,
    ),
    side=st.sampled_from(["top", "bottom"]),
    hfov_deg=st.sampled_from([None, 1.5, 28.0, 149.0]),
    distance_m=st.sampled_from([None, 1e-3, 0.3]),
)
def test_any_points_give_finite_numbers_or_an_input_error(rows, side, hfov_deg, distance_m):
    points = [ControlPoint((u, v), (x, y), z, pixel_u, None, 2) for u, v, x, y, z, pixel_u in rows]
    try:
        found = fit_registration(points, side, SHAPE, Lens(hfov_deg, distance_m))
    except InputError as error:
        assert error.problems
    else:
        assert np.isfinite(found.pixel_from_board).all()
        assert np.isfinite(found.covariance).all()
        assert np.isfinite([found.rms_px or 0.0, found.rms_mm or 0.0, found.mm_per_px]).all()
