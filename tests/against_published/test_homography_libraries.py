"""Homographies and camera views against scikit-image and OpenCV.

Source of the reference values: two independent implementations. Scikit-image's direct linear transform
(`ProjectiveTransform`); OpenCV's least squares in pixels (`findHomography`, method 0), its pose (`solvePnP`) and its
pinhole with distortion (`projectPoints`).
"""

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose
from skimage.transform import ProjectiveTransform

from overlay.registration.camera import Pinhole
from overlay.registration.fit import fit_registration
from overlay.registration.fit_models import fit_camera, fit_flat
from overlay.registration.least_squares import CameraPriors, Sightings
from overlay.registration.model import ControlPoint

SHAPE = (480, 640)
MATRIX = np.array([[5.6, 0.4, 40.0], [0.3, -5.9, 430.0], [0.0008, -0.0006, 1.0]])
GRID = np.array([[x, y, 0.0] for x in np.linspace(0, 95, 7) for y in np.linspace(0, 62, 5)])


def carried(matrix: np.ndarray, xyz: np.ndarray) -> np.ndarray:
    u, v, w = matrix @ np.vstack([xyz[:, :2].T, np.ones(len(xyz))])
    return np.stack([u / w, v / w], axis=1)


def noisy(seed: int, count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    edge = np.array([[5.0, 5.0], [90.0, 8.0], [88.0, 57.0], [8.0, 55.0]])
    xyz = np.column_stack([np.vstack([edge, rng.uniform([5, 5], [90, 57], (count - 4, 2))]), np.zeros(count)])
    return xyz, carried(MATRIX, xyz) + rng.normal(0.0, 0.5, (count, 2))


def skimage_matrix(xyz: np.ndarray, uv: np.ndarray) -> np.ndarray:
    return np.asarray(ProjectiveTransform.from_estimate(xyz[:, :2], uv).params)


@pytest.mark.parametrize("seed", range(5))
def test_four_points_give_the_matrix_of_scikit_image_and_opencv(seed):
    xyz, uv = noisy(seed, 4)
    points = [ControlPoint(tuple(p), (x, y), z, 0.5, None, 2) for (x, y, z), p in zip(xyz, uv, strict=True)]
    ours = fit_registration(points, "top", SHAPE).pixel_from_board
    assert_allclose(carried(ours, GRID), carried(skimage_matrix(xyz, uv), GRID), atol=1e-6)
    assert_allclose(carried(ours, GRID), carried(cv2.findHomography(xyz[:, :2], uv, 0)[0], GRID), atol=1e-3)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("count", [6, 12, 40])
def test_noisy_points_give_the_least_squares_homography_of_opencv(seed, count):
    xyz, uv = noisy(seed, count)
    fit = fit_flat(Sightings(xyz, uv, np.full(count, 0.5)), "top", SHAPE)
    ours = fit.projection.pixels(fit.parameters, GRID)
    theirs = cv2.findHomography(xyz[:, :2], uv, 0)[0]
    assert_allclose(ours, carried(theirs, GRID), atol=0.01)
    # the direct linear transform minimises an algebraic error: near, and never better in pixels
    linear = skimage_matrix(xyz, uv)
    assert_allclose(ours, carried(linear, GRID), atol=0.5)
    squares = ((fit.projection.pixels(fit.parameters, xyz) - uv) ** 2).sum()
    assert squares <= ((carried(linear, xyz) - uv) ** 2).sum() + 1e-9
    assert squares <= ((carried(theirs, xyz) - uv) ** 2).sum() + 1e-9


def test_the_pinhole_projects_as_opencv_does():
    pose = np.array([3.0, 0.2, -0.25, 4.0, -6.0, 280.0, np.log(1280.0), -0.08])
    pinhole = Pinhole("top", SHAPE, (50.0, 32.0))
    xyz = np.column_stack([GRID[:, :2], np.linspace(0.0, 15.0, len(GRID))])
    inner = np.array([[1280.0, 0, 319.5], [0, 1280.0, 239.5], [0, 0, 1.0]])
    theirs, slopes = cv2.projectPoints(
        xyz - [50.0, 32.0, 0.0], pose[:3], pose[3:6], inner, np.array([-0.08, 0.0, 0.0, 0.0])
    )
    assert_allclose(pinhole.pixels(pose, xyz), theirs[:, 0], atol=1e-7)
    assert_allclose(pinhole.jacobian(pose, xyz)[:, :, :6].reshape(-1, 6), slopes[:, :6], atol=1e-5)


@pytest.mark.parametrize("seed", range(5))
def test_the_pose_is_that_of_opencv_where_the_priors_say_nothing_more(seed):
    rng = np.random.default_rng(seed)
    xyz = np.column_stack([rng.uniform([5, 5], [95, 60], (10, 2)), rng.choice([0.0, 1.6, 10.0], 10)])
    pose = np.array([3.0, 0.2, -0.25, -40.0, 25.0, 280.0, np.log(1280.0), 0.0])
    uv = Pinhole("top", SHAPE, (0.0, 0.0)).pixels(pose, xyz) + rng.normal(0.0, 0.4, (10, 2))
    priors = CameraPriors(1280.0, focal_u=1e-6, radial_u=1e-6, tilt_u=1e3)
    fit = fit_camera(Sightings(xyz, uv, np.full(10, 0.4)), "top", SHAPE, priors)
    inner = np.array([[1280.0, 0, 319.5], [0, 1280.0, 239.5], [0, 0, 1.0]])
    _, turn, shift = cv2.solvePnP(xyz, uv, inner, np.zeros(4), pose[:3].copy(), pose[3:6].copy(), True)
    theirs = cv2.projectPoints(GRID, turn, shift, inner, np.zeros(4))[0][:, 0]
    assert_allclose(fit.projection.pixels(fit.parameters, GRID), theirs, atol=0.02)
