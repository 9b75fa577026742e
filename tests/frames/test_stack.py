import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import tifffile

from overlay.errors import InputError
from overlay.frames.frame import Array, Frame
from overlay.frames.read import read_frame
from overlay.frames.stack import (
    AlignedPages,
    align_pages,
    combine_pages,
    drift,
    mean_page,
)

ROWS, COLS = 120, 160


def board(dx: float = 0.0, dy: float = 0.0, turn_deg: float = 0.0, rise: float = 1.0) -> np.ndarray:
    """A board of soft-edged warm rectangles, drawn exactly at any place."""
    y, x = np.mgrid[0:ROWS, 0:COLS].astype(float)
    x, y = x - dx - (COLS - 1) / 2, y - dy - (ROWS - 1) / 2
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    x, y = c * x + s * y, -s * x + c * y
    rng = np.random.default_rng(3)
    field = np.full((ROWS, COLS), 24.0)
    for _ in range(40):
        cx, cy, w, h = rng.uniform(-70, 70), rng.uniform(-50, 50), rng.uniform(3, 14), rng.uniform(3, 10)
        soft = [1 / (1 + np.exp(-(size / 2 - np.abs(place)) / 0.35)) for size, place in ((w, x - cx), (h, y - cy))]
        field += rng.uniform(3, 30) * rise * soft[0] * soft[1]
    return field


def stack(moves: list[tuple[float, float, float]], noise_c: float = 0.06) -> np.ndarray:
    rng = np.random.default_rng(5)
    return np.stack([board(*move) + rng.normal(0, noise_c, (ROWS, COLS)) for move in moves])


def test_shaken_pages_are_put_over_the_last_one() -> None:
    moves = [(1.7, -0.8, 0.2), (-2.4, 1.3, -0.3), (0.4, 0.3, 0.0), (11.0, -7.0, 0.5), (0.0, 0.0, 0.0)]
    result = align_pages(stack(moves))
    assert result.moved
    assert not result.failed
    np.testing.assert_allclose(result.shift_px, np.array(moves)[:, :2], rtol=0, atol=0.15)
    np.testing.assert_allclose(result.turn_deg, np.array(moves)[:, 2], rtol=0, atol=0.1)
    middle = (slice(20, -20), slice(20, -20))
    raw = np.abs(stack(moves) - board())[(slice(None), *middle)].mean()
    mended = np.abs(np.stack([*AlignedPages(result)]) - board())[(slice(None), *middle)].mean()
    assert mended < 0.25 * raw
    assert np.isnan(result.page(3)).any()


def test_still_pages_stay_untouched() -> None:
    pages = stack([(0.0, 0.0, 0.0)] * 4)
    result = align_pages(pages)
    assert not result.moved
    np.testing.assert_array_equal(np.stack([*AlignedPages(result)]), pages)


def test_pages_of_something_else_are_named_and_left_alone() -> None:
    pages = stack([(0.0, 0.0, 0.0)] * 3)
    pages[1] = 24.0 + np.random.default_rng(1).normal(0, 0.06, (ROWS, COLS))
    result = align_pages(pages)
    assert result.failed == (1,)
    np.testing.assert_array_equal(result.page(1), pages[1])
    assert result.kept == (0, 2)


def test_averaging_lowers_the_noise_by_the_root_of_the_pages() -> None:
    pages = stack([(0.0, 0.0, 0.0)] * 9, noise_c=0.09)
    assert np.std(mean_page(pages).temperature_c - board()) == pytest.approx(0.09 / 3.0, rel=0.05)
    pages[0, :, 0] = np.nan
    assert np.isfinite(mean_page(pages).temperature_c).all()
    assert not mean_page(pages).everywhere[:, 0].any()


@pytest.mark.parametrize("pages", [2, 3, 4, 6, 20])
def test_a_settled_stack_with_a_wandering_camera_does_not_drift(pages: int) -> None:
    for seed in range(20):
        rng = np.random.default_rng(seed)
        wander = rng.normal(0.0, 0.05, (pages, 1, 1))
        field = board()[None] + wander + rng.normal(0.0, 0.08, (pages, ROWS, COLS))
        assert not drift(field, mean_page(field)).drifts


