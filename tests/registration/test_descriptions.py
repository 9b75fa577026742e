"""What the frame says against wrong descriptions, on frames drawn by other means from the right ones."""

from dataclasses import replace

import numpy as np
import pytest

from overlay.board.model import Body, Component
from overlay.registration.faces import project_faces
from overlay.registration.model import ControlPoint, FaceCode, Lens, Registration
from overlay.registration.policy import tie_frame
from tests.registration.frame_world import DISTANCE_MM, HFOV_DEG, Pictured, board_of_parts, picture, scattered

TOLD = Lens(HFOV_DEG, DISTANCE_MM / 1000)
CORNERS = ((2.0, 2.0), (78.0, 2.0), (78.0, 54.0), (2.0, 54.0), (40.0, 28.0))


@pytest.fixture(scope="module")
def shown() -> Pictured:
    return picture(board_of_parts(scattered(3)))


def held(shown: Pictured, parts: list[Component]) -> Registration:
    random = np.random.default_rng(1)
    points = [
        ControlPoint(tuple(shown.see(np.array([[*at, 0.0]]))[0] + random.normal(0, 0.4, 2)), at, 0.0, 0.5, None, 2)
        for at in CORNERS
    ]
    return tie_frame(points, "top", shown.frame_c, board_of_parts(parts), TOLD)


def long_chips(parts: list[Component]) -> list[int]:
    return [index for index, part in enumerate(parts) if part.body is not None and part.body.length_mm == 3.2]


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_nothing_is_said_against_right_descriptions(seed: int) -> None:
    right = picture(board_of_parts(scattered(seed)))
    assert held(right, list(right.board.components)).findings == ()


def test_a_part_listed_a_quarter_turn_off_is_named_and_drawn_as_it_lies(shown: Pictured) -> None:
    parts = list(shown.board.components)
    wrong = long_chips(parts)[:3]
    for index in wrong:
        parts[index] = replace(parts[index], rotation_deg=parts[index].rotation_deg + 90.0)
    found = held(shown, parts)
    turned = {finding.refdes for finding in found.findings if finding.code is FaceCode.TURNED}
    assert turned, "none of three was found"
    assert turned <= {parts[index].refdes for index in wrong}
    faces = {face.component.refdes: face for face in project_faces(found, board_of_parts(parts))}
    for refdes in turned:
        true, face = shown.board.component(refdes), faces[refdes]
        assert (face.component.rotation_deg - true.rotation_deg) % 180.0 == 0.0
        assert "fits the frame better turned by 90°" in face.why[0]


def test_a_package_of_other_proportions_is_told_its_size(shown: Pictured) -> None:
    parts = [
        replace(part, package="QFP", body=Body(6.0, 3.2, 1.5, "test")) if part.kind == "ic" else part
        for part in shown.board.components
    ]
    resized = [finding for finding in held(shown, parts).findings if finding.code is FaceCode.RESIZED]
    assert len(resized) == sum(part.kind == "ic" for part in parts)
    assert all("mm long in the frame, not 6.0" in finding.text for finding in resized)


def test_a_part_that_does_not_show_as_its_like_do_is_not_read(shown: Pictured) -> None:
    parts = [replace(part, package=f"{part.body.length_mm}") for part in shown.board.components if part.body]
    chip = parts[long_chips(parts)[0]]
    frame = shown.frame_c.copy()
    u, v = shown.see(np.array([[*chip.center_mm, 0.0]]))[0]
    rows, cols = np.mgrid[0 : frame.shape[0], 0 : frame.shape[1]]
    frame[np.hypot(cols - u, rows - v) < 14] = 30.0  # a label over it, as even as it is large
    found = held(replace(shown, frame_c=frame), parts)
    gone = {finding.refdes for finding in found.findings if finding.code is FaceCode.NOT_SHOWN}
    assert chip.refdes in gone
    face = next(face for face in project_faces(found, board_of_parts(parts)) if face.component.refdes == chip.refdes)
    assert face.visible == 0.0
    assert "something that no file lists lies over it" in face.why[0]
