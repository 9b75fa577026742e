"""Control points as the text of their file."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from overlay.board.model import Board, Side
from overlay.registration.control_points import COLUMNS, DEFAULT_PIXEL_U
from overlay.registration.model import ControlPoint
from overlay.workbench.point_history import part_target

_ALWAYS = ("pixel_x", "pixel_y", "at", "board_x_mm", "board_y_mm")


def points_csv(points: Iterable[ControlPoint], board: Board, side: Side, former: str = "") -> str:
    """A table of control points; comments at the head of the ``former`` text stay.

    Only columns that say something are written: heights where they are not the part's own, uncertainties where
    they are not the default, clicked places where the frame has moved a point since.
    """
    rows = [_cells(point, board, side) for point in points]
    columns = [name for name in COLUMNS if name in _ALWAYS or any(row[name] for row in rows)]
    text = io.StringIO()
    text.writelines(f"{line}\n" for line in _head_comments(former))
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([row[name] for name in columns] for row in rows)
    return text.getvalue()


def _cells(point: ControlPoint, board: Board, side: Side) -> dict[str, str]:
    own = None if point.at is None else part_target(board, side, point.at)
    height = 0.0 if own is None else own.z_mm
    clicked = point.clicked_px or (None, None)
    return {
        "pixel_x": _number(point.pixel[0], 3),
        "pixel_y": _number(point.pixel[1], 3),
        "at": point.at or "",
        "board_x_mm": "" if point.at else _number(point.board_mm[0], 4),
        "board_y_mm": "" if point.at else _number(point.board_mm[1], 4),
        "z_mm": "" if abs(point.z_mm - height) < 1e-6 else _number(point.z_mm, 4),
        "pixel_u": "" if point.pixel_u == DEFAULT_PIXEL_U else _number(point.pixel_u, 3),
        "clicked_x": _number(clicked[0], 3),
        "clicked_y": _number(clicked[1], 3),
    }


def _number(value: float | None, digits: int) -> str:
    if value is None:
        return ""
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _head_comments(text: str) -> list[str]:
    comments = []
    for line in text.removeprefix("\ufeff").splitlines():
        if line.strip() and not line.lstrip().startswith("#"):
            break
        if line.strip():
            comments.append(line.strip())
    return comments
