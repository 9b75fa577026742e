from pathlib import Path

import pytest

from overlay.board.model import Component, Rating
from overlay.margin.derating import Policy, read_policy
from overlay.margin.limits import demands_on
from overlay.margin.load import load_of
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
    assert codes(unknown) == ([], [MarginCode.UNRATED])


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


def test_a_limit_for_a_winding_or_a_contact_leaves_room_for_what_is_hotter_inside() -> None:
    winding = limit_of("transformer", Rating(4, limit_c=130.0, limit_at="hot spot"))
    assert (winding.limit_c, combined_k(winding.budget)) == (120.0, 5.0)
    assert limit_of("connector", Rating(4, limit_c=105.0, limit_at="hot spot")).limit_c == 100.0
