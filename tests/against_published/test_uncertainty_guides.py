"""Worked examples of the guides to uncertainty, through this project's own code.

JCGM 100:2008 H.1 (end gauge), JCGM 101:2008 9.2 (sum of four inputs), JCGM 106:2012 7.3 and 9.5.4, with inputs and
results as quoted in public notebooks that work these examples, and further digits worked out independently.
"""

import math

import numpy as np
import pytest
from GTC import ureal  # type: ignore[import-untyped]
from scipy import integrate, stats

from overlay.frames.frame import Array
from overlay.frames.radiometry import Band, Sight, leaving_radiance, surface_temperature_c
from overlay.margin.budget import Input, Output, coverage_factor, propagate, simulate
from overlay.margin.model import Requirement
from overlay.margin.verdict import guard_band, probability_within, verdict_of

END_GAUGE = {
    "standard": Input(50_000_623.0, 25.0, 18),
    "difference": Input(215.0, 9.7, 25.6),
    "expansion_difference": Input(0.0, 0.58e-6, 50),
    "deviation": Input(-0.1, 0.41),
    "expansion": Input(11.5e-6, 1.2e-6),
    "temperature_difference": Input(0.0, 0.029, 2),
}


def end_gauge(
    standard: float,
    difference: float,
    expansion_difference: float,
    deviation: float,
    expansion: float,
    temperature_difference: float,
) -> float:
    return standard + difference - standard * (expansion_difference * deviation + expansion * temperature_difference)


def test_gum_h1_end_gauge() -> None:
    found = propagate(end_gauge, END_GAUGE)
    assert found.value == pytest.approx(50_000_838, abs=0.5)
    assert found.u == pytest.approx(32, abs=0.5)
    assert found.u == pytest.approx(31.711, abs=5e-4)
    assert math.floor(found.freedom) == 16
    assert found.freedom == pytest.approx(16.66, abs=0.005)
    assert coverage_factor(0.99, found.freedom) == pytest.approx(2.9208, abs=5e-5)
    assert found.expanded(0.99) == pytest.approx(93, abs=0.5)


def test_gum_h1_agrees_with_another_library() -> None:
    quantities = {name: ureal(item.value, item.u, item.freedom) for name, item in END_GAUGE.items()}
    other = end_gauge(**quantities)
    found = propagate(end_gauge, END_GAUGE)
    assert found.value == pytest.approx(other.x, abs=1e-6)  # type: ignore[attr-defined]
    assert found.u == pytest.approx(other.u, abs=5e-9 * 1e3)  # type: ignore[attr-defined]
    assert found.freedom == pytest.approx(other.df, abs=5e-5)  # type: ignore[attr-defined]


def total(a: Array, b: Array, c: Array, d: Array) -> Array:
    return a + b + c + d


@pytest.mark.parametrize(
    ("shape", "last_u", "u", "half_width", "tolerance"),
    [
        ("normal", 1.0, 2.0, 3.92, 0.005),
        ("rectangular", 1.0, 2.0, 3.88, 0.005),
        ("rectangular", 10.0, 10.149, 17.01, 0.015),
    ],
)
def test_jcgm_101_sum_of_four_inputs(shape: str, last_u: float, u: float, half_width: float, tolerance: float) -> None:
    inputs = {name: Input(0.0, last_u if name == "d" else 1.0, shape=shape) for name in "abcd"}  # type: ignore[arg-type]
    drawn = simulate(total, inputs, 2_000_000)
    low, high = drawn.interval(0.95)
    assert drawn.u == pytest.approx(u, abs=0.005)
    assert (high - low) / 2.0 == pytest.approx(half_width, abs=tolerance)
    linear = propagate(lambda a, b, c, d: a + b + c + d, inputs)
    assert linear.u == pytest.approx(u, abs=5e-4)
    if last_u == 10.0:
        assert linear.expanded(0.95) == pytest.approx(19.89, abs=0.005)


def test_jcgm_106_probabilities_of_conformity_and_guard_bands() -> None:
    table = {0.80: 0.841621, 0.90: 1.281552, 0.95: 1.644854, 0.975: 1.959964, 0.99: 2.326348, 0.999: 3.090232}
    for probability, z in table.items():
        assert guard_band(1.0, probability) == pytest.approx(z, abs=5e-7)
        assert probability_within(z, 0.0, 1.0) == pytest.approx(probability, abs=5e-7)
    phi = {0: 0.5, 1: 0.84134475, 1.4: 0.91924334, 2: 0.97724987, 2.5: 0.99379033, 2.8: 0.99744487, 3: 0.99865010}
    for z, probability in phi.items():
        assert probability_within(z, 0.0, 1.0) == pytest.approx(probability, abs=5e-9)


def test_jcgm_106_three_zones_about_an_upper_limit() -> None:
    requirement = Requirement(60.0, 0.0, 0.95, "none")
    cases = [(98.0, 0.9974449, "clear"), (101.5, 0.9192433, "undecided"), (105.0, 0.5, "undecided")]
    for value, probability, verdict in [*cases, (112.0, 0.0025551, "over")]:
        found = probability_within(105.0, value, 2.5)
        assert found == pytest.approx(probability, abs=5e-8)
        assert verdict_of(105.0 - value, found, requirement) == verdict
    assert 105.0 - guard_band(2.5, 0.95) == pytest.approx(100.8879, abs=5e-5)


