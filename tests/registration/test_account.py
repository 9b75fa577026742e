"""What a frame shows held against what a placement lists, on frames drawn by other means."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from overlay.board.model import Board
from overlay.registration.account import FEWEST_SHOWN, MOST_DOUBTED, Account, account_of
from overlay.registration.fit import fit_registration
from overlay.registration.model import Lens
from overlay.registration.refine_frame import ready_frame
from overlay.registration.refine_search import search_space
from tests.registration.frame_world import DISTANCE_MM, HFOV_DEG, SHAPE_PX, Pictured, board_of_parts, picture
from tests.registration.frame_world import scattered as scattered_parts

TOLD = Lens(HFOV_DEG, DISTANCE_MM / 1000)


@pytest.fixture(scope="module")
def shown() -> Pictured:
    return picture(board_of_parts(scattered_parts(3)))


def account(shown: Pictured, board: Board, hidden: frozenset[str] = frozenset()) -> Account:
    """Of a board at the pose that is true for the pictured one."""
    points = shown.clicks(("R1", "R2", "R9", "R15", "R21", "R30"), 0.0)
    start = fit_registration(points, "top", SHAPE_PX, TOLD)
    space, pose = search_space(start, ready_frame(shown.frame_c), board, TOLD)
    return account_of(space, pose, board, hidden)


def test_the_pictured_board_is_accounted_for(shown: Pictured) -> None:
    found = account(shown, shown.board)
    assert found.reason == ""
    assert len(found.shown) > 0.8 * found.listed
    assert not found.unlisted_px


def test_parts_that_the_file_lost_are_found_where_they_are(shown: Pictured) -> None:
    gone = ("R5", "R8", "R12", "R16", "R20", "R33")
    kept = tuple(part for part in shown.board.components if part.refdes not in gone)
    found = account(shown, replace(shown.board, components=kept))
    places = shown.see(np.array([[*shown.board.component(name).center_mm, 0.0] for name in gone]))
    near = [int(np.argmin(np.hypot(*(places - at).T))) for at in np.array(found.unlisted_px)]
    assert len(set(near)) >= 2  # the others are fainter than a third of the parts
    for at, index in zip(found.unlisted_px, near, strict=True):
        assert np.hypot(*(places[index] - at)) < 6.0


def test_parts_told_a_quarter_turn_off_are_named(shown: Pictured) -> None:
    wrong = {part.refdes for part in shown.board.components if part.body and part.body.length_mm < 3.5}
    parts = tuple(
        replace(part, rotation_deg=part.rotation_deg + 90.0) if part.refdes in wrong else part
        for part in shown.board.components
    )
    found = account(shown, replace(shown.board, components=parts))
    assert set(found.elsewhere) <= wrong
    assert len(found.elsewhere) > 0.25 * len(wrong)
    assert "another revision" in found.reason


def test_nothing_is_expected_of_parts_that_taller_ones_hide(shown: Pictured) -> None:
    covered = shown.frame_c.copy()
    gone = [part for part in shown.board.components if part.body and part.body.length_mm == 2.0][:4]
    for part in gone:
        u, v = np.rint(shown.see(np.array([[*part.center_mm, 0.0]]))[0]).astype(int)
        covered[v - 6 : v + 7, u - 6 : u + 7] = np.median(shown.frame_c[v - 8 : v + 9, u - 8 : u + 9])
    names = frozenset(part.refdes for part in gone)
    seen = account(replace(shown, frame_c=covered), shown.board)
    told = account(replace(shown, frame_c=covered), shown.board, names)
    assert told.listed == seen.listed - len(names)
    assert not names & {*told.shown, *told.elsewhere, *told.missing}


def test_a_share_of_doubts_and_a_share_of_parts_decide() -> None:
    names = tuple(f"R{k}" for k in range(40))
    right = Account(listed=40, shown=names[:36], elsewhere=(), missing=names[36:], unlisted_px=())
    assert right.doubted == pytest.approx(0.1)
    assert right.reason == ""
    wrong = replace(right, unlisted_px=((1.0, 2.0), (3.0, 4.0)))
    assert wrong.doubted > MOST_DOUBTED
    assert "4 do not show though their like do (R36, R37, R38, R39)" in wrong.reason
    assert "2 things stand out where no file lists any" in wrong.reason
    assert replace(right, shown=names[:6], missing=(), elsewhere=names[6:7]).doubted == 0.0  # one part alone
    few = replace(right, listed=200, missing=())
    assert len(few.shown) < FEWEST_SHOWN * few.listed
    assert "too few to tell" in few.reason
