from dataclasses import replace

import numpy as np
import pytest

from overlay.registration.faces import project_faces
from overlay.registration.project import board_from_pixels, pixels_from_board
from overlay.unmixing import rounds
from overlay.unmixing import unmix as crowded
from overlay.unmixing.unmix import COATED, PULLED_AWAY, unmix
from tests.unmixing.unmixing_world import (
    Part,
    World,
    board_c,
    chips,
    errors_k,
    exitance,
    eye_of,
    picture,
    view_of,
)

BOARDS = {
    "usual chips": {"seed": 1},
    "long caps": {"seed": 3, "cap": 0.3, "pad_mm": 0.2, "blur_px": 1.0},
    "short caps": {"seed": 2, "cap": 0.15, "pad_mm": 0.5},
    "no metal": {"seed": 6, "cap": 0.0, "pad_mm": 0.0},
    "no pads, coarse": {"seed": 4, "cap": 0.2, "pad_mm": 0.0, "px_per_mm": 1.3, "shape_px": (40, 56)},
}


@pytest.fixture(scope="module")
def usual():
    world = chips(1)
    view = view_of(world)
    return world, view, unmix(view)


@pytest.mark.parametrize("kind", BOARDS)
def test_small_chips_are_read_as_well_as_is_claimed(kind: str) -> None:
    world = chips(**BOARDS[kind])
    errors = np.array(list(errors_k(world, unmix(view_of(world))).values()))
    assert np.median(np.abs(errors[:, 0])) < 1.2
    assert abs(errors[:, 0].mean()) < 1.5  # caps or pads as unusual as these are pulled towards the usual ones
    assert np.mean(np.abs(errors[:, 0]) < 2 * errors[:, 1]) >= 0.9
    assert errors[:, 1].mean() < 3.5


def test_the_pose_comes_from_the_frame_to_a_tenth_of_a_pixel(usual) -> None:
    world, view, unmixed = usual
    places = np.array([[*part.center_mm, part.size_mm[2]] for part in world.parts])
    true = eye_of(world).pixels(places)
    given = np.hypot(*(pixels_from_board(view.registration, places) - true).T)
    found = np.hypot(*(pixels_from_board(unmixed.registration, places) - true).T)
    assert unmixed.refined
    assert unmixed.registration.refined
    assert np.sqrt(np.mean(given**2)) > 0.2
    assert np.sqrt(np.mean(found**2)) < 0.1


def test_a_crowded_frame_is_read_as_well_as_is_claimed_in_one_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    for room in (rounds, crowded):
        monkeypatch.setattr(room, "CROWDED", 5)
    monkeypatch.setattr(crowded, "FAR_PX", 60.0)
    world = chips(1)
    unmixed = crowded.unmix(view_of(world))
    errors = np.array(list(errors_k(world, unmixed).values()))
    assert np.median(np.abs(errors[:, 0])) < 1.6
    assert np.mean(np.abs(errors[:, 0]) < 2 * errors[:, 1]) >= 0.9
    assert not unmixed.refined
    assert "few rounds" in unmixed.notes[0]


def test_what_is_left_of_the_frame_without_its_parts_is_the_bare_board(usual) -> None:
    world, _, unmixed = usual
    shown = unmixed.board_share > 0.9
    assert np.isfinite(unmixed.bare[shown]).mean() > 0.4  # what lies off the board is left out
    row, col = np.nonzero(shown & np.isfinite(unmixed.bare))
    true_c = board_c(*board_from_pixels(unmixed.registration, np.column_stack([col, row]).astype(float)).T)
    true = world.board_emissivity * exitance(true_c) + (1 - world.board_emissivity) * exitance(world.room_c)
    off_k = (unmixed.bare[row, col] - true) / (exitance(41.0) - exitance(40.0))
    assert np.median(np.abs(off_k)) < 0.1
    assert np.percentile(np.abs(off_k), 95) < 1.0
    assert np.all(unmixed.beneath_high >= unmixed.beneath)


def test_a_board_all_at_one_temperature_keeps_the_given_pose() -> None:
    world = World((Part("U1", (12.0, 10.0), (5.0, 4.0, 1.0), 40.0), Part("U2", (22.0, 12.0), (3.0, 3.0, 1.0), 40.0)))
    even = np.full(world.shape_px, float(exitance(35.0)))
    view = view_of(world, leaving=even)
    unmixed = unmix(view)
    assert not unmixed.refined
    assert unmixed.registration is view.registration
    assert unmixed.leaving == pytest.approx(float(exitance(35.0)), rel=2e-3)


