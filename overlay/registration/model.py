"""The tie between a frame and a board, and the faces it lets one see.

Conventions: pixels (x, y) with (0, 0) at the centre of the top-left pixel, y down. Board x right, y up,
in mm, seen from the top for both sides. ``z_mm`` is the height above the *seen* surface, towards the camera.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Literal

import numpy as np

from overlay.arrays import Array, read_only
from overlay.board.model import Component, Side
from overlay.reasons import Reason

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

Model = Literal["similarity", "affine", "homography", "camera"]


@dataclass(frozen=True, slots=True)
class Lens:
    """What is told of the camera: its horizontal field of view, and how far from the board it stands."""

    hfov_deg: float | None = None  # over the frame's columns
    distance_m: float | None = None  # from the lens to the board along the axis


UNTOLD = Lens()
"""Nothing is told of the camera."""


@dataclass(frozen=True, slots=True)
class ControlPoint:
    """A pixel and the place on the board that is seen there."""

    pixel: tuple[float, float]
    board_mm: tuple[float, float]
    z_mm: float  # height above the seen surface: of the top face for a point given by refdes
    pixel_u: float  # standard uncertainty of either coordinate, in px
    at: str | None  # refdes, None for a point given by coordinates
    line: int
    height_known: bool = True  # False: a refdes of unknown height, z_mm is then 0
    clicked_px: tuple[float, float] | None = None  # where a hand put it, if the frame's contrast has moved it since

    @property
    def name(self) -> str:
        """How messages call it: ``R17``, or ``(12.5, 30) mm``."""
        return self.at or f"({self.board_mm[0]:g}, {self.board_mm[1]:g}) mm"


@dataclass(frozen=True, slots=True)
class PointResidual:
    """How well one control point fits: with it in the fit, and left out of it."""

    point: ControlPoint
    residual_px: float
    left_out_px: float | None  # None where too few points remain without it
    residual_xy_px: tuple[float, float]  # observed minus fitted
    suspect: bool
    remark: str = ""  # "looks swapped with R4", …
    left_out: bool = False  # so clearly wrong that the fit does without it


@dataclass(frozen=True, slots=True)
class Confidence:
    """What the frame itself says of a registration (three tests, see ``confidence.py``)."""

    score: float  # -log10 of the chance that so many parts agree
    parts_agreeing: int
    parts_judged: int
    precision_px: float
    rival_score: float | None
    moved_px: float  # rms between the hand-made registration and the frame's own
    outline_shift_mm: tuple[float, float]
    trusted: bool
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """Pinhole camera over one side of the board.

    A point (x, y, z) of the board (z towards the camera) is taken to camera axes by
    ``rotation @ [m·x, y, z] + translation_mm`` with m = +1 for the top and -1 for the bottom side
    (seen from below the board is mirrored; so both systems stay right-handed), divided by depth,
    bent by ``1 + radial·r²`` and scaled: ``pixel = center_px + focal_px · bent``.
    """

    rotation: Array  # (3, 3)
    translation_mm: Array  # (3,)
    focal_px: float
    center_px: tuple[float, float]
    radial: float
    side: Side

    def __post_init__(self) -> None:
        read_only(self)

    def position_mm(self) -> Array:
        """Place of the eye in board coordinates (x, y, z towards the camera), shape (3,)."""
        eye = -self.rotation.T @ self.translation_mm
        return np.array([-eye[0] if self.side == "bottom" else eye[0], eye[1], eye[2]])


class FaceCode(StrEnum):
    """Why a face is not plainly there to see."""

    HIDDEN = "hidden by others"
    OUTSIDE_FRAME = "outside frame"
    BODY_UNKNOWN = "body unknown"
    HEIGHT_UNKNOWN = "height unknown"
    LEAN_UNKNOWN = "lean unknown"
    OUTSIDE_POINTS = "outside control points"
    TURNED = "turned"
    RESIZED = "of another size"
    MOVED = "elsewhere"
    NOT_SHOWN = "not shown"


@dataclass(frozen=True, slots=True)
class Finding:
    """What the frame says against the description of one part."""

    refdes: str
    code: FaceCode
    text: str  # a clause: "fits the frame better turned by 90°"
    off_px: float  # by how much its edges may lie elsewhere than they are drawn


@dataclass(frozen=True, slots=True, eq=False)
class Registration:
    """A fitted tie between board and frame, with its covariance.

    ``parameters`` mean, for the flat models (similarity, affine, homography alike), the first 8 entries of the
    matrix from board units ((x, y) - ``center_mm``) / ``scale_mm`` to frame units, see ``planar.py``: what two or
    three points cannot know stands in the covariance. For a camera: rotation vector (3), the place of
    ``center_mm`` in camera axes (3), log focal length, radial term, see ``camera.py``. Use the functions of
    ``registration/project.py`` rather than these.
    """

    model: Model
    side: Side
    shape_px: tuple[int, int]
    pixel_from_board: Array  # (3, 3), surface z = 0; nearest matrix for a camera with distortion
    parameters: Array  # (p,)
    covariance: Array  # (p, p)
    points: tuple[PointResidual, ...]
    rms_px: float | None  # None: the points fit exactly whatever they are, nothing is known of their scatter
    rms_mm: float | None
    mm_per_px: float  # at the middle of the control points
    camera: Camera | None = None
    lean_u: float = 0.0  # without a camera: standard uncertainty of sideways mm per mm of height
    refined: bool = False
    confidence: Confidence | None = None
    warnings: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()  # where the frame contradicts the description of a part
    foreign: str = ""  # why the placement is not that of the frame, which must not be read then
    center_mm: tuple[float, float] = (0.0, 0.0)  # origin and scale of the parameters' board units
    scale_mm: float = 1.0

    def __post_init__(self) -> None:
        read_only(self)


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """A component's top face as the camera sees it."""

    component: Component
    polygon_mm: Array  # (n, 2) top face on the board, counter-clockwise seen from the top
    z_mm: float  # its height; 0 where unknown, and then height_known is False
    height_known: bool
    polygon_px: Array  # (n, 2) the whole top face in the frame, at its height
    base_px: Array  # (n, 2) the body's foot on the board's surface
    visible_px: Polygon | MultiPolygon  # what is left of it inside the frame and not behind other bodies (may be empty)
    visible: float  # share of the top face, 0…1
    pixel_u: float  # standard uncertainty of its place, in px, from registration and lean
    hidden_by: tuple[str, ...] = ()  # refdes of bodies in the way
    why: tuple[Reason, ...] = field(default=())

    def __post_init__(self) -> None:
        read_only(self)
