"""In-band radiance and the measurement equation."""

from __future__ import annotations

from dataclasses import dataclass

from overlay.frames.frame import Array


@dataclass(frozen=True, slots=True)
class Band:
    """A spectral band with flat response; radiances are band exitances in W/m²."""

    lower_um: float
    upper_um: float

    def radiance(self, temperature_c: Array | float) -> Array:
        """W(T): in-band black-body exitance, W/m², any shape."""
        raise NotImplementedError

    def temperature_c(self, radiance: Array | float) -> Array:
        """Inverse of `radiance`; nan where there is no solution (radiance ≤ 0)."""
        raise NotImplementedError

    def slope(self, temperature_c: Array | float) -> Array:
        """dW/dT in W/(m² K)."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True)
class Sight:
    """What lies between board and camera: air, window or close-up lens, air. Temperatures in °C."""

    air_c: float
    air_transmittance: float = 1.0  # board to window
    air_transmittance_u: float = 0.0
    window_transmittance: float = 1.0
    window_transmittance_u: float = 0.0
    window_reflectance: float = 0.0
    window_c: float = 23.0
    window_reflected_c: float = 23.0
    camera_air_transmittance: float = 1.0  # window to camera
