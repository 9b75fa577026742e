"""One side of a board under one camera, and what that camera shows of it from a place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Mask, read_only
from overlay.board.model import Board, Component, Side
from overlay.frames.emissivity import SHINY_BELOW, emissivity_of
from overlay.registration.faces import face_polygon, project_faces
from overlay.registration.project import pixels_from_board
from overlay.shots.model import Shot, ShotCamera, Sighting, Subject
from overlay.shots.pose import planned_registration

NAMED_PX = 3.0
"""Pixels across the short side from which a part is read without being `small` (the contract's rule)."""
FEWEST_POINTS = 6
"""Points to click on that each frame should hold: four fit it, two more show a wrong one."""
CLICKABLE_PX = 2.0
"""A body of two pixels can be pointed at, to its middle (own choice)."""
STEEPEST_DEG = 45.0
"""Beyond this angle emissivity falls off (common practice: paints and moulds keep theirs up to 45–60°)."""
LENS_IMAGE_MM = 15.0
"""A flat mirror shows a lens at half its width: 30 mm of lens (common practice) lie within 15 mm of the foot."""
RIM_PX = 4.0  # what lies nearer to the frame's edge is cut off by blur and by a hand that aims: own choice
_WORTH_NEARER = 1.25  # a part out of reach still gets a nearer frame if that shows it larger by a quarter


@dataclass(frozen=True, slots=True)
class Place:
    """A camera that may be put somewhere: straight above ``aim_mm`` from ``distance_mm``."""

    aim_mm: tuple[float, float]
    distance_mm: float
    turned: bool


@dataclass(frozen=True, slots=True, eq=False)
class BoardSide:
    """One side of a board, the parts of it to be shown, and how far away the camera may be for each."""

    board: Board
    camera: ShotCamera
    side: Side
    subjects: tuple[Subject, ...]
    overview: Place  # the nearest from which the whole board, parts and all, is in the frame
    reach_mm: Array  # (n,) farthest distance that still serves each subject; out of reach, the nearest if that helps

    def __post_init__(self) -> None:
        read_only(self)

    @property
    def parts(self) -> list[Component]:
        """Parts of the side with a known body."""
        return _parts(self.board, self.side)

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """West, south, east and north end of the board."""
        return _bounds(self.board)

    @property
    def centers_mm(self) -> Array:
        """Places (n, 2) of the subjects."""
        return np.array([subject.component.center_mm for subject in self.subjects])

    @property
    def half_mm(self) -> Array:
        """Half extents (n, 2) of the subjects along the board's x and y."""
        faces = [face_polygon(subject.component) for subject in self.subjects]
        return np.array([(face.max(axis=0) - face.min(axis=0)) / 2.0 for face in faces])

    def shot(self, place: Place) -> Shot:
        """A place of the camera with every part it shows."""
        registration = planned_registration(self.camera, self.side, place.aim_mm, place.distance_mm, place.turned)
        wanted = {subject.component.refdes: subject.wanted_px for subject in self.subjects}
        sightings = []
        for face in project_faces(registration, self.board):
            part = face.component
            if part.mechanical or part.body is None or face.visible <= 0.0:
                continue
            away = math.dist(part.center_mm, place.aim_mm)
            sightings.append(
                Sighting(
                    refdes=part.refdes,
                    short_px=self._width_px(part, place),
                    pixels=float(face.visible_px.area),
                    visible=face.visible,
                    angle_deg=math.degrees(math.atan2(away, place.distance_mm - face.z_mm)),
                    wanted_px=wanted.get(part.refdes, NAMED_PX),
                )
            )
        scale = place.distance_mm / self.camera.focal_px
        points = self.clickable(place)
        notes = [] if points >= FEWEST_POINTS else [_few_points(points)]
        notes += self._mirrors(place)
        return Shot(
            number=1,
            side=self.side,
            aim_mm=place.aim_mm,
            distance_m=place.distance_mm / 1000.0,
            turned=place.turned,
            field_mm=(self.camera.cols * scale, self.camera.rows * scale),
            mm_per_px=scale,
            sightings=tuple(sightings),
            control_points=points,
            notes=tuple(notes),
        )

    def served(self, shots: Sequence[Shot], slack: float | None = 1.0) -> Mask:
        """Which subjects some shot serves (n,): as well as can be had, times ``slack``; for None, as well as wanted."""
        limits = self.reach_mm * slack if slack is not None else np.zeros(len(self.subjects))
        out = np.zeros(len(self.subjects), dtype=bool)
        for shot in shots:
            seen = {sighting.refdes: sighting for sighting in shot.sightings if well_seen(sighting)}
            for i, subject in enumerate(self.subjects):
                sighting = seen.get(subject.component.refdes)
                near = shot.distance_m * 1000.0 <= limits[i] * (1.0 + 1e-6)
                out[i] |= sighting is not None and (near or sighting.short_px >= subject.wanted_px * (1.0 - 1e-6))
        return out

    def clickable(self, place: Place) -> int:
        """How many places a person could click on: parts of 2 pixels and more, and corners of the outline."""
        west, south, east, north = self.bounds_mm
        parts = [(*p.center_mm, p.height_mm or 0.0) for p in self.parts if self._width_px(p, place) >= CLICKABLE_PX]
        corners = [(x, y, 0.0) for x in (west, east) for y in (south, north)]
        registration = planned_registration(self.camera, self.side, place.aim_mm, place.distance_mm, place.turned)
        u, v = pixels_from_board(registration, np.array([*parts, *corners])).T
        return int(((u > 0) & (u < self.camera.cols - 1) & (v > 0) & (v < self.camera.rows - 1)).sum())

    def _mirrors(self, place: Place) -> list[str]:
        """Shiny parts straight below the lens show the lens itself."""
        own = [
            part.refdes
            for part in self.parts
            if math.dist(part.center_mm, place.aim_mm) < LENS_IMAGE_MM and emissivity_of(part).value < SHINY_BELOW
        ]
        if not own:
            return []
        return [
            f"{', '.join(own)} {'lies' if len(own) == 1 else 'lie'} straight below the lens and would mirror the warm "
            f"camera: aim {LENS_IMAGE_MM:.0f} mm beside, or tilt by 10°"
        ]

    def _width_px(self, part: Component, place: Place) -> float:
        assert part.body is not None  # only such are asked for
        short_mm = min(part.body.length_mm, part.body.width_mm)
        return self.camera.size_px(short_mm, place.distance_mm, part.height_mm or 0.0)


def side_of(board: Board, camera: ShotCamera, side: Side, subjects: Sequence[Subject]) -> BoardSide:
    """One side of a board under a camera, of all ``subjects`` those that are on it."""
    own = tuple(subject for subject in subjects if subject.component.side == side)
    overview = _overview(board, camera, side)
    near = camera.nearest_mm if overview.distance_mm > camera.nearest_mm * _WORTH_NEARER else math.inf
    wanted = np.array([camera.distance_mm(one.short_mm, one.wanted_px, one.height_mm) for one in own])
    return BoardSide(board, camera, side, own, overview, np.where(wanted >= camera.nearest_mm, wanted, near))


def well_seen(sighting: Sighting) -> bool:
    """Whether enough of a part's top is in sight, and not too steeply."""
    return sighting.in_sight and sighting.angle_deg < STEEPEST_DEG


def _overview(board: Board, camera: ShotCamera, side: Side) -> Place:
    west, south, east, north = _bounds(board)
    tallest = max((part.height_mm or 0.0 for part in _parts(board, side)), default=0.0)
    middle = ((west + east) / 2.0, (south + north) / 2.0)
    options = []
    for turned in (False, True):
        width, height = (north - south, east - west) if turned else (east - west, north - south)
        fit = max(width / (camera.cols - 2 * RIM_PX), height / (camera.rows - 2 * RIM_PX))
        options.append((fit * camera.focal_px + tallest, turned))
    distance, turned = min(options)
    return Place(middle, max(distance, camera.nearest_mm), turned)


def _parts(board: Board, side: Side) -> list[Component]:
    return [part for part in board.components if part.side == side and part.body is not None]


def _bounds(board: Board) -> tuple[float, float, float, float]:
    west, south, east, north = board.outline.polygon.bounds
    return float(west), float(south), float(east), float(north)


def _few_points(points: int) -> str:
    return (
        f"only {points} places to click on: lay something with a straight edge of known place beside it, or begin "
        "with the overview and let this frame follow it"
    )
