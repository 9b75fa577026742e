"""Colour scales for looking closely: equal steps of temperature are equal steps of lightness.

Each is a path through CIE 1976 L*a*b* on which lightness goes evenly, so that a picture keeps its order in grey print
and for every kind of colour vision; hue only helps. Own choice of paths.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array
from overlay.report.palette import scale_colors

STEPS = 256  # what a byte of a picture can tell

# Stops in L*, a*, b*, evenly spaced in L*; chroma stays inside what a screen can show (IEC 61966-2-1).
_WARM = ((97.0, -1.0, 8.0), (83.0, 8.0, 34.0), (69.0, 30.0, 40.0), (55.0, 44.0, 24.0), (41.0, 42.0, -4.0))
_PATH = (*_WARM, (27.0, 30.0, -30.0), (13.0, 12.0, -24.0))
_BLUE, _MIDDLE, _ORANGE = (36.0, 8.0, -42.0), (95.0, 0.0, 2.0), (36.0, 36.0, 40.0)


def scales() -> dict[str, list[list[int]]]:
    """Every scale by its name on the page: 256 colours from cold to hot."""
    light = screen_colors(_along(np.array(_PATH)))
    shown = {
        "dusk": scale_colors("dusk"),
        "even, dark to light": light[::-1],
        "even, light to dark": light,
        "even, two-sided": screen_colors(_two_sided()),
        "slate": scale_colors("slate"),
    }
    return {name: colors.tolist() for name, colors in shown.items()}


def _along(stops: Array, steps: int = STEPS) -> Array:
    at = np.linspace(0.0, len(stops) - 1.0, steps)
    return np.stack([np.interp(at, np.arange(len(stops)), stops[:, axis]) for axis in range(3)], axis=1)


def _two_sided() -> Array:
    half = STEPS // 2
    # hue turns up soon beside the middle, so that small differences have a sign that can be seen
    cold, hot = (np.array([end, _MIDDLE]) for end in (_BLUE, _ORANGE))
    return np.concatenate([_along(cold, half), _along(hot, half)[::-1]])


def screen_colors(lab: Array) -> NDArray[np.uint8]:
    """L*a*b* (n, 3) under D65 as sRGB (n, 3), 0…255; CIE 15 and IEC 61966-2-1.

    Raises
    ------
    ValueError
        Where a colour is none that a screen can show.
    """
    fy = (lab[:, 0] + 16.0) / 116.0
    f = np.stack([fy + lab[:, 1] / 500.0, fy, fy - lab[:, 2] / 200.0], axis=1)
    delta = 6.0 / 29.0
    xyz = np.where(f > delta, f**3, 3.0 * delta**2 * (f - 4.0 / 29.0)) * np.array([0.95047, 1.0, 1.08883])
    linear = xyz @ _RGB_FROM_XYZ.T
    if linear.min() < -0.002 or linear.max() > 1.002:
        raise ValueError("a colour lies outside of what a screen can show; take less chroma")
    linear = np.clip(linear, 0.0, 1.0)
    coded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1.0 / 2.4) - 0.055)
    return np.asarray(np.rint(255.0 * coded), dtype=np.uint8)


# Of linear sRGB, reference white D65 (IEC 61966-2-1).
_RGB_FROM_XYZ = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
