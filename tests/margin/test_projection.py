import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from overlay.margin.model import Conditions, Requirement
from overlay.margin.projection import (
    air_density_ratio,
    likely_rise_scale_u,
    model_terms,
    projected_budget,
    projected_c,
    projection_band,
    thin_air_growth,
)
from overlay.uncertainty import Term, TermName, combined_k, covariance_k2

BENCH = Conditions("bench", 25.0, 0.5, 24.0, 1.0, 1.0, 0.0)


@given(st.floats(-20.0, 200.0), st.floats(-20.0, 60.0), st.floats(0.1, 4.0), st.floats(-40.0, 90.0))
def test_a_rise_keeps_its_size_but_for_the_scale(
    surface_c: float, ambient_c: float, scale: float, ambient_max_c: float
) -> None:
    conditions = Conditions("x", ambient_c, 0.5, ambient_c, 1.0, scale, 0.0)
    rise = projected_c(surface_c, conditions, ambient_max_c) - ambient_max_c
    assert rise == pytest.approx((surface_c - ambient_c) * scale, abs=1e-9)


def test_two_parts_of_one_capture_share_the_ambients_error() -> None:
    one = projected_budget(80.0, (Term(TermName.NOISE, 0.1),), BENCH)
    other = projected_budget(60.0, (Term(TermName.NOISE, 0.1),), BENCH)
    assert covariance_k2(one, other) == pytest.approx(0.25)
    assert combined_k(one) == pytest.approx((0.01 + 0.25) ** 0.5)


def test_an_exact_scale_adds_no_term() -> None:
    assert [term.name for term in projected_budget(80.0, (), BENCH)] == ["ambient"]


def test_a_rise_scale_other_than_one_is_never_exactly_known() -> None:
    assert likely_rise_scale_u(1.0) == 0.0
    assert likely_rise_scale_u(2.0) == pytest.approx((2.0 - 2.0**0.8) / math.sqrt(3.0))
    assert likely_rise_scale_u(0.5) == pytest.approx(0.043, abs=5e-4)


@pytest.mark.parametrize(
    ("kind", "factor"),
    [
        ("inductor", lambda rise, cold, hot: (1 + 0.00393 * (hot - 20)) / (1 + 0.00393 * (cold - 20))),
        ("transistor", lambda rise, cold, hot: (1 + 0.006 * (hot - 25)) / (1 + 0.006 * (cold - 25))),
        ("ic", lambda rise, cold, hot: 1.0),
        ("resistor", lambda rise, cold, hot: rise_on_a_plate(rise, cold, hot, 0.9) / rise),
        ("resistor", lambda rise, cold, hot: rise_on_a_plate(rise, cold, hot, 0.05) / rise),
        ("led", lambda rise, cold, hot: rise_on_a_plate(rise, cold, hot, 0.9, power=1 - 0.003 * (hot - cold)) / rise),
    ],
    ids=["copper", "on-resistance", "fan", "painted board", "bare metal", "forward voltage"],
)
def test_the_band_holds_the_true_rise_of_every_law_of_power_and_cooling(kind, factor) -> None:
    """Constant current in copper and in an on-resistance, forced air, radiation with convection, falling voltage."""
    rng = np.random.default_rng(5)
    inside = []
    for _ in range(60):
        rise, cold = rng.uniform(5.0, 80.0), rng.uniform(18.0, 30.0)
        hot = cold + rng.uniform(10.0, 60.0)
        band = projection_band(kind, rise, cold, hot)
        beyond = (factor(rise, cold, hot) - 1.0) * rise
        # ± 2u of a rectangle of that half width
        inside.append(-2.0 * band.below_k / 3**0.5 <= beyond <= 2.0 * band.above_k / 3**0.5)
    assert np.mean(inside) >= 0.93


def rise_on_a_plate(
    rise_k: float, cold_c: float, hot_c: float, emissivity: float, power: float = 1.0, thinner: float = 1.0
) -> float:
    """Rise in a hotter ambient of a vertical plate of 0.1 m, by Churchill & Chu (1975) and Stefan–Boltzmann.

    ``thinner``: pressure there over pressure here.
    """

    def lost_w_per_m2(rise: float, ambient_c: float, pressure: float = 1.0) -> float:
        film_k = ambient_c + rise / 2.0 + 273.15
        viscosity = 1.458e-6 * film_k**1.5 / (film_k + 110.4)  # Sutherland
        density, conductivity = (
            101325.0 * pressure / (287.05 * film_k),
            2.64638e-3 * film_k**1.5 / (film_k + 245.4 * 10 ** (-12 / film_k)),
        )
        kinematic = viscosity / density
        diffusivity = kinematic / 0.71  # Prandtl's number does not change with the pressure
        rayleigh = 9.81 / film_k * rise * 0.1**3 / (kinematic * diffusivity)
        nusselt = 0.68 + 0.670 * rayleigh**0.25 / (1.0 + (0.492 / 0.71) ** (9 / 16)) ** (4 / 9)
        radiated = 5.670374e-8 * emissivity * ((ambient_c + rise + 273.15) ** 4 - (ambient_c + 273.15) ** 4)
        return nusselt * conductivity / 0.1 * rise + radiated

    wanted = power * lost_w_per_m2(rise_k, cold_c)
    return float(brentq(lambda rise: lost_w_per_m2(rise, hot_c, thinner) - wanted, 0.01, 400.0))