def test_the_blur_is_found_where_nobody_tells_it() -> None:
    world = chips(5, blur_px=1.5)
    unmixed = unmix(view_of(world, blur_px=None))
    assert unmixed.blur_source == "estimated from the frame"
    assert unmixed.blur_px == pytest.approx(1.5, rel=0.12)


@pytest.mark.parametrize(("apart_mm", "told_apart"), [(0.55, False), (3.0, True)])
def test_two_chips_within_a_pixel_are_said_to_be_inseparable(apart_mm: float, told_apart: bool) -> None:
    chip = Part("R1", (14.7, 10.0), (1.0, 0.5, 0.4), 90.0, 90.0, 0.22, 0.3, terminals="ends")
    near = replace(chip, refdes="R2", center_mm=(14.7 + apart_mm, 10.0), mean_c=50.0)
    far = replace(chip, refdes="R3", center_mm=(22.0, 15.0), mean_c=70.0)
    unmixed = unmix(view_of(World((chip, near, far), px_per_mm=1.25, shape_px=(40, 56))))
    assert unmixed.inseparable == (() if told_apart else (("R1", "R2"),))


def test_a_flat_registration_will_do(usual) -> None:
    world, _, _ = usual
    errors = np.array(list(errors_k(world, unmix(view_of(world, camera=False))).values()))
    assert np.mean(np.abs(errors[:, 0]) < 2 * errors[:, 1]) >= 0.9


def test_a_hot_small_part_is_not_pulled_down_to_the_board() -> None:
    here = float(board_c(15.0, 11.0))
    hot = Part("R1", (15.0, 11.0), (1.6, 0.8, 0.5), here + 60.0, 20.0, 0.2, 0.35, 0.2, terminals="ends")
    others = tuple(p for p in chips(8).parts if np.hypot(p.center_mm[0] - 15, p.center_mm[1] - 11) > 3)
    world = World((*others, replace(hot, refdes="R99")), px_per_mm=1.6, shape_px=(48, 64))
    error, u = errors_k(world, unmix(view_of(world)))["R99"]
    assert abs(error) < 3.0
    assert abs(error) < 2 * u


def test_the_order_of_parts_makes_no_difference(usual) -> None:
    world, _, first = usual
    turned = replace(world, parts=world.parts[::-1])
    second = unmix(view_of(turned, leaving=picture(turned)))
    assert second.refdes == first.refdes[::-1]
    assert second.leaving[::-1] == pytest.approx(first.leaving, rel=1e-3)


def test_a_frame_without_parts_has_nothing_to_unmix() -> None:
    world = World(())
    unmixed = unmix(view_of(world))
    assert unmixed.refdes == ()
    assert len(unmixed.leaving_u) == 0
    assert not unmixed.refined


def test_more_noise_means_more_uncertainty(usual) -> None:
    world, _, calm = usual
    noisy = unmix(view_of(replace(world, noise_c=0.6)))
    assert np.median(noisy.leaving_u / calm.leaving_u) > 1.1


def test_a_coated_board_is_recognised_by_its_missing_metal() -> None:
    bare = chips(1)
    coated = replace(bare, parts=tuple(replace(part, cap=0.0, pad_mm=0.0) for part in bare.parts))
    told = {part.refdes: part for part in coated.parts}
    assert {part.terminals for part in told.values()} == {"ends"}
    unmixed = unmix(view_of(coated))
    assert COATED in unmixed.notes
    errors = np.array(list(errors_k(coated, unmixed).values()))
    assert np.mean(np.abs(errors[:, 0]) < 2 * errors[:, 1]) >= 0.95
    assert abs(errors[:, 0].mean()) < 0.6
    assert COATED not in unmix(view_of(bare)).notes


def test_values_belong_to_the_registration_that_is_reported(usual) -> None:
    """Read again in the pose that was found, parts stay where they are."""
    _, view, first = usual
    again = unmix(replace(view, registration=first.registration, faces=project_faces(first.registration, view.board)))
    k = float(exitance(45.5) - exitance(44.5))
    assert np.median(np.abs(again.leaving - first.leaving)) < 0.3 * k


def test_unlike_points_leave_the_pose_within_what_they_allow() -> None:
    """Points off by five of their own standard uncertainties: the pose is not let go further than is believed."""
    world = replace(chips(2), click_px=0.2)
    view = view_of(world)
    wrong = replace(
        view.registration,
        parameters=view.registration.parameters
        + np.linalg.cholesky(view.registration.covariance + 1e-18 * np.eye(8)) @ np.full(8, 5.0),
    )
    unmixed = unmix(replace(view, registration=wrong, faces=project_faces(wrong, view.board)))
    assert PULLED_AWAY in unmixed.notes
    assert unmixed.registration is wrong
    assert np.isfinite(unmixed.leaving_u).all()
