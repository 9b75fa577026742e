"""Hot spots of known pictures."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from overlay.reading.model import ReadingCode
from overlay.reading.read_components import read_view
from overlay.registration.faces import project_faces
from overlay.registration.project import pixels_from_board
from overlay.unmixing.unmix import unmix


def names(frame) -> list[str | None]:
    return [hot.candidates[0].refdes for hot in frame.hot_spots]


def heated(*sources: tuple[float, float, float]):
    """A board at 35 °C with heat spreading from places (x, y, K)."""

    def field(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        total = np.full(x.shape, 35.0)
        for at_x, at_y, rise in sources:
            total = total + rise * np.exp(-np.hypot(x - at_x, y - at_y) / 4.0)
        return total

    return field


def test_sources_are_named_and_ranked_by_rise(bench) -> None:
    frame = bench.read(
        bench.part("R1", (10.0, 20.0), (3.0, 1.5), 90.0),
        bench.part("R2", (30.0, 10.0), (2.0, 1.2), 70.0),
        bench.part("U1", (20.0, 15.0), (5.0, 5.0), 42.0),
        bench.part("C1", (33.0, 24.0), (2.0, 2.0), 35.0),
        board_c=heated((10.0, 20.0, 20.0), (30.0, 10.0, 12.0)),
    )
    assert names(frame)[:2] == ["R1", "R2"]
    assert "C1" not in names(frame)
    assert [hot.rank for hot in frame.hot_spots] == list(range(1, len(frame.hot_spots) + 1))
    first = frame.hot_spots[0]
    assert first.board_mm == pytest.approx((10.0, 20.0), abs=0.3)
    assert first.temperature_c == pytest.approx(90.0, abs=0.5)
    assert first.rise_k == pytest.approx(first.temperature_c - bench.ambient_c)


def test_probabilities_sum_to_one(bench) -> None:
    frame = bench.read(
        bench.part("R1", (10.0, 20.0), (1.0, 0.5), 110.0),
        bench.part("R2", (10.0, 20.8), (1.0, 0.5), 60.0),
        board_c=50.0,
    )
    for hot in frame.hot_spots:
        assert sum(candidate.probability for candidate in hot.candidates) == pytest.approx(1.0)


def test_an_even_noisy_board_has_no_hot_spots(bench) -> None:
    frame = bench.read(bench.part("U1", (20.0, 15.0), (9.0, 9.0), 45.0), board_c=45.0, noise_c=0.1)
    assert frame.hot_spots == ()


def test_a_large_uneven_part_is_one_hot_spot(bench) -> None:
    def two_humps(u: np.ndarray, v: np.ndarray) -> np.ndarray:
        return 60.0 + 12.0 * np.exp(-((u - 3.0) ** 2 + v**2) / 3.0) + 10.0 * np.exp(-((u + 3.0) ** 2 + v**2) / 3.0)

    frame = bench.read(bench.part("U1", (20.0, 15.0), (14.0, 14.0), two_humps), board_c=heated((20.0, 15.0, 20.0)))
    assert names(frame) == ["U1"]
    assert frame.hot_spots[0].board_mm == pytest.approx((23.0, 15.0), abs=0.3)


def test_a_warm_reflection_in_a_shiny_top_says_that_it_may_be_one(bench) -> None:
    can = bench.part("C1", (20.0, 15.0), (8.0, 8.0), 36.0, emissivity=0.08, u=0.05, shape="round", mirrors_c=80.0)
    frame = bench.read(can)
    assert names(frame) == []
    assert any(reason.code is ReadingCode.MAY_BE_REFLECTION for reason in frame.readings[0].why)


def test_a_cold_looking_can_makes_no_hot_spots_around_itself(bench) -> None:
    can = bench.part("C1", (24.0, 15.0), (8.0, 8.0), 45.0, emissivity=0.08, u=0.05, shape="round")
    frame = bench.read(bench.part("R1", (12.0, 15.0), (3.0, 2.0), 90.0), can, board_c=heated((12.0, 15.0, 30.0)))
    assert names(frame) == ["R1"]


def test_cold_looking_leads_do_not_make_hot_spots_of_the_board_beyond_them(bench) -> None:
    package = bench.part("U1", (20.0, 15.0), (8.0, 8.0), 80.0, terminals="leads_all", leads_mm=1.0)
    frame = bench.read(package, board_c=heated((20.0, 15.0, 40.0)))
    assert names(frame) == ["U1"]


def test_heat_on_bare_board_is_nobodys(bench) -> None:
    frame = bench.read(bench.part("U1", (8.0, 8.0), (5.0, 5.0), 35.5), board_c=heated((28.0, 20.0, 25.0)))
    assert names(frame)[0] is None
    assert any("bare board" in sentence for sentence in frame.hot_spots[0].why)


def test_something_hot_beside_the_board_is_not_on_it(bench) -> None:
    frame = bench.read(bench.part("U1", (20.0, 15.0), (5.0, 5.0), 36.0), beyond_c=90.0)
    assert None not in names(frame)


def test_a_source_in_the_shade_of_a_hotter_neighbour_is_found(bench) -> None:
    frame = bench.read(
        bench.part("R1", (14.0, 15.0), (4.0, 4.0), 110.0),
        bench.part("R2", (18.6, 15.0), (4.0, 4.0), 95.0),
        board_c=heated((14.0, 15.0, 30.0), (18.6, 15.0, 20.0)),
        px_per_mm=3.0,
    )
    assert {"R1", "R2"} <= set(names(frame))


def test_a_misplaced_registration_shares_the_probability_among_neighbours(bench) -> None:
    parts = [bench.part(f"R{i}", (20.0 + 1.5 * i, 15.0), (0.8, 0.8), 100.0 if i == 0 else 52.0) for i in (-1, 0, 1)]
    view = bench.view(*parts, board_c=50.0)
    sure = read_view(view, bench.unsolved(view)).hot_spots[0]
    assert sure.candidates[0].refdes == "R0"
    assert sure.candidates[0].probability > 0.95
    vague = replace(
        view,
        registration=replace(view.registration, covariance=view.registration.covariance * 900.0),
        faces=tuple(replace(face, pixel_u=5.0) for face in view.faces),
    )
    shared = read_view(vague, bench.unsolved(vague)).hot_spots[0]
    assert shared.candidates[0].probability < 0.9
    assert shared.position_u_mm > 3.0 * sure.position_u_mm


def test_a_spots_pixel_is_the_projection_of_its_place(bench) -> None:
    parts = [bench.part("R1", (10.0, 20.0), (3.0, 1.5), 90.0), bench.part("R2", (12.0, 17.5), (0.6, 0.3), 80.0)]
    view = bench.view(*parts, board_c=heated((28.0, 10.0, 25.0)))
    spots = read_view(view, unmix(view)).hot_spots
    assert {spot.candidates[0].refdes for spot in spots} == {"R1", "R2", None}
    for spot in spots:
        assert pixels_from_board(view.registration, np.array([[*spot.board_mm, spot.z_mm]]))[0] == pytest.approx(
            spot.pixel, abs=1e-6
        )


def test_a_small_hot_part_in_a_crowd_without_clean_board_around_is_named(bench) -> None:
    rows = [(18.0 + 1.1 * i, 13.0 + 0.8 * j) for i in range(5) for j in range(5)]
    parts = [bench.part(f"R{k}", place, (0.8, 0.5), 75.0 if k == 12 else 48.0) for k, place in enumerate(rows)]
    frame = bench.read(*parts, joint=True, board_c=46.0, px_per_mm=3.0)
    assert frame.readings[12].ring_c is None  # the reason why such parts used to be passed by
    assert names(frame) == ["R12"]


def test_a_cold_part_in_a_neighbours_glow_is_not_named(bench) -> None:
    glow = heated((14.0, 15.0, 30.0))
    parts = [bench.part("R1", (14.0, 15.0), (4.0, 4.0), 100.0), bench.part("C1", (18.5, 15.0), (3.0, 2.0), 46.5)]
    frame = bench.read(*parts, joint=True, board_c=glow)
    assert names(frame) == ["R1"]


def test_what_the_solution_leaves_unexplained_shows_hot_bodies_that_no_file_lists(bench) -> None:
    """The board's field alone is too smooth to show them."""
    unlisted = (3.0, 26.0), (31.0, 20.0), (9.0, 7.0), (22.0, 24.0)
    listed = [bench.part("R1", (20.0, 12.0), (3.0, 2.0), 80.0), bench.part("C1", (30.0, 8.0), (2.0, 2.0), 36.0)]
    strays = [bench.part(f"X{k}", place, (1.2, 0.8), 52.0) for k, place in enumerate(unlisted)]
    view = bench.view(*listed, *strays, board_c=heated((20.0, 12.0, 10.0)))
    board = replace(view.board, components=tuple(c for c in view.board.components if not c.refdes.startswith("X")))
    faces = tuple(face for face in view.faces if not face.component.refdes.startswith("X"))
    view = replace(view, board=board, faces=faces)
    joint = unmix(view)
    found = [spot.board_mm for spot in read_view(view, joint).hot_spots if spot.candidates[0].refdes is None]
    near = [min(np.hypot(*(np.subtract(place, other))) for other in found) for place in unlisted]
    assert max(near) < 0.5
    smooth = replace(joint, bare=gaussian_filter(np.nan_to_num(joint.bare, nan=np.nanmedian(joint.bare)), 8.0))
    assert len([s for s in read_view(view, smooth).hot_spots if s.candidates[0].refdes is None]) < len(found)


