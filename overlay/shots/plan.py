"""How many frames from where: a cover of the parts by shots, each as far away as its parts allow.

The first shot of a side holds the whole board, so that nothing that glows is missed. Parts that are too small in it
are then covered by nearer shots, greedily: the shot that serves most of the parts still open comes next (greedy set
cover is within ln n of the least number; Chvátal 1979, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from overlay.arrays import Mask
from overlay.board.model import Board
from overlay.frames.emissivity import SHINY_BELOW, emissivity_of
from overlay.shots.model import Preparation, Shortfall, Shot, ShotCamera, ShotPlan, Subject
from overlay.shots.places import next_place
from overlay.shots.shortfalls import shortfalls_of
from overlay.shots.side import NAMED_PX, BoardSide, Place, side_of

MARGIN_PX = 10.0
"""Pixels wanted of a part near its limit: what 10 × 10 pixels show is 0.97 of the rise (size-of-source, published)."""
_FARTHER = 1.25  # step by which parts without a usable frame are given one from farther away
_MOST_SHOTS = 60  # per side; a plan nobody would carry out helps nobody, and the rest is named


def subjects_of(board: Board, near_limit: frozenset[str] = frozenset()) -> tuple[Subject, ...]:
    """The rated parts of a board with a known body (all parts with one where none is rated)."""
    parts = board.parts
    rated = [part for part in parts if part.rating is not None and part.rating.limit_c is not None] or parts
    return tuple(
        Subject(
            component=part,
            short_mm=min(part.body.length_mm, part.body.width_mm),
            height_mm=part.height_mm or 0.0,
            wanted_px=MARGIN_PX if part.refdes in near_limit else NAMED_PX,
        )
        for part in rated
        if part.body is not None
    )


def plan_shots(board: Board, camera: ShotCamera, subjects: Sequence[Subject], *, overview: bool = True) -> ShotPlan:
    """Plan the shots that show each subject with the pixels it wants, or say what cannot be had.

    ``overview``: begin each side with a frame of the whole board.
    """
    shots: list[Shot] = []
    shortfalls: list[Shortfall] = []
    for side in ("top", "bottom"):
        seen = side_of(board, camera, side, subjects)
        if not seen.subjects:
            continue
        found = _shots(seen, overview)
        shots += [replace(shot, number=len(shots) + i) for i, shot in enumerate(found, start=1)]
        shortfalls += shortfalls_of(seen, found)
    shortfalls += [
        Shortfall(
            part.refdes, "no body", 0.0, NAMED_PX, None, f"name the size of package {part.package!r} in bodies.csv"
        )
        for part in board.components
        if part.body is None and not part.mechanical and part.rating is not None and part.rating.limit_c is not None
    ]
    plan = ShotPlan(camera, tuple(shots), tuple(shortfalls), preparations_of(subjects))
    return replace(plan, shots=tuple(replace(shot, serves=_best_in(plan, shot, subjects)) for shot in shots))


def _best_in(plan: ShotPlan, shot: Shot, subjects: Sequence[Subject]) -> tuple[str, ...]:
    names = (subject.component.refdes for subject in subjects)
    best = ((name, plan.best(name)) for name in names)
    return tuple(name for name, found in best if found is not None and found[0].number == shot.number)


def preparations_of(subjects: Sequence[Subject]) -> tuple[Preparation, ...]:
    """Parts whose surface mirrors the room, as far as the tables tell: they want paint, tape or a stated finish."""
    out = []
    for subject in subjects:
        emissivity = emissivity_of(subject.component)
        if emissivity.value < SHINY_BELOW:
            what = f"emissivity {emissivity.value:.2f} ({emissivity.source}): matt paint or tape, or state its finish"
            out.append(Preparation(subject.component.refdes, what))
    return tuple(out)


def _shots(side: BoardSide, overview: bool) -> list[Shot]:
    """The overview, then nearer shots until no subject is left that one could serve.

    Where no place both serves an open part and holds enough to click on, a somewhat farther one has to do.
    """
    found = [side.shot(side.overview)] if overview else []
    done = side.served(found)
    spent: set[Place] = set()
    slack = 1.0
    while len(found) < _MOST_SHOTS and not done.all():
        place = next_place(side, np.flatnonzero(~done), spent, slack)
        if place is None:
            slack *= _FARTHER
            if slack * side.camera.nearest_mm > side.overview.distance_mm:
                break
            continue
        spent.add(place)
        shot = side.shot(place)
        served = side.served([shot], slack)
        if (served & ~done).any():  # else what it was meant for is hidden from there: another place is tried
            found.append(shot)
            done |= served
    return _without_needless(found, [side.served([shot], slack) for shot in found], keep=1 if overview else 0)


def _without_needless(shots: list[Shot], served: list[Mask], keep: int) -> list[Shot]:
    """Shots whose parts others serve as well are left out, those that serve fewest first; the first ``keep`` stay."""
    order = sorted(range(keep, len(shots)), key=lambda i: (int(served[i].sum()), -i))
    kept = set(range(len(shots)))
    for index in order:
        others = kept - {index}
        if others and not (served[index] & ~np.any([served[i] for i in sorted(others)], axis=0)).any():
            kept = others
    return [shots[i] for i in sorted(kept)]
