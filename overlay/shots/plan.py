"""How many frames from where: a cover of the parts by shots, each as far away as its parts allow.

The first shot of a side holds the whole board, so that nothing that glows is missed. Parts that are too small in it
are then covered by nearer shots, greedily: the shot that serves most of the parts still open comes next (greedy set
cover is within ln n of the least number; Chvátal 1979, from memory).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overlay.board.model import Board, Component, Side
from overlay.frames.emissivity import SHINY_BELOW, emissivity_of
from overlay.frames.frame import Array
from overlay.registration.faces import face_polygon, project_faces
from overlay.registration.project import pixels_from_board
from overlay.shots.model import Lack, Preparation, Shortfall, Shot, ShotCamera, ShotPlan, Sighting, Subject
from overlay.shots.pose import planned_registration

NAMED_PX = 3.0
"""Pixels across the short side from which a part is read without being `small` (the contract's rule)."""
MARGIN_PX = 10.0
"""Pixels wanted of a part near its limit: what 10 × 10 pixels show is 0.97 of the rise (size-of-source, published)."""
FEWEST_POINTS = 6
"""Points to click on that each frame should hold: four fit it, two more show a wrong one."""
CLICKABLE_PX = 2.0
"""A body of two pixels can be pointed at, to its middle (own choice)."""
STEEPEST_DEG = 45.0
"""Beyond this angle emissivity falls off (common practice: paints and moulds keep theirs up to 45–60°)."""
LEAST_VISIBLE = 0.5
"""Share of a top face that has to be in sight (the contract's rule for `hidden`)."""
LENS_IMAGE_MM = 15.0
"""A flat mirror shows a lens at half its width: 30 mm of lens (common practice) lie within 15 mm of the foot."""
_RIM_PX = 4.0  # what lies nearer to the frame's edge is cut off by blur and by a hand that aims: own choice
_LEVELS = 1.12  # ratio of distances tried: a tenth nearer or farther changes no plan
_STEP = 0.25  # of the field, between places tried
_WORTH_NEARER = 1.25  # a part out of reach still gets a nearer frame if that shows it larger by a quarter
_FARTHER = 1.25  # step by which parts without a usable frame are given one from farther away
_MOST_SHOTS = 60  # per side; a plan nobody would carry out helps nobody, and the rest is named


def subjects_of(board: Board, near_limit: frozenset[str] = frozenset()) -> tuple[Subject, ...]:
    """The rated parts of a board with a known body (all parts with one where none is rated)."""
    parts = board.parts
    rated = [part for part in parts if part.rating is not None and part.rating.limit_c is not None] or parts
    return tuple(
        Subject(
            component=part,
            short_mm=min(part.body.length_mm, part.body.width_mm),
            height_mm=part.height_mm or 0.0,
            wanted_px=MARGIN_PX if part.refdes in near_limit else NAMED_PX,
        )
        for part in rated
        if part.body is not None
    )


def plan_shots(board: Board, camera: ShotCamera, subjects: Sequence[Subject], *, overview: bool = True) -> ShotPlan:
    """Plan the shots that show each subject with the pixels it wants, or say what cannot be had.

    ``overview``: begin each side with a frame of the whole board.
    """
    shots: list[Shot] = []
    shortfalls: list[Shortfall] = []
    for side in ("top", "bottom"):
        own = [subject for subject in subjects if subject.component.side == side]
        if not own:
            continue
        planner = _Planner(board, camera, side, tuple(own))
        found = planner.shots(overview)
        shots += [replace(shot, number=len(shots) + i) for i, shot in enumerate(found, start=1)]
        shortfalls += planner.shortfalls(found)
    shortfalls += [
        Shortfall(
            part.refdes, "no body", 0.0, NAMED_PX, None, f"name the size of package {part.package!r} in bodies.csv"
        )
        for part in board.components
        if part.body is None and not part.mechanical and part.rating is not None and part.rating.limit_c is not None
    ]
    return ShotPlan(camera, tuple(shots), tuple(shortfalls), preparations_of(subjects))


def shot_from(
    board: Board,
    camera: ShotCamera,
    side: Side,
    aim_mm: tuple[float, float],
    distance_mm: float,
    *,
    turned: bool = False,
) -> Shot:
    """What the camera would show from straight above a place, whether or not a plan asks for it."""
    own = tuple(subject for subject in subjects_of(board) if subject.component.side == side)
    return _Planner(board, camera, side, own).shot(_Place(aim_mm, distance_mm, False))


def preparations_of(subjects: Sequence[Subject]) -> tuple[Preparation, ...]:
    """Parts whose surface mirrors the room, as far as the tables tell: they want paint, tape or a stated finish."""
    out = []
    for subject in subjects:
        emissivity = emissivity_of(subject.component)
        if emissivity.value < SHINY_BELOW:
            what = f"emissivity {emissivity.value:.2f} ({emissivity.source}): matt paint or tape, or state its finish"
            out.append(Preparation(subject.component.refdes, what))
    return tuple(out)


@dataclass(frozen=True, slots=True)
class _Place:
    """A camera that may be put somewhere: straight above ``aim_mm`` from ``distance_mm``."""

    aim_mm: tuple[float, float]
    distance_mm: float
    turned: bool


@dataclass(frozen=True, slots=True)
class _Planner:
    """One side of a board under one camera."""

    board: Board
    camera: ShotCamera
    side: Side
    subjects: tuple[Subject, ...]

    def shots(self, overview: bool) -> list[Shot]:
        """The overview, then nearer shots until no subject is left that one could serve.

        Where no place both serves an open part and holds enough to click on, a somewhat farther one has to do.
        """
        found = [self.shot(self._overview())] if overview else []
        done = self._served(found)
        spent: set[_Place] = set()
        slack = 1.0
        while len(found) < _MOST_SHOTS and not done.all():
            place = self._next_place(np.flatnonzero(~done), spent, slack)
            if place is None:
                slack *= _FARTHER
                if slack * self.camera.nearest_mm > self._overview().distance_mm:
                    break
                continue
            spent.add(place)
            shot = self.shot(place)
            served = self._served([shot], slack)
            if (served & ~done).any():  # else what it was meant for is hidden from there: another place is tried
                found.append(shot)
                done |= served
        return _without_needless(found, [self._served([shot], slack) for shot in found], keep=1 if overview else 0)

    def shot(self, place: _Place) -> Shot:
        """A place of the camera with every part it shows."""
        registration = planned_registration(self.camera, self.side, place.aim_mm, place.distance_mm, place.turned)
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
                    wanted_px=self._wanted().get(part.refdes, NAMED_PX),
                )
            )
        scale = place.distance_mm / self.camera.focal_px
        points = self._clickable(place)
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

    def _mirrors(self, place: _Place) -> list[str]:
        """Shiny parts straight below the lens show the lens itself."""
        own = [
            part.refdes
            for part in self._parts()
            if math.dist(part.center_mm, place.aim_mm) < LENS_IMAGE_MM and emissivity_of(part).value < SHINY_BELOW
        ]
        if not own:
            return []
        return [
            f"{', '.join(own)} {'lies' if len(own) == 1 else 'lie'} straight below the lens and would mirror the warm "
            f"camera: aim {LENS_IMAGE_MM:.0f} mm beside, or tilt by 10°"
        ]

    def shortfalls(self, shots: Sequence[Shot]) -> list[Shortfall]:
        """Subjects that no shot serves as wanted, with what would."""
        out = []
        for subject, served in zip(self.subjects, self._served(shots, None), strict=True):
            if served:
                continue
            best = max(
                (s.short_px for shot in shots for s in shot.sightings if _is_of(s, subject) and _seen(s)), default=0.0
            )
            hidden = best == 0.0
            lack: Lack = "hidden" if hidden else "too small"
            remedy = _hidden_remedy(shots, subject) if hidden else self._nearer_remedy(subject, best)
            out.append(Shortfall(subject.component.refdes, lack, best, subject.wanted_px, None, remedy))
        return out

    # -- places ---------------------------------------------------------------------------------------------

    def _overview(self) -> _Place:
        """The nearest place from which the whole board, parts and all, is in the frame."""
        west, south, east, north = self._bounds()
        tallest = max((part.height_mm or 0.0 for part in self._parts()), default=0.0)
        middle = ((west + east) / 2.0, (south + north) / 2.0)
        options = []
        for turned in (False, True):
            width, height = (north - south, east - west) if turned else (east - west, north - south)
            fit = max(width / (self.camera.cols - 2 * _RIM_PX), height / (self.camera.rows - 2 * _RIM_PX))
            options.append((fit * self.camera.focal_px + tallest, turned))
        distance, turned = min(options)
        return _Place(middle, max(distance, self.camera.nearest_mm), turned)

    def _next_place(self, open_: NDArray[np.intp], spent: set[_Place], slack: float) -> _Place | None:
        """The place that serves most of the open subjects; the farther of two alike. None where none serves any."""
        centers = self._centers()[open_]
        heights = np.array([self.subjects[i].height_mm for i in open_])
        reach = self._reach_mm()[open_] * slack
        half = np.array([self._half_mm(self.subjects[i].component) for i in open_])
        best: tuple[int, float, float] | None = None
        chosen: _Place | None = None
        board_middle = np.array(self._overview().aim_mm)
        for distance in self._distances(reach):
            near_enough = reach >= distance * (1.0 - 1e-9)
            if best is not None and near_enough.sum() < best[0]:
                continue
            for turned in (False, True):
                span = self._span_mm(distance, turned)
                aims = self._aims(span, centers[near_enough])
                inside = _inside(aims, centers, half, heights, span, distance) & near_enough
                counts = inside.sum(axis=1)
                for index in np.argsort(-counts, kind="stable")[:8]:
                    place = _Place((round(float(aims[index, 0]), 2), round(float(aims[index, 1]), 2)), distance, turned)
                    if place in spent or counts[index] == 0 or self._clickable(place) < FEWEST_POINTS:
                        continue
                    off_middle = float(np.hypot(*(aims[index] - board_middle)).round(2))
                    rank = (int(counts[index]), distance, -off_middle)
                    if best is None or rank > best:
                        best, chosen = rank, place
        return chosen

    def _distances(self, reach: Array) -> list[float]:
        """Distances worth trying, farthest first: levels between the nearest focus and what the parts allow."""
        nearest = self.camera.nearest_mm
        farthest = min(self._overview().distance_mm, self.camera.farthest_mm, float(reach.max()))
        count = max(0, math.floor(math.log(max(farthest / nearest, 1.0)) / math.log(_LEVELS)))
        levels = [nearest * _LEVELS**k for k in range(count + 1)]
        return sorted({*levels, max(farthest, nearest)}, reverse=True)

    def _aims(self, span: tuple[float, float], centers: Array) -> Array:
        """Places to try (n, 2): a grid over the board, and each open part with its neighbours in one corner."""
        west, south, east, north = self._bounds()
        xs = _line(west, east, span[0])
        ys = _line(south, north, span[1])
        grid = np.array(list(itertools.product(xs, ys)))
        return np.concatenate([grid, np.clip(centers, [xs[0], ys[0]], [xs[-1], ys[-1]])]).round(2)

    def _span_mm(self, distance: float, turned: bool) -> tuple[float, float]:
        """Usable width and height of the field on the board, along its x and y."""
        scale = distance / self.camera.focal_px
        long, short = (self.camera.cols - 2 * _RIM_PX) * scale, (self.camera.rows - 2 * _RIM_PX) * scale
        return (short, long) if turned else (long, short)

    # -- what is known of the side --------------------------------------------------------------------------

    def _parts(self) -> list[Component]:
        return [part for part in self.board.components if part.side == self.side and part.body is not None]

    def _bounds(self) -> tuple[float, float, float, float]:
        west, south, east, north = self.board.outline.polygon.bounds
        return float(west), float(south), float(east), float(north)

    def _centers(self) -> Array:
        return np.array([subject.component.center_mm for subject in self.subjects])

    def _wanted(self) -> dict[str, float]:
        return {subject.component.refdes: subject.wanted_px for subject in self.subjects}

    def _half_mm(self, part: Component) -> tuple[float, float]:
        low, high = face_polygon(part).min(axis=0), face_polygon(part).max(axis=0)
        return float(high[0] - low[0]) / 2.0, float(high[1] - low[1]) / 2.0

    def _reach_mm(self) -> Array:
        """Farthest distance that still serves each subject (n,): out of reach, the nearest one if that helps much."""
        nearest = self.camera.nearest_mm
        overview = self._overview().distance_mm
        reach = []
        for subject in self.subjects:
            wanted = self.camera.distance_mm(subject.short_mm, subject.wanted_px, subject.height_mm)
            near = nearest if overview > nearest * _WORTH_NEARER else math.inf
            reach.append(wanted if wanted >= nearest else near)
        return np.array(reach)

    def _served(self, shots: Sequence[Shot], slack: float | None = 1.0) -> NDArray[np.bool_]:
        """Which subjects some shot serves (n,): as well as can be had, times ``slack``; for None, as well as wanted."""
        limits = self._reach_mm() * slack if slack is not None else np.zeros(len(self.subjects))
        out = np.zeros(len(self.subjects), dtype=bool)
        for shot in shots:
            seen = {sighting.refdes: sighting for sighting in shot.sightings if _seen(sighting)}
            for i, subject in enumerate(self.subjects):
                sighting = seen.get(subject.component.refdes)
                near = shot.distance_m * 1000.0 <= limits[i] * (1.0 + 1e-6)
                out[i] |= sighting is not None and (near or sighting.short_px >= subject.wanted_px * (1.0 - 1e-6))
        return out

    def _clickable(self, place: _Place) -> int:
        """How many places a person could click on: parts of 2 pixels and more, and corners of the outline."""
        west, south, east, north = self._bounds()
        parts = [(*p.center_mm, p.height_mm or 0.0) for p in self._parts() if self._width_px(p, place) >= CLICKABLE_PX]
        corners = [(x, y, 0.0) for x in (west, east) for y in (south, north)]
        registration = planned_registration(self.camera, self.side, place.aim_mm, place.distance_mm, place.turned)
        u, v = pixels_from_board(registration, np.array([*parts, *corners])).T
        return int(((u > 0) & (u < self.camera.cols - 1) & (v > 0) & (v < self.camera.rows - 1)).sum())

    def _width_px(self, part: Component, place: _Place) -> float:
        assert part.body is not None  # _parts has only such
        short_mm = min(part.body.length_mm, part.body.width_mm)
        return self.camera.size_px(short_mm, place.distance_mm, part.height_mm or 0.0)

    def _nearer_remedy(self, subject: Subject, best_px: float) -> str:
        nearest_px = self.camera.size_px(subject.short_mm, self.camera.nearest_mm, subject.height_mm)
        if best_px < min(nearest_px, subject.wanted_px) / _LEVELS:
            return (
                "nearer frames hold too little to click on: lay a straight edge of known place beside it, let a nearer "
                "frame follow this one, or glue a thermocouple beside the part"
            )
        distance_m = self.camera.distance_mm(subject.short_mm, subject.wanted_px, subject.height_mm) / 1000.0
        if distance_m >= self.camera.nearest_mm / 1000.0:
            return f"no frame of this plan is near enough: take one from {distance_m * 1000.0:.0f} mm"
        power = 1.0 / distance_m - 1.0 / self.camera.min_focus_m
        return f"glue a thermocouple beside it, or take it through a close-up lens of {math.ceil(power):.0f} dioptres"


