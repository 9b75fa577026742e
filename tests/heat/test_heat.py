"""Facts about what is said of the heat of boards whose heat is known (two layers of copper, bodies of three nodes)."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from overlay.heat.fit import Fit, fit_heat
from overlay.heat.model import HeatCall
from overlay.heat.network import network_of, solved
from overlay.heat.plate import plate_of
from overlay.heat.seen import SeenBody, SeenState
from overlay.heat.work_out import MOST_CELLS, frame_heat
from overlay.threads import one_algebra_thread
from tests.heat.two_layers import Truth, make_board


@one_algebra_thread
def fitted(states: list[SeenState], truths: list[Truth]) -> list[Fit]:
    plate = plate_of(truths[0].outline, MOST_CELLS)
    return fit_heat([network_of(plate, state) for state in states])


def told(states: list[SeenState], truths: list[Truth]):
    """What is said of each state's parts, and the truth."""
    result = []
    for state, truth, fit in zip(states, truths, fitted(states, truths), strict=True):
        result.append((frame_heat("load", fit, state, {body.refdes for body in state.bodies}), truth))
    return result


@pytest.fixture(scope="module")
def three():
    return [told(*make_board(seed, parts=45, sources=12, size_mm=(70.0, 60.0)))[0] for seed in (11, 12, 13)]


def test_sources_and_heated_parts_are_told_apart(three) -> None:
    source_calls, right_calls, strong, found = 0, 0, 0, 0
    for heat, truth in three:
        for part in heat.parts:
            if truth.rise_k[part.refdes] < 8:
                continue
            is_source = truth.power_w[part.refdes] > 0
            source_calls += part.call is HeatCall.MAKES_HEAT
            right_calls += part.call is HeatCall.MAKES_HEAT and is_source
            strong += is_source and truth.own_rise_k[part.refdes] > 4
            found += is_source and truth.own_rise_k[part.refdes] > 4 and part.call is HeatCall.MAKES_HEAT
            assert not (
                part.call is HeatCall.HEATED and truth.own_rise_k[part.refdes] > 0.5 * truth.rise_k[part.refdes]
            )
    assert right_calls >= 0.85 * source_calls  # over more boards: 0.9
    assert found >= 0.9 * strong


def test_shares_are_right_to_a_fifth_and_hold_their_interval(three) -> None:
    errors, holds = [], []
    for heat, truth in three:
        for part in heat.parts:
            share = truth.power_w[part.refdes] / truth.total_w
            if share >= 0.04:
                errors.append(abs(part.share - share) / share)
                holds.append(abs(part.share - share) <= 2 * part.share_u)
    assert len(errors) >= 15
    assert np.median(errors) <= 0.2
    assert np.mean(holds) >= 0.85  # over a hundred boards: 0.9 and more


def test_watts_come_from_the_meter_and_sum_to_it(three) -> None:
    for heat, truth in three:
        assert heat.total_power_w == pytest.approx(truth.total_w)
        watts = sum(part.power_w for part in heat.parts) + sum(source.power_w for source in heat.board_sources)
        assert watts == pytest.approx(truth.total_w, rel=1e-6)


def test_the_main_heater_of_a_heated_part_is_named(three) -> None:
    right, asked = 0, 0
    for heat, truth in three:
        unread = set(truth.power_w) - {part.refdes for part in heat.parts}
        for part in heat.parts:
            if part.call is HeatCall.HEATED and truth.rise_k[part.refdes] > 8 and part.heated_by:
                main = truth.main_heater.get(part.refdes)
                if main is not None and main not in unread:
                    asked += 1
                    right += main in [heater.refdes for heater in part.heated_by[:2]]
    assert asked >= 30
    assert right >= 0.85 * asked


def test_heat_that_no_part_explains_is_found_on_the_board() -> None:
    states, truths = make_board(21, parts=40, sources=9, size_mm=(70.0, 60.0), trace_w=0.4, unread=0.0)
    heat, truth = told(states, truths)[0]
    assert heat.board_sources
    most = max(heat.board_sources, key=lambda source: source.share)
    x, y = most.board_mm
    assert np.hypot(x - 0.55 * 70, y - 0.42 * 60) < 10
    assert 0.03 < most.share < 1.5 * truth.unlisted_w / truth.total_w


