from dataclasses import replace
from pathlib import Path

import pytest

from overlay.board.model import Component, Rating
from overlay.margin.demands import demands_on
from overlay.margin.derating import Policy, read_policy
from overlay.margin.load import Load, load_of
from overlay.margin.model import Demands, MarginCode, SurfaceLimit
from overlay.uncertainty import TermName, combined_k

PLACES = {"ambient": (60.0, 0.0), "terminal": (90.0, 1.0), "surface": (110.0, 1.0)}


def part(kind: str, rating: Rating | None) -> Component:
    return Component("X1", (0.0, 0.0), 0.0, "top", "", "", "", False, 1, kind, None, rating)


def policy(name: str) -> Policy:
    found = read_policy(name, Path())
    assert found is not None
    return found


def demands_of(kind: str, rating: Rating | None, name: str = "none") -> Demands:
    return demands_on(part(kind, rating), None if name == "none" else policy(name))


def limit_of(kind: str, rating: Rating, name: str = "none") -> SurfaceLimit:
    (limit,) = demands_of(kind, rating, name).limits
    return limit


def codes(demands: Demands) -> tuple[list[str], list[str]]:
    return [reason.code for reason in demands.broken], [reason.code for reason in demands.uncovered]


def test_a_surface_limit_is_taken_as_it_is_and_says_which_data_sheet() -> None:
    limit = limit_of("resistor", Rating(4, limit_c=155.0, limit_u_c=2.0, limit_source="maker's sheet, rev. 7"))
    assert (limit.limit_c, limit.rating_c, limit.derated_c) == (155.0, 155.0, None)
    assert limit.source == "parts table, line 4 (maker's sheet, rev. 7)"
    assert combined_k(limit.budget) == 2.0


def test_a_junction_limit_is_carried_to_the_surface_with_the_uncertainty_of_power_and_resistance() -> None:
    rating = Rating(
        5,
        limit_c=150.0,
        limit_at="junction",
        psi_jt_k_per_w=6.0,
        power_w=0.85,
        power_u_w=0.05,
        psi_u_k_per_w=2.0,
    )
    limit = limit_of("ic", rating)
    assert limit.limit_c == pytest.approx(144.9)
    assert {term.name: term.contribution_k for term in limit.budget} == {
        TermName.POWER: pytest.approx(0.3),
        TermName.RESISTANCE: pytest.approx(1.7),
    }


def test_every_row_of_a_part_is_a_limit_of_its_own() -> None:
    ambient = Rating(6, limit_c=85.0, limit_at="ambient")
    rating = Rating(5, limit_c=150.0, limit_at="junction", psi_jt_k_per_w=6.0, power_w=0.5, further=(ambient,))
    junction, air = demands_of("ic", rating).limits
    assert (junction.limit_c, junction.limit_at) == (147.0, "junction")
    assert (air.limit_c, air.limit_at, air.source) == (85.0, "ambient", "parts table, line 6")


def test_a_junction_limit_without_resistance_or_power_can_only_be_broken_and_asks_for_them() -> None:
    found = demands_of("ic", Rating(5, limit_c=150.0, limit_at="junction", psi_jt_k_per_w=6.0))
    assert [limit.only_breaks for limit in found.limits] == [True]
    assert "no power_w" in found.uncovered[0]
    assert "psi" not in found.uncovered[0]
    assert "limit_c" in demands_of("ic", Rating(5)).uncovered[0]
    assert "no row" in demands_of("ic", None).uncovered[0]


def test_a_blank_place_is_asked_for_where_it_matters_and_leaves_room_for_a_hotter_junction() -> None:
    blank = Rating(4, limit_c=125.0, limit_at_stated=False)
    limit = limit_of("ic", blank)
    assert limit.hidden_share > 0.0
    assert [reason.code for reason in limit.why] == [MarginCode.PLACE_NOT_STATED]
    assert limit_of("resistor", blank).why == ()


def test_a_resistance_that_looks_like_that_to_the_case_is_challenged() -> None:
    rating = Rating(4, limit_c=150.0, limit_at="junction", psi_jt_k_per_w=63.2, power_w=0.2)
    assert [reason.code for reason in limit_of("ic", rating).why] == [MarginCode.RESISTANCE_DOUBTED]


def test_rating_and_derated_rating_stand_side_by_side_and_the_lower_counts() -> None:
    limit = limit_of("electrolytic", Rating(4, limit_c=105.0), "RAC severe")
    assert (limit.limit_c, limit.rating_c, limit.derated_c) == (85.0, 105.0, 85.0)
    assert "RAC severe, sheet, capacitors" in limit.source
    already = limit_of(
        "ic", Rating(4, limit_c=85.0, limit_at="junction", psi_jt_k_per_w=1.0, power_w=1.0), "MIL-STD-975M"
    )
    assert (already.limit_c, already.rating_c, already.derated_c) == (84.0, 84.0, 99.0)


