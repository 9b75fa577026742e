"""Planned shots: what they show, where they stand, and what they leave open."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from overlay.board.model import Board, Body, Component, Outline, Rating
from overlay.errors import InputError
from overlay.registration.project import board_from_pixels, pixels_from_board
from overlay.shots.model import ShotCamera, shot_camera
from overlay.shots.plan import plan_shots, subjects_of
from overlay.shots.pose import planned_registration
from overlay.shots.side import FEWEST_POINTS, NAMED_PX

SMALL = ShotCamera(160, 120, 28.0, 0.1)


def part(refdes: str, at: tuple[float, float], size: tuple[float, float, float], side: str = "top") -> Component:
    body = Body(size[0], size[1], size[2], "test")
    return Component(
        refdes,
        at,
        0.0,
        side,
        "P",
        "",
        "",
        False,
        1,
        "resistor",
        body,
        Rating(1, limit_c=125.0),  # type: ignore[arg-type]
    )


def board_of(*parts: Component, size: tuple[float, float] = (80.0, 60.0)) -> Board:
    outline = Outline(shapely.box(0.0, 0.0, *size), "test")
    return Board("b", "A", parts, outline, Path("placement.csv"), "mm", "test")


def crowd(width: float, height: float, size: tuple[float, float, float], pitch: float = 8.0) -> list[Component]:
    xs, ys = np.arange(6.0, width - 5, pitch), np.arange(6.0, height - 5, pitch)
    return [part(f"R{i}", (float(x), float(y)), size) for i, (x, y) in enumerate((x, y) for x in xs for y in ys)]


@pytest.mark.parametrize("side", ["top", "bottom"])
@pytest.mark.parametrize("turned", [False, True])
def test_the_camera_looks_straight_down_on_its_aim(side: str, turned: bool) -> None:
    seen = planned_registration(SMALL, side, (31.0, 17.0), 150.0, turned)  # type: ignore[arg-type]
    middle = pixels_from_board(seen, np.array([[31.0, 17.0, 0.0], [31.0, 17.0, 9.0]]))
    assert np.allclose(middle, [79.5, 59.5])
    assert np.allclose(board_from_pixels(seen, middle)[0], [31.0, 17.0])
    step = pixels_from_board(seen, np.array([[32.0, 17.0, 0.0]]))[0] - middle[0]
    assert math.isclose(float(np.hypot(*step)), SMALL.focal_px / 150.0, rel_tol=1e-9)
    assert abs(step[0 if turned else 1]) < 1e-9, "the frame's columns lie along the board's y where it is turned"


def test_the_flat_matrix_says_the_same_as_the_pose() -> None:
    seen = planned_registration(SMALL, "bottom", (31.0, 17.0), 150.0, False)
    places = np.array([[10.0, 5.0, 0.0], [50.0, 40.0, 0.0]])
    flat = np.column_stack([places[:, :2], np.ones(2)]) @ seen.pixel_from_board.T
    assert np.allclose(flat[:, :2] / flat[:, 2:], pixels_from_board(seen, places))


def test_pixels_are_those_of_a_pinhole() -> None:
    """The pinhole written out: f = cols/2/tan(hfov/2); a top face is nearer to the lens by its height."""
    parts = crowd(80.0, 60.0, (6.0, 4.0, 5.0), 10.0)
    plan = plan_shots(board_of(*parts), SMALL, subjects_of(board_of(*parts)))
    focal = 80.0 / math.tan(math.radians(14.0))
    for shot in plan.shots:
        depth = shot.distance_m * 1000.0 - 5.0
        for item in shot.sightings:
            assert item.short_px == pytest.approx(focal * 4.0 / depth, rel=1e-9)
            if item.visible == 1.0:
                assert item.pixels == pytest.approx(24.0 * (focal / depth) ** 2, rel=1e-6)


@pytest.mark.parametrize("size", [(1.0, 0.5, 0.35), (2.0, 1.25, 0.5), (10.0, 6.0, 3.0)])
def test_every_rated_part_is_in_a_planned_frame_or_named(size: tuple[float, float, float]) -> None:
    board = board_of(*crowd(80.0, 60.0, size))
    plan = plan_shots(board, SMALL, subjects_of(board))
    named = {item.refdes for item in plan.shortfalls}
    for component in board.components:
        best = plan.best(component.refdes)
        assert best is not None or component.refdes in named
        if component.refdes not in named:
            assert best is not None
            assert best[1].short_px >= NAMED_PX * (1 - 1e-6)


def test_parts_too_small_from_afar_get_nearer_frames_that_can_be_clicked() -> None:
    board = board_of(*crowd(80.0, 60.0, (3.2, 1.6, 0.6)))
    plan = plan_shots(board, SMALL, subjects_of(board))
    assert len(plan.shots) > 1
    assert not plan.shortfalls
    assert all(shot.control_points >= FEWEST_POINTS for shot in plan.shots)
    assert plan.shots[0].distance_m > plan.shots[1].distance_m >= SMALL.nearest_mm / 1000.0
    alone = plan_shots(board, ShotCamera(640, 480, 28.0, 0.1), subjects_of(board))
    assert len(alone.shots) == 1, "with more pixels the overview does"


def test_what_stays_too_small_is_named_with_a_lens_that_would_do() -> None:
    board = board_of(*crowd(40.0, 30.0, (0.6, 0.3, 0.3), 5.0), *crowd(40.0, 30.0, (4.0, 3.0, 1.0), 12.0), size=(40, 30))
    plan = plan_shots(board, SMALL, subjects_of(board))
    short = next(item for item in plan.shortfalls if item.lack == "too small")
    power = int(short.remedy.split("lens of ")[1].split()[0])
    nearer = ShotCamera(160, 120, 28.0, 0.1, power)
    assert nearer.size_px(0.3, nearer.nearest_mm, 0.3) >= NAMED_PX


def test_a_part_under_a_tall_neighbour_is_seen_from_another_place_or_named() -> None:
    parts = crowd(80.0, 60.0, (3.2, 1.6, 0.6), 10.0)
    wall = part("T1", (40.0, 50.0), (30.0, 4.0, 30.0))
    behind = part("R90", (40.0, 56.0), (3.2, 1.6, 0.6))
    board = board_of(*parts, wall, behind)
    plan = plan_shots(board, SMALL, subjects_of(board))
    overview = next(item for item in plan.shots[0].sightings if item.refdes == "R6")
    assert overview.visible > 0
    best = plan.best("R90")
    assert (best is not None and best[1].visible >= 0.5) or "R90" in {item.refdes for item in plan.shortfalls}


def test_a_shiny_part_below_the_lens_is_told_and_put_among_the_work_before() -> None:
    shiny = part("U1", (40.0, 30.0), (12.0, 12.0, 2.0))
    shiny = Component(
        **{name: getattr(shiny, name) for name in shiny.__slots__ if name != "rating"},
        rating=Rating(1, limit_c=125.0, emissivity=0.1),
    )
    board = board_of(*crowd(80.0, 60.0, (6.0, 4.0, 1.0), 15.0), shiny)
    plan = plan_shots(board, SMALL, subjects_of(board))
    assert any("U1" in note and "mirror" in note for note in plan.shots[0].notes)
    assert [item.refdes for item in plan.preparations] == ["U1"]


def test_both_sides_get_shots_of_their_own() -> None:
    board = board_of(*crowd(80.0, 60.0, (6.0, 4.0, 1.0), 15.0), part("R99", (20.0, 20.0), (6.0, 4.0, 1.0), "bottom"))
    plan = plan_shots(board, SMALL, subjects_of(board))
    assert {shot.side for shot in plan.shots} == {"top", "bottom"}
    assert [shot.number for shot in plan.shots] == list(range(1, len(plan.shots) + 1))


def test_a_close_up_lens_brings_the_camera_nearer() -> None:
    """Thin lenses in contact: 1/nearest = 1/min_focus + power."""
    assert ShotCamera(160, 120, 28.0, 0.5, 8.0).nearest_mm == pytest.approx(100.0)


def test_a_plan_asks_for_what_it_cannot_do_without() -> None:
    with pytest.raises(InputError, match=r"pixels and hfov_deg not stated"):
        shot_camera(None, None, 0.1, 0.0, "job.toml")
