"""A simple instrument: band radiance, blur with a skirt, offset, gain error, pattern, noise, clipping, dead pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.truth.worlds.solids import Array

_WAVE_M = np.linspace(8.0, 14.0, 121) * 1e-6
_GRID_C = np.linspace(-60.0, 500.0, 2241)
_C1, _C2 = 3.741771852e-16, 1.438776877e-2  # W·m², m·K: 2πhc² and hc/k, CODATA 2018 (exact constants)


def _planck_band(temperature_c: Array) -> Array:
    kelvin = temperature_c[:, None] + 273.15
    spectral = _C1 / (_WAVE_M**5 * np.expm1(_C2 / (_WAVE_M * kelvin)))
    return np.asarray(((spectral[:, 1:] + spectral[:, :-1]) / 2 * np.diff(_WAVE_M)).sum(axis=1))


_EXITANCE = _planck_band(_GRID_C)


def exitance(temperature_c: Array | float) -> Array:
    """Black-body exitance between 8 and 14 µm, W/m²."""
    return np.asarray(np.interp(temperature_c, _GRID_C, _EXITANCE))


def temperature_c(exitance_w: Array | float) -> Array:
    """The black body's temperature that has this exitance."""
    return np.asarray(np.interp(exitance_w, _EXITANCE, _GRID_C))


@dataclass(frozen=True, slots=True)
class Instrument:
    blur_px: float = 1.5  # full width at half maximum
    skirt: float = 0.03  # share of the light that goes into a wide skirt …
    skirt_px: float = 5.0  # … of this radius
    noise_k: float = 0.07
    offset_k: float = 0.0
    gain: float = 1.0  # of the temperature over ambient
    pattern_k: float = 0.1
    range_end_c: float = 1000.0
    dead: int = 0  # pixels that show nonsense


def blurred(leaving: Array, blur_px: float, finer: int) -> Array:
    """Pixels (rows, cols) of sub-pixels (rows·finer, cols·finer) through a lens of that width at half maximum."""
    from scipy.ndimage import gaussian_filter

    return _pixels(gaussian_filter(leaving, blur_px / 2.3548 * finer, mode="nearest"), finer)


def _pixels(sub_pixels: Array, finer: int) -> Array:
    rows, cols = sub_pixels.shape[0] // finer, sub_pixels.shape[1] // finer
    return np.asarray(sub_pixels.reshape(rows, finer, cols, finer).mean(axis=(1, 3)))


def frame_c(leaving: Array, finer: int, instrument: Instrument, ambient_c: float, random: np.random.Generator) -> Array:
    """What the instrument shows of sub-pixels (rows·finer, cols·finer) of exitance."""
    from scipy.ndimage import uniform_filter

    wide = leaving
    for _ in range(3):  # three boxes make a round skirt
        wide = uniform_filter(wide, int(instrument.skirt_px * finer) | 1, mode="nearest")
    sharp = blurred(leaving, instrument.blur_px, finer)
    apparent = temperature_c((1 - instrument.skirt) * sharp + instrument.skirt * _pixels(wide, finer))
    rows, cols = apparent.shape
    y, x = np.mgrid[0:rows, 0:cols]
    waves = random.uniform(0, 2 * np.pi, 2)
    pattern = np.sin(2 * np.pi * x / cols * 1.3 + waves[0]) + np.cos(2 * np.pi * y / rows * 1.1 + waves[1])
    shown = ambient_c + instrument.gain * (apparent - ambient_c) + instrument.offset_k
    shown = shown + instrument.pattern_k / 1.41 * pattern + random.normal(0, instrument.noise_k, (rows, cols))
    shown = np.minimum(shown, instrument.range_end_c)
    for _ in range(instrument.dead):
        row, col = int(random.integers(rows)), int(random.integers(cols))
        shown[row, col] = float(random.choice([-20.0, 380.0, ambient_c + 60.0]))
    return shown
