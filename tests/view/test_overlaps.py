"""What is asked of many regions at once is what each by itself says."""

import numpy as np
import pytest
import shapely

from overlay.view.regions import pixel_blocks_of, pixel_weights_of

SHAPE = (23, 31)
RNG = np.random.default_rng(8)
MAP = RNG.normal(size=SHAPE)
REGIONS = [shapely.Point(RNG.uniform(-2.0, 30.0, 2)).buffer(RNG.uniform(0.2, 6.0)) for _ in range(12)]
REGIONS[3:3] = [shapely.Polygon(), shapely.box(40.0, 40.0, 50.0, 50.0)]
VALUES = RNG.uniform(1.0, 9.0, len(REGIONS))


def test_sums_extremes_and_quantiles_are_those_of_each_region() -> None:
    overlaps = pixel_weights_of(REGIONS, SHAPE)
    shown = MAP.ravel()[overlaps.pixel]
    sums, (lowest, highest) = overlaps.sums(overlaps.weight * shown), overlaps.extremes(shown)
    low, middle = overlaps.quantiles(shown, (0.05, 0.5))
    for i, weights in enumerate(overlaps):
        own = MAP[weights.rows, weights.cols]
        assert sums[i] == pytest.approx(weights.weight @ own)
        assert overlaps.area_px[i] == pytest.approx(weights.area_px)
        assert overlaps.means(MAP)[i] == pytest.approx(weights.mean(MAP), nan_ok=True)
        found = (lowest[i], highest[i], low[i], middle[i])
        if len(own):
            assert found == pytest.approx((own.min(), own.max(), *np.quantile(own, [0.05, 0.5])), abs=1e-12)
        else:
            assert np.isnan(found).all()


def test_some_regions_and_some_entries_are_what_they_were_among_all() -> None:
    overlaps = pixel_weights_of(REGIONS, SHAPE)
    some = overlaps.of(np.array([7, 3, 0]))
    for one, i in zip(some, (7, 3, 0), strict=True):
        assert np.array_equal(one.rows, overlaps[i].rows)
        assert np.array_equal(one.weight, overlaps[i].weight)
        assert one.window == overlaps[i].window
    full = overlaps.only(overlaps.weight > 0.5)
    for one, whole in zip(full, overlaps, strict=True):
        assert np.array_equal(one.cols, whole.cols[whole.weight > 0.5])


def test_blocks_hold_the_same_shares_and_paint_them_once_each() -> None:
    blocks, overlaps = pixel_blocks_of(REGIONS, SHAPE), pixel_weights_of(REGIONS, SHAPE)
    assert blocks.covered.tolist() == (overlaps.area_px > 0.0).tolist()
    expected = np.zeros(SHAPE)
    for weights, share, value in zip(overlaps, blocks, VALUES, strict=True):
        assert share == pytest.approx(weights.share(), abs=1e-11)
        expected[weights.rows, weights.cols] += value * weights.weight
    assert blocks.painted(VALUES) == pytest.approx(expected, abs=1e-5)  # in 32 bits
    assert blocks.sums(MAP) == pytest.approx(overlaps.sums(overlaps.weight * MAP.ravel()[overlaps.pixel]), abs=1e-9)


def test_a_mask_keeps_its_own_pixels_alone() -> None:
    mask = MAP > 0.0
    whole, masked = pixel_weights_of(REGIONS, SHAPE), pixel_blocks_of(REGIONS, SHAPE).overlaps(mask)
    for one, all_of_it in zip(masked, whole, strict=True):
        kept = mask[all_of_it.rows, all_of_it.cols]
        assert np.array_equal(one.rows, all_of_it.rows[kept])
        assert np.array_equal(one.weight, all_of_it.weight[kept])


def test_nothing_is_made_of_no_regions() -> None:
    none = pixel_weights_of([], SHAPE)
    assert len(none) == len(none.area_px) == len(none.quantiles(np.zeros(0), (0.5,))[0]) == 0
    assert pixel_blocks_of([], SHAPE).painted(np.zeros(0)).sum() == 0.0
