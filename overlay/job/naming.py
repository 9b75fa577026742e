"""Which part is at a pixel."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from overlay.errors import input_error
from overlay.heat.model import PartHeat
from overlay.job.analysis import Analysis
from overlay.margin.model import Margin
from overlay.reading.model import Candidate, Reading
from overlay.reading.pointing import parts_at


@dataclass(frozen=True, slots=True)
class Named:
    """The parts that may be at a pixel, the likeliest first, each with its reading and margin."""

    capture: str
    pixel: tuple[float, float]
    board_mm: tuple[float, float]
    apparent_c: float
    surface_c: float | None
    candidates: tuple[Candidate, ...]
    readings: tuple[Reading, ...]  # of the candidates that are parts, in their order
    margins: tuple[Margin, ...]
    beyond_mm: float = 0.0  # how far outside the board's edge the place lies
    heats: tuple[PartHeat, ...] = ()  # what makes their heat, as far as that was worked out


def part_at(analysis: Analysis, x: float, y: float, capture: str | None = None) -> Named:
    """Name the part at pixel (x, y) of a capture (default: the job's first).

    Raises
    ------
    InputError
        Where there is no such capture, or the pixel lies outside its frame.
    """
    from overlay.registration.project import board_from_pixels

    job = analysis.job.path.name
    try:
        chosen = analysis.captures[0] if capture is None else analysis.capture(capture)
    except KeyError:
        names = ", ".join(f'"{item.name}"' for item in analysis.captures)
        raise input_error(job, None, f'no capture named "{capture}"', f"the job has {names}") from None
    rows, cols = chosen.frame.shape_px
    if not (-0.5 <= x < cols - 0.5 and -0.5 <= y < rows - 0.5):  # nan lies nowhere
        remedy = f"give X within 0…{cols - 1} and Y within 0…{rows - 1}"
        raise input_error(chosen.settings.frame, None, f"pixel ({x:g}, {y:g}) lies outside the frame", remedy)
    column, row = math.floor(x + 0.5), math.floor(y + 0.5)
    candidates = parts_at(chosen.view, (x, y), chosen.reading.blur_px)
    named = [candidate.refdes for candidate in candidates if candidate.refdes is not None]
    readings = {reading.refdes: reading for reading in chosen.reading.readings}
    named = [refdes for refdes in named if refdes in readings]
    surface = float(chosen.reading.surface_c[row, column])
    board_mm = board_from_pixels(chosen.registration, np.array([[x, y]]))[0]
    return Named(
        capture=chosen.name,
        pixel=(x, y),
        board_mm=(float(board_mm[0]), float(board_mm[1])),
        apparent_c=float(chosen.view.apparent_c[row, column]),
        surface_c=surface if surface == surface else None,
        candidates=candidates,
        readings=tuple(readings[refdes] for refdes in named),
        margins=tuple(analysis.margin(refdes) for refdes in named),
        beyond_mm=float(analysis.job.board.outline.polygon.distance(shapely.Point(board_mm))),
        heats=tuple(heat for refdes in named if (heat := analysis.heat_of(chosen.name, refdes)) is not None),
    )
