"""Whose registration a frame is read with, and which placements are refused; on frames drawn by other means."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import shift

from overlay.arrays import Array
from overlay.board.model import Board, Component
from overlay.registration.fit import fit_registration
from overlay.registration.model import UNTOLD, ControlPoint, Lens, Registration
from overlay.registration.policy import settle_registration, tie_frame
from overlay.registration.project import pixel_covariance, pixels_from_board
from tests.registration.frame_world import (
    DISTANCE_MM,
    HFOV_DEG,
    SHAPE_PX,
    SIZE_MM,
    Pictured,
    board_of_parts,
    in_a_grid,
    picture,
    scattered,
)

TOLD = Lens(HFOV_DEG, DISTANCE_MM / 1000)
CORNERS = ((2.0, 2.0), (78.0, 2.0), (78.0, 54.0), (2.0, 54.0), (40.0, 28.0))


@pytest.fixture(scope="module")
def shown() -> Pictured:
    return picture(board_of_parts(scattered(3)))


def clicked(shown: Pictured, off_px: float, seed: int = 0) -> list[ControlPoint]:
    """Places of the board's surface, so that no placement is needed to click them."""
    random = np.random.default_rng(seed)
    return [
        ControlPoint(tuple(shown.see(np.array([[*at, 0.0]]))[0] + random.normal(0, off_px, 2)), at, 0.0, 0.5, None, 2)
        for at in CORNERS
    ]


def held(shown: Pictured, board: Board, off_px: float = 0.4) -> Registration:
    return tie_frame(clicked(shown, off_px), "top", shown.frame_c, board, TOLD)


def moved(part: Component, to: tuple[float, float]) -> Component:
    return replace(part, center_mm=to)


def test_the_frame_is_believed_where_it_is_surer_than_the_clicks(shown: Pictured) -> None:
    by_hand = fit_registration(clicked(shown, 0.6), "top", SHAPE_PX, TOLD)
    found = held(shown, shown.board, 0.6)
    off_px = [shown.error_px(lambda xyz, r=one: pixels_from_board(r, xyz)) for one in (by_hand, found)]
    assert found.refined
    assert off_px[1] < 0.2 < off_px[0]
    asked = settle_registration(by_hand, shown.frame_c, shown.board, TOLD, always=True)
    assert np.array_equal(asked.parameters, found.parameters)


def test_points_that_know_better_are_kept(shown: Pictured) -> None:
    points = [replace(point, pixel_u=0.02) for point in clicked(shown, 0.0)]
    found = tie_frame(points, "top", shown.frame_c, shown.board, TOLD)
    assert not found.refined
    assert found.confidence is not None
    assert found.confidence.trusted


def test_a_frame_that_cannot_judge_leaves_sound_points_exactly_as_they_are() -> None:
    few = picture(board_of_parts(scattered(3)[:5]))
    by_hand = fit_registration(clicked(few, 0.4), "top", SHAPE_PX, TOLD)
    found = held(few, few.board)
    assert not found.refined
    assert not found.foreign
    assert np.array_equal(found.parameters, by_hand.parameters)
    assert np.array_equal(found.covariance, by_hand.covariance)


def test_a_hidden_outline_does_not_silence_the_parts(shown: Pictured) -> None:
    """Vise jaws over the edges look like an outline that lies two millimetres further in."""
    shape = list(shown.frame_c.shape)
    frame = shown.frame_c.copy()
    x, y = shown.see(np.array([[2.2, 2.2, 0.0], [SIZE_MM[0] - 2.2, SIZE_MM[1] - 2.2, 0.0]])).T
    rows, cols = np.mgrid[0 : shape[0], 0 : shape[1]]
    frame[(cols < x.min()) | (cols > x.max()) | (rows < y.min()) | (rows > y.max())] = 22.0
    found = tie_frame(clicked(shown, 0.6), "top", frame, shown.board, TOLD)
    assert found.refined
    assert shown.error_px(lambda xyz: pixels_from_board(found, xyz)) < 0.3


def test_five_clicks_at_thirty_degrees_without_a_lens_are_off_by_less_than_claimed() -> None:
    tilted = picture(board_of_parts(scattered(4)), tilt_mm=(0.0, -135.0))
    found = tie_frame(clicked(tilted, 0.5), "top", tilted.frame_c, tilted.board, UNTOLD)
    xyz = np.array([[x, y, z] for x in (5.0, 75.0) for y in (5.0, 50.0) for z in (0.0, 1.5)])
    off = pixels_from_board(found, xyz) - tilted.see(xyz)
    distance2 = np.einsum("ni,nij,nj->n", off, np.linalg.inv(pixel_covariance(found, xyz)), off)
    assert distance2.max() < 13.8  # chi-squared of 2, one in a thousand


