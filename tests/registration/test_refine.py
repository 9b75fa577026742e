"""Registrations refined and checked on frames drawn by other means."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapely

from overlay.frames.frame import Array
from overlay.registration.fit import fit_registration
from overlay.registration.model import UNTOLD, ControlPoint, Lens, Registration
from overlay.registration.policy import settle_registration
from overlay.registration.project import pixel_covariance, pixels_from_board
from overlay.registration.refine import snap_point
from tests.registration.frame_world import (
    DISTANCE_MM,
    HFOV_DEG,
    SHAPE_PX,
    Pictured,
    board_of_parts,
    in_rows,
    picture,
    scattered,
)

TOLD = Lens(HFOV_DEG, DISTANCE_MM / 1000)


@pytest.fixture(scope="module")
def shown() -> Pictured:
    return picture(board_of_parts(scattered(3)))


def fitted(shown: Pictured, points: tuple[ControlPoint, ...], side: str = "top") -> Registration:
    return fit_registration(points, side, SHAPE_PX, TOLD)  # type: ignore[arg-type]


def off_px(shown: Pictured, registration: Registration) -> float:
    return shown.error_px(lambda xyz: pixels_from_board(registration, xyz))


@pytest.mark.parametrize("seed", range(2))
def test_two_clicks_4_px_off_end_well_under_half_a_pixel(shown: Pictured, seed: int) -> None:
    start = fitted(shown, shown.clicks(("R1", "R2"), 4.0, seed))
    end = settle_registration(start, shown.frame_c, shown.board, TOLD, always=True)
    assert off_px(shown, start) > 2.0
    assert end.refined
    assert end.confidence is not None
    assert end.confidence.trusted
    assert off_px(shown, end) < 0.3


def test_the_underside_is_refined_too() -> None:
    shown = picture(board_of_parts(scattered(5, side="bottom")), side="bottom", up_deg=-5.0)
    start = fitted(shown, shown.clicks(("R1", "R2"), 4.0), "bottom")
    end = settle_registration(start, shown.frame_c, shown.board, TOLD, always=True)
    assert end.refined
    assert off_px(shown, end) < 0.3


def test_a_lens_nobody_told_is_found_from_the_frame(shown: Pictured) -> None:
    start = fit_registration(shown.clicks(("R1", "R2", "R9", "R15"), 3.0), "top", SHAPE_PX)
    end = settle_registration(start, shown.frame_c, shown.board, UNTOLD, always=True)
    assert end.refined
    assert off_px(shown, end) < 0.4


def test_the_outline_alone_off_does_not_drag_the_parts_along_and_is_said(shown: Pictured) -> None:
    moved = replace(shown.board.outline, polygon=shapely.affinity.translate(shown.board.outline.polygon, 0.7, 0.0))
    start = fitted(shown, shown.clicks(("R1", "R2"), 4.0))
    end = settle_registration(start, shown.frame_c, replace(shown.board, outline=moved), TOLD, always=True)
    assert end.refined
    assert off_px(shown, end) < 0.4
    assert end.confidence is not None
    assert end.confidence.outline_shift_mm == pytest.approx((-0.7, 0.0), abs=0.15)
    assert any("outline" in warning for warning in end.warnings)


def test_without_an_outline_the_parts_suffice(shown: Pictured) -> None:
    hull = replace(shown.board.outline, from_bodies=True)
    start = fitted(shown, shown.clicks(("R1", "R2"), 4.0))
    end = settle_registration(start, shown.frame_c, replace(shown.board, outline=hull), TOLD, always=True)
    assert end.refined
    assert off_px(shown, end) < 0.4


def test_the_claimed_uncertainty_covers_the_error(shown: Pictured) -> None:
    end = settle_registration(
        fitted(shown, shown.clicks(("R1", "R2"), 4.0)), shown.frame_c, shown.board, TOLD, always=True
    )
    xyz = np.array([[2.0, 2.0, 0.0], [40.0, 28.0, 0.0], [78.0, 54.0, 0.0]])
    off = pixels_from_board(end, xyz) - shown.see(xyz)
    distance2 = np.einsum("ni,nij,nj->n", off, np.linalg.inv(pixel_covariance(end, xyz)), off)
    assert distance2.max() < 13.8  # chi-squared of 2, one in a thousand


def test_residuals_are_those_of_the_hands_points(shown: Pictured) -> None:
    points = shown.clicks(("R1", "R2"), 4.0)
    end = settle_registration(fitted(shown, points), shown.frame_c, shown.board, TOLD, always=True)
    assert [item.point for item in end.points] == list(points)
    assert end.rms_px == pytest.approx(4.0, abs=0.5)


def test_the_frame_says_by_how_much_the_points_are_off(shown: Pictured) -> None:
    start = fitted(shown, shown.clicks(("R1", "R2"), 4.0, 2))
    checked = settle_registration(start, shown.frame_c, shown.board, TOLD)
    assert checked.confidence is not None
    assert checked.confidence.moved_px == pytest.approx(off_px(shown, start), abs=0.3)
    assert "disagrees with your points by" in checked.confidence.reason


def test_a_good_registration_is_confirmed(shown: Pictured) -> None:
    checked = settle_registration(
        fitted(shown, shown.clicks(("R1", "R2", "R9", "R15", "R21"), 0.2)), shown.frame_c, shown.board, TOLD
    )
    assert checked.confidence is not None
    assert "agrees with your points" in checked.confidence.reason


def test_another_captures_registration_is_a_start(shown: Pictured) -> None:
    other = picture(shown.board, tilt_mm=(20.0, -12.0), up_deg=3.8, contrast_k=4.0, seed=8)
    first = settle_registration(
        fitted(shown, shown.clicks(("R1", "R2"), 4.0)), shown.frame_c, shown.board, TOLD, always=True
    )
    end = settle_registration(first, other.frame_c, other.board, TOLD, always=True)
    assert end.refined
    assert off_px(other, end) < 0.3


def nothing_to_see(shown: Pictured) -> Array:
    return 25.0 + np.random.default_rng(0).normal(0, 0.06, SHAPE_PX)


def turned(shown: Pictured) -> Array:
    return np.ascontiguousarray(shown.frame_c[::-1, ::-1])


def mirrored(shown: Pictured) -> Array:
    return np.ascontiguousarray(shown.frame_c[:, ::-1])


def displaced(shown: Pictured) -> Array:
    return np.roll(shown.frame_c, (25, 30), axis=(0, 1))


@pytest.mark.parametrize("wrong", [nothing_to_see, turned, mirrored, displaced])
def test_a_frame_that_shows_something_else_is_not_trusted(shown: Pictured, wrong: Callable[[Pictured], Array]) -> None:
    start = fitted(shown, shown.clicks(("R1", "R2", "R9", "R15"), 1.0))
    end = settle_registration(start, wrong(shown), shown.board, TOLD, always=True)
    assert end.confidence is not None
    assert not end.confidence.trusted
    assert not end.refined
    assert end.parameters is start.parameters


@pytest.mark.parametrize("seed", [11, 12])
def test_another_board_of_the_same_size_is_not_trusted(shown: Pictured, seed: int) -> None:
    other = board_of_parts(scattered(seed))
    end = settle_registration(fitted(shown, shown.clicks(("R1", "R2"), 1.0)), shown.frame_c, other, TOLD, always=True)
    assert not end.refined


def test_a_frame_without_contrast_is_refused_with_the_reason(shown: Pictured) -> None:
    end = settle_registration(fitted(shown, shown.clicks(("R1", "R2"), 1.0)), nothing_to_see(shown), shown.board, TOLD)
    assert end.confidence is not None
    assert "6 are needed" in end.confidence.reason


@pytest.mark.parametrize("pitches", [-1, 1])
def test_rows_of_equal_parts_one_pitch_off_are_not_trusted(pitches: int) -> None:
    shown = picture(board_of_parts(in_rows()))
    hull = replace(shown.board, outline=replace(shown.board.outline, from_bodies=True))  # nothing else to go by
    points = tuple(
        replace(point, board_mm=(point.board_mm[0] + 5.0 * pitches, point.board_mm[1]))
        for point in shown.clicks(("R3", "R12", "R30", "R40"), 0.5)
    )
    end = settle_registration(fitted(shown, points), shown.frame_c, hull, TOLD, always=True)
    assert not end.refined or off_px(shown, end) < 0.5


def test_any_values_in_a_frame_give_an_answer(shown: Pictured) -> None:
    start = fitted(shown, shown.clicks(("R1", "R2"), 1.0))
    some = shown.frame_c.copy()
    some[::3] = np.nan
    for frame in (some, np.full(SHAPE_PX, np.nan), np.zeros(SHAPE_PX), shown.frame_c * 1e6):
        assert settle_registration(start, frame, shown.board, TOLD, always=True).confidence is not None


def test_a_board_without_bodies_gives_an_answer(shown: Pictured) -> None:
    bare = board_of_parts([replace(part, body=None) for part in shown.board.components])
    start = fitted(shown, shown.clicks(("R1", "R2"), 1.0))
    for board in (bare, replace(bare, components=())):
        checked = settle_registration(start, shown.frame_c, board, TOLD)
        assert checked.confidence is not None
        assert not checked.confidence.trusted


@pytest.mark.parametrize("off", [(3.0, -2.0), (-4.0, 1.0), (0.3, 0.2)])
def test_a_click_beside_a_part_snaps_onto_it(shown: Pictured, off: tuple[float, float]) -> None:
    registration = fitted(shown, shown.clicks(("R1", "R2", "R9", "R15"), 1.0))
    snapped = 0
    for part in shown.board.components[:12]:
        true = shown.see(np.array([[*part.center_mm, part.height_mm or 0.0]]))[0]
        at = (float(true[0] + off[0]), float(true[1] + off[1]))
        point = ControlPoint(at, part.center_mm, part.height_mm or 0.0, 1.0, part.refdes, 2)
        found = snap_point(registration, shown.frame_c, shown.board, point)
        if found is not None:
            snapped += 1
            assert np.hypot(*(np.array(found.pixel) - true)) < 0.6, part.refdes
            assert found.clicked_px == at
    assert snapped >= 9


def test_a_click_in_an_empty_place_stays(shown: Pictured) -> None:
    registration = fitted(shown, shown.clicks(("R1", "R2", "R9", "R15"), 1.0))
    point = shown.clicks(("R9",), 0.0)[0]
    assert snap_point(registration, nothing_to_see(shown), shown.board, point) is None
    assert snap_point(registration, shown.frame_c, shown.board, replace(point, at=None, board_mm=(0.0, 0.0))) is None
