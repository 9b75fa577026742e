"""Smoothings against scipy's own."""

import numpy as np
import pytest
from scipy import ndimage

from overlay.frames.smoothing import blocks, gaussian, weighted

MAP = np.random.default_rng(3).normal(300.0, 20.0, (37, 50))


@pytest.mark.parametrize("sigma_px", [0.05, 0.4, 0.8, 2.0, 9.0])
def test_a_gaussian_is_scipys_with_the_frame_going_on_beyond_its_edge(sigma_px: float) -> None:
    expected = ndimage.gaussian_filter(MAP, sigma_px, mode="nearest")
    assert gaussian(MAP, sigma_px) == pytest.approx(expected, rel=1e-13)


def test_no_smoothing_leaves_a_map_as_it_is() -> None:
    assert np.array_equal(gaussian(MAP, 0.0), MAP)


def test_a_kernel_weighs_what_lies_around_each_pixel() -> None:
    kernel = np.array([[0.0, 1.0, 0.0], [1.0, 4.0, 1.0], [0.0, 1.0, 0.0]]) / 8.0
    assert weighted(MAP, kernel) == pytest.approx(ndimage.convolve(MAP, kernel, mode="nearest"), rel=1e-13)


def test_blocks_are_means_of_their_pixels() -> None:
    fine = MAP[:36, :48]
    assert blocks(fine, 4) == pytest.approx(fine.reshape(9, 4, 12, 4).mean(axis=(1, 3)), rel=1e-13)
