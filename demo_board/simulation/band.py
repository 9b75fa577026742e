"""Black-body radiation within a spectral band, by plain Gauss–Legendre quadrature and a table at every 0.05 K."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import constants

from demo_board.simulation.world import Array

LOWEST_C, HIGHEST_C, STEP_K = -60.0, 450.0, 0.05


def exitance_w_m2(lower_um: float, upper_um: float, temperature_c: ArrayLike) -> Array:
    """Exitance of a black body between two wavelengths, W/m², of the temperature's shape."""
    nodes, weights = np.polynomial.legendre.leggauss(48)
    half = 0.5e-6 * (upper_um - lower_um)
    wavelength = 0.5e-6 * (upper_um + lower_um) + half * nodes
    kelvin = np.asarray(temperature_c, dtype=float)[..., None] + constants.zero_Celsius
    photon = constants.h * constants.c / (wavelength * constants.k * kelvin)
    spectral = 2 * np.pi * constants.h * constants.c**2 / (wavelength**5 * np.expm1(photon))
    return np.asarray((spectral * weights).sum(axis=-1) * half)


class BandTable:
    """Exitance and its inverse by linear look-up."""

    def __init__(self, lower_um: float, upper_um: float) -> None:
        self._c = np.arange(LOWEST_C, HIGHEST_C, STEP_K)
        self._w = exitance_w_m2(lower_um, upper_um, self._c)

    def exitance(self, temperature_c: ArrayLike) -> Array:
        return np.interp(np.asarray(temperature_c, dtype=float), self._c, self._w)

    def temperature_c(self, exitance: ArrayLike) -> Array:
        return np.interp(np.asarray(exitance, dtype=float), self._w, self._c)

    def slope(self, temperature_c: ArrayLike) -> Array:
        """dW/dT in W/m²K, by central difference."""
        t = np.asarray(temperature_c, dtype=float)
        return (self.exitance(t + 0.5) - self.exitance(t - 0.5)) / 1.0
