"""The flat models: similarity, affine map, homography."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from overlay.registration.planar import Planar, estimate_affine, estimate_homography, estimate_similarity

RNG = np.random.default_rng(11)
PLANAR = Planar("top", (240, 320), (50.0, 32.0), 30.0)
TRUE = np.array([0.7, 0.1, 0.02, 0.12, -0.68, 0.05, 0.06, -0.04])


def surface(count: int) -> np.ndarray:
    return np.column_stack([RNG.uniform([0, 0], [100, 64], (count, 2)), np.zeros(count)])


def test_four_exact_points_give_the_homography_back():
    xyz = np.array([[5.0, 5, 0], [95, 8, 0], [90, 60, 0], [7, 55, 0]])
    found = estimate_homography(PLANAR, xyz, PLANAR.pixels(TRUE, xyz))
    assert_allclose(found, TRUE, atol=1e-10)


def test_three_exact_points_give_the_affine_map_back():
    affine = np.array([*TRUE[:6], 0.0, 0.0])
    xyz = surface(3)
    assert_allclose(estimate_affine(PLANAR, xyz, PLANAR.pixels(affine, xyz)), affine, atol=1e-12)


@pytest.mark.parametrize(("side", "sign"), [("top", -1.0), ("bottom", 1.0)])
def test_a_similarity_mirrors_as_its_side_asks(side, sign):
    planar = Planar(side, (240, 320), (50.0, 32.0), 30.0)
    xyz = np.array([[20.0, 20, 0], [80, 40, 0]])
    uv = np.array([[40.0, 60], [250, 170]])
    h = estimate_similarity(planar, xyz, uv)
    assert_allclose(planar.pixels(h, xyz), uv, atol=1e-9)
    slopes = planar.board_jacobian(h, xyz)[0, :, :2]
    assert np.sign(np.linalg.det(slopes)) == sign
    assert_allclose(slopes @ slopes.T, abs(np.linalg.det(slopes)) * np.eye(2), atol=1e-9)


def test_derivatives_are_those_of_the_pixels():
    xyz = surface(5)
    step = 1e-6
    for column in range(8):
        change = step * np.eye(8)[column]
        slope = (PLANAR.pixels(TRUE + change, xyz) - PLANAR.pixels(TRUE - change, xyz)) / (2 * step)
        assert_allclose(PLANAR.jacobian(TRUE, xyz)[:, :, column], slope, atol=1e-5)
    for axis in range(3):
        change = step * np.eye(3)[axis]
        slope = (PLANAR.pixels(TRUE, xyz + change) - PLANAR.pixels(TRUE, xyz - change)) / (2 * step)
        assert_allclose(PLANAR.board_jacobian(TRUE, xyz)[:, :, axis], slope, atol=1e-6)


def test_the_matrix_ends_in_one_and_carries_points_alike():
    xyz = surface(6)
    matrix = PLANAR.matrix(TRUE)
    assert matrix[2, 2] == 1.0
    u, v, w = matrix @ np.vstack([xyz[:, :2].T, np.ones(6)])
    assert_allclose(np.stack([u / w, v / w], 1), PLANAR.pixels(TRUE, xyz), atol=1e-9)


def test_points_from_the_horizon_on_have_no_pixel_and_pixels_beyond_it_no_point():
    steep = np.array([0.7, 0.0, 0.0, 0.0, -0.7, 0.0, 0.0, -0.5])
    on, beyond = 32.0 + 30.0 * 2.0, 32.0 + 30.0 * 3.0  # the denominator 1 - Y/2 is 0, then negative
    assert np.isnan(PLANAR.pixels(steep, np.array([[50.0, on, 0], [50.0, beyond, 0]]))).all()
    # rows above the vanishing line of this view
    assert np.isnan(PLANAR.board(steep, np.array([[160.0, -119.5]]) + [0, 600], np.zeros(1))).all()
