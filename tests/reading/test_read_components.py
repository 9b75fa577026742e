"""Every part of a known picture, read."""

from dataclasses import replace

import numpy as np
import pytest

from overlay.frames.emissivity import map_from_cold_frames
from overlay.frames.frame import EmissivityMap
from overlay.frames.radiometry import Sight, object_radiance
from overlay.reading.model import FrameReading, Reading
from overlay.reading.read_components import read_view
from overlay.uncertainty import TermName, combined_k, difference_k


def by_refdes(frame: FrameReading) -> dict[str, Reading]:
    return {reading.refdes: reading for reading in frame.readings}


def test_every_part_that_is_not_mechanical_is_told_of_in_the_boards_order(bench) -> None:
    frame = bench.read(
        bench.part("U2", (20.0, 15.0), (5.0, 5.0)),
        bench.part("H1", (35.0, 25.0), (3.0, 3.0), mechanical=True),
        bench.part("U1", (8.0, 8.0), (5.0, 5.0)),
        bench.part("B1", (30.0, 8.0), (5.0, 5.0), side="bottom"),
        bench.part("X1", (90.0, 8.0), (5.0, 5.0)),
    )
    assert [(reading.refdes, reading.state) for reading in frame.readings] == [
        ("U2", "read"),
        ("U1", "read"),
        ("B1", "hidden"),
        ("X1", "hidden"),
    ]
    readings = by_refdes(frame)
    assert readings["B1"].why == ("on the bottom side: this capture shows the top",)
    assert readings["X1"].peak_c is None
    assert "outside the frame" in readings["X1"].why[0]


@pytest.mark.parametrize("side_mm", [1.0, 1.5, 2.0, 4.0, 12.0])
@pytest.mark.parametrize("emissivity", [0.94, 0.80, 0.62])
def test_an_even_board_reads_the_same_on_every_part_whatever_its_size(bench, side_mm: float, emissivity: float) -> None:
    part = bench.part("U1", (20.0, 15.0), (side_mm, side_mm), 60.0, emissivity=emissivity)
    frame = bench.read(part, board_c=60.0, noise_c=0.0)
    reading = frame.readings[0]
    assert reading.peak_c == pytest.approx(60.0, abs=0.1)
    assert reading.mean_c == pytest.approx(60.0, abs=0.1)
    # and the surface map shows no ridge along the part's edge
    assert frame.surface_c[20:130, 20:180] == pytest.approx(np.full((110, 160), 60.0), abs=0.25)


def test_an_uneven_top_face_gives_peak_mean_and_place(bench) -> None:
    def die(u: np.ndarray, v: np.ndarray) -> np.ndarray:
        return 60.0 + 20.0 * np.exp(-((u - 1.0) ** 2 + (v + 0.5) ** 2) / 8.0)

    frame = bench.read(bench.part("U1", (20.0, 15.0), (12.0, 12.0), die))
    reading = frame.readings[0]
    assert reading.state == "read"
    assert reading.peak_c == pytest.approx(80.0, abs=0.3)
    assert reading.peak_at_mm == pytest.approx((21.0, 14.5), abs=0.2)
    assert reading.mean_c is not None
    assert reading.peak_c is not None
    assert 60.0 < reading.mean_c < 70.0
    assert any(
        "unevenly warm" in sentence and f"{reading.peak_c - reading.mean_c:.1f} K" in sentence
        for sentence in reading.why
    )
    assert len(frame.hot_spots) == 1


def test_window_and_air_are_taken_off(bench) -> None:
    sight = Sight(23.0, 0.998, 0.001, 0.7, 0.02, 0.25, 30.0, 25.0)
    reading = bench.read(bench.part("U1", (20.0, 15.0), (8.0, 8.0), 85.0), sight=sight).readings[0]
    assert reading.peak_c == pytest.approx(85.0, abs=0.3)
    assert {"air", "window"} <= {term.name for term in reading.budget}


def test_the_budget_is_the_uncertainty_and_common_errors_cancel_between_parts(bench) -> None:
    frame = bench.read(
        bench.part("U1", (10.0, 15.0), (8.0, 8.0), 70.0), bench.part("U2", (28.0, 15.0), (8.0, 8.0), 70.0)
    )
    one, other = frame.readings
    assert one.u_c == pytest.approx(combined_k(one.budget))
    assert difference_k(one.budget, other.budget) < 0.75 * np.hypot(one.u_c or 0.0, other.u_c or 0.0)
    keys = {term.name: term.shared for term in one.budget}
    assert keys["camera"] == "camera:test"
    assert keys["reflected"] == "reflected:test"
    assert keys["emissivity"] == "emissivity:U1"


