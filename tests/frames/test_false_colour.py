"""Pictures in false colour, drawn by a palette of few colours, compressed, with a crosshair and text burnt in."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter

from overlay.errors import InputError
from overlay.frames.read import read_frame

ROWS, COLS = 240, 320
LOW_C, HIGH_C = 22.0, 102.0
BAR = (336.0, 219.5, 336.0, 20.5)  # from the cold end up

# stops of a few colour scales of our own making: one through many hues, one dark to light, one grey
STOPS = {
    "hues": [(10, 10, 60), (20, 60, 200), (20, 170, 190), (60, 190, 60), (230, 220, 40), (230, 90, 20), (150, 10, 30)],
    "glow": [(0, 0, 0), (60, 10, 110), (150, 30, 110), (220, 80, 50), (250, 170, 30), (255, 255, 230)],
    "grey": [(0, 0, 0), (255, 255, 255)],
}


def palette(name: str, count: int) -> np.ndarray:
    stops = np.array(STOPS[name], dtype=float)
    at = np.linspace(0.0, len(stops) - 1.0, count)
    return np.stack([np.interp(at, np.arange(len(stops)), stops[:, k]) for k in range(3)], axis=1).round()


def scene(seed: int) -> tuple[np.ndarray, list[tuple[slice, slice]]]:
    """Temperatures (rows, cols), and the insides of its resolved parts."""
    rng = np.random.default_rng(seed)
    field = 35.0 + 12.0 * np.linspace(0, 1, COLS)[None] + np.zeros((ROWS, 1))
    insides = []
    for i in range(5):
        for j in range(6):
            high, wide = rng.integers(9, 34, 2)
            y, x = 12 + 45 * i, 10 + 51 * j
            field[y : y + high, x : x + wide] = rng.uniform(30.0, 98.0)
            insides.append((slice(y + 3, y + high - 3), slice(x + 3, x + wide - 3)))
    return gaussian_filter(field, 0.6) + rng.normal(0.0, 0.06, field.shape), insides


def picture(field: np.ndarray, colours: np.ndarray, *, marks: bool = True) -> Image.Image:
    share = np.clip((field - LOW_C) / (HIGH_C - LOW_C), 0.0, 1.0)
    index = np.minimum((share * len(colours)).astype(int), len(colours) - 1)
    canvas = np.full((ROWS, COLS + 60, 3), 30.0)
    canvas[:, :COLS] = colours[index]
    at = (np.arange(200)[::-1] + 0.5) / 200.0
    bar = colours[np.minimum((at * len(colours)).astype(int), len(colours) - 1)]
    canvas[20:220, COLS + 10 : COLS + 23] = bar[:, None]
    image = Image.fromarray(canvas.astype(np.uint8))
    if marks:
        draw = ImageDraw.Draw(image)
        draw.line([(140, 120), (180, 120)], fill="white")
        draw.line([(160, 100), (160, 140)], fill="white")
        draw.text((6, 2), "max 98.4", fill="white")
        draw.text((COLS + 26, 14), "102", fill="white")
    return image


def saved(image: Image.Image, folder: Path, kind: str) -> Path:
    path = folder / f"shot.{kind}"
    image.save(path, quality=90) if kind == "jpg" else image.save(path)
    return path


def read(path: Path, bar: tuple[float, ...] = BAR):  # type: ignore[no-untyped-def]
    return read_frame(path, path.name, colour_scale=(bar, (LOW_C, HIGH_C)))


@pytest.mark.parametrize(("kind", "count"), [("png", 128), ("jpg", 240)])
@pytest.mark.parametrize("name", STOPS)
def test_resolved_parts_are_read_within_what_is_claimed(tmp_path: Path, kind: str, name: str, count: int) -> None:
    errors, claims, lost = [], [], []
    for seed in range(4):
        field, insides = scene(seed)
        frame = read(saved(picture(field, palette(name, count)), tmp_path, kind))
        assert frame.left_out is not None
        assert frame.colour_scale is not None
        for inside in insides:
            seen = ~frame.left_out[inside]
            lost.append(1.0 - seen.mean())
            if seen.any():
                errors.append(float((frame.temperature_c[0][inside] - field[inside])[seen].mean()))
                claims.append(float(np.hypot(frame.colour_scale.common_u_c, frame.colour_scale.noise_c)))
    within = np.abs(errors) <= 2.0 * np.array(claims)
    assert within.mean() >= 0.95, (within.mean(), np.quantile(np.abs(errors), [0.5, 0.95]), claims[:4])
    assert np.mean(claims) <= 2.0
    assert np.mean(lost) <= 0.08


@pytest.mark.parametrize("kind", ["png", "jpg"])
@pytest.mark.parametrize("name", STOPS)
def test_crosshair_and_text_are_left_out_and_the_notes_say_what_it_costs(tmp_path: Path, kind: str, name: str) -> None:
    field, _ = scene(7)
    frame = read(saved(picture(field, palette(name, 200)), tmp_path, kind))
    assert frame.left_out is not None
    assert frame.left_out[120, 142:179].mean() > 0.9
    if name == "hues":  # the others have a grey as dark as the screen's on their bar
        assert frame.left_out[:, COLS + 2 :].mean() > 0.9
    assert "not on the scale bar" in frame.notes[0]
    error = np.abs(frame.temperature_c[0, :, :COLS] - field)[~frame.left_out[:, :COLS]]
    assert np.quantile(error, 0.99) < 6.0


def test_the_hot_end_of_the_bar_is_a_lower_bound(tmp_path: Path) -> None:
    field, _ = scene(3)
    field[30:60, 150:190] = 140.0
    frame = read(saved(picture(field, palette("hues", 240), marks=False), tmp_path, "png"))
    assert frame.saturated is not None
    assert frame.saturated[32:58, 152:188].all()


@pytest.mark.parametrize(
    ("bar", "words"),
    [
        ((336.0, 219.5, 336.0, 190.0), "30 pixels long"),
        ((336.0, 219.5, 336.0, 400.0), "does not lie within"),
        ((372.0, 219.5, 372.0, 20.5), "hardly change"),
        ((336.0, 239.0, 336.0, 20.5), "stand still"),
        ((10.0, 40.0, 310.0, 40.0), "scale"),
    ],
)
def test_a_bar_that_is_none_is_refused(tmp_path: Path, bar: tuple[float, ...], words: str) -> None:
    path = saved(picture(scene(1)[0], palette("hues", 240), marks=False), tmp_path, "png")
    with pytest.raises(InputError, match=words):
        read(path, bar)


def test_a_bar_of_another_picture_is_refused(tmp_path: Path) -> None:
    own = np.asarray(picture(scene(1)[0], palette("glow", 200), marks=False)).copy()
    other = np.asarray(picture(scene(1)[0], palette("hues", 200), marks=False))
    own[:, COLS:] = other[:, COLS:]
    with pytest.raises(InputError, match="does not belong"):
        read(saved(Image.fromarray(own), tmp_path, "png"))


def test_what_is_no_picture_is_refused(tmp_path: Path) -> None:
    for content in (b"", b"\x89PNG\r\n\x1a\nrubbish", b"25.0,26.0\n", b"\xff\xd8\xff\xe0rubbish"):
        path = tmp_path / "shot.png"
        path.write_bytes(content)
        with pytest.raises(InputError):
            read(path)
    stream = io.BytesIO()
    Image.fromarray(np.zeros((20, 30), dtype=np.uint16)).save(stream, "PNG")
    path.write_bytes(stream.getvalue())
    with pytest.raises(InputError, match="not colours"):
        read(path)
