"""Top faces in the frame, and what hides them."""

import numpy as np
import pytest
import shapely
from numpy.testing import assert_allclose

from overlay.registration.coverage import coverage_warnings
from overlay.registration.faces import face_polygon, project_faces
from overlay.registration.fit import fit_registration
from overlay.registration.model import Lens

SHAPE = (240, 320)
POINTS = np.array([[5.0, 5, 0], [95, 5, 0], [95, 59, 0], [5, 59, 0], [50, 32, 4.0], [30, 45, 1.0]])
OBLIQUE = {"eye_mm": (200.0, 32.0, 260.0), "hfov_deg": 28.0}


def registered(look, control, side="top", camera=True, **view):
    points = POINTS if camera else POINTS * [1.0, 1.0, 0.0]
    return fit_registration(control(points, look(points, side, **view)), side, SHAPE, Lens(28.0 if camera else None))


def faces_of(registration, board):
    return {face.component.refdes: face for face in project_faces(registration, board)}


def test_a_face_turns_counter_clockwise_with_its_part(part):
    corners = face_polygon(part("R1", 10.0, 20.0, (4.0, 2.0, 1.0), rotation_deg=90.0))
    # what was the corner at (-2, -1) stands at (1, -2) after a quarter turn
    assert_allclose(corners, [[11, 18], [11, 22], [9, 22], [9, 18]], atol=1e-12)
    assert shapely.LinearRing(corners).is_ccw
    tilted = face_polygon(part("R1", 0.0, 0.0, (4.0, 0.2, 1.0), rotation_deg=30.0))
    assert tilted[1:3].mean(axis=0) == pytest.approx([2 * np.cos(np.pi / 6), 1.0])


def test_a_round_face_has_the_area_of_its_circle(part):
    corners = face_polygon(part("C1", 3.0, 4.0, (8.0, 8.0, 10.0), shape="round"))
    assert shapely.Polygon(corners).area == pytest.approx(np.pi * 16.0, rel=1e-9)
    assert shapely.LinearRing(corners).is_ccw


@pytest.mark.parametrize("side", ["top", "bottom"])
def test_faces_stand_at_their_height(look, control, part, board_of, side):
    tall = part("C1", 80.0, 40.0, (8.0, 6.0, 12.0), side=side, rotation_deg=20.0)
    face = faces_of(registered(look, control, side, **OBLIQUE), board_of(tall))["C1"]
    corners = np.column_stack([face_polygon(tall), np.full(4, 12.0)])
    assert_allclose(face.polygon_px, look(corners, side, **OBLIQUE), atol=0.1)
    assert_allclose(face.base_px, look(corners * [1, 1, 0], side, **OBLIQUE), atol=0.1)
    assert (face.z_mm, face.height_known, face.hidden_by, face.why) == (12.0, True, (), ())
    assert face.visible == pytest.approx(1.0)


def test_only_the_seen_side_and_mechanical_parts_with_a_body_have_faces(look, control, part, board_of):
    board = board_of(
        part("R1", 20.0, 20.0),
        part("R2", 30.0, 20.0, side="bottom"),
        part("FID1", 5.0, 5.0, None, mechanical=True),
        part("HS1", 60.0, 20.0, (10.0, 10.0, 8.0), mechanical=True),
        part("Q9", 70.0, 50.0, None),
    )
    faces = faces_of(registered(look, control), board)
    assert list(faces) == ["R1", "HS1", "Q9"]
    unknown = faces["Q9"]
    assert shapely.Polygon(unknown.polygon_mm).area == pytest.approx(np.pi * 0.25)
    assert not unknown.height_known
    assert "body unknown" in unknown.why[0]


def test_a_tall_part_hides_what_is_behind_it_and_not_what_is_before_it(look, control, part, board_of):
    # the eye is far to the right: a wall at x = 50 hides parts to its left
    wall = part("J1", 50.0, 32.0, (2.0, 30.0, 15.0))
    board = board_of(
        wall, part("R1", 45.0, 32.0), part("R2", 55.0, 32.0), part("R3", 45.0, 55.0), part("R4", 30.0, 32.0)
    )
    faces = faces_of(registered(look, control, **OBLIQUE), board)
    assert faces["R1"].visible < 0.01
    assert faces["R1"].hidden_by == ("J1",)
    assert faces["R1"].why == ("behind or under J1: 0% of its top face is left to see",)
    assert [faces[name].visible for name in ("J1", "R2", "R3", "R4")] == pytest.approx([1.0] * 4)


