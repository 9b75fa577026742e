"""The wrong point, and the swapped pair, are found and named."""

import numpy as np
import pytest

from overlay.registration.fit import fit_registration
from overlay.registration.model import Lens
from overlay.registration.project import pixels_from_board

SHAPE = (240, 320)
BOARD = np.array(
    [[8.0, 8, 0], [90, 6, 0], [92, 58, 0], [10, 56, 0], [48, 33, 0], [70, 45, 0], [30, 14, 0], [66, 20, 0]]
)
VIEW = {"eye_mm": (110.0, 10.0, 290.0), "up_deg": 8.0}
LENSES = pytest.mark.parametrize("hfov_deg", [None, 28.0])


def noisy(look, seed: int, count: int = 8) -> np.ndarray:
    return np.asarray(look(BOARD[:count], **VIEW) + np.random.default_rng(seed).normal(0.0, 0.4, (count, 2)))


def marked(found) -> list[str]:
    return [item.point.name for item in found.points if item.suspect]


@LENSES
def test_good_points_are_rarely_suspected(look, control, hfov_deg):
    suspected = 0
    for seed in range(10):
        points = control(BOARD, noisy(look, seed), 0.4)
        suspected += bool(marked(fit_registration(points, "top", SHAPE, Lens(hfov_deg))))
    assert suspected <= 1


@pytest.mark.parametrize(("wrong", "hfov_deg"), [(0, None), (4, 28.0), (7, None)])
def test_one_wrong_point_is_named_and_left_out(look, control, hfov_deg, wrong):
    uv = noisy(look, wrong)
    uv[wrong] += [9.0, -12.0]
    found = fit_registration(control(BOARD, uv), "top", SHAPE, Lens(hfov_deg))
    name = f"P{wrong + 1}"
    assert marked(found) == [name]
    assert found.points[wrong].left_out
    assert found.points[wrong].left_out_px == pytest.approx(15.0, abs=3.5)
    assert any(f"{name} disagrees with all other points: it is left out of the fit" in text for text in found.warnings)
    off = pixels_from_board(found, BOARD) - look(BOARD, **VIEW)
    assert np.sqrt((off**2).sum(axis=1).mean()) < 1.5


@LENSES
def test_a_point_a_little_off_is_named_but_kept(look, control, hfov_deg):
    uv = noisy(look, 5)
    uv[4] += [3.5, 0.0]
    found = fit_registration(control(BOARD, uv, 0.6), "top", SHAPE, Lens(hfov_deg))
    assert marked(found) == ["P5"]
    assert not found.points[4].left_out
    assert any("still in the fit" in text for text in found.warnings)


@pytest.mark.parametrize(("one", "other", "hfov_deg"), [(0, 2, None), (4, 5, 28.0), (6, 1, 28.0)])
def test_a_swapped_pair_is_named_as_such(look, control, hfov_deg, one, other):
    uv = noisy(look, one)
    uv[[one, other]] = uv[[other, one]]
    found = fit_registration(control(BOARD, uv), "top", SHAPE, Lens(hfov_deg))
    assert set(marked(found)) == {f"P{one + 1}", f"P{other + 1}"}
    assert found.points[one].remark == f"looks swapped with P{other + 1}"
    assert found.points[other].remark == f"looks swapped with P{one + 1}"
    off = pixels_from_board(found, BOARD) - look(BOARD, **VIEW)
    assert np.sqrt((off**2).sum(axis=1).mean()) < 3.0  # two corners fewer


def test_two_wrong_points_of_many_are_named(look, control):
    uv = noisy(look, 1)
    uv[1] += [14.0, 3.0]
    uv[6] += [-6.0, 20.0]
    found = fit_registration(control(BOARD, uv), "top", SHAPE, Lens(28.0))
    assert marked(found) == ["P2", "P7"]


def test_points_sloppier_than_stated_widen_the_uncertainty_and_accuse_nobody(look, control):
    uv = look(BOARD, **VIEW) + np.random.default_rng(8).normal(0.0, 2.5, (8, 2))
    found = fit_registration(control(BOARD, uv, 0.3), "top", SHAPE, Lens(28.0))
    assert not any(item.left_out for item in found.points)
    assert any("scatter" in text for text in found.warnings)
    exact = fit_registration(control(BOARD, look(BOARD, **VIEW), 0.3), "top", SHAPE, Lens(28.0))
    # the pose is what the points carry; the lens stays with its priors
    assert np.sqrt(found.covariance[3, 3] / exact.covariance[3, 3]) > 3.0
