"""In-band radiance and the measurement equation.

All mixing of signals (reflection, air, window) is done in band radiance, never in °C. Band radiances are
hemispherical exitances of a black body in W/m²; since every term of the equations carries the same factor,
dividing all of them by π for a radiance per steradian would change nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overlay.frames.frame import Array

ZERO_CELSIUS_K = 273.15  # exact by definition
# Exact since the SI of 2019: c1 = 2πhc² in W µm⁴/m², c2 = hc/k in µm K.
C1 = 2.0 * math.pi * 6.62607015e-34 * 299792458.0**2 * 1e24
C2 = 6.62607015e-34 * 299792458.0 / 1.380649e-23 * 1e6
COLDEST_K, HOTTEST_K = 100.0, 3000.0
SHORTEST_UM, LONGEST_UM = 0.7, 1000.0

_STEP_K = 0.25  # the cubic between two nodes is then good to 1e-10 of the radiance
_PANEL_RATIO, _PANEL_NODES = 1.5, 40  # Gauss–Legendre in ln λ, as many panels as the band needs


class _Table(NamedTuple):
    """Cubic pieces ((4, n) coefficients, highest power first) over an even grid of nodes."""

    start: float
    step: float
    pieces: Array

    def locate(self, x: Array) -> tuple[NDArray[np.intp], Array]:
        """Piece and place within it (0…1); nan for an x beyond the table."""
        place = np.asarray((x - self.start) / self.step)
        count = self.pieces.shape[1]
        inside = (place >= 0.0) & (place <= count)
        if not inside.all():
            place = np.where(inside, place, np.nan)
            index = np.where(inside, place, 0.0).astype(np.intp)
        else:
            index = place.astype(np.intp)
        index = np.minimum(index, count - 1)
        return index, place - index

    def value(self, x: Array) -> Array:
        index, s = self.locate(x)
        a, b, c, d = (row.take(index) for row in self.pieces)
        result: Array = ((a * s + b) * s + c) * s + d
        return result

    def value_and_slope(self, x: Array) -> tuple[Array, Array]:
        index, s = self.locate(x)
        a, b, c, d = (row.take(index) for row in self.pieces)
        return ((a * s + b) * s + c) * s + d, ((3.0 * a * s + 2.0 * b) * s + c) / self.step


@dataclass(frozen=True, slots=True)
class Band:
    """A spectral band with flat response; radiances are band exitances in W/m².

    Temperatures between −173 °C and 2727 °C are known to it; beyond them, and for nan, every method returns nan.

    Raises
    ------
    ValueError
        If the band does not ascend or reaches beyond 0.7…1000 µm.
    """

    lower_um: float
    upper_um: float

    def __post_init__(self) -> None:
        if not SHORTEST_UM <= self.lower_um < self.upper_um <= LONGEST_UM:
            raise ValueError(
                f"a band ascends within {SHORTEST_UM:g}…{LONGEST_UM:g} µm, got {self.lower_um:g}…{self.upper_um:g} µm"
            )

    def radiance(self, temperature_c: Array | float) -> Array:
        """W(T): in-band black-body exitance, W/m², any shape."""
        forward, _ = _tables(self.lower_um, self.upper_um)
        return np.exp(forward.value(np.asarray(temperature_c, dtype=np.float64) + ZERO_CELSIUS_K))

    def temperature_c(self, radiance: Array | float) -> Array:
        """Inverse of `radiance`; nan where there is no solution (radiance ≤ 0)."""
        _, inverse = _tables(self.lower_um, self.upper_um)
        radiance = np.asarray(radiance, dtype=np.float64)
        return inverse.value(np.log(np.where(radiance > 0.0, radiance, np.nan))) - ZERO_CELSIUS_K

    def slope(self, temperature_c: Array | float) -> Array:
        """dW/dT in W/(m² K)."""
        forward, _ = _tables(self.lower_um, self.upper_um)
        log_w, slope = forward.value_and_slope(np.asarray(temperature_c, dtype=np.float64) + ZERO_CELSIUS_K)
        return np.exp(log_w) * slope


@dataclass(frozen=True, slots=True)
class Sight:
    """What lies between board and camera: air, window or close-up lens, air. Temperatures in °C.

    The window's emissivity is what is left: 1 − transmittance − reflectance. ``window_reflected_c`` is what
    the window mirrors towards the camera, that is the camera's side of the room.
    """

    air_c: float
    air_transmittance: float = 1.0  # board to window
    air_transmittance_u: float = 0.0
    window_transmittance: float = 1.0
    window_transmittance_u: float = 0.0
    window_reflectance: float = 0.0
    window_c: float = 23.0
    window_reflected_c: float = 23.0
    camera_air_transmittance: float = 1.0  # window to camera

    @property
    def gain(self) -> float:
        """Change of the radiance at the camera for a unit change of the radiance that leaves the board."""
        return self.air_transmittance * self.window_transmittance * self.camera_air_transmittance

    @property
    def window_emissivity(self) -> float:
        return max(0.0, 1.0 - self.window_transmittance - self.window_reflectance)


def leaving_radiance(band: Band, sight: Sight, apparent_c: Array | float) -> Array:
    """Radiance that leaves the board, from apparent temperatures at the camera.

    With S = W(apparent): B = (S − (1−τ₂)·W_air)/τ₂ before the camera's air, A = (B − ε_w·W_window − ρ_w·W_mirrored)/τ_w
    before the window, J = (A − (1−τ₁)·W_air)/τ₁ at the board. May be negative for a reading colder than
    the way itself would be: `surface_temperature_c` then has no solution.

    The single-reflectance form is widely printed, e.g. Minkina & Dudzik, Infrared Thermography: Errors and
    Uncertainties, Wiley 2009 (from memory).
    """
    air = band.radiance(sight.air_c)
    at_camera = band.radiance(apparent_c)
    after_window = (at_camera - (1.0 - sight.camera_air_transmittance) * air) / sight.camera_air_transmittance
    after_air = (after_window - _window_radiance(band, sight)) / sight.window_transmittance
    result: Array = (after_air - (1.0 - sight.air_transmittance) * air) / sight.air_transmittance
    return result


def apparent_temperature_c(band: Band, sight: Sight, leaving: Array | float) -> Array:
    """Apparent temperature at the camera of a radiance that leaves the board: inverse of `leaving_radiance`."""
    air = band.radiance(sight.air_c)
    after_air = sight.air_transmittance * np.asarray(leaving) + (1.0 - sight.air_transmittance) * air
    after_window = sight.window_transmittance * after_air + _window_radiance(band, sight)
    at_camera = sight.camera_air_transmittance * after_window + (1.0 - sight.camera_air_transmittance) * air
    return band.temperature_c(at_camera)


def object_radiance(
    band: Band, surface_c: Array | float, emissivity: Array | float, reflected_c: Array | float
) -> Array:
    """J = ε·W(T) + (1−ε)·W(T_reflected): what leaves an opaque grey surface."""
    emissivity = np.asarray(emissivity, dtype=np.float64)
    result: Array = emissivity * band.radiance(surface_c) + (1.0 - emissivity) * band.radiance(reflected_c)
    return result


def surface_temperature_c(
    band: Band, leaving: Array | float, emissivity: Array | float, reflected_radiance: Array | float
) -> Array:
    """T = W⁻¹([J − (1−ε)·W_reflected]/ε), any shapes that broadcast; nan where there is no solution.

    There is none where the surface would have to send out less than nothing, which happens to shiny
    surfaces whose surroundings are warmer than was said. ε outside (0, 1] gives nan as well.
    """
    emissivity = np.asarray(emissivity, dtype=np.float64)
    usable = np.where((emissivity > 0.0) & (emissivity <= 1.0), emissivity, np.nan)
    return band.temperature_c((leaving - (1.0 - usable) * reflected_radiance) / usable)


def undo_instrument_settings(
    band: Band, reading_c: Array | float, frame_emissivity: float, frame_reflected_c: float
) -> Array:
    """Apparent temperature (ε = 1) behind a reading for which the instrument was set to an emissivity below 1."""
    if frame_emissivity == 1.0:
        return np.array(reading_c, dtype=np.float64)
    return band.temperature_c(object_radiance(band, reading_c, frame_emissivity, frame_reflected_c))


class SightPartials(NamedTuple):
    """Derivatives of `leaving_radiance`: W/m² per K of a temperature, per unit of a transmittance."""

    apparent_c: Array
    air_transmittance: Array
    camera_air_transmittance: Array
    window_transmittance: Array  # its reflectance held fixed, its emissivity takes the change
    window_c: Array
    window_reflected_c: Array
    air_c: Array


def sight_partials(band: Band, sight: Sight, apparent_c: Array | float) -> SightPartials:
    """Sensitivities of the leaving radiance to everything on the way, for an uncertainty budget."""
    air, window = band.radiance(sight.air_c), band.radiance(sight.window_c)
    tau_1, tau_w, tau_2 = sight.air_transmittance, sight.window_transmittance, sight.camera_air_transmittance
    at_camera = band.radiance(apparent_c)
    after_window = (at_camera - (1.0 - tau_2) * air) / tau_2
    after_air = (after_window - _window_radiance(band, sight)) / tau_w
    leaving = (after_air - (1.0 - tau_1) * air) / tau_1
    whole = np.ones_like(at_camera)
    return SightPartials(
        apparent_c=band.slope(apparent_c) / sight.gain,
        air_transmittance=-(leaving - air) / tau_1,
        camera_air_transmittance=-(after_window - air) / sight.gain,
        window_transmittance=-(after_air - window) / (tau_w * tau_1),
        window_c=-sight.window_emissivity * band.slope(sight.window_c) / (tau_w * tau_1) * whole,
        window_reflected_c=-sight.window_reflectance * band.slope(sight.window_reflected_c) / (tau_w * tau_1) * whole,
        air_c=-((1.0 - tau_2) / sight.gain + (1.0 - tau_1) / tau_1) * band.slope(sight.air_c) * whole,
    )


def vapour_density_g_per_m3(air_c: float, humidity_percent: float) -> float:
    """Water vapour in moist air, from relative humidity.

    Saturation pressure by the Magnus form with the coefficients of WMO-No. 8, Annex 4.B (0.3 % low at room
    temperature against IAPWS-IF97), gas constant of water vapour 461.523 J/(kg K).
    """
    vapour_pa = humidity_percent / 100.0 * 611.2 * math.exp(17.62 * air_c / (243.12 + air_c))
    return 1000.0 * vapour_pa / (461.523 * (air_c + ZERO_CELSIUS_K))


def lowest_air_transmittance(distance_m: float, humidity_percent: float, air_c: float, band: Band) -> float:
    """Lower bound of room air's transmittance: exp(−(a + b·ρ)·d^q), ρ in g/m³ of water vapour.

    A fit to runs of the public LOWTRAN 7 code over 0.1–2 m, 15–35 °C and 10–90 % humidity, good to 4e-4 for
    8–14 µm and 8e-4 for 7.5–13 µm. Beyond 5 m it is not to be trusted. It is a lower bound since the band
    model's power law in d absorbs too much over paths this short. Other bands take the stronger absorption of the
    two, doubled between 7 and 14.5 µm and four times elsewhere: a precaution, not a published figure.
    """
    density = vapour_density_g_per_m3(air_c, humidity_percent)
    long_band = (0.00240 + 0.000180 * density) * distance_m**0.587
    short_band = (0.00211 + 0.000278 * density) * distance_m**0.564
    if math.isclose(band.lower_um, 8.0, abs_tol=0.2) and math.isclose(band.upper_um, 14.0, abs_tol=0.5):
        depth = long_band
    elif math.isclose(band.lower_um, 7.5, abs_tol=0.2) and math.isclose(band.upper_um, 13.0, abs_tol=0.5):
        depth = short_band
    else:
        within = band.lower_um >= 7.0 and band.upper_um <= 14.5
        depth = max(long_band, short_band) * (2.0 if within else 4.0)
    return math.exp(-depth)


def air_transmittance(distance_m: float, humidity_percent: float, air_c: float, band: Band) -> tuple[float, float]:
    """Transmittance of room air over a bench distance, and its standard uncertainty.

    The middle of the rectangle between perfectly clear air and `lowest_air_transmittance`
    (JCGM 100:2008, 4.3.7, clause number from memory): 0.9990 ± 0.0006 at 0.3 m. Exactly 1 at no distance.
    """
    lowest = lowest_air_transmittance(distance_m, humidity_percent, air_c, band)
    return (1.0 + lowest) / 2.0, (1.0 - lowest) / (2.0 * math.sqrt(3.0))


def _window_radiance(band: Band, sight: Sight) -> Array:
    """What a window adds of its own: emission, and what it mirrors of the camera's side."""
    result: Array = sight.window_emissivity * band.radiance(sight.window_c) + sight.window_reflectance * band.radiance(
        sight.window_reflected_c
    )
    return result


