"""Shares of blurred pixels against their closed form."""

import numpy as np
import pytest
import shapely

from overlay.frames.optics import fill_fraction
from overlay.view.shares import FINE, painted


@pytest.mark.parametrize("sigma", [0.4, 0.55, 1.0])
@pytest.mark.parametrize("size", [(1.0, 1.0), (2.0, 1.3), (4.3, 2.0)])
@pytest.mark.parametrize("at", [(10.0, 10.0), (10.5, 10.25), (9.8, 10.4)])
def test_a_rectangles_shares_are_its_fill_fractions(
    sigma: float, size: tuple[float, float], at: tuple[float, float]
) -> None:
    (width, height), (x, y) = size, at
    region = shapely.box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
    (share,) = painted([region], np.ones((1, 1)), (21, 21), sigma, FINE)
    rows, cols = np.mgrid[0:21, 0:21]
    assert share == pytest.approx(fill_fraction(width, height, cols - x, rows - y, sigma), abs=0.02)
    assert share.sum() == pytest.approx(width * height, rel=1e-6)


def test_every_region_is_painted_with_its_own_values() -> None:
    regions = [shapely.box(-0.5, -0.5, 4.5, 9.5), shapely.box(4.5, -0.5, 9.5, 9.5)]
    planes = painted(regions, np.array([[1.0, 0.0], [3.0, 2.0]]), (10, 10), 0.0)
    assert planes[0, :, :5] == pytest.approx(np.ones((10, 5)))
    assert planes[0, :, 5:] == pytest.approx(np.full((10, 5), 3.0))
    assert planes[1].sum() == pytest.approx(100.0)
