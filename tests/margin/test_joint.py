"""The joint risk against plain simulation of all errors at once."""

import numpy as np
import pytest

from overlay.margin.joint import joint_risk
from overlay.margin.model import Margin
from overlay.margin.verdict import probability_within
from overlay.uncertainty import Budget, Term, TermName, combined_k


def margin(index: int, margin_c: float, budget: Budget) -> Margin:
    u = combined_k(budget)
    within = probability_within(margin_c, 0.0, u)
    return Margin(f"R{index}", "a", 100.0 - margin_c, 100.0, margin_c, margin_c, u, within, "clear", budget=budget)


@pytest.mark.parametrize("camera_k", [0.0, 1.0, 3.0])
@pytest.mark.parametrize("parts", [2, 8, 60])
def test_the_probability_that_any_part_is_over_is_right_to_two_percent(camera_k: float, parts: int) -> None:
    rng = np.random.default_rng(parts)
    margins, truths = [], []
    n = 100_000
    # limits of error are a rectangle, as the budget has them
    camera, ambient = rng.uniform(-(3.0**0.5), 3.0**0.5, n), rng.normal(0.0, 1.0, n)
    anyone = np.zeros(n, dtype=bool)
    for index in range(parts):
        own, gain, room = rng.uniform(0.3, 1.5), rng.uniform(0.8, 1.3), rng.uniform(2.0, 8.0)
        budget = (
            Term(TermName.CAMERA, camera_k * gain, "camera:a"),
            Term(TermName.AMBIENT, -0.5, "ambient:a"),
            Term(TermName.NOISE, own),
            Term(TermName.EMISSIVITY, 0.4, f"emissivity:R{index}"),
        )
        budget = tuple(term for term in budget if term.contribution_k)
        margins.append(margin(index, room, budget))
        truths.append(room)
        error = camera_k * gain * camera - 0.5 * ambient + rng.normal(0.0, np.hypot(own, 0.4), n)
        anyone |= error > room
    found = joint_risk(margins)
    assert found.parts == parts
    assert found.probability_any_over == pytest.approx(anyone.mean(), abs=0.02)
    if camera_k == 3.0 and parts == 60:
        assert found.probability_any_over < found.if_independent - 0.05  # common errors fall together


def test_parts_without_a_verdict_on_their_temperature_do_not_count() -> None:
    unseen = Margin("R1", None, None, 100.0, None, None, None, None, "unseen")
    assert joint_risk([unseen]).parts == 0
    sure = margin(2, 50.0, (Term(TermName.NOISE, 1.0),))
    assert joint_risk([unseen, sure]).probability_any_over == pytest.approx(0.0, abs=1e-9)