def test_states_of_load_together_are_told_better_than_one() -> None:
    states, truths = make_board(31, parts=40, sources=10, size_mm=(70.0, 60.0), states=3)
    together = told(states, truths)
    alone = told(states[:1], truths[:1])
    errors = []
    for heat, truth in (together[0], alone[0]):
        share = np.array([truth.power_w[part.refdes] / truth.total_w for part in heat.parts])
        said = np.array([part.share for part in heat.parts])
        errors.append(np.median(np.abs(said - share)[share >= 0.04] / share[share >= 0.04]))
    assert errors[0] <= errors[1] + 0.02


def test_an_unpowered_part_between_two_equal_sources_owes_half_to_each() -> None:
    outline = shapely.box(0, 0, 50, 30)
    bodies = tuple(
        SeenBody(name, (x, 15.0), (4.0, 3.0), 0.0, 1.0, 0.0, 0.3)
        for name, x in (("R1", 15.0), ("C1", 25.0), ("R2", 35.0))
    )
    places = np.array([(x, y) for x in np.arange(1, 50, 2.0) for y in np.arange(1, 30, 2.0) if not 11 < y < 19])
    state = SeenState(("load",), bodies, places, np.full(len(places), 20.0), 23.0, 2.0, 0.0)
    laid = network_of(plate_of(outline, MOST_CELLS), state)
    uniform = np.full(laid.plate.knots, np.log(0.012))
    truth = solved(laid, 1.0, uniform, np.full(3, 30.0), np.array([1.0, 0.0, 1.0]))
    seen = replace(
        state,
        bodies=tuple(replace(body, rise_k=float(t)) for body, t in zip(bodies, truth.body_rise, strict=True)),
        rise_k=truth.place_rise,
        places_mm=laid.state.places_mm,
    )
    said, _ = told([seen], [Truth(outline, {}, {}, {}, {}, 0.0)])[0]
    between = said.part("C1")
    assert between.call is HeatCall.HEATED
    assert {heater.refdes for heater in between.heated_by} == {"R1", "R2"}
    assert [said.part(name).share for name in ("R1", "R2")] == pytest.approx([0.5, 0.5], abs=0.03)
    assert between.heated_by[0].rise_k == pytest.approx(between.heated_by[1].rise_k, rel=0.05)


def test_temperatures_that_follow_from_no_heat_are_told_nothing_of() -> None:
    states, truths = make_board(41, parts=30, sources=8, size_mm=(60.0, 50.0))
    random = np.random.default_rng(1)
    wild = replace(states[0], rise_k=states[0].rise_k + random.normal(0, 12, len(states[0].rise_k)))
    heat, _ = told([wild], truths)[0]
    assert heat.why
    assert {part.call for part in heat.parts} == {HeatCall.CANNOT_TELL}


def test_parts_left_out_of_a_crowd_are_called_by_their_step_over_the_board(monkeypatch) -> None:
    from overlay.heat import work_out

    monkeypatch.setattr(work_out, "MOST_BODIES", 20)
    states, truths = make_board(51, parts=45, sources=12, size_mm=(70.0, 60.0), unread=0.0)
    fit = fitted([work_out._most_standing_out(states[0])], truths)[0]
    heat = frame_heat("load", fit, states[0], {body.refdes for body in states[0].bodies})
    assert fit.network.bodies == 20
    assert len(heat.parts) == 45
    fitted_names = {body.refdes for body in fit.network.state.bodies}
    left_out = [part for part in heat.parts if part.refdes not in fitted_names]
    assert all(part.call is not HeatCall.MAKES_HEAT for part in left_out)
    warm = [part for part in left_out if truths[0].rise_k[part.refdes] > 8]
    assert sum(part.call is HeatCall.HEATED for part in warm) >= 0.6 * len(warm)
