"""What a plan of shots says."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from overlay.board.model import Component, Side
from overlay.errors import input_error
from overlay.registration.faces import LEAST_VISIBLE

Lack = Literal["too small", "hidden", "no body"]


@dataclass(frozen=True, slots=True)
class ShotCamera:
    """The camera before it is pointed: its pixels, its field, and how near it may go.

    ``close_up_dpt`` is the power of a close-up lens in front of it (0: none), in dioptres: the nearest distance
    then follows the thin-lens equation.
    """

    cols: int
    rows: int
    hfov_deg: float
    min_focus_m: float
    close_up_dpt: float = 0.0

    @property
    def focal_px(self) -> float:
        """Focal length in pixels."""
        return self.cols / 2.0 / math.tan(math.radians(self.hfov_deg) / 2.0)

    @property
    def nearest_mm(self) -> float:
        """Nearest distance from lens to board, mm: 1/(1/min_focus + power of the close-up lens)."""
        return 1000.0 / (1.0 / self.min_focus_m + self.close_up_dpt)

    @property
    def farthest_mm(self) -> float:
        """Farthest distance at which it is sharp, mm: a close-up lens sees no farther than its focal length."""
        return math.inf if self.close_up_dpt == 0.0 else 1000.0 / self.close_up_dpt

    def distance_mm(self, size_mm: float, size_px: float, z_mm: float = 0.0) -> float:
        """Distance from lens to board at which ``size_mm`` at height ``z_mm`` covers ``size_px`` pixels."""
        return self.focal_px * size_mm / size_px + z_mm

    def size_px(self, size_mm: float, distance_mm: float, z_mm: float = 0.0) -> float:
        """Pixels that ``size_mm`` at height ``z_mm`` covers from that distance."""
        return self.focal_px * size_mm / max(distance_mm - z_mm, 1e-6)


@dataclass(frozen=True, slots=True)
class Subject:
    """A part to be planned for, and how many pixels its short side should cover."""

    component: Component
    short_mm: float
    height_mm: float
    wanted_px: float


@dataclass(frozen=True, slots=True)
class Sighting:
    """One part as one planned shot will show it."""

    refdes: str
    short_px: float
    pixels: float  # area of the visible top face
    visible: float  # share of the top face, 0…1
    angle_deg: float  # between the line of sight and the board's normal
    wanted_px: float
    expected_u_c: float | None = None  # from a reading of the shot as it is expected to look

    @property
    def enough(self) -> bool:
        """Whether the part covers the pixels that were wanted."""
        return self.short_px >= self.wanted_px

    @property
    def in_sight(self) -> bool:
        """Whether taller parts leave enough of its top to see."""
        return self.visible >= LEAST_VISIBLE


@dataclass(frozen=True, slots=True)
class Shot:
    """One place of the camera: straight above ``aim_mm`` of one side, at ``distance_m``.

    ``turned``: the frame's long side lies along the board's y axis. ``field_mm``: width and height of what is in the
    frame, along the frame's columns and rows.
    """

    number: int
    side: Side
    aim_mm: tuple[float, float]
    distance_m: float
    turned: bool
    field_mm: tuple[float, float]
    mm_per_px: float
    sightings: tuple[Sighting, ...]
    control_points: int  # parts and outline corners in it that a person can click on
    serves: tuple[str, ...] = ()  # of the parts planned for, those that no other shot shows larger
    notes: tuple[str, ...] = ()

    @property
    def large_enough(self) -> int:
        """Parts in sight that cover the pixels that were wanted."""
        return sum(item.enough and item.in_sight for item in self.sightings)


@dataclass(frozen=True, slots=True)
class Shortfall:
    """A part that no planned shot shows as well as wanted, and what would help."""

    refdes: str
    lack: Lack
    best_px: float
    wanted_px: float
    expected_u_c: float | None
    remedy: str


@dataclass(frozen=True, slots=True)
class Preparation:
    """What to do to a part before the shots: paint, tape, or state its finish."""

    refdes: str
    what: str


@dataclass(frozen=True, slots=True)
class ShotPlan:
    """Shots in the order in which to take them, what they leave open, and the work that comes first."""

    camera: ShotCamera
    shots: tuple[Shot, ...]
    shortfalls: tuple[Shortfall, ...]
    preparations: tuple[Preparation, ...]
    notes: tuple[str, ...] = ()

    def best(self, refdes: str) -> tuple[Shot, Sighting] | None:
        """The shot that shows a part with the most pixels; None where none does."""
        seen = [
            (shot, sighting)
            for shot in self.shots
            for sighting in shot.sightings
            if sighting.refdes == refdes and sighting.in_sight
        ]
        return max(seen, key=lambda pair: (pair[1].short_px, -pair[0].number)) if seen else None


def shot_camera(
    pixels: tuple[int, int] | None, hfov_deg: float | None, min_focus_m: float, close_up_dpt: float, file: str
) -> ShotCamera:
    """The camera of the settings; InputError naming the keys that a plan cannot do without."""
    missing = [key for key, value in (("pixels", pixels), ("hfov_deg", hfov_deg)) if value is None]
    if pixels is None or hfov_deg is None:
        what = f"[camera] {' and '.join(missing)} not stated: a plan of shots needs them"
        raise input_error(
            file, None, what, "add pixels = [160, 120] and hfov_deg = 28.0 with your camera's own figures"
        )
    return ShotCamera(pixels[0], pixels[1], hfov_deg, min_focus_m, close_up_dpt)
