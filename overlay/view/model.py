"""What one capture offers to be read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from overlay.arrays import Array, Mask, read_only
from overlay.board.model import Board
from overlay.frames.frame import Emissivity, EmissivityMap
from overlay.frames.radiometry import Band, Sight
from overlay.frames.size_of_source import PUBLISHED, SizeOfSource
from overlay.registration.model import Face, Registration


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """Everything one capture offers to be read.

    Arrays have the frame's shape (rows, cols). ``leaving_radiance`` is what leaves the board in the band
    (same unit as ``band.radiance``), window, air and the instrument's own settings already undone.
    """

    capture: str
    band: Band
    sight: Sight
    board: Board
    registration: Registration
    faces: tuple[Face, ...]
    apparent_c: Array
    leaving_radiance: Array
    emissivity: Mapping[str, Emissivity]  # by refdes: parts.csv, bodies.csv, or the default of its kind
    board_emissivity: Emissivity
    emissivity_map: EmissivityMap | None
    ambient_c: float
    reflected_c: float
    reflected_u_c: float
    accuracy_c: float  # limits of the camera's error: the larger of the two …
    accuracy_percent: float  # … of the reading in °C; rectangular, common to the frame
    noise_c: float  # standard deviation of one pixel's noise at 30 °C apparent, after averaging pages
    blur_px: float | None  # full width at half maximum of the optics; None: estimate it
    colour_scale_u_c: float = 0.0  # of a picture in false colour, common to the frame
    nonuniformity_c: float = 0.3  # standard uncertainty of the unevenness within a frame
    size_of_source: SizeOfSource = PUBLISHED  # what the lens's wide skirt takes from small sources
    saturated: Mask | None = None  # pixels at the end of the range: the surface is at least that hot; None: none are
    left_out: Mask | None = None  # dead pixels and burnt-in marks: they say nothing, and hold what lies around them
    second_apparent_c: Array | None = None  # the same scene with something else reflected

    def __post_init__(self) -> None:
        read_only(self)