def test_a_long_body_is_no_riddle_to_the_order_of_distance(look, control, part, board_of):
    # the wall's centre is nearer to the eye than the part's in plan for one end, farther for the other
    wall = part("J1", 52.0, 32.0, (2.0, 60.0, 15.0))
    board = board_of(wall, part("R1", 47.0, 4.0), part("R2", 57.0, 60.0))
    faces = faces_of(registered(look, control, **OBLIQUE), board)
    assert faces["R1"].visible < 0.1
    assert faces["R2"].visible == pytest.approx(1.0)


def test_lower_bodies_never_hide_taller_ones(look, control, part, board_of):
    board = board_of(part("U1", 50.0, 32.0, (10.0, 10.0, 3.0)), part("C1", 48.0, 32.0, (6.0, 6.0, 9.0), shape="round"))
    faces = faces_of(registered(look, control, **OBLIQUE), board)
    assert faces["C1"].visible == pytest.approx(1.0)
    assert 0.2 < faces["U1"].visible < 0.8


@pytest.mark.parametrize("camera", [True, False])
def test_a_shield_hides_what_is_under_it(look, control, part, board_of, camera):
    shield = part("SH1", 50.0, 32.0, (20.0, 15.0, 3.0), kind="shield", mechanical=True)
    board = board_of(part("U1", 48.0, 33.0, (5.0, 5.0, 1.0)), shield, part("R1", 61.0, 32.0, (3.0, 1.0, 0.5)))
    faces = faces_of(registered(look, control, camera=camera), board)
    assert faces["U1"].visible == pytest.approx(0.0, abs=1e-6)
    assert faces["U1"].hidden_by == ("SH1",)
    assert faces["SH1"].visible == pytest.approx(1.0)
    assert faces["R1"].visible < 0.95


def test_a_shield_of_unknown_height_still_covers_what_is_under_it(look, control, part, board_of):
    shield = part("SH1", 50.0, 32.0, (20.0, 15.0, None), kind="shield")
    cover = part("U2", 20.0, 32.0, (20.0, 15.0, None), kind="ic")
    board = board_of(part("U1", 48.0, 33.0, (5.0, 5.0, 1.0)), shield, cover, part("R1", 20.0, 32.0))
    faces = faces_of(registered(look, control), board)
    assert faces["U1"].visible == pytest.approx(0.0, abs=1e-6)
    assert faces["R1"].visible == pytest.approx(1.0)


def seen(faces):
    return {name: round(face.visible, 2) for name, face in faces.items()}


@pytest.mark.parametrize("camera", [True, False])
def test_a_part_under_a_transformers_overhang_is_hidden_and_the_one_beside_it_is_not(
    look, control, part, board_of, camera
):
    core = part("T1", 50.0, 32.0, (22.0, 20.0, 18.0), kind="transformer")
    hot = part("R3", 50.0, 46.0, (12.0, 4.0, 6.0))  # 2 mm off its edge, on the eye's side or from above
    board = board_of(core, part("R7", 42.0, 32.0, (2.0, 1.2, 0.5)), hot)
    registration = registered(look, control, camera=camera, eye_mm=(50.0, 60.0, 260.0))
    assert seen(faces_of(registration, board)) == {"T1": 1.0, "R7": 0.0, "R3": 1.0}
    unknown = part("T1", 50.0, 32.0, (22.0, 20.0, None), kind="transformer")
    assert seen(faces_of(registration, board_of(unknown, *board.components[1:])))["R7"] == 0.0


def test_a_heat_sink_covers_its_transistor_even_where_told_heights_say_otherwise(look, control, part, board_of):
    sink = part("HS1", 50.0, 36.0, (25.0, 8.0, 4.4), kind="heatsink")
    board = board_of(part("Q1", 50.0, 34.0, (10.0, 4.5, 4.9)), sink, part("Q2", 59.0, 38.0, (4.0, 4.0, 12.0)))
    faces = faces_of(registered(look, control, eye_mm=(50.0, 32.0, 300.0)), board)
    assert faces["Q1"].visible < 0.2
    assert faces["Q1"].hidden_by == ("HS1",)
    assert faces["Q2"].visible > 0.99  # clearly taller: it stands out of the sink
    assert faces["HS1"].visible > 0.8


def test_an_ic_on_a_thin_module_stands_on_it_and_is_seen(look, control, part, board_of):
    module = part("MOD1", 50.0, 32.0, (30.0, 20.0, 1.6), kind="module")
    board = board_of(module, part("U1", 48.0, 33.0, (5.0, 5.0, 1.0), kind="ic"), part("R9", 90.0, 32.0))
    faces = faces_of(registered(look, control, **OBLIQUE), board)
    assert faces["U1"].visible == pytest.approx(1.0)
    assert faces["U1"].z_mm == pytest.approx(2.6)
    assert faces["MOD1"].visible < 0.97
    thick = part("MOD1", 50.0, 32.0, (30.0, 20.0, 9.0), kind="module")
    assert faces_of(registered(look, control), board_of(thick, *board.components[1:]))["U1"].visible < 0.01