def _integrals(lower_um: float, upper_um: float, temperature_k: Array) -> tuple[Array, Array]:
    """W and dW/dT at each temperature, by Gauss–Legendre quadrature in ln λ."""
    panels = math.ceil(math.log(upper_um / lower_um) / math.log(_PANEL_RATIO))
    edges = np.linspace(math.log(lower_um), math.log(upper_um), panels + 1)
    node, weight = np.polynomial.legendre.leggauss(_PANEL_NODES)
    half = (edges[1:] - edges[:-1])[:, None] / 2.0
    wavelength = np.exp((edges[1:] + edges[:-1])[:, None] / 2.0 + half * node).ravel()
    weights = (half * weight).ravel() * wavelength  # dλ = λ d(ln λ)
    radiance, slope = np.zeros_like(temperature_k), np.zeros_like(temperature_k)
    for um, w in zip(wavelength, weights, strict=True):  # a loop over some 80 nodes: no large temporary arrays
        z = C2 / (um * temperature_k)
        spectral = w * C1 / um**5 * np.exp(-z) / -np.expm1(-z)
        radiance += spectral
        slope += spectral * z / (temperature_k * -np.expm1(-z))
    return radiance, slope


def _cubic_pieces(value: Array, slope: Array, step: float) -> Array:
    """Hermite cubics over an even grid, in the place s = 0…1 within each piece."""
    rise, first, last = value[1:] - value[:-1], slope[:-1] * step, slope[1:] * step
    return np.stack([first + last - 2.0 * rise, 3.0 * rise - 2.0 * first - last, first, value[:-1]])


@lru_cache(maxsize=16)
def _tables(lower_um: float, upper_um: float) -> tuple[_Table, _Table]:
    """ln W over T, and T over ln W."""
    nodes = np.linspace(COLDEST_K, HOTTEST_K, round((HOTTEST_K - COLDEST_K) / _STEP_K) + 1)
    radiance, slope = _integrals(lower_um, upper_um, nodes)
    forward = _Table(COLDEST_K, _STEP_K, _cubic_pieces(np.log(radiance), slope / radiance, _STEP_K))
    log_nodes = np.linspace(math.log(radiance[0]), math.log(radiance[-1]), nodes.size)
    step = float(log_nodes[1] - log_nodes[0])
    kelvin = np.interp(log_nodes, np.log(radiance), nodes)
    for _ in range(4):
        log_w, log_slope = forward.value_and_slope(kelvin)
        kelvin = np.clip(kelvin + (log_nodes - log_w) / log_slope, COLDEST_K, HOTTEST_K)
    kelvin_slope = 1.0 / forward.value_and_slope(kelvin)[1]
    return forward, _Table(float(log_nodes[0]), step, _cubic_pieces(kelvin, kelvin_slope, step))
