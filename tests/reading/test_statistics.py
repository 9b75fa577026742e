"""Peaks of noisy, blurred faces."""

import numpy as np
import pytest
import shapely

from overlay.reading.statistics import expected_maximum, peak_of, smoothed
from overlay.view.regions import pixel_weights_of

NOISE = 0.3  # in radiance; one kelvin at 30 °C is 2.7


def simulated(side_px: float, margin_px: float, surface, runs: int = 150) -> np.ndarray:
    """Peaks read minus the true one, over noisy frames of a square face whose surface is a function of (x, y)."""
    size = int(side_px) + 12
    center = (size - 1) / 2.0
    y, x = np.mgrid[0:size, 0:size] - center
    truth = surface(x, y)
    half = side_px / 2.0 - margin_px
    square = np.array([[-half, -half], [half, -half], [half, half], [-half, half]]) + center
    inner = pixel_weights_of([shapely.Polygon(square)], (size, size))[0]
    rng = np.random.default_rng(7)
    errors = []
    for _ in range(runs):
        peak = peak_of(smoothed(truth + rng.normal(0.0, NOISE, truth.shape), NOISE), inner, side_px, margin_px)
        assert peak is not None
        errors.append(peak.leaving - 300.0)
    return np.array(errors)


@pytest.mark.parametrize(("side_px", "margin_px"), [(50.0, 3.0), (20.0, 3.0), (13.0, 3.0), (10.0, 2.0), (7.0, 2.0)])
def test_noise_does_not_raise_the_peak_of_an_even_face(side_px: float, margin_px: float) -> None:
    errors = simulated(side_px, margin_px, lambda x, y: np.full(x.shape, 300.0))
    # 0.05 K at 30 °C
    assert abs(errors.mean()) < 0.05 * 2.7


@pytest.mark.parametrize("side_px", [16.0, 30.0, 50.0])
def test_noise_does_not_raise_the_peak_of_an_uneven_face(side_px: float) -> None:
    bend = 12.0 / (side_px / 2.0) ** 2
    errors = simulated(side_px, 3.0, lambda x, y: 300.0 - bend * (x**2 + y**2))
    assert abs(errors.mean()) < 0.05 * 2.7 + 4.0 / 3.0 * bend  # what a mean over 3 × 3 pixels loses on a parabola


def test_the_claimed_noise_is_the_scatter() -> None:
    errors = simulated(20.0, 3.0, lambda x, y: 300.0 - 0.3 * (x**2 + y**2), runs=400)
    peak_noise = NOISE / 3.0
    assert errors.std() == pytest.approx(peak_noise, rel=0.3)


def test_the_summit_is_found_between_pixels() -> None:
    y, x = np.mgrid[0:30, 0:30]
    radiance = 300.0 - 0.2 * ((x - 14.3) ** 2 + (y - 15.6) ** 2)
    inner = pixel_weights_of([shapely.box(3.0, 3.0, 26.0, 26.0)], (30, 30))[0]
    peak = peak_of(smoothed(radiance, 0.01), inner, 23.0, 2.0)
    assert peak is not None
    assert peak.at_px == pytest.approx((14.3, 15.6), abs=0.05)
    assert peak.rim == 0.0


def test_a_face_that_gets_hotter_towards_its_rim_says_by_how_much_more_it_may() -> None:
    _, x = np.mgrid[0:30, 0:30]
    inner = pixel_weights_of([shapely.box(5.0, 5.0, 24.0, 24.0)], (30, 30))[0]
    peak = peak_of(smoothed(300.0 + 1.5 * x, 0.01), inner, 24.0, 2.5)
    assert peak is not None
    assert peak.rim == pytest.approx(1.5 * 2.5, rel=0.05)


def test_a_region_without_a_pixel_has_no_peak() -> None:
    inner = pixel_weights_of([shapely.box(5.2, 5.2, 5.4, 5.4)], (30, 30))[0]
    assert peak_of(smoothed(np.ones((30, 30)), 0.1), inner, 8.0, 1.0) is None


@pytest.mark.parametrize(("draws", "expected"), [(1, 0.0), (2, 0.5642), (5, 1.1630), (10, 1.5388), (100, 2.5076)])
def test_the_expected_maximum_is_that_of_tables_of_order_statistics(draws: int, expected: float) -> None:
    # Harter, Expected values of normal order statistics, Biometrika 48 (1961) (from memory); Blom's form is 0.02 off
    assert expected_maximum(draws) == pytest.approx(expected, abs=0.03)
