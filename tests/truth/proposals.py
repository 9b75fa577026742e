"""Benchmark of registrations without clicks: ``python -m tests.truth.proposals [--seeds 1,2]`` from the root.

Right frames, as they are and turned by 90° and 180° without lens or distance told, must be found to half a pixel or
refused; wrong ones (another board's placement, a mirrored frame, a third of the parts moved) must be refused.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from overlay.board.model import Board, Side
from overlay.registration.model import UNTOLD, Lens
from overlay.registration.project import pixels_from_board
from overlay.registration.propose import propose_registration
from tests.truth.registration import KINDS, RIGHT_PX, surface
from tests.truth.views import Sight, sight

Truth = Callable[[np.ndarray], np.ndarray]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="1")
    parser.add_argument("--kinds", default=",".join(KINDS))
    words = parser.parse_args()
    right: list[float | None] = []
    accepted, wrong, seconds = 0, 0, []
    views = [sight(kind, int(seed)) for kind in words.kinds.split(",") for seed in words.seeds.split(",")]
    for number, view in enumerate(views):
        side: Side = "bottom" if view.pose.side == "bottom" else "top"
        told = Lens(view.hfov_deg, view.distance_m)
        for lens, frame, truth in _right(view, told):
            began = time.process_time()
            right.append(_error(frame, view.board, side, lens, truth))
            seconds.append(time.process_time() - began)
        other = views[(number + 1) % len(views)]
        offers = [(view.frame_c[:, ::-1], view.board), (view.frame_c, _moved(view.board, side, 0.3, number))]
        if other.board is not view.board:
            offers.append((view.frame_c, other.board))
        for frame, board in offers:
            wrong += 1
            accepted += _error(np.ascontiguousarray(frame), board, side, told, None) is not None
        print(f"{view.name}: {right[-3:]}", flush=True)
    errors = np.array([error for error in right if error is not None])
    print(
        f"right: {np.mean([e is not None and e < RIGHT_PX for e in right]):.0%} of {len(right)} under {RIGHT_PX} px, "
        f"{sum(e is None for e in right)} refused, worst {errors.max(initial=0.0):.2f} px; "
        f"wrong: {accepted} of {wrong} accepted; median {np.median(seconds):.1f} s of processor"
    )


def _right(view: Sight, told: Lens) -> list[tuple[Lens, np.ndarray, Truth]]:
    rows, cols = view.frame_c.shape

    def quarter(places: np.ndarray) -> np.ndarray:
        seen = view.pose.project(places)
        return np.column_stack([seen[:, 1], cols - 1 - seen[:, 0]])

    def half(places: np.ndarray) -> np.ndarray:
        return np.array([cols - 1, rows - 1]) - view.pose.project(places)

    return [
        (told, view.frame_c, view.pose.project),
        (UNTOLD, np.ascontiguousarray(np.rot90(view.frame_c)), quarter),
        (told, np.ascontiguousarray(np.rot90(view.frame_c, 2)), half),
    ]


def _error(frame_c: np.ndarray, board: Board, side: Side, lens: Lens, truth: Truth | None) -> float | None:
    """Rms error in px of what is proposed, 0 where no truth is known; None for a refusal."""
    proposal = propose_registration(frame_c, board, side, lens)
    if proposal.registration is None:
        return None
    if truth is None:
        return 0.0
    places = surface(board)
    apart = pixels_from_board(proposal.registration, places) - truth(places)
    return round(float(np.sqrt(np.mean((apart**2).sum(axis=1)))), 2)


def _moved(board: Board, side: Side, share: float, seed: int) -> Board:
    """Another revision: a share of the seen side's parts exchange their places."""
    random = np.random.default_rng(seed)
    own = [part for part in board.components if part.side == side and not part.mechanical]
    chosen = random.permutation(len(own))[: max(2, round(share * len(own)))]
    there = {own[a].refdes: own[b].center_mm for a, b in zip(chosen, np.roll(chosen, 1), strict=True)}
    parts = (replace(part, center_mm=there.get(part.refdes, part.center_mm)) for part in board.components)
    return replace(board, components=tuple(parts))


if __name__ == "__main__":
    main()
