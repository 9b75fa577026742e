"""Pictures of parts and what they explain, held against the plain way: one part, one pixel, one fit at a time."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr

from overlay.registration.camera import Pinhole, rotation_matrix, rotation_vector
from overlay.registration.project import projection_of
from overlay.registration.refine_frame import compressed
from overlay.registration.refine_pictures import BLUR_PX, Sightline, bodies, sighted, smooth_step
from overlay.registration.refine_windows import gains_of
from overlay.registration.targets import Targets, targets_of
from tests.registration.frame_world import Pictured, board_of_parts, picture, scattered
from tests.registration.test_refine import fitted


@pytest.fixture(scope="module")
def shown() -> Pictured:
    return picture(board_of_parts(scattered(3)))


@pytest.fixture(scope="module")
def sightline(shown: Pictured) -> Sightline:
    registration = fitted(shown, shown.clicks(("R1", "R2", "R9", "R15", "R21"), 0.2))
    return Sightline(projection_of(registration), registration.parameters)


def test_a_smooth_step_is_the_integral_of_the_normal_distribution() -> None:
    at = np.linspace(-9.0, 9.0, 3601, dtype=np.float32)
    assert np.abs(smooth_step(at) - ndtr(at.astype(float))).max() < 3e-7


def test_pictures_hold_as_much_as_their_shapes_are_large(shown: Pictured, sightline: Sightline) -> None:
    parts = sighted(targets_of(shown.board, "top"), sightline)
    line = np.arange(-60.0, 60.0, 0.5)
    x, y = (np.tile(one.ravel(), len(parts)).astype(np.float32) for one in np.meshgrid(line, line))
    part = np.repeat(np.arange(len(parts)), line.size**2)
    body, metal = (one.reshape(len(parts), -1).sum(axis=1) * 0.5**2 for one in bodies(parts, part, x, y))
    outer = 4.0 * parts.half[:, 0] * parts.half[:, 1]
    beyond = 4.0 * parts.half[:, 1] * (parts.pad + parts.lead[:, 0]) + 4.0 * parts.half[:, 0] * parts.lead[:, 1]
    box = ~parts.round
    assert (body + metal)[box] == pytest.approx((outer + beyond)[box], rel=1e-3)
    disc = parts.round
    assert body[disc] == pytest.approx(np.pi * parts.half[disc, 0] ** 2 + np.pi, rel=0.05)


def test_gains_are_those_of_one_fit_a_displacement(shown: Pictured, sightline: Sightline) -> None:
    """The same fit by general least squares, of parts told without metal, too small for slopes, and no neighbours."""
    frame = compressed(shown.frame_c)
    parts = targets_of(shown.board, "top")
    none = np.zeros(len(parts))
    parts = replace(parts, cap_mm=none, pad_mm=none, lead_mm=np.zeros((len(parts), 2)))
    small = np.flatnonzero(sighted(parts, sightline).half.max(axis=1) * BLUR_PX < 3.5)
    assert len(small) > 10
    for index in small[:4]:
        part = parts.only(np.array([index]))
        found = gains_of(part, part, sightline, frame, 2).values[0]
        for row, by_y in enumerate(range(-2, 3)):
            for column, by_x in enumerate(range(-2, 3)):
                told = _plain_gain(part, sightline, frame.values, frame.noise, (by_x, by_y))
                assert found[row, column] == pytest.approx(told, abs=1e-3)


@pytest.mark.parametrize("tilt_deg", [80.0, 89.5, 89.99])
def test_parts_that_a_pose_astray_sees_from_their_edge_gain_little_and_disturb_nothing(
    shown: Pictured, tilt_deg: float
) -> None:
    pinhole = Pinhole("top", shown.frame_c.shape, (40.0, 28.0))
    rotation = rotation_matrix(np.array([np.radians(tilt_deg), 0.0, 0.0])) @ np.diag([1.0, -1.0, -1.0])
    parameters = np.concatenate([rotation_vector(rotation), [0.0, 0.0, 240.0, np.log(540.0), 0.0]])
    parts = targets_of(shown.board, "top")
    gains = gains_of(parts, parts, Sightline(pinhole, parameters), compressed(shown.frame_c), 4)
    assert np.isfinite(gains.values).all()
    assert (gains.values >= 0.0).all()


def _plain_gain(part: Targets, sightline: Sightline, frame: np.ndarray, noise: float, by_px: tuple[int, int]) -> float:
    seen = sighted(part, sightline)
    place, half = seen.place_px[0], seen.half[0]
    pixel = np.rint(place).astype(int)
    reach = int(np.ceil(np.linalg.norm(half) * BLUR_PX + 3.0))
    rows, values = [], []
    lean = float(np.hypot(*seen.lean_px[0])) > 0.2

    def box(x: float, y: float) -> float:
        return float((ndtr(x + half[0]) - ndtr(x - half[0])) * (ndtr(y + half[1]) - ndtr(y - half[1])))

    for dy in range(-reach, reach + 1):
        for dx in range(-reach, reach + 1):
            beside = np.array([dx, dy]) + pixel - place
            x, y = seen.across[0] @ beside
            beyond = max(abs(x) - half[0], abs(y) - half[1]) * BLUR_PX
            within = min(half[0] - abs(x), half[1] - abs(y)) * BLUR_PX
            if beyond >= 3.0 or within >= 4.0:
                continue
            foot = seen.across[0] @ (beside - seen.lean_px[0])
            wall = max(box(*foot) - box(x, y), 0.0) if lean else 0.0
            rows.append([1.0, *beside, box(x, y), wall])
            values.append(frame[pixel[1] + dy + by_px[1], pixel[0] + dx + by_px[0]])
    matrix, value = np.array(rows), np.array(values)
    own = 5 if lean else 4
    floor = len(value) * noise**2
    squares = [
        float(((value - matrix[:, :k] @ np.linalg.lstsq(matrix[:, :k], value, rcond=None)[0]) ** 2).sum()) + floor
        for k in (3, own)
    ]
    independent = max(0.3 * len(value) - 3, 2.0)
    return max(independent / 2.0 * float(np.log(squares[0] / squares[1])) - 0.5 * (own - 3), 0.0)