@pytest.mark.parametrize("pages", [2, 3, 4, 6, 20])
def test_a_board_that_warms_up_drifts_even_if_only_its_hottest_parts_do(pages: int) -> None:
    for seed in range(5):
        rng = np.random.default_rng(seed)
        rise = 1.0 - 0.2 * np.exp(-3.0 * np.arange(pages) / pages)
        field = np.stack([board(rise=float(share)) for share in rise])
        field += rng.normal(0.0, 0.03, (pages, 1, 1)) + rng.normal(0.0, 0.08, field.shape)
        found = drift(field, mean_page(field))
        assert found.drifts
        assert found.change_k > 0.0


def test_one_page_cannot_drift() -> None:
    assert not drift(board()[None], mean_page(board()[None])).drifts


def frame_of(pages: Array, times_s: Array | None = None) -> Frame:
    return Frame(pages, times_s, Path("stack.tiff"))


def test_a_settled_stack_becomes_the_mean_of_its_pages() -> None:
    pages = stack([(0.0, 0.0, 0.0)] * 5)
    combined = combine_pages(frame_of(pages), "stack.tiff")
    np.testing.assert_allclose(combined.temperature_c, pages.mean(axis=0))
    assert combined.pages == 5
    assert combined.notes == ()
    single = combine_pages(frame_of(pages[:1]), "stack.tiff")
    np.testing.assert_array_equal(single.temperature_c, pages[0])


def test_shaken_and_foreign_pages_are_mended_or_left_out_and_said() -> None:
    pages = stack([(1.5, -1.0, 0.0), (0.0, 0.0, 0.0), (-0.8, 0.6, 0.1), (0.0, 0.0, 0.0)])
    pages[1] = 24.0 + np.random.default_rng(1).normal(0, 0.06, (ROWS, COLS))
    combined = combine_pages(frame_of(pages), "stack.tiff")
    assert combined.pages == 3
    assert "page 2 of stack.tiff" in combined.notes[0]
    assert "moved by up to 1.8 px" in combined.notes[1]
    pages[0] = pages[2] = pages[1]
    with pytest.raises(InputError, match="3 of 4 pages do not show"):
        combine_pages(frame_of(pages), "stack.tiff")


def test_a_stack_that_drifts_needs_times() -> None:
    pages = np.stack([board(rise=float(rise)) for rise in (0.7, 0.9, 0.96, 1.0)])
    with pytest.raises(InputError, match="frame_period_s"):
        combine_pages(frame_of(pages), "stack.tiff")
    assert combine_pages(frame_of(pages, np.arange(4.0)), "stack.tiff").pages == 4


def test_pages_without_contrast_are_averaged_as_they_are() -> None:
    pages = 23.0 + np.random.default_rng(2).normal(0, 0.05, (4, ROWS, COLS))
    assert combine_pages(frame_of(pages), "stack.tiff").pages == 4


@pytest.mark.parametrize("kind", ["tiff", "npy"])
def test_a_long_record_is_held_once_and_in_half_the_memory_of_64_bits(tmp_path: Path, kind: str) -> None:
    pages = np.round((stack([(0.0, 0.0, 0.0)]) + 273.15) * 100).astype(np.uint16).repeat(100, axis=0)
    file = tmp_path / "record"
    if kind == "npy":
        with file.open("wb") as stream:
            np.save(stream, pages)
    else:
        tifffile.imwrite(file, pages, photometric="minisblack")
    tracemalloc.start()
    try:
        frame = read_frame(file, "record", scale=0.01, offset=-273.15)
        combine_pages(frame, "record")
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert frame.pages == 100
    assert peak < pages.size * 4 + 40 * ROWS * COLS * 8  # one page is worked on in some forty arrays of its size
    np.testing.assert_allclose(frame.temperature_c[7], pages[7] * 0.01 - 273.15, atol=1e-4)
