from pathlib import Path

import pytest

from overlay.board.model import Component, Rating
from overlay.margin.derating import Policy, read_policy
from overlay.margin.limits import load_ratio, surface_limit, why_unrated
from overlay.margin.model import SurfaceLimit
from overlay.uncertainty import combined_k


def part(kind: str, rating: Rating | None) -> Component:
    return Component("X1", (0.0, 0.0), 0.0, "top", "", "", "", False, 1, kind, None, rating)


def policy(name: str) -> Policy:
    found = read_policy(name, Path())
    assert found is not None
    return found


def limit_of(kind: str, rating: Rating, name: str = "none") -> SurfaceLimit:
    found = surface_limit(part(kind, rating), None if name == "none" else policy(name))
    assert found is not None
    return found


def test_a_surface_limit_is_taken_as_it_is() -> None:
    limit = limit_of("resistor", Rating(4, limit_c=155.0))
    assert (limit.limit_c, limit.rating_c, limit.derated_c) == (155.0, 155.0, None)
    assert limit.source == "parts table, line 4"


def test_a_junction_limit_is_carried_to_the_surface_with_the_powers_uncertainty() -> None:
    rating = Rating(5, limit_c=150.0, limit_at="junction", psi_jt_k_per_w=6.0, power_w=0.85, power_u_w=0.05)
    limit = limit_of("ic", rating)
    assert limit.limit_c == pytest.approx(144.9)
    assert combined_k(limit.budget) == pytest.approx(0.3)


def test_a_junction_limit_without_resistance_or_power_is_no_limit_and_says_why() -> None:
    component = part("ic", Rating(5, limit_c=150.0, limit_at="junction", psi_jt_k_per_w=6.0))
    assert surface_limit(component, None) is None
    assert "no power_w" in why_unrated(component)
    assert "psi" not in why_unrated(component)
    assert "limit_c" in why_unrated(part("ic", Rating(5)))
    assert "no row" in why_unrated(part("ic", None))


def test_rating_and_derated_rating_stand_side_by_side_and_the_lower_counts() -> None:
    limit = limit_of("electrolytic", Rating(4, limit_c=105.0), "RAC severe")
    assert (limit.limit_c, limit.rating_c, limit.derated_c) == (85.0, 105.0, 85.0)
    assert "RAC severe, sheet, capacitors" in limit.source
    already = limit_of(
        "ic", Rating(4, limit_c=85.0, limit_at="junction", psi_jt_k_per_w=1.0, power_w=1.0), "MIL-STD-975M"
    )
    assert (already.limit_c, already.rating_c, already.derated_c) == (84.0, 84.0, 99.0)


def test_a_junction_rule_reaches_the_surface_through_power() -> None:
    rating = Rating(4, limit_c=150.0, limit_at="junction", psi_jt_k_per_w=10.0, power_w=0.5)
    limit = limit_of("ic", rating, "MIL-STD-975M")
    assert (limit.limit_c, limit.rating_c) == (95.0, 145.0)
    surface = limit_of("ic", Rating(4, limit_c=150.0, psi_jt_k_per_w=10.0, power_w=0.5), "MIL-STD-975M")
    assert (surface.limit_c, surface.rating_c) == (95.0, 150.0)


def test_a_rule_that_cannot_be_applied_is_said_rather_than_passed_over() -> None:
    ambient = limit_of("ic", Rating(4, limit_c=85.0, limit_at="ambient"), "MIL-STD-975M")
    assert ambient.limit_c == 85.0
    assert any("limits the junction, the rating the ambient" in why for why in ambient.why)
    assert any("cautious" in why for why in ambient.why)
    battery = limit_of("battery", Rating(4, limit_c=60.0), "MIL-STD-975M")
    assert any("no rule" in why for why in battery.why)
    forbidden = limit_of(
        "ic", Rating(4, limit_c=125.0, limit_at="junction", psi_jt_k_per_w=1.0, power_w=1.0), "NAVSEA-SD-18 severe"
    )
    assert any("does not allow" in why for why in forbidden.why)


def test_a_hidden_hot_spot_lowers_what_the_surface_may_reach() -> None:
    limit = limit_of("inductor", Rating(4, limit_c=125.0), "MIL-STD-975M")
    assert limit.derated_c == 95.0  # 105 at the hot spot, 10 K less outside
    assert any("hot spot" in why for why in limit.why)


def test_a_resistors_load_is_held_against_its_line() -> None:
    resistor = part("resistor", Rating(4, limit_c=155.0, power_w=0.12, rated_power_w=0.25))
    assert load_ratio(resistor, None, 60.0) == (pytest.approx(0.48), None)
    ratio, remark = load_ratio(resistor, None, 125.0)
    assert ratio == pytest.approx(0.48 / 0.3529, rel=1e-3)
    assert remark is not None
    assert "136 %" in remark.replace("%", " %").replace("  ", " ")
    derated, _ = load_ratio(resistor, policy("MIL-STD-975M"), 85.0)
    assert derated == pytest.approx(0.48 / 0.4125)
    nothing, remark = load_ratio(resistor, None, 156.0)
    assert nothing is None
    assert remark is not None
    assert "no power" in remark
    assert load_ratio(part("ic", resistor.rating), None, 60.0) == (None, None)
