"""A frame read from arrays, without a job folder or any file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from overlay.board.model import Board
from overlay.errors import input_error
from overlay.frames.frame import Frame
from overlay.frames.read import frame_of
from overlay.job.analyse import read_capture
from overlay.job.analysis import CaptureAnalysis
from overlay.job.load import CaptureData
from overlay.job.settings import CameraSettings, CaptureSettings
from overlay.job.stack import page_of
from overlay.registration.control_points import DEFAULT_PIXEL_U, height_at
from overlay.registration.model import ControlPoint

_NAME = "frame"

Place = str | tuple[float, float]


def read(
    board: Board,
    frame_c: Any,
    control_points: Mapping[Place, tuple[float, float]],
    *,
    ambient_c: float,
    camera: Mapping[str, Any] | None = None,
    **capture: Any,
) -> CaptureAnalysis:
    """Each part's temperature from one frame of a board.

    Parameters
    ----------
    board
        From `overlay.board_of`, or the ``board`` of a job.
    frame_c : (rows, cols) or (pages, rows, cols)
        Temperatures in °C as the camera gives them.
    control_points
        Pixels (x, y) by what is seen there: a refdes (the centre of its top face) or a place (x_mm, y_mm) of the
        board's surface. Pixel (0, 0) is the centre of the top-left one, y runs down.
    ambient_c
        Temperature of the air.
    camera, capture
        Keys of ``[camera]`` and ``[[capture]]`` in ``job.toml``, such as ``camera={"hfov_deg": 28.0}`` and
        ``distance_m=0.35``.

    Raises
    ------
    InputError
        If the frame or the points cannot be used.
    ValueError
        If a setting has a value it must not have (pydantic says which).

    Examples
    --------
    >>> import numpy as np
    >>> import overlay
    >>> corners = {"U1": (10.0, 30.0), "U2": (50.0, 30.0), "U3": (10.0, 10.0), "U4": (50.0, 10.0)}
    >>> size = {"length_mm": 10.0, "width_mm": 8.0, "height_mm": 0.1, "emissivity": 1.0, "emissivity_u": 0.01}
    >>> board = overlay.board_of({"refdes": r, "x_mm": x, "y_mm": y, **size} for r, (x, y) in corners.items())
    >>> frame_c = np.full((60, 90), 30.0)
    >>> for x, y in corners.values():
    ...     frame_c[round(48 - y) - 4 : round(48 - y) + 5, round(12 + x) - 5 : round(12 + x) + 6] = 71.0
    >>> pixels = {refdes: (12.0 + x, 48.0 - y) for refdes, (x, y) in corners.items()}
    >>> seen = overlay.read(board, frame_c, pixels, ambient_c=23.0)
    >>> abs(seen["U3"].peak_c - 71.0) < 1.0
    True
    """
    settings = CaptureSettings(name=_NAME, frame=_NAME, ambient_c=ambient_c, **capture)
    points = [_point(board, place, pixel, line) for line, (place, pixel) in enumerate(control_points.items(), start=1)]
    frame = frame_of(frame_c, _NAME, scale=settings.frame_scale, offset=settings.frame_offset)
    data = capture_of_arrays(settings, frame, points)
    return read_capture(data, board, CameraSettings(**(camera or {})))


def capture_of_arrays(settings: CaptureSettings, frame: Frame, points: Sequence[ControlPoint]) -> CaptureData:
    """A loaded capture of which only frame and points are known."""
    return CaptureData(
        settings=settings,
        frame=frame,
        page=page_of(frame, settings.frame),
        points=tuple(points),
        cold=(),
        cold_points=(),
        contacts=(),
        reflection_check=None,
        size_of_source=None,
        inputs=(),
    )


def _point(board: Board, place: Place, pixel: tuple[float, float], line: int) -> ControlPoint:
    at, board_mm, z_mm, known = None, place, 0.0, True
    if isinstance(place, str):
        try:
            component = board.component(place)
        except KeyError:
            remedy = "name a part of the board, or give a place (x_mm, y_mm)"
            raise input_error("control points", line, f"{place!r} is no known refdes", remedy) from None
        at, board_mm = place, component.center_mm
        z_mm, known = height_at(component)
    assert not isinstance(board_mm, str)
    return ControlPoint(
        pixel=(float(pixel[0]), float(pixel[1])),
        board_mm=(float(board_mm[0]), float(board_mm[1])),
        z_mm=z_mm,
        pixel_u=DEFAULT_PIXEL_U,
        at=at,
        line=line,
        height_known=known,
    )
