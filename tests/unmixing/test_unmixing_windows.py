"""Windows, and rings drawn in pieces: how work is laid out changes nothing of what is drawn."""

from dataclasses import replace

import numpy as np
import pytest

from overlay.unmixing import edges as laid
from overlay.unmixing.draw import changes, draw, sweeps_of
from overlay.unmixing.edges import edges_of
from overlay.unmixing.rings import GROUPS
from overlay.unmixing.state import moves_of
from overlay.unmixing.task import outlines_of
from overlay.unmixing.windows import lots_of, still_fit
from tests.unmixing.test_derivatives import LOW, TALL, prepared

SIGMA_PX = 0.6


@pytest.fixture(scope="module")
def scene():
    task, state = prepared(LOW + TALL)
    outlines = outlines_of(task, state)
    shape = task.mixture.observed.shape
    return task, outlines, lots_of(task.mixture.bodies, outlines, SIGMA_PX, shape), shape


def drawn(scene) -> tuple[list[np.ndarray], list[np.ndarray]]:
    """Shares of each lot, and the sum of its changes over the windows of rings."""
    task, outlines, lots, _ = scene
    bodies = task.mixture.bodies
    edges = edges_of(bodies, outlines, SIGMA_PX, lots)
    sweeps = sweeps_of(bodies, outlines, edges, moves_of(bodies, task.mixture.layout, task.pose_factor))
    sums = []
    for lot, pieces in zip(lots, edges.pieces, strict=True):
        total = np.zeros((len(lot), sweeps.moves.shape[1] + 1, *lot.shape), dtype=np.float32)
        for piece, which, change in changes(sweeps, pieces, blur=True):
            piece.windows(total)[piece.which[:, None], which, *piece.corner[:, :, None]] += change
        sums.append(total)
    return [draw(edges, lot, pieces, bodies.walled) for lot, pieces in zip(lots, edges.pieces, strict=True)], sums


def test_each_body_has_one_window_that_holds_all_it_reaches(scene) -> None:
    task, outlines, lots, shape = scene
    bodies = task.mixture.bodies
    assert sorted(np.concatenate([lot.bodies for lot in lots])) == list(range(len(bodies)))
    for lot in lots:
        assert len(np.unique(bodies.knots[lot.bodies], axis=0)) == 1
        assert np.all(lot.corner >= 0)
        assert np.all(lot.corner + lot.shape <= shape)
        for body, (top, left) in zip(lot.bodies, lot.corner, strict=True):
            x, y = outlines.start[bodies.rings.body == body].T
            assert left + SIGMA_PX <= x.min()
            assert x.max() <= left + lot.shape[1] - 1 - SIGMA_PX
            assert top + SIGMA_PX <= y.min()
            assert y.max() <= top + lot.shape[0] - 1 - SIGMA_PX


def test_windows_are_kept_until_a_body_leaves_its_own(scene) -> None:
    task, outlines, lots, shape = scene
    for aside_px, fits in ((0.0, True), (0.3, True), (4.0, False)):
        moved = replace(outlines, start=outlines.start + aside_px)
        assert still_fit(lots, task.mixture.bodies, moved, SIGMA_PX, shape) == fits


def test_edges_between_two_rings_of_a_kind_draw_nothing(scene, monkeypatch: pytest.MonkeyPatch) -> None:
    task, outlines, _, _ = scene
    rings = task.mixture.bodies.rings
    assert laid._shared(outlines, rings.body * GROUPS + rings.group).sum() >= 6  # of three chips' ends and walls
    fewer = drawn(scene)
    monkeypatch.setattr(laid, "_shared", lambda outlines, owner: np.zeros(len(owner), dtype=bool))
    for one, other in zip(drawn(scene), fewer, strict=True):
        assert all(a == pytest.approx(b, abs=2e-5) for a, b in zip(one, other, strict=True))


def test_pieces_of_one_body_each_draw_the_same(scene, monkeypatch: pytest.MonkeyPatch) -> None:
    together = drawn(scene)
    monkeypatch.setattr(laid, "_MOST_WORK", 1)
    for one, other in zip(drawn(scene), together, strict=True):
        assert all(a == pytest.approx(b, abs=1e-3) for a, b in zip(one, other, strict=True))  # a ring's kernels end
