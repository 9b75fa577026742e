"""Exact pixel shares."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from overlay.view.overlaps import Weights
from overlay.view.regions import pixel_weights_of

SHAPE = (9, 11)
coordinates = st.floats(-4.0, 14.0, allow_nan=False)
triangles = st.lists(st.tuples(coordinates, coordinates), min_size=3, max_size=3)


def pixel_weights(region: shapely.Geometry, shape_px: tuple[int, int]) -> Weights:
    return pixel_weights_of([region], shape_px)[0]


def frame_polygon() -> shapely.Polygon:
    rows, cols = SHAPE
    return shapely.box(-0.5, -0.5, cols - 0.5, rows - 0.5)


def test_a_square_on_the_grid_covers_whole_pixels() -> None:
    weights = pixel_weights(shapely.box(1.5, 2.5, 4.5, 4.5), SHAPE)
    assert sorted(zip(weights.rows, weights.cols, strict=True)) == [(r, c) for r in (3, 4) for c in (2, 3, 4)]
    assert weights.weight == pytest.approx(np.ones(6), abs=1e-12)
    assert weights.window == (3, 5, 2, 5)


def test_a_quarter_pixel_square_weighs_a_quarter() -> None:
    weights = pixel_weights(shapely.box(3.0, 3.0, 3.5, 3.5), SHAPE)
    assert (weights.rows.tolist(), weights.cols.tolist()) == ([3], [3])
    assert weights.weight[0] == pytest.approx(0.25, abs=1e-12)


@given(triangles)
def test_weights_sum_to_the_area_inside_the_frame(triangle: list[tuple[float, float]]) -> None:
    polygon = shapely.Polygon(triangle)
    expected = polygon.buffer(0).intersection(frame_polygon()).area
    for region in (polygon, shapely.Polygon(triangle[::-1])):
        assert pixel_weights(region, SHAPE).area_px == pytest.approx(expected, abs=1e-9)


@given(st.tuples(coordinates, coordinates), st.floats(0.05, 6.0), st.floats(0.0, 0.9), st.integers(3, 40))
def test_each_share_is_the_area_that_clipping_finds(
    center: tuple[float, float], radius: float, hole: float, sides: int
) -> None:
    angle = np.arange(sides) * 2.0 * np.pi / sides
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    region = shapely.Polygon(center + radius * ring, [center + hole * radius * ring] if hole > 0.01 else [])
    weights = pixel_weights(region, SHAPE)
    share = np.zeros(SHAPE)
    share[weights.rows, weights.cols] = weights.weight
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    clipped = shapely.area(shapely.intersection(shapely.box(x - 0.5, y - 0.5, x + 0.5, y + 0.5), region))
    assert share == pytest.approx(clipped, abs=1e-9)


def test_many_regions_at_once_are_as_one_by_one() -> None:
    rng = np.random.default_rng(4)
    regions = [shapely.Point(rng.uniform(-3, 14, 2)).buffer(rng.uniform(0.1, 5)) for _ in range(20)]
    regions.insert(3, shapely.Polygon())
    regions.append(shapely.MultiPolygon([shapely.box(0, 0, 2, 2), shapely.box(4, 4, 5, 7)]))
    for region, many in zip(regions, pixel_weights_of(regions, SHAPE), strict=True):
        one = pixel_weights(region, SHAPE)
        assert many.area_px == pytest.approx(one.area_px, abs=1e-9)
        assert many.share() == pytest.approx(one.share(), abs=1e-9)


def test_a_region_outside_the_frame_and_an_empty_one_weigh_nothing() -> None:
    outside, empty = pixel_weights_of([shapely.box(100, 100, 130, 120), shapely.Polygon()], SHAPE)
    assert outside.area_px == 0.0
    assert empty.area_px == 0.0
    assert np.isnan(empty.mean(np.ones(SHAPE)))


def test_a_region_around_the_whole_frame_covers_every_pixel_once() -> None:
    weights = pixel_weights(shapely.box(-1e6, -1e6, 1e6, 1e6), SHAPE)
    assert weights.share() == pytest.approx(np.ones(SHAPE), abs=1e-9)


def test_the_mean_of_a_plane_over_a_region_is_its_value_at_the_centroid_of_the_shares() -> None:
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    region = shapely.box(2.5, 1.5, 6.5, 5.5)  # on the grid, so that pixel centres carry the plane exactly
    assert pixel_weights(region, SHAPE).mean(3.0 * x - 2.0 * y) == pytest.approx(3.0 * 4.5 - 2.0 * 3.5, abs=1e-12)
