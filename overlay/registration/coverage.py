"""How far the control points reach over a board."""

from __future__ import annotations

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Board
from overlay.registration.model import Registration
from overlay.registration.project import pixel_covariance, pixels_from_board

CROWDED = 0.25
"""Share of the board inside the hull of the control points below which the rest is said to be extrapolated."""
UNCERTAIN_PX = 2.0  # more moves a part of usual size onto its neighbour


def coverage_warnings(registration: Registration, board: Board) -> tuple[str, ...]:
    """Sentences on how much of the seen board lies outside the hull of the control points, and how uncertain it is."""
    import shapely

    outline = board.outline.polygon
    used = [item.point.board_mm for item in registration.points if not item.left_out]
    if outline.is_empty or outline.area <= 0:
        return ()
    inside = shapely.MultiPoint(used).convex_hull.intersection(shapely.make_valid(outline)).area / outline.area
    corner, u_px = worst_corner(registration, board)
    if corner is None:
        return ()
    place = f"at ({corner[0]:.0f}, {corner[1]:.0f}) mm by {u_px:.1f} px"
    if inside < CROWDED and len(used) > 2:
        return (
            f"the control points enclose only {inside:.0%} of the board; elsewhere the fit extrapolates, and is "
            f"uncertain {place}: add points towards the far corners",
        )
    if u_px > UNCERTAIN_PX:
        return (f"away from the control points the registration is uncertain, {place}: add a point there",)
    return ()


def worst_corner(registration: Registration, board: Board) -> tuple[Array | None, float]:
    """The seen corner of the board's hull whose place is the least certain, and its standard uncertainty in px."""
    import shapely

    corners = shapely.get_coordinates(board.outline.polygon.convex_hull)
    xyz_mm = np.column_stack([corners, np.zeros(len(corners))])
    uv_px = pixels_from_board(registration, xyz_mm)
    rows, cols = registration.shape_px
    inside = (uv_px > -0.5).all(axis=1) & (uv_px[:, 0] < cols - 0.5) & (uv_px[:, 1] < rows - 0.5)
    if not inside.any():
        return None, 0.0
    u_px = np.sqrt(np.trace(pixel_covariance(registration, xyz_mm[inside]), axis1=1, axis2=2) / 2.0)
    worst = int(np.argmax(u_px))
    return corners[inside][worst], float(u_px[worst])
