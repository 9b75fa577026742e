"""Several states of known load, carried to the required one."""

from dataclasses import replace

import numpy as np
import pytest

from overlay.board.model import Body, Component, Rating
from overlay.frames.radiometry import Band
from overlay.margin.load_states import at_required_load, rise_scale_of
from overlay.margin.model import Conditions, MarginCode, Requirement
from overlay.margin.worst_case import margin_of
from overlay.reading.model import Reading
from overlay.uncertainty import Term, TermName, combined_k

BODY = Body(1.6, 0.8, 0.45, "chip size code")
LOADS = (0.4, 0.6, 0.8)


def conditions(loads: tuple[float, ...] = LOADS) -> dict[str, Conditions]:
    found = {}
    for load in loads:
        scale, scale_u = rise_scale_of(load)
        found[f"at {load}"] = Conditions(f"at {load}", 24.0, 0.3, 24.0, 1.0, scale, scale_u, load)
    return found


def reading(load: float, rise_k: float, own_u: float = 0.2) -> Reading:
    capture = f"at {load}"
    budget = (Term(TermName.CAMERA, 1.1, f"camera:{capture}"), Term(TermName.NOISE, own_u))
    return Reading("R1", capture, "read", 24.0 + rise_k, 24.0 + rise_k, combined_k(budget), 24.0 + rise_k, None, 50.0,
                   1.0, 0.93, 0.02, ring_c=24.0 + rise_k / 2, ring_u_c=0.2, budget=budget)  # fmt: skip


def law(load: float) -> float:
    return 2.0 + 10.0 * load + 30.0 * load**2


def test_three_states_give_the_rise_at_the_required_load() -> None:
    found, new = at_required_load([reading(load, law(load)) for load in LOADS], conditions())
    (only,) = found
    assert only.peak_c == pytest.approx(24.0 + 42.0)
    assert (new["at 0.8"].rise_scale, new["at 0.8"].rise_scale_u) == (1.0, 0.0)
    assert any(reason.code is MarginCode.BY_LOAD for reason in only.why)


def test_the_scatter_of_the_carried_rise_is_as_claimed() -> None:
    rng = np.random.default_rng(6)
    scores = []
    for _ in range(500):
        noisy = [reading(load, law(load) + rng.normal(0.0, 0.2)) for load in LOADS]
        (only,), _ = at_required_load(noisy, conditions())
        fit = next(term.contribution_k for term in only.budget if term.name is TermName.LOAD_FIT)
        assert only.peak_c is not None
        scores.append((only.peak_c - 66.0) / fit)
    assert np.std(scores) == pytest.approx(1.0, abs=0.08)


def test_two_states_or_the_required_load_itself_leave_readings_as_they_are() -> None:
    two = [reading(load, law(load)) for load in LOADS[:2]]
    assert at_required_load(two, conditions())[0] == tuple(two)
    whole = (*LOADS, 1.0)
    every = [reading(load, law(load)) for load in whole]
    assert at_required_load(every, conditions(whole))[0] == tuple(every)


def test_a_state_of_part_load_alone_is_projected_by_the_worse_of_two_laws_and_not_surely() -> None:
    requirement = Requirement(60.0, 10.0, 0.95, "none")
    rating = Rating(2, limit_c=155.0)
    part = Component("R1", (0.0, 0.0), 0.0, "top", "R0603", "", "", False, 1, "resistor", BODY, rating)
    band = Band(8.0, 14.0)
    half = margin_of(part, [reading(0.5, 20.0)], conditions((0.5,)), requirement, None, band)
    assert half.projected_c == pytest.approx(60.0 + 80.0)
    assert half.u_c is not None
    assert half.u_c > 20.0
    fitted = margin_of(part, [reading(load, law(load)) for load in LOADS], conditions(), requirement, None, band)
    assert fitted.projected_c == pytest.approx(60.0 + 42.0)
    assert fitted.verdict == "clear"
    assert fitted.u_c is not None
    assert fitted.u_c < 3.0


def test_what_the_states_share_is_carried_as_it_is() -> None:
    shifted = [
        replace(item, peak_c=(item.peak_c or 0.0) + 1.5) for item in (reading(load, law(load)) for load in LOADS)
    ]
    (only,), _ = at_required_load(shifted, conditions())
    assert only.peak_c == pytest.approx(66.0 + 1.5)
    assert next(term.contribution_k for term in only.budget if term.name is TermName.CAMERA) == 1.1
