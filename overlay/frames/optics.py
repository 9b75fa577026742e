"""What a camera's blur and its square pixels make of small things.

The blur is a Gaussian; a pixel averages over its own square. Real lenses have tails besides: even a
diffraction-limited one shows only 0.89 of a 3 × 3 pixel part's signal where a Gaussian shows 0.98.
Fractions mix *radiances*, never temperatures. Lengths are in pixels.
"""

from __future__ import annotations

import math

import numpy as np

from overlay.frames.frame import Array

_FWHM_PER_SIGMA = 2.0 * math.sqrt(2.0 * math.log(2.0))  # of a Gaussian


def gaussian_sigma_px(fwhm_px: float) -> float:
    """Standard deviation of a Gaussian of that full width at half maximum."""
    return fwhm_px / _FWHM_PER_SIGMA


def gaussian_fwhm_px(sigma_px: float) -> float:
    """Full width at half maximum of a Gaussian of that standard deviation."""
    return sigma_px * _FWHM_PER_SIGMA


def edge_response(distance: Array | float, sigma: float, pixel: float = 1.0) -> Array:
    """Share of a half-plane that a pixel sees, its centre ``distance`` inside the edge (negative: outside).

    Any shape; lengths in one unit. ½ on the edge.
    """
    distance = np.asarray(distance, dtype=np.float64)
    result: Array = _ramp(distance + pixel / 2.0, sigma, pixel) - _ramp(distance - pixel / 2.0, sigma, pixel)
    return result


def fill_fraction_1d(width: Array | float, offset: Array | float, sigma: float, pixel: float = 1.0) -> Array:
    """Share of a strip that a pixel sees, with its centre ``offset`` from the strip's middle."""
    width, offset = np.asarray(width, dtype=np.float64), np.asarray(offset, dtype=np.float64)
    first = edge_response(width / 2.0 - offset, sigma, pixel)
    result: Array = first - edge_response(-width / 2.0 - offset, sigma, pixel)
    return result


def fill_fraction(
    width: Array | float,
    height: Array | float,
    x0: Array | float,
    y0: Array | float,
    sigma: float,
    pixel: float = 1.0,
) -> Array:
    """Share of a rectangle's signal in a pixel, through a Gaussian blur and the pixel's own square.

    Parameters
    ----------
    width, height : float or array
        Sides of the rectangle along the pixel axes.
    x0, y0 : float or array
        The pixel's centre, from the rectangle's centre.
    sigma
        Standard deviation of the optics' blur alone (`gaussian_sigma_px`); 0 gives the plain overlap.
    pixel
        Side of a pixel, in the same unit; 1 where all is in pixels.

    Returns
    -------
    array of float
        0…1. The signal is f·W(part) + (1−f)·W(surroundings). Below about 0.8 the division by f amplifies noise and
        the surroundings' error so much that a part by itself is not resolved.
    """
    result: Array = fill_fraction_1d(width, x0, sigma, pixel) * fill_fraction_1d(height, y0, sigma, pixel)
    return result


def _ramp(distance: Array, sigma: float, pixel: float) -> Array:
    """∫ Φ: zΦ(z) + φ(z) in units of the pixel; for no blur the positive part of the distance."""
    if sigma <= 0.0:
        result: Array = np.maximum(distance, 0.0) / pixel
        return result
    from scipy.special import ndtr

    z = distance / sigma
    density = np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    ramp: Array = sigma / pixel * (z * np.asarray(ndtr(z)) + density)
    return ramp