def test_u_c_at_a_published_point_of_the_measurement_equation(bench) -> None:
    # ε 0.95 ± 0.02, 85 °C, 8–14 µm, reflected 23 ± 1 °C, camera ± 2 °C; sensitivities from their closed forms
    reading = bench.read(bench.part("U1", (20.0, 15.0), (12.0, 12.0), 85.0, emissivity=0.95), noise_c=0.0).readings[0]
    terms = {term.name: term.contribution_k for term in reading.budget}
    assert terms["camera"] == pytest.approx(1.03681 * 2.0 / np.sqrt(3.0), abs=0.005)
    assert terms["emissivity"] == pytest.approx(-53.1777 * 0.02, abs=0.01)
    assert terms["reflected"] == pytest.approx(-0.033125, abs=0.0005)


def test_a_shiny_part_keeps_its_numbers_but_says_what_they_are_worth(bench) -> None:
    part = bench.part("C1", (20.0, 15.0), (8.0, 8.0), 70.0, emissivity=0.08, u=0.05, shape="round")
    reading = bench.read(part).readings[0]
    assert reading.state == "shiny"
    assert reading.peak_c is not None
    assert reading.u_c is not None
    assert reading.u_c > 10.0
    assert any("mirrors" in sentence for sentence in reading.why)


def test_a_part_that_sends_out_less_than_it_would_mirror_has_no_temperature(bench) -> None:
    view = bench.view(bench.part("U1", (20.0, 15.0), (8.0, 8.0), -80.0, emissivity=0.55), board_c=-60.0)
    view = replace(view, reflected_c=60.0)
    reading = read_view(view, bench.unsolved(view)).readings[0]
    assert reading.state == "shiny"
    assert reading.peak_c is None
    assert any("no temperature fits" in sentence for sentence in reading.why)


def test_a_small_part_is_called_small_and_unmixed(bench) -> None:
    part = bench.part("R1", (20.0, 15.0), (0.5, 0.5), 100.0)
    frame = bench.read(part, board_c=50.0)
    reading = frame.readings[0]
    assert reading.state == "small"
    assert reading.apparent_peak_c is not None
    assert reading.apparent_peak_c < 92.0
    assert reading.peak_c == pytest.approx(100.0, abs=3.0)
    assert reading.u_c is not None
    assert reading.u_c > 2.0


def test_the_joint_solution_reads_small_chips_between_metal_ends(bench) -> None:
    frame = bench.read(
        bench.part("R1", (20.0, 15.0), (1.0, 0.5), 100.0, 0.89, terminals="ends"),
        bench.part("R2", (20.0, 16.2), (1.0, 0.5), 52.0, 0.89, terminals="ends"),
        bench.part("U1", (8.0, 8.0), (6.0, 6.0), 60.0),
        board_c=50.0,
        px_per_mm=4.0,
        joint=True,
    )
    for refdes, truth in (("R1", 100.0), ("R2", 52.0), ("U1", 60.0)):
        reading = by_refdes(frame)[refdes]
        assert reading.peak_c is not None
        assert reading.u_c is not None
        assert abs(reading.peak_c - truth) < 2.0 * reading.u_c


def test_the_ring_is_the_board_around_a_part_and_not_its_neighbours(bench) -> None:
    frame = bench.read(
        bench.part("U1", (20.0, 15.0), (6.0, 6.0), 80.0),
        bench.part("U2", (25.0, 15.0), (3.0, 3.0), 90.0),
        board_c=45.0,
    )
    for reading in frame.readings:
        assert reading.ring_c == pytest.approx(45.0, abs=0.3)
        assert reading.ring_u_c is not None
        assert 1.0 < reading.ring_u_c < 2.0