def test_a_rule_for_another_place_is_a_limit_of_its_own() -> None:
    rating = Rating(4, limit_c=150.0, psi_jt_k_per_w=10.0, power_w=0.5)
    surface, junction = demands_of("ic", rating, "MIL-STD-975M").limits
    assert (surface.limit_c, junction.limit_c, junction.limit_at) == (150.0, 95.0, "junction")
    assert not junction.only_breaks
    unknown = demands_of("ic", Rating(4, limit_c=85.0, limit_at="ambient"), "MIL-STD-975M")
    air, ceiling = unknown.limits
    assert (air.limit_at, ceiling.limit_c, ceiling.only_breaks) == ("ambient", 100.0, True)
    assert codes(unknown) == ([], [MarginCode.JUNCTION_UNKNOWN])


def test_what_a_policy_forbids_or_leaves_out_is_never_passed_over() -> None:
    assert codes(demands_of("battery", Rating(4, limit_c=60.0), "MIL-STD-975M")) == ([], [MarginCode.NO_RULE])
    forbidden = Rating(4, limit_c=125.0, limit_at="junction", psi_jt_k_per_w=1.0, power_w=1.0)
    assert codes(demands_of("ic", forbidden, "NAVSEA-SD-18 severe")) == ([MarginCode.NOT_ALLOWED], [])
    load_only = demands_of("resistor", Rating(4, limit_c=155.0), "MIL-STD-975M")
    assert codes(load_only) == ([], [MarginCode.NOT_CHECKED])
    known = Rating(4, limit_c=155.0, power_w=0.05, rated_power_w=0.1)
    assert codes(demands_of("resistor", known, "MIL-STD-975M")) == ([], [])
    elsewhere = Rating(4, limit_c=125.0, limit_at="junction", psi_jt_k_per_w=1.0, power_w=1.0)
    assert codes(demands_of("ic", elsewhere, "MIL-DTL-917")) == ([], [MarginCode.NOT_CHECKED])


def test_a_ceiling_holds_even_where_nobody_gave_a_rating() -> None:
    found = demands_of("capacitor", None, "MIL-STD-975M")
    assert [(limit.limit_c, limit.only_breaks) for limit in found.limits] == [(110.0, True)]


def test_a_hidden_hot_spot_lowers_what_the_surface_may_reach() -> None:
    limit = limit_of("inductor", Rating(4, limit_c=125.0), "MIL-STD-975M")
    assert limit.derated_c == 95.0  # 105 at the hot spot, 10 K less outside
    assert any(reason.code is MarginCode.INSIDE_HOTTER for reason in limit.why)


def test_a_resistors_load_is_held_against_its_line_over_the_air() -> None:
    resistor = part("resistor", Rating(4, limit_c=155.0, power_w=0.12, rated_power_w=0.25))
    cool = load_of(resistor, None, PLACES)
    assert cool is not None
    assert (cool.ratio, cool.probability_within, cool.why) == (pytest.approx(0.48), 1.0, ())
    hot = load_of(resistor, None, {**PLACES, "ambient": (125.0, 0.0)})
    assert hot is not None
    assert hot.ratio == pytest.approx(0.48 / 0.3529, rel=1e-3)
    assert hot.probability_within == 0.0
    assert "136%" in hot.why[0]
    derated = load_of(resistor, policy("MIL-STD-975M"), {**PLACES, "ambient": (85.0, 0.0)})
    assert derated is not None
    assert derated.ratio == pytest.approx(0.48 / 0.4125)
    none = load_of(resistor, None, {**PLACES, "ambient": (156.0, 0.0)})
    assert none is not None
    assert (none.ratio, none.probability_within) == (None, 0.0)
    assert load_of(part("ic", resistor.rating), None, PLACES) is None


@pytest.mark.parametrize(("by", "place_c"), [("ambient", 60.0), ("terminal", 90.0), ("surface", 110.0)])
def test_the_load_is_looked_up_where_the_data_sheets_line_is_drawn_over(by: str, place_c: float) -> None:
    rating = Rating(4, limit_c=155.0, power_w=0.1, rated_power_w=0.1, derates_by=by)  # type: ignore[arg-type]
    found = load_of(part("resistor", rating), None, PLACES)
    assert found is not None
    assert found.ratio == pytest.approx(1.0 if place_c < 70.0 else 85.0 / (155.0 - place_c))


