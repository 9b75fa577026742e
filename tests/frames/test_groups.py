"""Groups of touching pixels against another library's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from overlay.frames.groups import groups, grown, medians


@pytest.mark.parametrize("corners", [False, True])
@pytest.mark.parametrize("share", [0.05, 0.4, 0.55, 0.7, 1.0])
def test_groups_and_their_order_are_those_of_a_plain_labelling(share: float, corners: bool) -> None:
    for seed in range(20):
        mask = np.random.default_rng(seed).random((37, 53)) < share
        found, count = groups(mask, corners=corners)
        truth, truly = ndimage.label(mask, structure=np.ones((3, 3)) if corners else None)
        assert count == truly
        assert np.array_equal(found, truth)


def test_an_empty_mask_has_no_groups() -> None:
    found, count = groups(np.zeros((4, 5), dtype=bool))
    assert (found.sum(), count) == (0, 0)


def test_a_mask_grows_to_its_four_sides() -> None:
    mask = np.random.default_rng(1).random((30, 20)) < 0.1
    assert np.array_equal(grown(mask), ndimage.binary_dilation(mask))


def test_medians_are_those_of_each_group() -> None:
    rng = np.random.default_rng(2)
    values, group = rng.normal(size=200), rng.integers(0, 40, 200) * 2
    found = medians(values, group, 90)
    for number in range(91):
        own = values[group == number]
        assert found[number] == np.median(own) if len(own) else np.isnan(found[number])