def test_a_part_warmed_by_its_neighbour_is_said_to_be_so(bench) -> None:
    def field(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 30.0 + 40.0 * np.exp(-np.hypot(x - 14.0, y - 15.0) / 4.0)

    def warmed(u: np.ndarray, v: np.ndarray) -> np.ndarray:
        return field(u + 18.5, v + 15.0)

    frame = bench.read(
        bench.part("R1", (14.0, 15.0), (4.0, 4.0), 95.0),
        bench.part("C2", (18.5, 15.0), (2.5, 2.5), warmed),
        board_c=field,
    )
    assert [hot.candidates[0].refdes for hot in frame.hot_spots] == ["R1"]
    assert any("R1" in sentence and "elsewhere" in sentence for sentence in by_refdes(frame)["C2"].why)


def test_an_emissivity_map_wins_over_tables_where_it_resolves_the_part(bench) -> None:
    part = bench.part("U1", (20.0, 15.0), (8.0, 8.0), 70.0, emissivity=0.75, believed=0.95)
    view = bench.view(part)
    value = np.full(view.registration.shape_px, 0.92)
    rows, cols = np.mgrid[0 : value.shape[0], 0 : value.shape[1]]
    value[(np.abs(rows - 77.5) < 20.0) & (np.abs(cols - 102.5) < 20.0)] = 0.75
    mapped = EmissivityMap(value, np.full(value.shape, 0.01), "cold.tiff")
    with_map = replace(view, emissivity_map=mapped)
    reading = read_view(with_map, bench.unsolved(with_map)).readings[0]
    assert reading.emissivity == pytest.approx(0.75, abs=0.003)
    assert reading.emissivity_source == "cold.tiff"
    assert reading.peak_c == pytest.approx(70.0, abs=0.5)
    without = read_view(view, bench.unsolved(view)).readings[0]
    assert without.peak_c is not None
    assert without.peak_c < 62.0


def test_the_heated_stage_is_wrong_for_all_parts_that_its_map_serves(bench) -> None:
    """A stage 1 K off makes 1.57 K on a part at 85 °C whatever its emissivity (worked out independently for a stage of
    60 °C in a room of 23 °C), and nothing of the difference of two parts."""
    parts = [
        bench.part("U1", (10.0, 15.0), (8.0, 8.0), 85.0, emissivity=0.95),
        bench.part("U2", (28.0, 15.0), (8.0, 8.0), 85.0, emissivity=0.60),
    ]
    view = bench.view(*parts)
    value = np.full(view.registration.shape_px, 0.92)
    rows, cols = np.mgrid[0 : value.shape[0], 0 : value.shape[1]]
    for x_mm, emissivity in ((10.0, 0.95), (28.0, 0.60)):
        value[(np.abs(rows - 77.5) < 20.0) & (np.abs(cols - 2.5 - 5.0 * x_mm) < 20.0)] = emissivity
    cold = object_radiance(view.band, 60.0, value, view.reflected_c)
    mapped = map_from_cold_frames(view.band, [cold], [60.0], view.reflected_c, stage_u_c=1.0, noise_c=1e-3)
    view = replace(view, emissivity_map=mapped)
    one, other = read_view(view, bench.unsolved(view)).readings
    stage = [[term for term in reading.budget if term.name is TermName.STAGE] for reading in (one, other)]
    for (term,) in stage:
        assert abs(term.contribution_k) == pytest.approx(1.57, abs=0.04)
    assert difference_k(tuple(stage[0]), tuple(stage[1])) < 0.04


def test_pixels_out_of_the_cameras_range_do_not_spoil_the_rest(bench) -> None:
    view = bench.view(bench.part("U1", (20.0, 15.0), (8.0, 8.0), 70.0))
    leaving = view.leaving_radiance.copy()
    leaving[5:8, 5:8] = np.nan
    view = replace(view, leaving_radiance=leaving)
    assert read_view(view, bench.unsolved(view)).readings[0].peak_c == pytest.approx(70.0, abs=0.4)


def test_resolved_parts_are_within_their_uncertainty_of_a_shifted_registration(bench) -> None:
    parts = [bench.part(f"U{i}", (6.0 + 7.0 * i, 15.0), (3.0, 3.0), 50.0 + 5.0 * i) for i in range(5)]
    frame = bench.read(*parts, shift_px=(0.3, -0.2))
    for i, reading in enumerate(frame.readings):
        assert reading.peak_c == pytest.approx(50.0 + 5.0 * i, abs=0.4)


ODD_BOARDS = {
    "no part": [],
    "all outside": [("X1", (90.0, 8.0), (5.0, 5.0)), ("X2", (-20.0, 8.0), (1.0, 0.5))],
    "across the edge": [
        ("E1", (0.1, 0.1), (2.0, 1.0)),
        ("E2", (39.9, 29.9), (1.0, 0.5)),
        ("E3", (20.0, 30.0), (30.0, 4.0)),
    ],
    "larger than the frame": [("H1", (20.0, 15.0), (60.0, 50.0))],
    "of no size": [("T1", (20.0, 15.0), (0.02, 0.01)), ("T2", (10.0, 15.0), (0.3, 0.15))],
    "one within another": [("U1", (20.0, 15.0), (10.0, 10.0)), ("R1", (20.0, 15.0), (2.0, 1.0))],
}


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("name", ODD_BOARDS)
@pytest.mark.parametrize("terminals", ["none", "ends"])
def test_odd_boards_are_read_without_a_warning(bench, name: str, terminals: str) -> None:
    view = bench.view(*(bench.part(*each, 80.0, terminals=terminals) for each in ODD_BOARDS[name]))
    lost = np.zeros(view.apparent_c.shape, dtype=bool)
    lost[60:90, 80:120] = True
    for each in (view, replace(view, saturated=lost, left_out=lost, second_apparent_c=view.apparent_c + 0.3)):
        assert len(read_view(each).readings) == len(ODD_BOARDS[name])
