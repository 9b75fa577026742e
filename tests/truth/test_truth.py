"""Facts about the readings of a small simulated board and of the demo, whose truth is known."""

import json
from pathlib import Path

import pytest

from overlay.job.analysis import Analysis
from tests.truth.harvest import Harvest, harvest

DEMO = Path(__file__).parents[2] / "demo_board"


@pytest.fixture(scope="module")
def small(small_board: Path) -> Harvest:
    return harvest(small_board, "small")


@pytest.fixture(scope="module")
def truth() -> dict[str, list[dict[str, object]]]:
    captures = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))["captures"]
    return {name: capture["parts"] for name, capture in captures.items()}


def first_names(analysis: Analysis, capture: str) -> list[str | None]:
    return [spot.candidates[0].refdes for spot in analysis.capture(capture).reading.hot_spots]


def test_each_clear_heat_source_of_a_small_board_is_named(small: Harvest) -> None:
    sources = [o for o in small.outcomes if o.source and o.px >= 3 and not (o.shiny or o.hidden or o.shaded)]
    assert len(sources) >= 3
    assert [o.refdes for o in sources if not o.named_first] == []


def test_readings_of_a_small_board_lie_within_three_standard_uncertainties(small: Harvest) -> None:
    read = [o for o in small.outcomes if o.state in ("read", "small") and o.error_k is not None]
    assert len(read) >= 15
    far = {o.refdes: (o.error_k, o.u_c) for o in read if abs(o.error_k or 0) > 3 * (o.u_c or 0)}
    assert far == {}


def test_resolved_parts_of_a_small_board_are_right_beyond_the_cameras_own_error(small: Harvest) -> None:
    errors = [(o.error_k or 0) - o.camera_k for o in small.outcomes if o.state == "read" and o.px >= 3]
    assert len(errors) >= 4
    assert abs(sum(errors) / len(errors)) < 2.0  # a few parts, each with an emissivity known to 0.02 … 0.04


def test_nothing_shiny_or_over_is_called_clear(small: Harvest) -> None:
    assert [o.refdes for o in small.outcomes if o.shiny and o.verdict not in ("", "unseen")] == []
    over = [o for o in small.outcomes if o.true_margin_c is not None and o.true_margin_c < 0]
    assert over
    assert [o.refdes for o in over if o.verdict == "clear"] == []


@pytest.mark.parametrize("capture", ["telemetry idle", "full load", "full load, bottom"])
def test_each_clear_heat_source_of_the_demo_is_the_first_candidate_of_a_hot_spot(
    demo: Analysis, truth: dict[str, list[dict[str, object]]], capture: str
) -> None:
    named = first_names(demo, capture)
    sources = [
        str(row["refdes"])
        for row in truth[capture]
        if row["source"] and not row["shiny"] and float(str(row["pixels_across"])) >= 3
    ]
    assert len(sources) >= 2
    assert [name for name in sources if name not in named] == []


def test_the_demos_warm_neighbours_are_not_named(demo: Analysis) -> None:
    assert not {"C9", "TH1"} & set(first_names(demo, "full load"))


def test_the_demos_hottest_parts_are_small_resistors(demo: Analysis) -> None:
    assert first_names(demo, "full load")[:2] == ["R17", "R31"]
    assert demo.margin("R17").verdict == "over"
    assert demo.margin("R31").verdict in ("near", "undecided")


def test_the_demos_shiny_parts_get_no_verdict(demo: Analysis) -> None:
    for refdes in ("U7", "C1", "C2", "Y1", "Y2"):
        assert demo.margin(refdes).verdict == "unseen", refdes


def test_the_demos_processor_is_hotter_over_its_die(demo: Analysis) -> None:
    reading = next(r for r in demo.capture("full load").reading.readings if r.refdes == "U3")
    assert reading.peak_c is not None
    assert reading.mean_c is not None
    assert reading.peak_c - reading.mean_c == pytest.approx(7.4, abs=1.5)  # truth.json: 63.9 and 56.5 °C
    assert reading.peak_at_mm is not None
    assert reading.peak_at_mm == pytest.approx((60.6, 44.6), abs=1.5)


def test_a_part_of_an_unknown_package_is_listed_and_never_clear(demo: Analysis) -> None:
    assert demo.job.board.component("U9").body is None
    assert demo.margin("U9").verdict in ("unseen", "unrated")


def test_the_demos_revision_c_shows_both_halves_of_the_split_snubber(demo_c: Analysis) -> None:
    assert set(first_names(demo_c, "full load")[:3]) == {"R17", "R60", "R21"}
    assert demo_c.margin("R17").verdict != "over"
