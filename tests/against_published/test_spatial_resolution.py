"""What blur and pixels leave of a small part: the closed form, checked to 1e-31 by quadrature elsewhere.

Terms as in VDI/VDE 5585 and IEC TS 63144-1 (size-of-source effect, in radiance); the rule of at least 3 × 3 pixels
is common practice, and Budzier & Gerlach, J. Sens. Sens. Syst. 10 (2021) 179, find it too few (abstract).
"""

import numpy as np
import pytest
from scipy import integrate, stats

from overlay.frames.optics import edge_response, fill_fraction, fill_fraction_1d
from overlay.frames.radiometry import Band

WIDTHS = [0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0]
TABLE = {
    0.3: [0.4332195, 0.7607019, 0.9320191, 0.9881041, 0.9999328, 1.0000000, 1.0000000],
    0.5: [0.3315102, 0.6095484, 0.8042076, 0.9170667, 0.9915164, 0.9996179, 0.9999929],
    0.7: [0.2578545, 0.4896704, 0.6769506, 0.8128023, 0.9526887, 0.9920228, 0.9991244],
    1.0: [0.1896444, 0.3687464, 0.5284843, 0.6630205, 0.8503505, 0.9453947, 0.9837829],
}


@pytest.mark.parametrize("sigma", TABLE)
def test_share_of_a_strip_in_a_pixel_on_its_middle(sigma: float) -> None:
    np.testing.assert_allclose(fill_fraction_1d(np.array(WIDTHS), 0.0, sigma), TABLE[sigma], rtol=0, atol=5.1e-8)


def test_share_of_squares_and_of_a_rectangle_off_the_middle() -> None:
    assert fill_fraction(2, 2, 0, 0, 0.5) == pytest.approx(0.8410113, abs=5e-8)
    assert fill_fraction(3, 3, 0, 0, 0.5) == pytest.approx(0.9831049, abs=5e-8)
    assert fill_fraction_1d(2, 0.5, 0.5) == pytest.approx(0.8005324324, abs=5e-11)
    assert fill_fraction_1d(1, 0.25, 0.5) == pytest.approx(0.5678589081, abs=5e-11)
    assert fill_fraction(2, 1, 0.5, 0.25, 0.5) == pytest.approx(0.454589473, abs=5e-10)
    assert fill_fraction_1d(3.0, 0.0, 0.8, pixel=2.0) == pytest.approx(0.8706592329, abs=5e-11)


def test_share_of_a_half_plane() -> None:
    assert edge_response(0.0, 0.5) == pytest.approx(0.5, abs=1e-15)
    assert edge_response(1.0, 0.5) == pytest.approx(0.95853334, abs=5e-9)
    assert edge_response(-1.0, 0.5) == pytest.approx(0.04146666, abs=5e-9)


def test_share_agrees_with_quadrature() -> None:
    def share(x: float) -> float:
        return float(stats.norm.cdf((1.1 - x) / 0.6) - stats.norm.cdf((-1.1 - x) / 0.6))

    found, _ = integrate.quad(share, -0.2, 0.8, epsabs=1e-13)
    assert fill_fraction_1d(2.2, 0.3, 0.6) == pytest.approx(found, abs=1e-12)


def test_signals_are_mixed_not_temperatures() -> None:
    band, share = Band(8.0, 14.0), float(fill_fraction(2, 2, 0, 0, 0.5))
    signal = share * band.radiance(85.0) + (1.0 - share) * band.radiance(40.0)
    assert signal == pytest.approx(341.505677, abs=5e-7)
    assert band.temperature_c(signal) == pytest.approx(78.688083, abs=5e-7)
    assert share * 85.0 + (1.0 - share) * 40.0 == pytest.approx(77.85, abs=0.005)


def test_footprint_of_a_pixel_and_what_it_leaves_of_chip_sizes() -> None:
    footprint = 12e-3 * (300.0 - 9.0) / 9.0  # thin lens: a pitch of 12 µm, a focal length of 9 mm, 0.3 m away
    assert footprint == pytest.approx(0.388, abs=5e-4)
    chips = {(0.6, 0.3): "0.403", (1.0, 0.5): "0.715", (1.6, 0.8): "0.926", (2.0, 1.25): "0.995", (3.2, 1.6): "0.9998"}
    for (length, width), printed in chips.items():
        share = float(fill_fraction(length / footprint, width / footprint, 0.0, 0.0, 0.5))
        assert share == pytest.approx(float(printed), abs=0.5 * 10.0 ** -len(printed.partition(".")[2]))