def test_the_plate_of_the_band_test_gives_the_published_table() -> None:
    """Worked out independently for the project's reference: 40 K at 25 °C on painted and on bare plates."""
    for hot_c, painted, bare in [(40.0, 37.8, 40.5), (60.0, 34.9, 41.0), (70.0, 33.4, 41.3)]:
        assert rise_on_a_plate(40.0, 25.0, hot_c, 0.9) == pytest.approx(painted, abs=0.4)
        assert rise_on_a_plate(40.0, 25.0, hot_c, 0.0) == pytest.approx(bare, abs=0.4)


def test_copper_and_on_resistance_reach_what_their_closed_forms_say() -> None:
    """40 K at 25 °C become 45.4 K at 60 °C in copper, worked out from its coefficient of 0.393 %/K."""
    bare = projection_band("", 40.0, 25.0, 60.0).above_k
    assert projection_band("inductor", 40.0, 25.0, 60.0).above_k - bare == pytest.approx(5.4, abs=0.05)
    assert projection_band("transistor", 40.0, 25.0, 60.0).above_k - bare == pytest.approx(40.0 * 0.006 * 35.0)


def test_towards_a_colder_ambient_the_band_turns_round() -> None:
    there, back = projection_band("ic", 30.0, 25.0, 60.0), projection_band("ic", 30.0, 60.0, 25.0)
    assert (there.below_k, there.above_k) == (back.above_k, back.below_k)
    still = projection_band("ic", 30.0, 25.0, 25.0)
    assert (still.below_k, still.above_k) == (0.0, 0.0)


def test_the_standard_atmosphere_has_its_tabled_densities() -> None:
    """ISO 2533, table (from memory): 1.2250, 1.1116, 1.0065, 0.7361, 0.4127 kg/m³ at 0, 1, 2, 5, 10 km."""
    for altitude_m, density in [
        (0.0, 1.2250),
        (1000.0, 1.1116),
        (2000.0, 1.0065),
        (5000.0, 0.7361),
        (10_000.0, 0.4127),
    ]:
        assert 1.2250 * air_density_ratio(altitude_m) == pytest.approx(density, abs=6e-5)


@pytest.mark.parametrize("altitude_m", [2000.0, 5000.0])
def test_thinner_air_lets_a_rise_grow_as_the_plate_model_has_it(altitude_m: float) -> None:
    """At 2000 m by 4 % with radiation and 8 % without, worked out independently for the project's reference."""
    ratio = air_density_ratio(altitude_m)
    bare = rise_on_a_plate(40.0, 25.0, 25.0, 0.0, thinner=ratio) / 40.0 - 1.0
    painted = rise_on_a_plate(40.0, 25.0, 25.0, 0.9, thinner=ratio) / 40.0 - 1.0
    most = thin_air_growth(0.0, altitude_m)
    assert 0.9 * most < bare <= most  # the plate's constant term of conduction does not thin out
    assert 0.35 * most < painted < 0.6 * most
    if altitude_m == 2000.0:
        assert (bare, painted, most) == pytest.approx((0.08, 0.04, 0.082), abs=0.006)


def test_altitude_widens_the_projection_and_a_bench_as_high_does_not() -> None:
    def projection_k(bench_m: float, use_m: float) -> float:
        conditions = replace(BENCH, altitude_m=bench_m)
        requirement = Requirement(25.0, 10.0, 0.95, "none", altitude_m=use_m)
        return combined_k(model_terms("ic", 40.0, conditions, requirement, kept=True))

    assert projection_k(0.0, 0.0) == 0.0
    assert projection_k(0.0, 3000.0) == pytest.approx(40.0 * thin_air_growth(0.0, 3000.0) / math.sqrt(3.0))
    assert projection_k(3000.0, 3000.0) == pytest.approx(0.0, abs=1e-12)
    assert projection_k(1600.0, 0.0) == 0.0  # denser air cools better: nothing is counted on
    assert projection_k(0.0, 2000.0) < projection_k(0.0, 4000.0)
