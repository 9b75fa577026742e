"""Band radiance against tables, exact constants, and quadrature of another library.

Values without another source were worked out at 40 digits with an arbitrary-precision library, independently of this
project's code; they are given with the digits worked out.
"""

import numpy as np
import pytest
from scipy import constants, integrate

from overlay.frames.radiometry import C1, C2, Band

STEFAN_BOLTZMANN = constants.Stefan_Boltzmann


def test_constants_are_those_of_the_si_as_codata_lists_them() -> None:
    assert pytest.approx(constants.value("first radiation constant"), rel=1e-9) == C1 * 1e-24
    assert pytest.approx(constants.value("second radiation constant"), rel=1e-12) == C2 * 1e-6
    assert pytest.approx(3.74177185219276e-16, rel=1e-14) == C1 * 1e-24
    assert pytest.approx(1.43877687750393e-2, rel=1e-14) == C2 * 1e-6


# λT in µm K, exact, and as printed in Mechanical Engineers' Handbook (ed. Kutz), vol. 4, Table 16 "Radiation function",
# p. 183. Where the handbook's last digit is off or it has no such row, the exact value alone is tested.
FRACTIONS = [
    (1000, 0.000320769784, None),
    (1200, 0.002134207998, "0.2134e-2"),
    (1400, 0.007790389273, None),
    (1600, 0.019719169008, "0.1972e-1"),
    (1800, 0.039342158305, None),
    (2000, 0.066729940181, "0.6673e-1"),
    (2200, 0.100889750309, "0.1009"),
    (2600, 0.183120613559, "0.1831"),
    (2898, 0.250106293657, None),
    (3000, 0.273229259957, "0.2732"),
    (3500, 0.382908763925, "0.3829"),
    (4000, 0.480864643581, "0.4809"),
    (4500, 0.564303395950, "0.5643"),
    (5000, 0.633725871916, "0.6337"),
    (5200, 0.657947335883, "0.6579"),
    (6000, 0.737789418019, "0.7378"),
    (7000, 0.808074969764, "0.8081"),
    (8000, 0.856250693632, None),
    (10000, 0.914156970928, "0.9142"),
    (15000, 0.968934221862, "0.9689"),
    (20000, 0.985553838666, "0.9856"),
    (50000, 0.998903877055, "0.9989"),
]


@pytest.mark.parametrize(("lambda_t", "exact", "printed"), FRACTIONS)
def test_fractions_of_black_body_radiation(lambda_t: float, exact: float, printed: str | None) -> None:
    kelvin = 500.0  # below the 0.7 µm where a band may begin lies less than 1e-15 of it
    fraction = Band(0.7, lambda_t / kelvin).radiance(kelvin - 273.15) / (STEFAN_BOLTZMANN * kelvin**4)
    assert fraction == pytest.approx(exact, rel=1e-9)
    if printed is not None:
        digits = len(printed.partition("e")[0]) - 2
        exponent = int(printed.partition("e")[2] or 0)
        assert fraction == pytest.approx(float(printed), abs=0.5 * 10.0 ** (exponent - digits))


# °C, W and dW/dT for 8–14 µm and 7.5–13 µm, in W/m² and W/(m² K)
BAND_EXITANCE = [
    (0.0, 110.43314548, None, 100.71006655, None),
    (20.0, 155.109523533, 2.46859597, 144.411411865, 2.43797159),
    (23.0, 162.622375075, 2.54002164, 151.841622574, 2.51559745),
    (25.0, 167.750174279, 2.58779761, 156.924837011, 2.56765687),
    (50.0, 239.974895411, 3.19165897, 229.398303045, 3.23450873),
    (66.4, 295.580660138, 3.58924464, 286.106487640, 3.68183287),
    (85.0, 366.503842030, 4.03575103, 359.327612154, 4.19129614),
    (100.0, 429.701825267, 4.38951465, 425.266201172, 4.59991748),
    (125.0, 546.640689237, 4.96153070, 548.669488181, 5.26932666),
    (150.0, 677.554534250, 5.50676970, 688.548667141, 5.91677158),
    (200.0, 978.38431274, None, 1015.1022038, None),
]


@pytest.mark.parametrize("row", BAND_EXITANCE, ids=lambda row: f"{row[0]:g}")
def test_band_exitance_and_its_slope(row: tuple[float, float, float | None, float, float | None]) -> None:
    t_c, long_w, long_slope, short_w, short_slope = row
    for band, w, slope in [(Band(8.0, 14.0), long_w, long_slope), (Band(7.5, 13.0), short_w, short_slope)]:
        assert band.radiance(t_c) == pytest.approx(w, rel=1e-9)
        assert band.temperature_c(w) == pytest.approx(t_c, abs=1e-6)
        if slope is not None:
            assert band.slope(t_c) == pytest.approx(slope, abs=1.5e-8)


def test_further_long_wave_exitances() -> None:
    band = Band(8.0, 14.0)
    for t_c, w in [(28, 175.621321876), (30, 180.988700480), (35, 194.828319486), (45, 224.319998420)]:
        assert band.radiance(float(t_c)) == pytest.approx(w, rel=1e-9)
    assert band.radiance(40.0) == pytest.approx(209.2715, abs=5e-5)
    assert band.radiance(60.0) == pytest.approx(273.10504746, rel=1e-9)


def test_total_exitance_is_stefan_boltzmanns() -> None:
    band = Band(0.7, 1000.0)
    for t_c, total in [(20.0, 418.765920021), (85.0, 932.978334248), (150.0, 1817.98006840)]:
        assert band.radiance(t_c) == pytest.approx(total, rel=1e-5)  # a millionth or so lies beyond 1 mm
        assert pytest.approx(total, rel=1e-11) == STEFAN_BOLTZMANN * (t_c + 273.15) ** 4


@pytest.mark.parametrize("edges", [(8.0, 14.0), (7.5, 13.0), (3.0, 5.0), (7.7, 12.3)])
@pytest.mark.parametrize("t_c", [-60.0, 23.0, 85.0, 300.0, 1500.0])
def test_band_exitance_agrees_with_adaptive_quadrature(edges: tuple[float, float], t_c: float) -> None:
    def spectral(um: float) -> float:
        return float(C1 / um**5 / np.expm1(C2 / (um * (t_c + 273.15))))  # Planck's law, W/(m² µm)

    whole, _ = integrate.quad(spectral, *edges, epsabs=0, epsrel=1e-12)
    assert Band(*edges).radiance(t_c) == pytest.approx(whole, rel=1e-9)


def test_inversion_over_the_whole_range_of_frames() -> None:
    t_c = np.linspace(-60.0, 1500.0, 20_001)
    for edges in [(8.0, 14.0), (7.5, 13.0), (3.0, 5.0)]:
        band = Band(*edges)
        np.testing.assert_allclose(band.temperature_c(band.radiance(t_c)), t_c, rtol=0, atol=1e-6)