def _line(low: float, high: float, span: float) -> Array:
    """Middles of fields of that span which cover low…high, a quarter of the span apart; the middle if one does."""
    if span >= high - low:
        return np.array([(low + high) / 2.0])
    count = math.ceil((high - low - span) / (_STEP * span)) + 1
    return np.linspace(low + span / 2.0, high - span / 2.0, count)


def _inside(
    aims: Array, centers: Array, half: Array, heights: Array, span: tuple[float, float], distance: float
) -> NDArray[np.bool_]:
    """Which subjects (m) lie whole in the field of each aim (n), and not too steep: (n, m)."""
    away = np.abs(centers[None] - aims[:, None])
    nearer = distance / np.maximum(distance - heights, 1e-6)  # what is tall looks larger and farther out
    within = ((away + half[None]) * nearer[None, :, None] <= np.array(span) / 2.0 + 1e-9).all(axis=2)
    angle = np.hypot(away[..., 0], away[..., 1]) / np.maximum(distance - heights, 1e-6)
    return np.asarray(within & (angle < math.tan(math.radians(STEEPEST_DEG))))


def _seen(sighting: Sighting) -> bool:
    return sighting.visible >= LEAST_VISIBLE and sighting.angle_deg < STEEPEST_DEG


def _is_of(sighting: Sighting, subject: Subject) -> bool:
    return sighting.refdes == subject.component.refdes


def _without_needless(shots: list[Shot], served: list[NDArray[np.bool_]], keep: int) -> list[Shot]:
    """Shots whose parts others serve as well are left out, those that serve fewest first; the first ``keep`` stay."""
    order = sorted(range(keep, len(shots)), key=lambda i: (int(served[i].sum()), -i))
    kept = set(range(len(shots)))
    for index in order:
        others = kept - {index}
        if others and not (served[index] & ~np.any([served[i] for i in sorted(others)], axis=0)).any():
            kept = others
    return [shots[i] for i in sorted(kept)]


def _hidden_remedy(shots: Sequence[Shot], subject: Subject) -> str:
    part = subject.component
    steep = [s for shot in shots for s in shot.sightings if s.refdes == part.refdes and s.visible >= LEAST_VISIBLE]
    if steep:
        return "seen only at more than 45°: move the camera above it"
    return "a taller part stands in the way from every place: tilt the camera by hand, or glue a thermocouple on it"


def _few_points(points: int) -> str:
    return (
        f"only {points} places to click on: lay something with a straight edge of known place beside it, or begin "
        "with the overview and let this frame follow it"
    )
