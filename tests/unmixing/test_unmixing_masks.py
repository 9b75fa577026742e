import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from overlay.frames.optics import fill_fraction
from overlay.unmixing.masks import Placed, changed, edge_nodes, kernels, located, shares
from overlay.view.regions import pixel_weights_of

SHAPE = (24, 30)


def box(x: float, y: float, length: float, width: float, turn: float = 0.0) -> np.ndarray:
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [length / 2, width / 2]
    c, s = np.cos(turn), np.sin(turn)
    return corners @ np.array([[c, s], [-s, c]]) + [x, y]


def drawn(corners: np.ndarray, sigma: float):
    nodes = edge_nodes(corners, np.roll(corners, -1, axis=0), sigma)
    made = kernels(sigma, max(SHAPE))
    pixel, row, rest = located(made, np.stack([nodes.x, nodes.y])[:, None])
    return nodes, made, Placed(row + made.middle - pixel, rest[..., None], SHAPE)


def coverage(corners: np.ndarray, sigma: float) -> np.ndarray:
    nodes, made, places = drawn(corners, sigma)
    return shares(made, places, nodes.dy[None])[0]


@pytest.mark.parametrize("sigma", [0.35, 0.5, 0.8])
@pytest.mark.parametrize("size", [(0.6, 0.3), (2.3, 1.1), (12.0, 7.0)])
def test_an_upright_box_has_the_closed_form_of_its_fill(sigma: float, size: tuple[float, float]) -> None:
    x, y = np.meshgrid(np.arange(SHAPE[1]), np.arange(SHAPE[0]))
    expected = fill_fraction(*size, x - 14.3, y - 11.8, sigma)
    assert coverage(box(14.3, 11.8, *size), sigma) == pytest.approx(expected, abs=5e-4)


@given(turn=st.floats(0, 3.1), length=st.floats(0.4, 9), width=st.floats(0.4, 6), sigma=st.floats(0.3, 0.9))
def test_shares_sum_to_the_area_however_it_is_turned(turn: float, length: float, width: float, sigma: float) -> None:
    share = coverage(box(14.5, 11.5, length, width, turn), sigma)
    assert share.sum() == pytest.approx(length * width, rel=2e-3)
    assert share.min() > -3e-3
    assert share.max() < 1.0 + 3e-3


def test_a_turned_box_is_its_exact_overlap_blurred_on_a_finer_grid() -> None:
    corners, fine, sigma = box(14.4, 11.7, 6.3, 2.2, 0.5), 8, 0.5
    fine_px = (SHAPE[0] * fine, SHAPE[1] * fine)
    share = pixel_weights_of([shapely.Polygon((corners + 0.5) * fine - 0.5)], fine_px)[0]
    dense = np.zeros((SHAPE[0] * fine, SHAPE[1] * fine))
    dense[share.rows, share.cols] = share.weight
    from scipy.ndimage import gaussian_filter

    expected = gaussian_filter(dense, sigma * fine).reshape(SHAPE[0], fine, SHAPE[1], fine).mean(axis=(1, 3))
    assert coverage(corners, sigma) == pytest.approx(expected, abs=2e-3)


def test_changes_are_the_differences_of_two_drawings() -> None:
    corners, sigma, step = box(14.4, 11.7, 3.1, 1.4, 0.4), 0.5, 1e-4
    nodes, made, places = drawn(corners, sigma)
    flux = np.stack([nodes.dy, -nodes.dx])[None].astype(np.float32)
    run = nodes.dx[None].astype(np.float32), nodes.dy[None].astype(np.float32)
    *by_shift, by_blur = changed(made, places, flux, run)[0]
    for axis in (0, 1):
        aside = np.eye(2)[axis] * step
        expected = (coverage(corners + aside, sigma) - coverage(corners - aside, sigma)) / (2 * step)
        assert by_shift[axis] == pytest.approx(expected, abs=2e-3)
    expected = (coverage(corners, sigma + step) - coverage(corners, sigma - step)) / (2 * step)
    assert by_blur == pytest.approx(expected, abs=2e-3)