@pytest.mark.parametrize("seed", range(4))
def test_visible_shares_agree_with_rays(look, control, part, board_of, seed):
    rng = np.random.default_rng(seed)
    eye = np.array([*rng.uniform([-60, -60], [160, 120]), 240.0])
    boxes = [
        part(
            f"U{index}",
            *map(float, rng.uniform([25, 15], [75, 50])),
            (*map(float, rng.uniform(3, 14, 2)), float(rng.choice([0.8, 3.0, 7.0, 14.0]))),
            rotation_deg=float(rng.uniform(0, 360)),
        )
        for index in range(12)
    ]
    faces = faces_of(registered(look, control, eye_mm=tuple(eye), hfov_deg=28.0), board_of(*boxes))
    for target in boxes:
        polygon = shapely.Polygon(face_polygon(target))
        spots = rng.uniform(*np.array(polygon.bounds).reshape(2, 2), (900, 2))
        spots = spots[shapely.contains_xy(polygon, spots)]
        z = target.body.height_mm
        free = np.ones(len(spots), dtype=bool)
        for other in boxes:
            if other is target or other.body.height_mm <= z:
                continue
            # the part of each ray between the two heights, in plan
            share = (other.body.height_mm - z) / (eye[2] - z)
            ends = spots + share * (eye[:2] - spots)
            paths = shapely.linestrings(np.stack([spots, ends], axis=1))
            free &= ~shapely.intersects(paths, shapely.Polygon(face_polygon(other)))
        assert faces[target.refdes].visible == pytest.approx(free.mean(), abs=0.06)


def test_parts_at_and_beyond_the_edge_of_the_frame_say_so(look, control, part, board_of):
    near = registered(look, control)
    left = float(np.interp(-0.5, [look(np.array([[x, 32.0, 0.0]]))[0, 0] for x in (-30, 50)], [-30, 50]))
    board = board_of(part("R1", left, 32.0, (4.0, 2.0, 0.0)), part("R2", left - 20.0, 32.0), part("R3", 50.0, 32.0))
    faces = faces_of(near, board)
    assert faces["R1"].visible == pytest.approx(0.5, abs=0.02)
    assert "50% of its top face is outside the frame" in faces["R1"].why[0]
    assert (faces["R2"].visible, faces["R2"].why[0]) == (0.0, "outside the frame")
    assert faces["R2"].visible_px.is_empty
    assert faces["R3"].why == ()


def test_without_a_camera_heights_make_places_uncertain(look, control, part, board_of):
    three = np.array([[0.0, 0.0, 0.0], [100.0, 0.0, 0.0], [100.0, 64.0, 0.0]])  # too few for a camera
    found = fit_registration(control(three, look(three)), "top", SHAPE)
    faces = faces_of(found, board_of(part("R1", 50.0, 32.0, (3.0, 1.0, 0.0)), part("C1", 52.0, 36.0, (8.0, 8.0, 12.0))))
    assert_allclose(faces["C1"].polygon_px, faces["C1"].base_px)
    lean_px = found.lean_u * 12.0 / found.mm_per_px
    assert np.sqrt(faces["C1"].pixel_u ** 2 - faces["R1"].pixel_u ** 2) == pytest.approx(lean_px, rel=0.15)
    assert "without hfov_deg its top face may lean" in faces["C1"].why[0]


def test_an_unknown_height_makes_a_place_uncertain(look, control, part, board_of):
    parts = (part("U1", 20.0, 32.0, (3.0, 3.0, 1.5)), part("U2", 20.0, 36.0, (3.0, 3.0, None)))
    faces = faces_of(registered(look, control, **OBLIQUE), board_of(*parts))
    assert faces["U2"].pixel_u > faces["U1"].pixel_u + 0.5
    assert "height unknown" in faces["U2"].why[0]


def test_a_board_without_parts_has_no_faces(look, control, board_of):
    assert project_faces(registered(look, control), board_of()) == ()


def test_points_all_in_a_corner_are_told(look, control, board_of):
    corner = np.array([[5.0, 5, 0], [25, 5, 0], [25, 18, 0], [5, 18, 0], [15, 10, 0]])
    found = fit_registration(control(corner, look(corner)), "top", SHAPE, Lens(28.0))
    (text,) = coverage_warnings(found, board_of())
    assert text.startswith("the control points enclose only 4% of the board")
    assert "(100, 64) mm" in text
    assert coverage_warnings(registered(look, control), board_of()) == ()