def test_a_load_near_its_line_is_known_no_better_than_power_and_place() -> None:
    rating = Rating(4, limit_c=155.0, power_w=0.064, power_u_w=0.004, rated_power_w=0.1, derates_by="surface")
    found = load_of(part("resistor", rating), None, {**PLACES, "surface": (100.0, 3.0)})
    assert found is not None
    assert found.ratio == pytest.approx(0.064 / 0.06470588)
    assert 0.5 < found.probability_within < 0.7


def load(kind: str, rating: Rating, air_c: float = 60.0, board_c: float = 60.0, name: str = "none") -> Load:
    places = {"ambient": (air_c, 0.0), "terminal": (board_c, 0.0), "surface": (board_c, 0.0)}
    found = load_of(part(kind, rating), None if name == "none" else policy(name), places)  # type: ignore[arg-type]
    assert found is not None
    return found


def test_a_fuse_is_rerated_by_the_air_near_it_and_by_its_current() -> None:
    """Three quarters at 25 °C and 0.5 %/K less above, by makers' application pages; the data sheet's line wins."""
    for air_c, share in [(25.0, 0.75), (60.0, 0.75 * 0.825), (85.0, 0.75 * 0.70)]:
        assert load("fuse", Rating(4, current_a=1.0, rated_current_a=2.0), air_c, air_c).ratio == pytest.approx(
            0.5 / share
        )
    hotter = load("fuse", Rating(4, current_a=1.0, rated_current_a=2.0), 60.0, 110.0)  # near it 85 °C, perhaps
    assert hotter.ratio == pytest.approx(0.5 / 0.525)
    assert 0.5 < hotter.probability_within < 0.75
    sheet = Rating(4, current_a=1.0, rated_current_a=2.0, derating_points=((25.0, 1.0), (85.0, 0.45)))
    assert load("fuse", sheet, 85.0).ratio == pytest.approx(0.5 / 0.45)
    assert load("fuse", sheet, 85.0).probability_within == 0.0
    assert load("fuse", sheet, 86.0).ratio is None
    beyond = load("fuse", Rating(4, current_a=2.1, rated_current_a=2.0), 20.0, 20.0)
    assert beyond.probability_within == 0.0  # more than its rating, whatever the line


def test_the_common_rule_for_fuses_is_not_sure_enough_to_break_one_by_a_little() -> None:
    found = load("fuse", Rating(4, current_a=1.3, rated_current_a=2.0))
    assert found.ratio == pytest.approx(0.65 / 0.61875)
    assert 0.05 < found.probability_within < 0.95
    assert load("fuse", Rating(4, current_a=0.8, rated_current_a=2.0)).probability_within > 0.95


def test_a_policys_fuse_line_is_drawn_over_the_case_and_the_current() -> None:
    """ECSS-Q-ST-30-11C Rev.2, Table 6-17: 0.65 up to 85 °C of the case, 0.50 at 110 °C."""
    fuse = Rating(4, limit_c=125.0, current_a=1.0, rated_current_a=2.0)
    assert load("fuse", fuse, 25.0, 97.5, "ECSS-Q-ST-30-11C").ratio == pytest.approx(0.5 / 0.575)
    only_power = Rating(4, limit_c=125.0, power_w=0.4, rated_power_w=1.0)
    assert load("fuse", only_power, 25.0, 85.0, "ECSS-Q-ST-30-11C").ratio == pytest.approx(0.4 / 0.65)
    assert "current_a and rated_current_a" in codes_text("fuse", Rating(4, limit_c=125.0), "ECSS-Q-ST-30-11C")


def codes_text(kind: str, rating: Rating, name: str) -> str:
    return " ".join(demands_of(kind, rating, name).uncovered)


def test_a_connectors_current_lets_its_contacts_rise_to_their_limit_and_no_further() -> None:
    """Rise with the square of the current, 30 to 45 K at the rated one (IEC 60512-5-1, IEC 60998-1)."""
    terminal = Rating(4, limit_c=105.0, current_a=10.0, rated_current_a=16.0)
    found = load("connector", terminal, 85.0, 85.0)
    assert found.ratio == pytest.approx((10.0 / 16.0) / (20.0 / 37.5) ** 0.5)
    assert load("connector", terminal, 40.0, 40.0).ratio == pytest.approx(10.0 / 16.0)  # never more than its rating
    assert load("connector", terminal, 106.0, 106.0).ratio is None
    warm, hot = load("connector", terminal, 70.0, 70.0), load("connector", terminal, 98.0, 98.0)
    assert warm.probability_within > 0.95
    assert hot.probability_within < 0.05
    assert "contacts" in hot.why[0]


