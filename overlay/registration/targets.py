"""Parts that can be looked for in a frame: what is drawn of each."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Mask, read_only
from overlay.board import anatomy
from overlay.board.model import Board, Component, Side

_TALLEST_MM = 2.0  # taller bodies show walls and rounded backs that are not drawn; tuned on foreign worlds


@dataclass(frozen=True, slots=True, eq=False)
class Targets:
    """Parts that can be looked for, n of them: what is drawn of each."""

    refdes: tuple[str, ...]
    center_mm: Array  # (n, 3), z of the top face
    axes: Array  # (n, 2, 2) unit vectors of the body's x and y on the board, as rows
    half_mm: Array  # (n, 2)
    round: Mask
    cap_mm: Array  # (n,) length of an end cap, 0 for none
    pad_mm: Array  # (n,) bare pad beyond it
    lead_mm: Array  # (n, 2) leads beyond the faces at ±x and ±y
    steady: Mask  # may steer: known height, not too tall

    def __post_init__(self) -> None:
        read_only(self)

    def __len__(self) -> int:
        return len(self.refdes)

    def only(self, which: Mask | NDArray[np.intp]) -> Targets:
        """Some of them."""
        names = tuple(np.array(self.refdes, dtype=object)[which])
        fields = ("center_mm", "axes", "half_mm", "round", "cap_mm", "pad_mm", "lead_mm", "steady")
        return replace(self, refdes=names, **{name: getattr(self, name)[which] for name in fields})

    def mapped(self, matrix: Array, about_mm: Array) -> Targets:
        """Turned or mirrored on the board by a (2, 2) matrix about a place."""
        center = self.center_mm.copy()
        center[:, :2] = (center[:, :2] - about_mm) @ matrix.T + about_mm
        return replace(self, center_mm=center, axes=self.axes @ matrix.T)


def targets_of(board: Board, side: Side) -> Targets:
    """The seen side's parts with a known body."""
    parts = [c for c in board.components if c.side == side and c.body is not None and not c.mechanical]
    return _targets(parts)


def hole_target(center_mm: tuple[float, float], radius_mm: float) -> Targets:
    """A round hole, looked for like a part on the surface."""
    return Targets(
        refdes=("",),
        center_mm=np.array([[*center_mm, 0.0]]),
        axes=np.eye(2)[None],
        half_mm=np.full((1, 2), radius_mm),
        round=np.array([True]),
        cap_mm=np.zeros(1),
        pad_mm=np.zeros(1),
        lead_mm=np.full((1, 2), min(1.0, radius_mm)),
        steady=np.array([True]),
    )


def _targets(parts: list[Component]) -> Targets:
    n = len(parts)
    half, cap, pad, lead = np.zeros((n, 2)), np.zeros(n), np.zeros(n), np.zeros((n, 2))
    center, turn, circle, steady = np.zeros((n, 3)), np.zeros(n), np.zeros(n, dtype=bool), np.zeros(n, dtype=bool)
    for i, part in enumerate(parts):
        body = part.body
        assert body is not None
        circle[i] = body.shape == "round"
        half[i] = body.length_mm / 2.0, (body.length_mm if circle[i] else body.width_mm) / 2.0
        center[i] = *part.center_mm, part.height_mm or 0.0
        turn[i] = 0.0 if circle[i] else math.radians(part.rotation_deg)
        steady[i] = part.height_mm is not None and part.height_mm <= _TALLEST_MM
        cap[i], lead[i] = anatomy.cap_mm(part), anatomy.leads_mm(part)
        pad[i] = anatomy.pad_mm(body.length_mm) if cap[i] else 0.0
    axes = np.stack([np.stack([np.cos(turn), np.sin(turn)], 1), np.stack([-np.sin(turn), np.cos(turn)], 1)], 1)
    return Targets(tuple(p.refdes for p in parts), center, axes.reshape(n, 2, 2), half, circle, cap, pad, lead, steady)
