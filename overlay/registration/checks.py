"""What control points must fulfil before and after a fit, and the reasons for refusing them."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Side
from overlay.errors import Problem
from overlay.registration.camera import Pinhole
from overlay.registration.least_squares import Fit, Sightings
from overlay.registration.model import ControlPoint
from overlay.registration.planar import Planar

_SLENDER = 0.02  # width over length of a set of points that passes for a line
_APART_PX = 1.0  # nearer clicks mean one place
_APART_MM = 0.01  # nearer places are one, written twice
_MOST_TRIPLES_OF = 25  # 2,300 triples: enough to tell a mirror, and quick
PLAINLY_MIRRORED = 0.95
"""Share of triples that run round the wrong way which no single wrong point or swap explains."""


def point_problems(
    points: Sequence[ControlPoint], side: Side, shape_px: tuple[int, int], file: str, *, flat: bool
) -> list[Problem]:
    """Everything about the points themselves that rules out a fit; ``flat``: no camera model helps out."""
    problems = _single_problems(points, shape_px, file)
    if problems:
        return problems
    if len(points) < 2:
        what = f"2 control points are needed at least, {len(points)} given"
        remedy = "add points: 4 or more, spread over the whole board, show tilt and perspective as well"
        return [Problem("error", file, None, what, remedy)]
    problems = _coincident(points, file)
    if problems or len(points) < 3:
        return problems
    problems = _on_a_line(points, file, flat)
    if problems or mirrored_share(points, side) < (0.5 if len(points) == 3 else PLAINLY_MIRRORED):
        return problems
    return [mirrored_problem(side, file)]


def _single_problems(points: Sequence[ControlPoint], shape_px: tuple[int, int], file: str) -> list[Problem]:
    rows, cols = shape_px
    problems = []
    for point in points:
        x, y = point.pixel
        numbers = (*point.pixel, *point.board_mm, point.z_mm, point.pixel_u)
        if not np.isfinite(numbers).all() or point.pixel_u <= 0 or max(map(abs, numbers)) > 1e6:
            what = f"control point {point.name} holds a number that cannot be meant"
            problems.append(Problem("error", file, point.line, what, "correct that row"))
        elif not (-0.5 <= x <= cols - 0.5 and -0.5 <= y <= rows - 0.5):
            what = f"pixel ({x:g}, {y:g}) of {point.name} lies outside the frame of {cols} × {rows} pixels"
            remedy = "x counts columns and y rows, (0, 0) is the centre of the top-left pixel; correct the pixel"
            problems.append(Problem("error", file, point.line, what, remedy))
    return problems


def _coincident(points: Sequence[ControlPoint], file: str) -> list[Problem]:
    problems = []
    for one, other in itertools.combinations(points, 2):
        near_px = np.hypot(*np.subtract(one.pixel, other.pixel)) < _APART_PX
        near_mm = np.hypot(*np.subtract(one.board_mm, other.board_mm)) < _APART_MM
        near_mm &= one.z_mm == other.z_mm or len(points) == 2  # foot and top of a post are two places among others
        if near_px or near_mm:
            where = "at the same pixel" if near_px else "at the same place of the board"
            what = f"{one.name} (line {one.line}) and {other.name} lie {where}"
            problems.append(Problem("error", file, other.line, what, "keep one of them, or correct the other"))
    return problems


def _on_a_line(points: Sequence[ControlPoint], file: str, flat: bool) -> list[Problem]:
    xy_mm = np.array([point.board_mm for point in points])
    uv_px = np.array([point.pixel for point in points])
    u_px = float(np.median([point.pixel_u for point in points]))
    length_mm, width_mm = _extent(xy_mm)
    length_px, width_px = _extent(uv_px)
    names = ", ".join(point.name for point in points)
    slack_mm = 2.0 * u_px * length_mm / length_px
    if width_mm <= max(_SLENDER * length_mm, slack_mm):
        what = f"{names} lie on one line (within {max(width_mm, 0.05):.1f} mm)"
        return [Problem("error", file, None, what, "add a point well off that line")]
    if width_px <= max(_SLENDER * length_px, 2.0 * u_px):
        what = f"the pixels of {names} lie on one line (within {max(width_px, 0.1):.1f} px), their places do not"
        return [Problem("error", file, None, what, "check which pixel belongs to which place")]
    if flat and len(points) >= 4:
        for index, point in enumerate(points):
            rest_length, rest_width = _extent(np.delete(xy_mm, index, axis=0))
            if rest_width <= max(_SLENDER * rest_length, slack_mm) / 2.0:
                what = f"all control points but {point.name} lie on one line (within {max(rest_width, 0.05):.1f} mm)"
                remedy = "add a second point off that line, or state hfov_deg of the camera"
                return [Problem("error", file, None, what, remedy)]
    return []


def _extent(points: Array) -> tuple[float, float]:
    """Length along the best line through the points, and the width across it."""
    centred = points - points.mean(axis=0)
    along = centred @ np.linalg.svd(centred, full_matrices=False)[2].T
    length, width = np.ptp(along, axis=0)
    return float(length), float(width)


def mirrored_share(points: Sequence[ControlPoint], side: Side) -> float:
    """Share of all triples of points, by size, that run round the wrong way for the side: 1 in a mirrored view.

    A point that is wrong, or two that are swapped, spoil some triples; only a mirrored view turns all.
    """
    chosen = points[:: max(1, len(points) // _MOST_TRIPLES_OF)]
    xy_mm = np.array([point.board_mm for point in chosen])
    uv_px = np.array([point.pixel for point in chosen])
    triples = np.array(list(itertools.combinations(range(len(chosen)), 3)))
    # y points up on the board and down in the frame: the top side turns every triple round
    agreement = _turn(xy_mm, triples) * _turn(uv_px, triples) * (1.0 if side == "bottom" else -1.0)
    weight = np.sqrt(np.abs(agreement))
    return float(weight[agreement < 0].sum() / max(float(weight.sum()), 1e-300))


def mirrored_problem(side: Side, file: str) -> Problem:
    """The error that the points contradict the side."""
    other = "bottom" if side == "top" else "top"
    what = (
        f'the points say that the board is seen mirrored: they run round as on its {other}, the side given is "{side}"'
    )
    remedy = (
        f'set side = "{other}" if that is what the frame shows; else the frame is flipped, or pixel_y counts upwards '
        "(it counts downwards from the top row), or places are mixed up"
    )
    return Problem("error", file, None, what, remedy)


def _turn(points: Array, triples: Array) -> Array:
    a, b, c = (points[triples[:, index]] for index in range(3))
    return np.asarray((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0]))


def view_problems(fit: Fit, seen: Sightings, file: str, hint: str) -> list[Problem]:
    """Errors for a fit that no view of a board can be: its horizon in the frame, or points behind the camera."""
    projection: Planar | Pinhole = fit.projection
    rows, cols = projection.shape_px
    corners = np.array([(x, y) for x in (-0.5, cols - 0.5) for y in (-0.5, rows - 0.5)])
    places = np.vstack([seen.xyz_mm, [[*projection.center_mm, 0.0]]])
    if not np.isfinite(projection.pixels(fit.parameters, places)).all():
        what = "the fit puts some of the points beyond the horizon or behind the camera, where nothing is seen"
    elif not np.isfinite(projection.board(fit.parameters, corners, np.zeros(4))).all():
        what = "the fit puts the horizon of the board's surface inside the frame, which no picture of a board shows"
    else:
        return []
    remedy = (
        hint or "one of the points is wrong, or they lie too close together: check them, spread them over the board"
    )
    return [Problem("error", file, None, what, remedy)]