def test_a_measured_connector_line_of_the_published_shape_is_followed() -> None:
    """IEC 60512-5-2: 0.8 of the measured base curve, nothing at the upper limiting temperature (makers' sheets)."""
    points = tuple((place_c, amperes / 15.8) for place_c, amperes in ((20.0, 12.64), (105.0, 0.0)))
    sheet = Rating(4, limit_c=105.0, current_a=6.0, rated_current_a=15.8, derating_points=points)
    assert load("connector", sheet, 62.5).ratio == pytest.approx(6.0 / 6.32)


def test_no_current_may_pass_its_rating_and_a_ripple_is_looked_at_by_its_heat() -> None:
    assert load("inductor", Rating(4, current_a=2.0, rated_current_a=1.5)).probability_within == 0.0
    assert load("inductor", Rating(4, current_a=1.0, rated_current_a=1.5)).why == ()
    ripple = part("electrolytic", Rating(4, limit_c=105.0, current_a=2.0, rated_current_a=1.5))
    assert load_of(ripple, None, PLACES) is None


def test_the_worse_of_power_and_current_counts() -> None:
    both = Rating(4, power_w=0.1, rated_power_w=0.2, current_a=3.0, rated_current_a=2.0)
    assert load("resistor", both).ratio == pytest.approx(1.5)


def test_more_ripple_than_rated_lowers_what_a_can_may_reach() -> None:
    """Twice the rated heat in the core: 5 K more than its rating has in it."""
    rated = Rating(4, limit_c=105.0, current_a=1.0, rated_current_a=1.0)
    assert limit_of("electrolytic", rated).limit_c == 105.0
    assert limit_of("electrolytic", replace(rated, current_a=0.5)).limit_c == 105.0  # less is not counted on
    more = limit_of("electrolytic", replace(rated, current_a=2.0**0.5))
    assert (more.limit_c, combined_k(more.budget)) == (pytest.approx(100.0), pytest.approx(2.5))
    core = limit_of("electrolytic", replace(rated, current_a=2.0**0.5, limit_at="hot spot", limit_c=110.0))
    assert core.limit_c == pytest.approx(100.0)


TAB = Rating(
    4,
    limit_c=150.0,
    limit_at="junction",
    psi_jt_k_per_w=0.5,
    power_w=10.0,
    theta_jc_k_per_w=1.2,
    theta_u_k_per_w=0.3,
)


def test_a_junction_is_carried_to_the_case_by_theta_only_where_a_contact_is_there() -> None:
    (top,) = demands_on(part("transistor", TAB), None).limits
    assert (top.spot, top.limit_c) == ("top", 145.0)
    (case,) = demands_on(part("transistor", TAB), None, frozenset({"case"})).limits
    assert (case.spot, case.limit_c, combined_k(case.budget)) == ("case", 138.0, pytest.approx(3.0))
    both = demands_on(part("transistor", TAB), None, frozenset({"case", "top"})).limits
    assert [(limit.spot, limit.limit_c) for limit in both] == [("case", 138.0), ("top", 145.0)]
    derated = demands_on(part("transistor", TAB), policy("MIL-STD-975M"), frozenset({"case"})).limits
    assert [limit.limit_c for limit in derated] == [113.0]  # 125 °C at the junction


def test_theta_never_carries_a_top_and_psi_never_a_case() -> None:
    only_theta = replace(TAB, psi_jt_k_per_w=None)
    found = demands_on(part("transistor", only_theta), None)
    assert [(limit.only_breaks, limit.limit_c) for limit in found.limits] == [(True, 150.0)]
    assert "contact reading at its case or tab" in found.uncovered[0]
    only_psi = demands_on(part("transistor", replace(TAB, theta_jc_k_per_w=None)), None, frozenset({"case"}))
    assert [limit.only_breaks for limit in only_psi.limits] == [True]
    assert "theta_jc_k_per_w" in only_psi.uncovered[0]
    seen = demands_on(part("transistor", only_theta), None, frozenset({"case", "top"}))
    assert [(limit.spot, limit.limit_c) for limit in seen.limits] == [("case", 138.0)]
    assert seen.uncovered == ()


def test_a_limit_for_a_winding_or_a_contact_leaves_room_for_what_is_hotter_inside() -> None:
    winding = limit_of("transformer", Rating(4, limit_c=130.0, limit_at="hot spot"))
    assert (winding.limit_c, combined_k(winding.budget)) == (120.0, 5.0)
    assert limit_of("connector", Rating(4, limit_c=105.0, limit_at="hot spot")).limit_c == 100.0
