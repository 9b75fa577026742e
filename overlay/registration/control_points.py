"""Control points: pixels of the frame and the places of the board that are seen there."""

from __future__ import annotations

import difflib
from pathlib import Path

from overlay.board.model import Board, Component, Side
from overlay.errors import Problem, input_error, raise_errors
from overlay.registration.model import ControlPoint
from overlay.tables import Row, read_bytes, read_table

COLUMNS = ("pixel_x", "pixel_y", "at", "board_x_mm", "board_y_mm", "z_mm", "pixel_u", "clicked_x", "clicked_y")
DEFAULT_PIXEL_U = 0.5
"""Standard uncertainty of a hand-picked pixel where the file gives none, in px (common practice)."""
HIGHEST_MM = 200.0  # no board carries anything taller; more is a slip of the unit
PROPOSED_MARK = "proposed by the frame, not confirmed by anybody"
"""Begins the file of points that nobody has confirmed: it is never read as control points."""

MOST_POINTS = 1000  # each is left out in turn to be judged


def read_control_points(path: Path, file: str, board: Board, side: Side) -> tuple[ControlPoint, ...]:
    """Read a table of control points.

    Each row has ``pixel_x``, ``pixel_y`` and then either ``at`` (a refdes: the centre of its body's top face,
    at that face's height) or ``board_x_mm``, ``board_y_mm`` (the board's surface). ``z_mm`` gives another
    height; ``pixel_u`` the standard uncertainty of the pixel (default 0.5 px). ``clicked_x``, ``clicked_y`` only
    remember where a hand put a point that has been moved to the frame's contrast since.

    Raises
    ------
    InputError
        With every row that cannot be used. Whether a pixel lies in the frame is for `fit_registration` to say.
    """
    if read_bytes(path, file).lstrip(b"\xef\xbb\xbf# ").startswith(PROPOSED_MARK.encode()):
        remedy = "confirm them with `board-overlay register JOB --confirm X Y`, or in the workbench"
        raise input_error(file, 1, "holds points that the frame proposed and nobody has confirmed", remedy)
    table = read_table(path, file, COLUMNS, required=("pixel_x", "pixel_y"))
    if len(table.rows) > MOST_POINTS:
        what = f"holds {len(table.rows)} points, more than {MOST_POINTS}"
        raise input_error(file, None, what, "keep some twenty: more tie the frame no better")
    components: dict[str, list[Component]] = {}
    for component in board.components:
        components.setdefault(component.refdes, []).append(component)
    problems: list[Problem] = []
    points = []
    for row in table.rows:
        point = _point(row, components, side, problems)
        if point is not None:
            points.append(point)
    problems += _repeated(file, points)
    raise_errors(problems)
    return tuple(points)


def _point(
    row: Row, components: dict[str, list[Component]], side: Side, problems: list[Problem]
) -> ControlPoint | None:
    before = len(problems)
    pixel_x = row.number("pixel_x", problems, required=True)
    pixel_y = row.number("pixel_y", problems, required=True)
    z_mm = row.number("z_mm", problems, low=-HIGHEST_MM, high=HIGHEST_MM)
    pixel_u = row.number("pixel_u", problems, low=1e-3, high=1e3)
    clicked_x, clicked_y = row.number("clicked_x", problems), row.number("clicked_y", problems)
    at = row.text("at")
    x_text, y_text = row.text("board_x_mm"), row.text("board_y_mm")
    place: tuple[float, float] | None = None
    height_known = True
    if at and (x_text or y_text):
        remedy = "keep one of the two: the refdes, or the coordinates"
        problems.append(row.problem("at", "stands beside board coordinates", remedy))
    elif at:
        component = _component(row, at, components, side, problems)
        if component is not None:
            place = component.center_mm
            if z_mm is None:
                z_mm, height_known = height_at(component)
    elif x_text or y_text:
        x_mm = row.number("board_x_mm", problems, required=True)
        y_mm = row.number("board_y_mm", problems, required=True)
        place = None if x_mm is None or y_mm is None else (x_mm, y_mm)
    else:
        remedy = "write a refdes in 'at', or board_x_mm and board_y_mm"
        problems.append(row.problem("at", "is empty, and so are the board coordinates", remedy))
    if len(problems) > before or place is None or pixel_x is None or pixel_y is None:
        return None
    return ControlPoint(
        pixel=(pixel_x, pixel_y),
        board_mm=place,
        z_mm=0.0 if z_mm is None else z_mm,
        pixel_u=DEFAULT_PIXEL_U if pixel_u is None else pixel_u,
        at=at or None,
        line=row.line,
        height_known=height_known,
        clicked_px=None if clicked_x is None or clicked_y is None else (clicked_x, clicked_y),
    )


def height_at(component: Component) -> tuple[float, bool]:
    """Height in mm at which a point given by refdes lies, and whether it is known (0 stands for an unknown one)."""
    # a fiducial or a hole without a body lies in the surface itself
    flat = component.mechanical and component.body is None
    return component.height_mm or 0.0, flat or component.height_mm is not None


def _component(
    row: Row, at: str, components: dict[str, list[Component]], side: Side, problems: list[Problem]
) -> Component | None:
    found = components.get(at, [])
    seen = [component for component in found if component.side == side]
    if len(seen) == 1:
        return seen[0]
    if len(seen) > 1:
        remedy = "give board_x_mm and board_y_mm instead"
        problems.append(row.problem("at", f"is placed {len(seen)} times on this side", remedy))
    elif found:
        remedy = f"name a part of the {side} side, or correct the capture's side"
        problems.append(
            row.problem("at", f"is a part of the {found[0].side} side, the capture shows the {side}", remedy)
        )
    else:
        near = difflib.get_close_matches(at.upper(), [name.upper() for name in components], 1, cutoff=0.5)
        names = [name for name in components if near and name.upper() == near[0]]
        remedy = f"the nearest known refdes is {names[0]!r}" if names else "name a part of the placement file"
        problems.append(row.problem("at", "is no known refdes", remedy))
    return None


def _repeated(file: str, points: list[ControlPoint]) -> list[Problem]:
    """Errors for points that stand at one pixel or at one place twice."""
    problems = []
    for index, point in enumerate(points):
        for earlier in points[:index]:
            name = point.at or "this place"
            if point.board_mm == earlier.board_mm and point.z_mm == earlier.z_mm:
                what = f"{name} is a control point already in line {earlier.line}"
            elif point.pixel == earlier.pixel:
                what = f"pixel {point.pixel} is given already in line {earlier.line} for another place"
            else:
                continue
            problems.append(Problem("error", file, point.line, what, "keep the better one of the two"))
            break
    return problems
