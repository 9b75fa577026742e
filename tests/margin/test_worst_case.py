import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.board.model import Body, Component, Rating
from overlay.frames.radiometry import Band, object_radiance, surface_temperature_c
from overlay.margin.derating import read_policy
from overlay.margin.low_emissivity import projected_distribution
from overlay.margin.model import Conditions, Margin, MarginCode, Requirement
from overlay.margin.projection import model_terms
from overlay.margin.worst_case import margin_of
from overlay.reading.model import CaseReading, Reading, ReadingCode
from overlay.reasons import Reason
from overlay.uncertainty import Term, TermName, combined_k

BAND = Band(8.0, 14.0)
REQUIREMENT = Requirement(60.0, 10.0, 0.95, "none")
BENCH = Conditions("bench", 25.0, 0.5, 24.0, 1.0, 1.0, 0.0)
FULL = Conditions("full", 23.0, 0.4, 24.0, 1.0, 1.2, 0.03)
CONDITIONS = {"bench": BENCH, "full": FULL}


def part(rating: Rating | None, kind: str = "resistor") -> Component:
    body = Body(1.6, 0.8, 0.45, "a test")
    return Component("R1", (0.0, 0.0), 0.0, "top", "R0603", "", "", False, 1, kind, body, rating)


def reading(peak_c: float = 80.0, capture: str = "bench", **changes: object) -> Reading:
    budget = (Term(TermName.CAMERA, 1.2, f"camera:{capture}"), Term(TermName.EMISSIVITY, 0.9, "emissivity:R1"))
    plain = Reading(
        refdes="R1",
        capture=capture,
        state="read",
        peak_c=peak_c,
        mean_c=peak_c,
        u_c=1.5,
        apparent_peak_c=peak_c,
        peak_at_mm=(0.0, 0.0),
        pixels=40.0,
        visible=1.0,
        emissivity=0.9,
        emissivity_u=0.03,
        budget=budget,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def margin(
    rating: Rating | None, *readings: Reading, kind: str = "resistor", policy: str = "none", **changes: float
) -> Margin:
    rules = read_policy(policy, Path())
    requirement = replace(REQUIREMENT, derating=policy, **changes)
    return margin_of(part(rating, kind), readings, CONDITIONS, requirement, rules, BAND)


def law_k(rise_k: float, kind: str = "resistor", conditions: Conditions = BENCH, *, kept: bool = True) -> float:
    """What the projection itself adds to a budget."""
    return combined_k(model_terms(kind, rise_k, conditions, REQUIREMENT, kept=kept))


def test_the_rise_is_carried_to_the_hottest_ambient_with_every_term() -> None:
    found = margin(Rating(4, limit_c=155.0), reading(80.0, "full"))
    assert found.projected_c == pytest.approx(60.0 + (80.0 - 23.0) * 1.2)
    assert found.margin_c == pytest.approx(155.0 - 128.4)
    expected = np.sqrt(
        (1.2 * 1.2) ** 2 + (0.9 * 1.2) ** 2 + (0.4 * 1.2) ** 2 + (57.0 * 0.03) ** 2 + law_k(68.4, conditions=FULL) ** 2
    )
    assert found.u_c == pytest.approx(expected)
    assert found.verdict == "clear"
    assert {term.shared for term in found.budget} == {
        "camera:full",
        "emissivity:R1",
        "ambient:full",
        "rise scale:full",
        "",
    }


def test_the_worst_capture_counts_and_every_capture_is_told() -> None:
    found = margin(Rating(4, limit_c=110.0), reading(60.0, "bench"), reading(80.0, "full"))
    assert found.capture == "full"
    assert dict(found.every) == {"bench": pytest.approx(95.0), "full": pytest.approx(128.4)}
    assert found.verdict == "over"


def test_the_capture_least_likely_to_keep_the_limit_is_worse_than_a_hotter_but_surer_one() -> None:
    unsure = reading(60.0, "bench", u_c=9.0, budget=(Term(TermName.POSITION, 9.0),))
    sure = reading(60.0, "full", u_c=0.3, budget=(Term(TermName.CAMERA, 0.3),))
    found = margin_of(
        part(Rating(4, limit_c=108.0)),
        (unsure, sure),
        {"bench": BENCH, "full": replace(FULL, ambient_c=24.0, rise_scale=1.0, rise_scale_u=0.0)},
        REQUIREMENT,
        None,
        BAND,
    )
    assert dict(found.every)["full"] > dict(found.every)["bench"]
    assert found.capture == "bench"
    assert found.verdict == "undecided"


def test_a_cool_but_unsure_capture_does_not_hide_a_hotter_one_with_too_little_margin() -> None:
    unsure = reading(60.0, "bench", u_c=9.0, budget=(Term(TermName.POSITION, 9.0),))
    sure = reading(65.0, "full", u_c=0.3, budget=(Term(TermName.CAMERA, 0.3),))
    conditions = {"bench": BENCH, "full": replace(FULL, ambient_c=24.0, rise_scale=1.0, rise_scale_u=0.0)}
    found = margin_of(part(Rating(4, limit_c=110.5)), (unsure, sure), conditions, REQUIREMENT, None, BAND)
    assert found.capture == "full"
    assert found.margin_c == pytest.approx(9.5)
    assert found.verdict == "near"


@pytest.mark.parametrize("state", ["shiny", "hidden"])
def test_a_shiny_or_hidden_part_is_never_given_a_verdict(state: str) -> None:
    found = margin(Rating(4, limit_c=155.0), reading(state=state, why=(Reason(ReadingCode.SHINY, "mirrors the room"),)))
    assert found.verdict == "unseen"
    assert found.projected_c is None
    assert found.probability_within is None
    assert found.limit_c == 155.0
    assert "mirrors the room" in found.why


def test_unseen_comes_before_unrated() -> None:
    assert margin(None, reading(state="hidden", peak_c=None, u_c=None)).verdict == "unseen"
    assert margin(None).verdict == "unseen"
    unrated = margin(None, reading())
    assert unrated.verdict == "unrated"
    assert unrated.projected_c == pytest.approx(115.0)
    assert unrated.limit_c is None
    assert any("add one with limit_c" in why for why in unrated.why)


def test_a_capture_that_could_not_read_the_part_is_named() -> None:
    behind = reading(capture="full", state="hidden", visible=0.3, peak_c=None, u_c=None)
    other_side = reading(capture="full", state="hidden", visible=0.0, peak_c=None, u_c=None)
    assert any('"full" (hidden)' in why for why in margin(Rating(4, limit_c=155.0), reading(), behind).why)
    assert margin(Rating(4, limit_c=155.0), reading(), other_side).why == ()


def test_an_ambient_limit_is_held_against_the_board_around_the_part() -> None:
    rating = Rating(4, limit_c=85.0, limit_at="ambient")
    found = margin(rating, reading(95.0, ring_c=40.0, ring_u_c=1.0))
    assert found.projected_c == pytest.approx(75.0)
    assert found.margin_c == pytest.approx(10.0)
    assert found.u_c == pytest.approx(math.hypot(1.0, 0.5, law_k(15.0, "")))
    assert any("cautious" in why for why in found.why)
    without = margin(rating, reading(95.0))
    assert without.verdict == "unseen"
    assert any("board around it" in why for why in without.why)


def test_power_behind_a_junction_limit_enters_the_budget() -> None:
    rating = Rating(4, limit_c=150.0, limit_at="junction", psi_jt_k_per_w=10.0, power_w=2.0, power_u_w=0.3)
    found = margin(rating, reading(80.0), kind="ic")
    assert found.limit_c == pytest.approx(130.0)
    assert found.u_c == pytest.approx(math.hypot(1.5, 0.5, 3.0, law_k(55.0, "ic")))


def test_a_contact_reading_without_terms_counts_with_its_whole_uncertainty() -> None:
    found = margin(Rating(4, limit_c=155.0), reading(state="contact", u_c=0.7, budget=()))
    assert found.u_c == pytest.approx(math.hypot(0.7, 0.5, law_k(55.0)))


def test_life_follows_the_projected_case_and_stands_beside_the_verdict() -> None:
    rating = Rating(4, limit_c=105.0, endurance_h=2000.0, endurance_c=105.0)
    found = margin(rating, reading(50.0), kind="electrolytic")
    assert found.projected_c == pytest.approx(85.0)
    assert found.life_h == pytest.approx(8000.0)


def test_no_life_is_told_where_its_rule_does_not_hold() -> None:
    hot = margin(Rating(4, limit_c=125.0, endurance_h=2000.0, endurance_c=105.0), reading(80.0), kind="electrolytic")
    series = margin(Rating(4, limit_c=150.0, endurance_h=2000.0, endurance_c=130.0), reading(50.0), kind="electrolytic")
    for found in (hot, series):
        assert found.life_h is None
        assert any(reason.code is MarginCode.LIFE_REFUSED for reason in found.why)
    cold = margin(Rating(4, limit_c=105.0, endurance_h=2000.0, endurance_c=105.0), reading(20.0), kind="electrolytic")
    assert cold.life_h == pytest.approx(2000.0 * 2**4.5)  # at 60 °C: no longer below


def test_more_ripple_than_rated_costs_life_and_is_refused_beyond_the_endurance_test() -> None:
    """Twice the rated heat: 5 K more in the core, as if the can were 5 K hotter at its rated ripple."""
    rating = Rating(4, limit_c=105.0, endurance_h=2000.0, endurance_c=105.0, current_a=2.0**0.5, rated_current_a=1.0)
    found = margin(rating, reading(50.0), kind="electrolytic")
    assert found.life_h == pytest.approx(8000.0 / 2**0.5)
    assert found.limit_c == pytest.approx(100.0)
    beyond = margin(replace(rating, current_a=3.0), reading(50.0), kind="electrolytic")  # 40 K more than rated
    assert beyond.life_h is None
    assert beyond.verdict == "undecided"  # 65 °C are allowed it, give or take half of the 40 K, and it reaches 85
    assert any("40 K by more ripple" in reason for reason in beyond.why)
    less = margin(replace(rating, current_a=0.1), reading(50.0), kind="electrolytic")
    assert less.life_h == pytest.approx(8000.0)


def test_a_tab_read_by_a_contact_carries_the_junction_by_theta_and_the_top_by_psi() -> None:
    rating = Rating(
        4, limit_c=150.0, limit_at="junction", psi_jt_k_per_w=0.5, theta_jc_k_per_w=2.0, power_w=10.0, power_u_w=0.0
    )
    bead = (Term(TermName.CONTACT, 0.8),)
    beside = reading(60.0, case=CaseReading(62.0, bead))
    found = margin(rating, beside, kind="transistor")
    assert (found.limit_c, found.projected_c) == (pytest.approx(130.0), pytest.approx(97.0))
    assert found.surface_c == pytest.approx(95.0)  # its top is what was seen of it
    hot_top = margin(rating, reading(110.0, case=CaseReading(30.0, bead)), kind="transistor")
    assert hot_top.limit_c == pytest.approx(145.0)  # the top says more
    alone = reading(62.0, state="contact", u_c=0.8, budget=bead, case=CaseReading(62.0, bead))
    assert margin(rating, alone, kind="transistor").limit_c == pytest.approx(130.0)
    unknown = margin(replace(rating, theta_jc_k_per_w=None), alone, kind="transistor")
    assert unknown.verdict == "unrated"  # ψJT is no way down from a tab
    assert any("theta_jc_k_per_w" in reason for reason in unknown.why)
    molten = replace(alone, peak_c=130.0, case=CaseReading(130.0, bead))
    assert margin(replace(rating, theta_jc_k_per_w=None), molten, kind="transistor").verdict == "over"


@pytest.mark.parametrize("stated_u", [0.5, 1.4])
def test_beads_at_the_edge_of_clear_are_wrong_no_oftener_than_is_claimed(stated_u: float) -> None:
    """Simulated beads whose stated uncertainty is itself only known to a third: the spread is another for each."""
    rng = np.random.default_rng(11)
    requirement, rating = Requirement(25.0, 0.0, 0.95, "none"), Rating(4, limit_c=70.0)
    sharp = {"bench": replace(BENCH, ambient_u_c=0.0)}
    budget = (
        Term(TermName.CONTACT, 0.9 * stated_u, "contact:a"),
        Term(TermName.CONTACT, (1.0 - 0.81) ** 0.5 * stated_u),
    )
    kept, said = [], []
    for _ in range(4000):
        true_u = stated_u * np.sqrt(4.0 / rng.chisquare(4.0))  # four degrees of freedom: known to about a third
        room_k = rng.uniform(-6.0, 6.0) * stated_u  # of the truth, to either side of the limit
        seen = reading(70.0 - room_k + rng.normal(0.0, true_u), state="contact", u_c=stated_u, budget=budget)
        found = margin_of(part(rating), (seen,), sharp, requirement, None, BAND)
        assert found.probability_within is not None
        if found.verdict == "clear" and found.probability_within < 0.99:
            kept.append(room_k >= 0.0)
            said.append(found.probability_within)
    assert len(kept) > 200
    assert np.mean(kept) >= 0.95
    assert np.mean(kept) == pytest.approx(np.mean(said), abs=0.02)


def test_a_bead_s_tail_is_that_of_few_degrees_of_freedom() -> None:
    """One bead 1.9 standard uncertainties below its limit: 97 % if it were fully known, 93.5 % as it is."""
    bead = (Term(TermName.CONTACT, 1.0),)
    found = margin_of(
        part(Rating(4, limit_c=70.0)),
        (reading(68.1, state="contact", u_c=1.0, budget=bead),),
        {"bench": replace(BENCH, ambient_u_c=0.0)},
        Requirement(25.0, 0.0, 0.95, "none"),
        None,
        BAND,
    )
    assert found.freedom == pytest.approx(4.0)
    assert found.probability_within == pytest.approx(0.935, abs=1e-3)
    assert found.verdict == "undecided"


def test_the_board_around_a_part_can_clear_an_ambient_rating_and_never_break_it() -> None:
    rating = Rating(4, limit_c=70.0, limit_at="ambient")
    hot = margin(rating, reading(95.0, ring_c=90.0, ring_u_c=0.5))
    assert hot.projected_c == pytest.approx(125.0)
    assert hot.verdict == "undecided"
    assert margin(rating, reading(95.0, ring_c=26.0, ring_u_c=0.5)).verdict == "near"
    # the air alone can break it
    air = margin(Rating(4, limit_c=55.0, limit_at="ambient"), reading(95.0, ring_c=90.0, ring_u_c=0.5))
    assert (air.verdict, air.projected_c) == ("over", 60.0)


def test_a_part_with_several_limits_is_held_against_the_one_it_keeps_least() -> None:
    ambient = Rating(5, limit_c=70.0, limit_at="ambient")
    rating = Rating(4, limit_c=150.0, limit_at="junction", psi_jt_k_per_w=5.0, power_w=0.5, further=(ambient,))
    found = margin(rating, reading(60.0, ring_c=55.0, ring_u_c=0.5), kind="ic")
    assert (found.verdict, found.limit_at, found.limit_source) == ("undecided", "ambient", "parts table, line 5")
    assert margin(rating, reading(60.0, ring_c=26.0, ring_u_c=0.5), kind="ic").limit_at == "ambient"
    assert margin(rating, reading(122.0, ring_c=26.0, ring_u_c=0.5), kind="ic").limit_at == "junction"


def test_a_solder_point_lies_between_the_board_and_the_parts_own_surface() -> None:
    rating = Rating(4, limit_c=105.0, limit_at="terminal")
    found = margin(rating, reading(80.0, ring_c=60.0, ring_u_c=0.5), kind="led")
    assert found.projected_c == pytest.approx(105.0)
    assert found.u_c is not None
    assert found.u_c > 10.0 / math.sqrt(3.0)
    assert found.verdict == "undecided"


def test_a_surface_above_the_junctions_ceiling_breaks_the_policy_and_one_below_shows_nothing() -> None:
    """An IC surface at 145 °C against a ceiling of 100 °C was clear."""
    rating = Rating(4, limit_c=150.0)
    hot = margin(rating, reading(110.0), kind="ic", policy="MIL-STD-975M")
    assert (hot.projected_c, hot.verdict, hot.limit_c) == (pytest.approx(145.0), "over", 100.0)
    assert "MIL-STD-975M" in hot.limit_source
    cool = margin(rating, reading(50.0), kind="ic", policy="MIL-STD-975M")
    assert cool.verdict == "unrated"
    assert any("psi_jt_k_per_w" in reason for reason in cool.why)


def test_a_resistor_over_its_allowed_power_is_over_however_cool() -> None:
    """211 % of the allowed power was clear."""
    rating = Rating(4, limit_c=155.0, power_w=0.211, rated_power_w=0.1)
    found = margin(rating, reading(40.0))
    assert found.load_ratio == pytest.approx(2.11)
    assert (found.verdict, found.probability_within) == ("over", 0.0)
    assert any(reason.code is MarginCode.LOAD for reason in found.why)
    unsure = margin(replace(rating, power_w=0.101, power_u_w=0.01), reading(40.0))
    assert unsure.verdict == "undecided"
    assert margin(replace(rating, power_w=0.09), reading(40.0)).verdict == "clear"


def test_a_kind_that_a_policy_does_not_allow_is_over() -> None:
    rating = Rating(4, limit_c=125.0, limit_at="junction", psi_jt_k_per_w=1.0, power_w=0.1)
    found = margin(rating, reading(30.0), kind="ic", policy="NAVSEA-SD-18 severe")
    assert found.verdict == "over"
    assert any(reason.code is MarginCode.NOT_ALLOWED for reason in found.why)


def test_a_part_that_a_policy_does_not_cover_is_unrated_under_it_unless_it_breaks_its_rating() -> None:
    rating = Rating(4, limit_c=100.0)
    assert margin(rating, reading(40.0), kind="battery").verdict == "clear"
    assert margin(rating, reading(40.0), kind="battery", policy="MIL-STD-975M").verdict == "unrated"
    assert margin(rating, reading(90.0), kind="battery", policy="MIL-STD-975M").verdict == "over"


def test_air_in_the_enclosure_is_hotter_than_outside_and_known_as_well_as_stated() -> None:
    found = margin(Rating(4, limit_c=155.0), reading(80.0), enclosure_rise_k=12.0, enclosure_rise_u_k=3.0)
    assert found.projected_c == pytest.approx(127.0)
    assert any(term.shared == "enclosure" and term.contribution_k == 3.0 for term in found.budget)


def test_a_margin_thinner_than_the_projection_is_undecided_and_says_so() -> None:
    sure = (Term(TermName.NOISE, 0.3),)
    coil = reading(85.0, budget=sure, u_c=0.3)
    assert margin(Rating(4, limit_c=125.0), coil, kind="resistor").verdict != "undecided"
    found = margin(Rating(4, limit_c=125.0), coil, kind="inductor")
    assert found.verdict == "undecided"
    assert any(reason.code is MarginCode.MODEL_DECIDES for reason in found.why)


def test_the_load_of_a_resistor_is_scaled_with_its_rise() -> None:
    """The board around it was projected with the part's own offset: 140 °C instead of 100 at a rise scale of 2."""
    rating = Rating(4, limit_c=155.0, power_w=0.1, rated_power_w=0.1, derates_by="terminal")
    doubled = {"bench": replace(BENCH, rise_scale=2.0)}
    seen = reading(65.0, ring_c=45.0, ring_u_c=0.0, u_c=0.0, budget=())
    found = margin_of(part(rating), (seen,), doubled, REQUIREMENT, None, BAND)
    assert found.load_ratio == pytest.approx(85.0 / (155.0 - 100.0))


def low_emissivity_reading(emissivity: float, emissivity_u: float, surface_c: float = 85.0) -> Reading:
    leaving = float(object_radiance(BAND, surface_c, emissivity, 24.0))
    gain = 1.0 / (emissivity * float(BAND.slope(surface_c)))
    contrast = float(BAND.radiance(surface_c) - BAND.radiance(24.0))
    budget = (
        Term(TermName.CAMERA, 1.155 * gain * float(BAND.slope(BAND.temperature_c(leaving))), "camera:bench"),
        Term(TermName.EMISSIVITY, -contrast * gain * emissivity_u, "emissivity:R1"),
        Term(TermName.REFLECTED, -(1 - emissivity) * float(BAND.slope(24.0)) * gain, "reflected:bench"),
        Term(TermName.NOISE, 0.05 * gain * float(BAND.slope(85.0))),
    )
    return reading(
        surface_c,
        emissivity=emissivity,
        emissivity_u=emissivity_u,
        leaving_radiance=leaving,
        leaving_u=0.1,
        u_c=combined_k(budget),
        budget=budget,
    )


def test_low_emissivity_takes_its_probability_from_monte_carlo() -> None:
    low = low_emissivity_reading(0.60, 0.05)
    rating = Rating(4, limit_c=128.0)
    found = margin(rating, low)
    assert any("Monte Carlo" in why for why in found.why)
    beyond = model_terms("resistor", 60.0, BENCH, REQUIREMENT, kept=True)
    drawn = projected_distribution(low, BENCH, beyond, 60.0, BAND)
    assert found.probability_within == drawn.probability_up_to(128.0)
    assert drawn.u == pytest.approx(found.u_c, rel=0.05)
    # an independent simulation, written out plainly
    rng = np.random.default_rng(1)
    n = 400_000
    epsilon = np.minimum(rng.normal(0.60, 0.05, n), 1.0)
    camera = rng.uniform(-1, 1, n) * np.sqrt(3) * low.budget[0].contribution_k * 0.60 * float(BAND.slope(85.0))
    noise = rng.normal(0, 1, n) * low.budget[3].contribution_k * 0.60 * float(BAND.slope(85.0))
    surface = surface_temperature_c(
        BAND, float(low.leaving_radiance or 0) + camera + noise, epsilon, BAND.radiance(rng.normal(24.0, 1.0, n))
    )
    law = rng.normal(0.0, law_k(60.0), n)
    share = np.mean(60.0 + surface + law - rng.normal(25.0, 0.5, n) <= 128.0)
    assert found.probability_within == pytest.approx(share, abs=0.008)
    # the distribution leans to the hot side: the linear budget is too sure
    sure = margin(rating, replace(low, emissivity=0.85))
    assert sure.probability_within is not None
    assert found.probability_within is not None
    assert found.probability_within < sure.probability_within


def test_monte_carlo_and_linear_budget_agree_where_emissivity_is_high() -> None:
    high = low_emissivity_reading(0.95, 0.02)
    rating = Rating(4, limit_c=122.0)
    beyond = model_terms("resistor", 60.0, BENCH, REQUIREMENT, kept=True)
    drawn = projected_distribution(high, BENCH, beyond, 60.0, BAND)
    found = margin(rating, high)
    assert found.probability_within == pytest.approx(drawn.probability_up_to(122.0), abs=0.02)
    assert drawn.u == pytest.approx(found.u_c, rel=0.02)


@given(st.floats(30.0, 140.0), st.floats(0.1, 30.0))
def test_a_hotter_part_is_never_surer_to_keep_its_limit(peak_c: float, hotter_k: float) -> None:
    rating = Rating(4, limit_c=125.0)
    cool, hot = margin(rating, reading(peak_c)), margin(rating, reading(peak_c + hotter_k))
    assert cool.probability_within is not None
    assert hot.probability_within is not None
    assert hot.probability_within <= cool.probability_within
    order = ["over", "undecided", "near", "clear"]
    assert order.index(hot.verdict) <= order.index(cool.verdict)


def test_without_a_body_a_limit_can_be_shown_to_be_broken_and_never_to_be_kept() -> None:
    def verdict(limit_c: float, **changes: object) -> str:
        bodiless = replace(part(Rating(4, limit_c=limit_c)), body=None)
        return margin_of(bodiless, [reading(80.0, **changes)], CONDITIONS, REQUIREMENT, None, BAND).verdict  # type: ignore[arg-type]

    assert (verdict(300.0), verdict(90.0)) == ("undecided", "over")
    assert verdict(300.0, state="contact") == "clear"


def test_a_bound_shows_that_a_limit_is_broken_and_never_that_it_is_kept() -> None:
    bound = reading(100.0, state="saturated")
    over = margin(Rating(4, limit_c=100.0), bound)
    assert (over.verdict, over.projected_c) == ("over", pytest.approx(135.0))
    assert margin(Rating(4, limit_c=300.0), bound).verdict == "unseen"
    assert margin(None, bound).verdict == "unseen"
    # nor does another capture that shows it cooler
    cooler = reading(60.0, "full")
    assert margin(Rating(4, limit_c=300.0), cooler).verdict == "clear"
    assert margin(Rating(4, limit_c=300.0), cooler, bound).verdict == "unseen"
    assert margin(Rating(4, limit_c=100.0), cooler, bound).verdict == "over"