@pytest.mark.parametrize(
    ("across", "up", "cause"), [(-1.0, 1.0, "mirrored"), (-1.0, -1.0, "turned by 180°")], ids=["mirrored", "turned"]
)
def test_a_placement_laid_another_way_is_refused_by_name(shown: Pictured, across: float, up: float, cause: str) -> None:
    middle = np.array(SIZE_MM) / 2.0
    parts = [
        moved(part, tuple((np.array(part.center_mm) - middle) * (across, up) + middle))
        for part in shown.board.components
    ]
    found = held(shown, board_of_parts(parts))
    assert "does not belong to this frame" in found.foreign
    assert cause in found.foreign
    assert found.foreign in found.warnings


@pytest.mark.parametrize("seed", [11, 12])
def test_another_revision_is_refused(shown: Pictured, seed: int) -> None:
    """A fifth of the parts stayed where they were."""
    other = scattered(seed)
    parts = [*shown.board.components[:8], *other[8:]]
    assert "revision" in held(shown, board_of_parts(parts)).foreign


@pytest.mark.parametrize("seed", range(2))
def test_a_few_moved_parts_are_no_other_revision(shown: Pictured, seed: int) -> None:
    random = np.random.default_rng(seed)
    parts = list(shown.board.components)
    for index in random.permutation(len(parts))[:4]:
        parts[index] = moved(parts[index], tuple(random.uniform((6, 6), (74, 50))))
    found = held(shown, board_of_parts(parts))
    assert not found.foreign
    assert found.refined


def test_a_tall_board_without_a_lens_is_told_so_first(shown: Pictured) -> None:
    tall = replace(shown.board.components[0], body=replace(shown.board.components[0].body, height_mm=30.0))  # type: ignore[type-var]
    board = replace(shown.board, components=(tall, *shown.board.components[1:]))
    found = tie_frame(clicked(shown, 0.4)[:3], "top", np.full(SHAPE_PX, 25.0), board, UNTOLD)
    assert found.warnings[0].startswith("parts are up to 30 mm tall: give hfov_deg")


def test_another_captures_registration_is_settled_the_same_way(shown: Pictured) -> None:
    first = held(shown, shown.board)
    again = settle_registration(first, shown.frame_c, shown.board, TOLD)
    assert shown.error_px(lambda xyz: pixels_from_board(again, xyz)) < 0.2


@pytest.mark.parametrize("by_px", [0.2, 0.35, 0.8])
def test_a_board_that_creeps_from_frame_to_frame_is_followed_however_little_it_moves(
    shown: Pictured, by_px: float
) -> None:
    """However sure the first pose is: it is of another frame, and no evidence of this one."""
    first = settle_registration(held(shown, shown.board), shown.frame_c, shown.board, TOLD, always=True)
    first = replace(first, covariance=0.25 * first.covariance)
    moved_c = shift(shown.frame_c, (0.3 * by_px, by_px), mode="nearest")
    again = settle_registration(first, moved_c, shown.board, TOLD)
    places = np.array([[x, y, 0.0] for x in (5.0, 40.0, 75.0) for y in (5.0, 28.0, 51.0)])
    moved = pixels_from_board(again, places) - pixels_from_board(first, places)
    assert moved == pytest.approx(np.broadcast_to([by_px, 0.3 * by_px], moved.shape), abs=0.1)
    assert again.refined
    assert not [text for text in again.warnings if "points" in text]


def hills(shown: Pictured, seed: int, width_px: float) -> Array:
    """A frame in which every part is but a hill of warmth, without any edge."""
    rows, cols = np.mgrid[0 : SHAPE_PX[0], 0 : SHAPE_PX[1]]
    random = np.random.default_rng(seed)
    frame = 25.0 + random.normal(0, 0.05, SHAPE_PX)
    for part in shown.board.components:
        u, v = shown.see(np.array([[*part.center_mm, 0.5]]))[0]
        frame += random.gamma(1.2, 7.0) * np.exp(-((cols - u) ** 2 + (rows - v) ** 2) / (2.0 * width_px**2))
    return np.asarray(frame)


def test_parts_that_show_as_warm_spots_rather_than_bodies_are_no_other_board(shown: Pictured) -> None:
    """A frame so unsharp, or parts so small, that each is but a hill of warmth: it lies where the placement says."""
    assert not tie_frame(clicked(shown, 0.4), "top", hills(shown, 5, 3.0), shown.board, TOLD).foreign


@pytest.mark.parametrize("seed", [1, 5])
def test_crowded_warm_spots_whose_points_are_off_together_are_no_other_board(seed: int) -> None:
    """Hills that run into one another; where they do so more (other seeds), a right board may still be refused."""
    crowd = picture(board_of_parts(in_a_grid()))
    points = [replace(point, pixel=tuple(np.add(point.pixel, (1.6, -1.6)))) for point in clicked(crowd, 0.2)]
    assert not tie_frame(points, "top", hills(crowd, seed, 3.6), crowd.board, TOLD).foreign
