"""Worked examples of the guides to uncertainty, through this project's own code.

JCGM 100:2008 H.1 (end gauge), JCGM 101:2008 9.2 (sum of four inputs), JCGM 106:2012 7.3 and 9.5.4, with inputs and
results as quoted in public notebooks that work these examples, and further digits worked out independently.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from GTC import ureal  # type: ignore[import-untyped]
from scipy import integrate, stats

from overlay.frames.frame import Emissivity
from overlay.frames.radiometry import Sight, leaving_radiance, surface_temperature_c
from overlay.margin.budget import Distribution, coverage_factor, drawn, freedom_of
from overlay.margin.low_emissivity import surface_distribution
from overlay.margin.model import Requirement
from overlay.margin.verdict import probability_within, verdict_of
from overlay.reading.model import Reading
from overlay.uncertainty import Budget, Term, TermName, combined_k
from overlay.view.model import View
from overlay.view.terms import common_terms
from tests.plain_board import Bench

# l = l_S + d − l_S (δα θ + α_S δθ), in nm: each term is a sensitivity written out times a standard uncertainty; the
# names of the budget's terms stand for the inputs
STANDARD_NM, DEVIATION_K, EXPANSION_PER_K = 50_000_623.0, -0.1, 11.5e-6
END_GAUGE: Budget = (
    Term(TermName.CAMERA, 25.0),  # calibration of the standard, 18 degrees of freedom
    Term(TermName.CONTACT, 9.7),  # measured difference, 25.6
    Term(TermName.EMISSIVITY, -STANDARD_NM * DEVIATION_K * 0.58e-6),  # difference of expansion, 50
    Term(TermName.POSITION, -STANDARD_NM * EXPANSION_PER_K * 0.029),  # difference of temperature, 2
)
FREEDOM = {TermName.CAMERA: 18.0, TermName.CONTACT: 25.6, TermName.EMISSIVITY: 50.0, TermName.POSITION: 2.0}


def test_gum_h1_end_gauge() -> None:
    u, freedom = combined_k(END_GAUGE), freedom_of(END_GAUGE, FREEDOM)
    assert u == pytest.approx(32, abs=0.5)
    assert u == pytest.approx(31.711, abs=5e-4)
    assert math.floor(freedom) == 16
    assert freedom == pytest.approx(16.66, abs=0.005)
    # both sides together 99 %: half a percent on either
    assert coverage_factor(0.995, freedom) == pytest.approx(2.9208, abs=5e-5)
    assert coverage_factor(0.995, freedom) * u == pytest.approx(93, abs=0.5)


def test_gum_h1_agrees_with_another_library() -> None:
    standard, difference = ureal(STANDARD_NM, 25.0, 18), ureal(215.0, 9.7, 25.6)
    expansions, deviation = ureal(0.0, 0.58e-6, 50), ureal(DEVIATION_K, 0.41)
    expansion, temperatures = ureal(EXPANSION_PER_K, 1.2e-6), ureal(0.0, 0.029, 2)
    other = standard + difference - standard * (expansions * deviation + expansion * temperatures)
    assert combined_k(END_GAUGE) == pytest.approx(other.u, abs=5e-6)
    assert freedom_of(END_GAUGE, FREEDOM) == pytest.approx(other.df, abs=5e-5)


@pytest.mark.parametrize(
    ("name", "last_u", "u", "half_width", "tolerance"),
    [
        (TermName.NOISE, 1.0, 2.0, 3.92, 0.005),
        (TermName.CAMERA, 1.0, 2.0, 3.88, 0.005),
        (TermName.CAMERA, 10.0, 10.149, 17.01, 0.015),
    ],
    ids=["normal", "rectangular", "one large rectangle"],
)
def test_jcgm_101_sum_of_four_inputs(
    name: TermName, last_u: float, u: float, half_width: float, tolerance: float
) -> None:
    """The camera's limits of error are rectangles in this project's budgets, noise is normal."""
    budget = (*(Term(name, 1.0) for _ in range(3)), Term(name, last_u))
    found = Distribution(np.sort(drawn(budget, np.random.default_rng(1), 2_000_000)))
    low, high = np.quantile(found.draws, [0.025, 0.975])
    assert found.u == pytest.approx(u, abs=0.005)
    assert (high - low) / 2.0 == pytest.approx(half_width, abs=tolerance)
    assert combined_k(budget) == pytest.approx(u, abs=5e-4)
    if last_u == 10.0:
        assert coverage_factor(0.975) * combined_k(budget) == pytest.approx(19.89, abs=0.005)


def test_jcgm_106_probabilities_of_conformity_and_guard_bands() -> None:
    table = {0.80: 0.841621, 0.90: 1.281552, 0.95: 1.644854, 0.975: 1.959964, 0.99: 2.326348, 0.999: 3.090232}
    for probability, z in table.items():
        assert coverage_factor(probability) == pytest.approx(z, abs=5e-7)
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
    assert 105.0 - 2.5 * coverage_factor(0.95) == pytest.approx(100.8879, abs=5e-5)


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
SIGHT = Sight(23.0, air_transmittance=0.997, air_transmittance_u=0.002)


def whole_budget(bench: Bench, apparent_c: float, emissivity: float, emissivity_u: float) -> tuple[View, Reading]:
    """A reading with the budget that the product gives it: accuracy ± 2 °C, noise 0.05 K, T_refl 23 ± 2 °C."""
    plain = bench.view(bench.part("U1", (20.0, 15.0), (6.0, 6.0)))
    view = replace(plain, sight=SIGHT, reflected_c=23.0, reflected_u_c=2.0, accuracy_c=2.0, accuracy_percent=0.0)
    leaving = float(leaving_radiance(view.band, SIGHT, apparent_c))
    surface_c = float(surface_temperature_c(view.band, leaving, emissivity, view.band.radiance(23.0)))
    surface = Emissivity(emissivity, emissivity_u, "")
    (common,) = common_terms(view, np.array([surface_c]), np.array([leaving]), [surface], ["U1"])
    camera = next(term.contribution_k for term in common if term.name is TermName.CAMERA)
    budget = (*common, Term(TermName.NOISE, 0.05 * camera / (2.0 / math.sqrt(3.0))))
    reading = Reading(
        "U1", "a", "read", surface_c, surface_c, combined_k(budget), apparent_c, None, 40.0, 1.0, emissivity,
        emissivity_u, leaving_radiance=leaving, leaving_u=0.0, budget=budget,
    )  # fmt: skip
    return view, reading


@pytest.mark.parametrize("row", BUDGETS, ids=lambda row: f"{row[1]:g}")
def test_the_linear_budget_of_a_reading(bench: Bench, row: tuple[float, float, float, float, str, str]) -> None:
    apparent_c, emissivity, emissivity_u, object_c, shares, u = row
    _, found = whole_budget(bench, apparent_c, emissivity, emissivity_u)
    assert found.peak_c == pytest.approx(object_c, abs=5e-4)
    told = {term.name: term.contribution_k for term in found.budget}
    camera = math.hypot(told[TermName.CAMERA], told[TermName.NOISE])
    parts = [camera, *(abs(told[name]) for name in (TermName.EMISSIVITY, TermName.REFLECTED, TermName.AIR))]
    for value, printed in zip(parts, shares.split(), strict=True):
        assert value == pytest.approx(float(printed), abs=0.5 * 10.0 ** -len(printed.partition(".")[2]) + 1e-6)
    assert found.u_c == pytest.approx(float(u), abs=0.5 * 10.0 ** -len(u.partition(".")[2]) + 1e-3)


def drawn_surface(bench: Bench, row: tuple[float, float, float, float, str, str]) -> tuple[Reading, Distribution]:
    view, reading = whole_budget(bench, *row[:3])
    draws = surface_distribution(reading, 23.0, 2.0, view.band, np.random.default_rng(2), 400_000)
    return reading, Distribution(np.sort(draws))


@pytest.mark.parametrize(
    ("row", "mean", "sd", "low", "high", "linear_within", "within"),
    [
        (BUDGETS[0], 85.17, 1.61, 82.2, 88.3, 0.9987, 0.9992),
        (BUDGETS[1], 85.44, 4.71, 77.1, 95.5, 0.853, 0.838),
    ],
    ids=["0.95", "0.6"],
)
def test_monte_carlo_of_a_reading(
    bench: Bench,
    row: tuple[float, float, float, float, str, str],
    mean: float,
    sd: float,
    low: float,
    high: float,
    linear_within: float,
    within: float,
) -> None:
    reading, found = drawn_surface(bench, row)
    assert found.mean == pytest.approx(mean, abs=0.03)  # seeds differ by about the last digit shown
    assert found.u == pytest.approx(sd, abs=0.02)
    assert np.quantile(found.draws, [0.025, 0.975]) == pytest.approx([low, high], abs=0.1)
    assert found.probability_up_to(90.0) == pytest.approx(within, abs=0.002)
    assert reading.peak_c is not None
    assert reading.u_c is not None
    digits = len(str(linear_within).partition(".")[2])
    linear = probability_within(90.0, reading.peak_c, reading.u_c)
    assert linear == pytest.approx(linear_within, abs=0.5 * 10.0**-digits)


def test_the_linear_budget_is_wrong_in_the_tail_where_emissivity_is_a_tenth(bench: Bench) -> None:
    reading, found = drawn_surface(bench, BUDGETS[2])
    assert reading.peak_c is not None
    assert reading.u_c is not None
    assert probability_within(90.0, reading.peak_c, reading.u_c) == pytest.approx(0.612, abs=5e-4)
    assert probability_within(105.0, reading.peak_c, reading.u_c) == pytest.approx(0.877, abs=5e-4)
    assert found.probability_up_to(90.0) == pytest.approx(0.611, abs=0.006)  # depends on how ε near 0 is cut
    assert found.probability_up_to(105.0) == pytest.approx(0.855, abs=0.006)