def test_a_part_at_the_end_of_the_instruments_range_is_named_with_its_bound(bench) -> None:
    view = bench.view(
        bench.part("R1", (14.0, 15.0), (4.0, 4.0), 150.0), bench.part("R2", (28.0, 15.0), (3.0, 3.0), 80.0)
    )
    end_c = 110.0
    apparent = np.minimum(view.apparent_c, end_c)
    leaving = np.minimum(view.leaving_radiance, view.leaving_radiance[view.apparent_c >= end_c].min())
    view = replace(view, apparent_c=apparent, leaving_radiance=leaving, saturated=apparent >= end_c)
    frame = read_view(view, bench.unsolved(view))
    assert names(frame) == ["R1", "R2"]
    assert any("at least" in sentence for sentence in frame.hot_spots[0].why)


def test_heat_around_a_part_of_unknown_size_is_that_parts(bench) -> None:
    parts = [bench.part("BR1", (20.0, 15.0), (7.0, 5.0), 60.0), bench.part("R1", (32.0, 8.0), (3.0, 2.0), 70.0)]
    view = bench.view(*parts, board_c=heated((20.0, 15.0, 10.0)))
    components = tuple(replace(c, body=None) if c.refdes == "BR1" else c for c in view.board.components)
    board = replace(view.board, components=components)
    view = replace(view, board=board, faces=project_faces(view.registration, board))
    spots = read_view(view, unmix(view)).hot_spots
    assert [spot.candidates[0].refdes for spot in spots] == ["R1", "BR1"]
    assert spots[1].temperature_c == pytest.approx(60.0, abs=4.0)
