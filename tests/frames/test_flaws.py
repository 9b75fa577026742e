"""Plateaus, dead pixels and burnt-in marks, on pictures drawn by supersampling and a Gaussian filter."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from overlay.frames.flaws import filled, find_flaws
from overlay.frames.frame import Array

FINER = 5
ROWS, COLS = 96, 128


def scene(
    seed: int, *, blur_px: float = 1.2, noise_c: float = 0.06, parts: int = 60, hottest_c: float = 120.0
) -> Array:
    """A board with a slope, large parts and resistors of half a pixel to two, (rows, cols) in °C."""
    rng = np.random.default_rng(seed)
    fine = 35.0 + 15.0 * np.linspace(0, 1, COLS * FINER)[None, :] + np.zeros((ROWS * FINER, 1))
    for number in range(parts):
        small = number % 3 > 0
        wide, high = rng.uniform(0.5, 2.0, 2) if small else rng.uniform(4.0, 25.0, 2)
        x, y = rng.uniform(2, COLS - 28), rng.uniform(2, ROWS - 28)
        box = np.s_[round(y * FINER) : round((y + high) * FINER), round(x * FINER) : round((x + wide) * FINER)]
        fine[box] = rng.uniform(45.0, hottest_c)
    blurred = gaussian_filter(fine, blur_px / 2.3548 * FINER, mode="nearest")
    page = blurred.reshape(ROWS, FINER, COLS, FINER).mean(axis=(1, 3))
    return np.asarray(page + rng.normal(0.0, noise_c, page.shape))


@pytest.mark.parametrize("blur_px", [0.9, 1.2, 2.0])
@pytest.mark.parametrize("rounded", [False, True])
def test_nothing_real_is_left_out_however_small_and_no_even_top_is_a_plateau(blur_px: float, rounded: bool) -> None:
    for seed in range(12):
        page = scene(seed, blur_px=blur_px)
        found = find_flaws((np.round(page, 1) if rounded else page)[None])
        assert not found.left_out.any(), np.argwhere(found.left_out)
        assert not found.saturated.any(), seed


def test_even_tops_of_rounded_frames_without_noise_are_no_plateaus() -> None:
    for seed in range(12):
        assert not find_flaws(np.round(scene(seed, noise_c=0.01), 1)[None]).saturated.any(), seed


@pytest.mark.parametrize("decimals", [1, 2, 6])
@pytest.mark.parametrize("end_c", [70.0, 90.0, 110.0])
def test_a_cut_off_range_is_found_to_the_pixel(decimals: int, end_c: float) -> None:
    for seed in range(12):
        page = np.round(np.minimum(scene(seed), end_c), decimals)
        at_end = page == end_c
        if 20 < at_end.sum() < 0.4 * page.size:
            assert (find_flaws(page[None]).saturated == at_end).all(), seed


def test_a_single_hottest_pixel_an_even_frame_and_a_board_all_at_one_value_are_no_plateaus() -> None:
    page = scene(1)
    page[40, 40] = page.max() + 1.0
    assert not find_flaws(page[None]).saturated.any()
    assert not find_flaws(np.full((1, 20, 30), 25.0)).saturated.any()


def test_dead_pixels_are_found_nearly_all_and_nothing_else() -> None:
    found, planted = 0, 0
    for seed in range(20):
        page = scene(seed, blur_px=1.5)
        rng = np.random.default_rng(seed)
        at = rng.integers(1, [ROWS - 1, COLS - 1], (5, 2))
        dead = np.zeros(page.shape, dtype=bool)
        dead[tuple(at.T)] = True
        page[dead] += rng.choice([-1.0, 1.0], dead.sum()) * rng.uniform(20.0, 100.0, dead.sum())
        left_out = find_flaws(page[None]).left_out
        assert not (left_out & ~dead).any(), seed
        found, planted = found + int(left_out.sum()), planted + int(dead.sum())
    assert found >= 0.75 * planted, (found, planted)  # what stands on a bend of the scene is let be


def test_a_crosshair_and_text_burnt_in_are_left_out_and_what_lay_under_them_is_filled_from_beside() -> None:
    clean = scene(3)
    page = clean.copy()
    mark = np.zeros(page.shape, dtype=bool)
    mark[48, 50:79] = mark[34:63, 64] = True  # a crosshair
    mark[4:11, [6, 12]] = mark[4, 6:13] = mark[10, 6:13] = True  # a zero
    page[mark] = 150.0
    flaws = find_flaws(page[None])
    assert (flaws.left_out == mark).all()
    assert not flaws.saturated.any()
    mended = filled(page, flaws.left_out)
    assert (mended[~mark] == page[~mark]).all()
    assert np.median(np.abs(mended - clean)[mark]) < 1.0


def test_a_mark_over_a_cut_off_hot_part_hides_neither() -> None:
    page = np.minimum(scene(5), 95.0)
    hot = page == 95.0
    mark = np.zeros(page.shape, dtype=bool)
    mark[80, 20:60] = True
    page[mark] = -20.0
    flaws = find_flaws(page[None])
    assert (flaws.left_out == mark).all()
    assert (flaws.saturated == hot & ~mark).all()
