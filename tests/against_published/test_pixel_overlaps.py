"""Exact pixel shares; source of the reference areas: the geometry engine GEOS, by shapely's intersections."""

import numpy as np
import pytest
import shapely

from overlay.view.regions import pixel_weights_of

SHAPE = (40, 50)


def by_clipping(region: shapely.Geometry) -> np.ndarray:
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    pixels = shapely.box(x - 0.5, y - 0.5, x + 0.5, y + 0.5)
    return np.asarray(shapely.area(shapely.intersection(pixels, region)))


def random_regions() -> list[shapely.Geometry]:
    rng = np.random.default_rng(20)
    regions: list[shapely.Geometry] = []
    for _ in range(60):
        center, size = rng.uniform(-5.0, 55.0, 2), rng.uniform(0.2, 14.0, 2)
        box = shapely.box(*(center - size / 2), *(center + size / 2))
        regions.append(shapely.affinity.rotate(box, rng.choice([0.0, 90.0, 45.0, rng.uniform(0, 180)])))
        regions.append(regions[-1].difference(shapely.Point(center).buffer(size.min() / 3)))
        regions.append(regions[-1].union(shapely.Point(center + 10.0).buffer(2.0)))
    return regions


def test_shares_equal_the_clipped_areas_pixel_by_pixel() -> None:
    regions = random_regions()
    for region, weights in zip(regions, pixel_weights_of(regions, SHAPE), strict=True):
        share = np.zeros(SHAPE)
        share[weights.rows, weights.cols] = weights.weight
        assert share == pytest.approx(by_clipping(region), abs=1e-10)


def test_areas_of_known_shapes_come_out_as_in_a_table_of_formulae() -> None:
    angle = np.arange(720) * np.pi / 360.0
    circle = np.column_stack([20.0 + 7.0 * np.cos(angle), 18.0 + 7.0 * np.sin(angle)])
    kite = np.array([[10.0, 5.0], [14.0, 11.0], [10.0, 25.0], [6.0, 11.0]])
    round_area, kite_area = (
        weights.area_px for weights in pixel_weights_of([shapely.Polygon(circle), shapely.Polygon(kite)], SHAPE)
    )
    # regular polygon of n corners: n/2 · r² · sin(2π/n); kite: half the product of its diagonals
    assert round_area == pytest.approx(360.0 * 49.0 * np.sin(np.pi / 360.0), rel=1e-12)
    assert kite_area == pytest.approx(0.5 * 8.0 * 20.0, rel=1e-12)