def test_jcgm_106_ball_bearings() -> None:
    prior = stats.gamma(a=4, scale=0.25)
    limit, u = 2.0, 0.25

    def consumer_risk(acceptance: float) -> float:
        risk, _ = integrate.quad(
            lambda y: prior.pdf(y) * probability_within(acceptance, y, u), limit, 12.0, epsabs=1e-13
        )
        return float(risk)

    def producer_risk(acceptance: float) -> float:
        risk, _ = integrate.quad(
            lambda y: prior.pdf(y) * (1.0 - probability_within(acceptance, y, u)), 0.0, limit, epsabs=1e-13
        )
        return float(risk)

    assert prior.sf(limit) == pytest.approx(0.0423801, abs=5e-8)
    assert consumer_risk(2.0) == pytest.approx(0.00801911, abs=5e-9)
    assert consumer_risk(1.671829) == pytest.approx(0.001, abs=5e-9)
    assert producer_risk(1.671829) == pytest.approx(0.075494, abs=5e-7)


# Whole budgets of a reading, 8–14 µm: T_app, ε, u(ε), T_obj, contributions of camera, ε, T_refl and τ in K, u_c
BUDGETS = [
    (82.4549407, 0.95, 0.02, 85.152, "1.201 1.066 0.066 0.102", "1.610"),
    (63.4083886, 0.60, 0.05, 85.152, "1.682 4.219 0.838 0.102", "4.620"),
    (30.7442278, 0.10, 0.02, 85.152, "7.82 10.13 11.32 0.10", "17.08"),
]
BAND = Band(8.0, 14.0)


def surface(apparent: Array, noise: Array, emissivity: Array, reflected: Array, air: Array, tau: Array) -> Array:
    """The measurement equation, for draws of every input at once."""
    in_air = BAND.radiance(air)
    leaving = (BAND.radiance(apparent + noise) - (1.0 - tau) * in_air) / tau
    return surface_temperature_c(BAND, leaving, np.clip(emissivity, 1e-3, 1.0), BAND.radiance(reflected))


def budget_inputs(apparent_c: float, emissivity: float, emissivity_u: float) -> dict[str, Input]:
    return {
        "apparent": Input(apparent_c, 2.0 / math.sqrt(3.0), shape="rectangular"),
        "noise": Input(0.0, 0.05),
        "emissivity": Input(emissivity, emissivity_u),
        "reflected": Input(23.0, 2.0),
        "air": Input(23.0, 1.0),
        "tau": Input(0.997, 0.002),
    }


def linear_budget(inputs: dict[str, Input]) -> Output:
    def one(apparent: float, noise: float, emissivity: float, reflected: float, air: float, tau: float) -> float:
        leaving = leaving_radiance(BAND, Sight(air, air_transmittance=tau), apparent + noise)
        return float(surface_temperature_c(BAND, leaving, emissivity, BAND.radiance(reflected)))

    return propagate(one, inputs)


@pytest.mark.parametrize("row", BUDGETS, ids=lambda row: f"{row[1]:g}")
def test_the_linear_budget_of_a_reading(row: tuple[float, float, float, float, str, str]) -> None:
    apparent_c, emissivity, emissivity_u, object_c, shares, u = row
    found = linear_budget(budget_inputs(apparent_c, emissivity, emissivity_u))
    assert found.value == pytest.approx(object_c, abs=5e-4)
    camera = math.hypot(found.contributions["apparent"], found.contributions["noise"])
    parts = [camera, *(abs(found.contributions[name]) for name in ("emissivity", "reflected", "tau"))]
    for value, printed in zip(parts, shares.split(), strict=True):
        assert value == pytest.approx(float(printed), abs=0.5 * 10.0 ** -len(printed.partition(".")[2]) + 1e-6)
    assert found.u == pytest.approx(float(u), abs=0.5 * 10.0 ** -len(u.partition(".")[2]) + 1e-6)


@pytest.mark.parametrize(
    ("row", "mean", "sd", "low", "high", "linear_within", "within"),
    [
        (BUDGETS[0], 85.17, 1.61, 82.2, 88.3, 0.9987, 0.9992),
        (BUDGETS[1], 85.44, 4.71, 77.1, 95.5, 0.853, 0.838),
    ],
    ids=["0.95", "0.6"],
)
def test_monte_carlo_of_a_reading(
    row: tuple[float, float, float, float, str, str],
    mean: float,
    sd: float,
    low: float,
    high: float,
    linear_within: float,
    within: float,
) -> None:
    inputs = budget_inputs(*row[:3])
    drawn = simulate(surface, inputs, 400_000)
    assert drawn.mean == pytest.approx(mean, abs=0.03)  # seeds differ by about the last digit shown
    assert drawn.u == pytest.approx(sd, abs=0.02)
    assert drawn.interval(0.95) == (pytest.approx(low, abs=0.1), pytest.approx(high, abs=0.1))
    assert drawn.probability_up_to(90.0) == pytest.approx(within, abs=0.002)
    linear = linear_budget(inputs)
    digits = len(str(linear_within).partition(".")[2])
    assert probability_within(90.0, linear.value, linear.u) == pytest.approx(linear_within, abs=0.5 * 10.0**-digits)


def test_the_linear_budget_is_wrong_in_the_tail_where_emissivity_is_a_tenth() -> None:
    inputs = budget_inputs(*BUDGETS[2][:3])
    linear, drawn = linear_budget(inputs), simulate(surface, inputs, 400_000)
    assert probability_within(90.0, linear.value, linear.u) == pytest.approx(0.612, abs=5e-4)
    assert probability_within(105.0, linear.value, linear.u) == pytest.approx(0.877, abs=5e-4)
    assert drawn.probability_up_to(90.0) == pytest.approx(0.611, abs=0.006)  # depends on how ε near 0 is cut
    assert drawn.probability_up_to(105.0) == pytest.approx(0.855, abs=0.006)
