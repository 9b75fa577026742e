"""The pinhole camera, held against plain geometry."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from overlay.registration.camera import Pinhole, focal_px_from_field, rotation_matrix, rotation_vector

PINHOLE = Pinhole("top", (240, 320), (50.0, 32.0))
POSE = np.array([3.0, 0.2, -0.25, 4.0, -6.0, 280.0, np.log(640.0), -0.02])
XYZ = np.array([[10.0, 8, 0], [90, 12, 1.5], [80, 60, 12], [15, 55, 0.5], [50, 32, 0]])


def test_the_field_of_view_spans_the_columns():
    assert focal_px_from_field(90.0, (240, 320)) == pytest.approx(160.0)


@pytest.mark.parametrize("side", ["top", "bottom"])
def test_derivatives_are_those_of_the_pixels(side):
    pinhole = Pinhole(side, (240, 320), (50.0, 32.0))
    for column, step in enumerate([1e-6] * 3 + [1e-4] * 3 + [1e-6] * 2):
        change = step * np.eye(8)[column]
        slope = (pinhole.pixels(POSE + change, XYZ) - pinhole.pixels(POSE - change, XYZ)) / (2 * step)
        assert_allclose(pinhole.jacobian(POSE, XYZ)[:, :, column], slope, rtol=1e-5, atol=1e-5)
    for axis in range(3):
        change = 1e-4 * np.eye(3)[axis]
        slope = (pinhole.pixels(POSE, XYZ + change) - pinhole.pixels(POSE, XYZ - change)) / 2e-4
        assert_allclose(pinhole.board_jacobian(POSE, XYZ)[:, :, axis], slope, atol=1e-6)


def test_distance_and_normal_have_their_derivatives():
    for column, step in enumerate([1e-6] * 3 + [1e-4] * 3 + [1e-6] * 2):
        change = step * np.eye(8)[column]
        distance = (PINHOLE.distance_mm(POSE + change)[0] - PINHOLE.distance_mm(POSE - change)[0]) / (2 * step)
        assert PINHOLE.distance_mm(POSE)[1][column] == pytest.approx(distance, abs=1e-4)
        if column < 3:
            normal = (PINHOLE.normal(POSE + change)[0] - PINHOLE.normal(POSE - change)[0]) / (2 * step)
            assert_allclose(PINHOLE.normal(POSE)[1][:, column], normal, atol=1e-6)


def test_distance_is_measured_along_the_axis():
    camera = PINHOLE.camera(POSE)
    axis = camera.rotation.T @ [0.0, 0.0, 1.0]
    eye = camera.position_mm()
    met = eye + PINHOLE.distance_mm(POSE)[0] * axis
    assert met[2] == pytest.approx(0.0, abs=1e-9)


@given(
    side=st.sampled_from(["top", "bottom"]),
    turn=st.floats(-3.1, 3.1),
    tilt=st.tuples(st.floats(-0.6, 0.6), st.floats(-0.6, 0.6)),
    z=st.floats(0.0, 20.0),
    radial=st.floats(-0.1, 0.1),
    xy=st.tuples(st.floats(0.0, 100.0), st.floats(0.0, 64.0)),
)
def test_there_and_back_is_the_same_point(side, turn, tilt, z, radial, xy):
    pinhole = Pinhole(side, (240, 320), (50.0, 32.0))
    down = np.diag([1.0, -1.0, -1.0])
    rotation = rotation_matrix(np.array([*tilt, 0.0])) @ rotation_matrix(np.array([0.0, 0.0, turn])) @ down
    pose = np.array([*rotation_vector(rotation), 3.0, -2.0, 290.0, np.log(640.0), radial])
    uv = pinhole.pixels(pose, np.array([[*xy, z]]))
    assert_allclose(pinhole.board(pose, uv, np.array([z])), [xy], atol=1e-6)


def test_nothing_is_seen_behind_the_camera_or_beyond_the_fold_of_the_lens():
    behind = np.array([[50.0, 32.0, 400.0]])
    assert np.isnan(PINHOLE.pixels(POSE, behind)).all()
    bent = POSE.copy()
    bent[7] = -0.3
    far_off = np.array([[600.0, 32.0, 0.0]])
    assert np.isnan(PINHOLE.pixels(bent, far_off)).all()
    assert np.isnan(PINHOLE.board(bent, np.array([[2000.0, 100.0]]), np.zeros(1))).all()


def test_a_ray_that_misses_the_surface_has_no_place_on_it():
    level = POSE.copy()
    level[:3] = rotation_vector(rotation_matrix(np.array([1.4, 0.0, 0.0])) @ np.diag([1.0, -1.0, -1.0]))
    level[7] = 0.0
    places = PINHOLE.board(level, np.array([[159.5, 0.0], [159.5, 239.0]]), np.zeros(2))
    assert np.isnan(places).any(axis=1).sum() == 1
