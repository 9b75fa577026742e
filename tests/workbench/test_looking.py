"""What is worked out for looking closely: differences, places, and colour scales of even lightness."""

import numpy as np
import pytest

from overlay.errors import InputError
from overlay.job.settings import CaptureSettings
from overlay.registration.project import board_from_pixels, pixels_from_board
from overlay.registration.straight_down import straight_down
from overlay.workbench.looking import difference, difference_json, on_the_grid_of, places_json
from overlay.workbench.scales import STEPS, scales

ONE = straight_down("top", (60, 80), 100.0, (20.0, 15.0), 50.0, 0.0, (39.5, 29.5))
OTHER = straight_down("top", (90, 100), 120.0, (20.0, 15.0), 44.0, 17.0, (48.0, 46.0))


def warm_c(shape: tuple[int, int], fitted: object) -> np.ndarray:
    """A smooth warmth that lies on the board, as a camera sees it in its pixels."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
    board = board_from_pixels(fitted, np.column_stack([x.ravel(), y.ravel()]).astype(float))  # type: ignore[arg-type]
    warm = 30.0 + 20.0 * np.exp(-((board[:, 0] - 22.0) ** 2 + (board[:, 1] - 14.0) ** 2) / 60.0)
    return warm.reshape(shape)


def capture(name: str, ambient_c: float = 23.0, side: str = "top") -> CaptureSettings:
    return CaptureSettings.model_validate({"name": name, "frame": "x.npy", "ambient_c": ambient_c, "side": side})


def test_a_capture_from_another_place_lies_over_the_first_on_the_board() -> None:
    brought = on_the_grid_of(warm_c((90, 100), OTHER), ONE, OTHER)
    seen = np.isfinite(brought)
    assert seen.mean() > 0.8  # the other one is turned, and leaves two corners out
    assert np.abs(brought - warm_c((60, 80), ONE))[seen].max() < 0.05


def test_a_difference_of_rises_takes_each_ambient_off() -> None:
    one, other = warm_c((60, 80), ONE), warm_c((60, 80), ONE) + 3.0
    values, words = difference((capture("a", 23.0), one, ONE), (capture("b", 26.0), other, ONE), rises=True)
    assert np.nanmax(np.abs(values)) < 1e-9
    assert "rises above each ambient" in words
    values, _ = difference((capture("a", 23.0), one, ONE), (capture("b", 26.0), other, ONE), rises=False)
    assert np.allclose(values[np.isfinite(values)], -3.0)
    assert difference_json(values, "")["largest_k"] == pytest.approx(3.0)


def test_frames_that_cannot_lie_over_each_other_are_refused_in_words() -> None:
    small, large = np.zeros((60, 80)), np.zeros((90, 100))
    with pytest.raises(InputError, match="register both"):
        difference((capture("a"), small, None), (capture("b"), large, None), rises=True)
    with pytest.raises(InputError, match="same side"):
        difference((capture("a"), small, None), (capture("b", side="bottom"), small, None), rises=True)
    _, words = difference((capture("a"), small, None), (capture("b"), small, None), rises=True)
    assert "pixel by pixel" in words


def test_places_are_there_and_back() -> None:
    pixels = np.array([[10.0, 12.0], [70.0, 40.0]])
    places = np.array(places_json(ONE, pixels)["board_mm"])
    back = pixels_from_board(ONE, np.column_stack([places, np.zeros(2)]))
    assert np.allclose(back, pixels, atol=0.02)
    assert places_json(None, pixels)["board_mm"] == [None, None]


def lightness(rgb: np.ndarray) -> np.ndarray:
    """L* of sRGB values 0…255 (IEC 61966-2-1, CIE 15), worked out apart from the scales."""
    coded = rgb / 255.0
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    luminance = linear @ np.array([0.2126, 0.7152, 0.0722])
    return np.asarray(np.where(luminance > 0.008856, 116.0 * np.cbrt(luminance) - 16.0, 903.3 * luminance))


@pytest.mark.parametrize(("name", "way"), [("even, dark to light", 1.0), ("even, light to dark", -1.0)])
def test_equal_steps_of_temperature_are_equal_steps_of_lightness(name: str, way: float) -> None:
    light = way * lightness(np.array(scales()[name], dtype=float))
    steps = np.diff(light[:: STEPS // 16])  # over 16 colours, so that rounding to whole numbers does not count
    assert steps.min() > 0
    assert steps.max() / steps.min() < 1.15


def test_the_two_sided_scale_is_lightest_at_nought_and_as_dark_at_both_ends() -> None:
    light = lightness(np.array(scales()["even, two-sided"], dtype=float))
    half = STEPS // 2
    assert light.argmax() in (half - 1, half)
    assert np.allclose(light, light[::-1], atol=1.0)
    assert (np.diff(light[:half:8]) > 0).all()
