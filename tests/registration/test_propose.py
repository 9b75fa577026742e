"""The board found in a frame without clicks, on the demonstration board's own frames and on what they are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from overlay.board.model import Board
from overlay.job.analysis import Analysis
from overlay.registration.model import UNTOLD, Lens, Registration
from overlay.registration.project import pixels_from_board
from overlay.registration.propose import propose_registration
from overlay.registration.straight_down import straight_down
from tests.truth import proposals as revisions

LENS = Lens(25.0, 0.27)


def surface(board: Board) -> np.ndarray:
    west, south, east, north = board.outline.polygon.bounds
    x, y = np.meshgrid(np.linspace(west, east, 9), np.linspace(south, north, 7))
    return np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])


def apart_px(found: Registration, truth_px: np.ndarray, board: Board) -> float:
    return float(np.sqrt(np.mean(((pixels_from_board(found, surface(board)) - truth_px) ** 2).sum(axis=1))))


def test_the_board_is_found_and_a_part_away_from_the_middle_is_asked_for(demo: Analysis) -> None:
    capture = demo.capture("full load, bottom")
    proposal = propose_registration(capture.view.apparent_c, demo.job.board, capture.settings.side, LENS)
    assert proposal.registration is not None, proposal.reason
    truth = pixels_from_board(capture.registration, surface(demo.job.board))
    assert apart_px(proposal.registration, truth, demo.job.board) < 0.5
    place = dict(proposal.points)
    assert len(place) >= 6
    asked = demo.job.board.component(proposal.ask)
    at = pixels_from_board(capture.registration, np.array([[*asked.center_mm, asked.height_mm or 0.0]]))[0]
    assert proposal.confirmed_by(demo.job.board, (at[0] + 1.0, at[1] - 1.0))
    assert not proposal.confirmed_by(demo.job.board, (at[0] + 4.0, at[1]))


def test_a_board_that_lies_turned_is_found_without_being_told_lens_or_distance(demo: Analysis) -> None:
    capture = demo.capture("full load")
    turned = np.rot90(capture.view.apparent_c)
    seen = pixels_from_board(capture.registration, surface(demo.job.board))
    seen = np.column_stack([seen[:, 1], capture.view.apparent_c.shape[1] - 1 - seen[:, 0]])
    proposal = propose_registration(np.ascontiguousarray(turned), demo.job.board, "top", UNTOLD)
    assert proposal.registration is not None, proposal.reason
    assert apart_px(proposal.registration, seen, demo.job.board) < 0.7


def test_a_mirrored_frame_and_an_even_one_are_refused(demo: Analysis) -> None:
    capture, board = demo.capture("full load"), demo.job.board
    frame_c = capture.view.apparent_c
    proposal = propose_registration(np.ascontiguousarray(frame_c[:, ::-1]), board, "top", LENS)
    assert proposal.registration is None
    assert proposal.reason
    assert proposal.remedy
    even = 25.0 + np.random.default_rng(3).normal(0.0, 0.05, frame_c.shape)
    assert "even" in propose_registration(even, board, "top", LENS).reason


@pytest.mark.parametrize("name", ["shifted", "exchanged"])
def test_a_revision_with_three_tenths_of_its_parts_changed_is_refused(demo: Analysis, name: str) -> None:
    other = getattr(revisions, name)(demo.job.board, "top", np.random.default_rng(11))
    proposal = propose_registration(demo.capture("full load").view.apparent_c, other, "top", LENS)
    assert proposal.registration is None
    assert "another revision" in proposal.reason
    assert "revision" in proposal.remedy


def test_two_equal_boards_in_one_frame_are_refused(demo: Analysis) -> None:
    frame_c = demo.capture("full load").view.apparent_c
    both = Lens(2.0 * np.degrees(np.arctan(2.0 * np.tan(np.radians(LENS.hfov_deg or 0.0) / 2.0))), LENS.distance_m)
    proposal = propose_registration(np.hstack([frame_c, frame_c]), demo.job.board, "top", both)
    assert proposal.registration is None
    assert "two ways" in proposal.reason


def test_a_clamp_over_the_edge_is_no_reason_to_refuse(demo: Analysis) -> None:
    capture = demo.capture("full load")
    edge = pixels_from_board(capture.registration, np.array([[40.0, 1.0, 0.0]]))[0]
    frame_c = capture.view.apparent_c.copy()
    u, v = np.rint(edge).astype(int)
    frame_c[v - 9 : v + 14, u - 8 : u + 8] = 26.0
    proposal = propose_registration(frame_c, demo.job.board, "top", LENS)
    assert proposal.registration is not None, proposal.reason


def test_a_board_without_bodies_says_what_is_missing(demo: Analysis) -> None:
    bare = replace(demo.job.board, components=tuple(replace(p, body=None) for p in demo.job.board.components))
    proposal = propose_registration(demo.capture("full load").view.apparent_c, bare, "top", LENS)
    assert "no body" in proposal.reason
    assert "bodies.csv" in proposal.remedy


def test_straight_down_puts_its_aim_where_it_is_told() -> None:
    seen = straight_down("top", (120, 160), 300.0, (31.0, 17.0), 150.0, 20.0, (40.0, 50.0))
    place = pixels_from_board(seen, np.array([[31.0, 17.0, 0.0], [32.0, 17.0, 0.0]]))
    assert np.allclose(place[0], [40.0, 50.0])
    step = place[1] - place[0]
    assert np.allclose(step, 2.0 * np.array([np.cos(np.radians(20.0)), np.sin(np.radians(20.0))]))
