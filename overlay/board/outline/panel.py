"""An outline of one board of a panel, brought to the boards that were read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Component, Outline, PanelBoard

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

_ENCLOSED = 0.9  # of a board's parts within an outline: it is that board's, connectors may overhang


def stepped(
    outline: Outline, boards: Sequence[PanelBoard], chosen: int | Literal["all"], components: Sequence[Component]
) -> Outline:
    """The outline of the boards that were read.

    Parameters
    ----------
    outline
        Of the whole panel, or of one board of it, wherever that lies.
    boards, chosen
        How the panel's boards lie to the first, and which was read, counting from 1.
    components
        Those of the boards that were read, in the order of the boards for ``"all"``.

    Returns
    -------
    The outline as it is where it encloses all boards or none; else moved to the board chosen, or to each of them.
    """
    import shapely

    parts = [part for part in components if chosen != "all" or part.refdes.endswith("@1")]
    if not parts or len(boards) < 2:
        return outline
    at = 0 if chosen == "all" else chosen - 1
    centers = np.array([part.placed_mm or part.center_mm for part in parts])
    first = _moved(centers, _inverse(_matrix(boards[at])))
    area = outline.polygon
    shares = []
    for board in boards:
        x, y = _moved(first, _matrix(board)).T
        shares.append(float(np.mean(shapely.contains_xy(area, x, y))))
    enclosed = [index for index, share in enumerate(shares) if share >= _ENCLOSED]
    if len(enclosed) != 1:
        return outline
    home = _inverse(_matrix(boards[enclosed[0]]))
    wanted = boards if chosen == "all" else [boards[at]]
    areas = [_transformed(area, _matrix(board) @ home) for board in wanted]
    whole = areas[0] if len(areas) == 1 else shapely.union_all(areas)
    return replace(outline, polygon=whole, source=f"{outline.source}, one board of the panel")


def _matrix(board: PanelBoard) -> Array:
    turn = np.radians(board.turn_deg)
    cos, sin = np.cos(turn), np.sin(turn)
    matrix: Array = np.array([[cos, -sin, board.shift_mm[0]], [sin, cos, board.shift_mm[1]], [0.0, 0.0, 1.0]])
    return matrix


def _inverse(matrix: Array) -> Array:
    return np.asarray(np.linalg.inv(matrix), dtype=float)


def _moved(xy_mm: Array, matrix: Array) -> Array:
    moved: Array = xy_mm @ matrix[:2, :2].T + matrix[:2, 2]
    return moved


def _transformed(area: Polygon | MultiPolygon, matrix: Array) -> Polygon | MultiPolygon:
    from shapely.affinity import affine_transform

    (a, b, x), (c, d, y) = matrix[:2]
    return affine_transform(area, [a, b, c, d, x, y])
