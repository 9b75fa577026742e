"""The work on a job's control points: an edit makes a new state, undo goes back to the one before."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from overlay.board.model import Board, Side
from overlay.registration.control_points import DEFAULT_PIXEL_U, height_at
from overlay.registration.model import ControlPoint

Points = tuple[ControlPoint, ...]
_SAME_MM = 0.01  # places nearer than this are one
LONGEST_PAST = 500  # edits that can be undone; more than a day of clicking, and a few megabytes


@dataclass(frozen=True, slots=True)
class Target:
    """A place of the board to be tied to a pixel: a part's top face, or coordinates on the surface."""

    at: str | None
    board_mm: tuple[float, float]
    z_mm: float = 0.0
    height_known: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class PointHistory:
    """Control points of every capture, what they were before, and what is on the disk.

    ``versions`` name the content of each capture's file when it was read or written last; they are compared
    before the file is replaced. ``files`` name each capture's file, "" for none yet: captures that name the same one
    have one set of points.
    """

    points: Mapping[str, Points]
    saved: Mapping[str, Points]
    versions: Mapping[str, str]
    files: Mapping[str, str]
    past: tuple[Mapping[str, Points], ...] = ()
    future: tuple[Mapping[str, Points], ...] = ()

    def edited(self, capture: str, points: Points) -> PointHistory:
        """The session after a change; the same one where nothing changes."""
        if points == self.points[capture]:
            return self
        past = (*self.past, self.points)[-LONGEST_PAST:]
        changed = dict.fromkeys(self._together(capture), points)
        return replace(self, points=MappingProxyType({**self.points, **changed}), past=past, future=())

    def undone(self) -> PointHistory:
        """The state before the last edit; the same one where there was none."""
        if not self.past:
            return self
        return replace(self, points=self.past[-1], past=self.past[:-1], future=(self.points, *self.future))

    def redone(self) -> PointHistory:
        """The state before the last undo; the same one where nothing was undone."""
        if not self.future:
            return self
        return replace(self, points=self.future[0], past=(*self.past, self.points), future=self.future[1:])

    def unsaved(self) -> tuple[str, ...]:
        """The captures whose points differ from their files."""
        return tuple(name for name, points in self.points.items() if points != self.saved[name])

    def mapped(self, change: Callable[[str, Points], Points]) -> PointHistory:
        """The session with every state of the points, past ones too, passed through ``change``."""

        def every(points: Mapping[str, Points]) -> Mapping[str, Points]:
            return MappingProxyType({name: change(name, some) for name, some in points.items()})

        return replace(
            self,
            points=every(self.points),
            saved=every(self.saved),
            past=tuple(map(every, self.past)),
            future=tuple(map(every, self.future)),
        )

    def of_captures(
        self, points: Mapping[str, Points], versions: Mapping[str, str], files: Mapping[str, str]
    ) -> PointHistory:
        """The history over other captures: new ones come as they are on the disk, and others go with their past."""

        def every(former: Mapping[str, Points]) -> Mapping[str, Points]:
            return MappingProxyType({name: former.get(name, points[name]) for name in points})

        return PointHistory(
            every(self.points),
            every(self.saved),
            MappingProxyType(dict(versions)),
            MappingProxyType(dict(files)),
            tuple(map(every, self.past)),
            tuple(map(every, self.future)),
        )

    def written(self, capture: str, version: str) -> PointHistory:
        """The session after a capture's points were written."""
        names = self._together(capture)
        saved = MappingProxyType({**self.saved, **{name: self.points[name] for name in names}})
        return replace(self, saved=saved, versions=MappingProxyType({**self.versions, **dict.fromkeys(names, version)}))

    def _together(self, capture: str) -> tuple[str, ...]:
        file = self.files[capture]
        return tuple(name for name, other in self.files.items() if name == capture or (file and other == file))


def begun(points: Mapping[str, Points], versions: Mapping[str, str], files: Mapping[str, str]) -> PointHistory:
    """A session that starts from what is on the disk."""
    held = MappingProxyType(dict(points))
    return PointHistory(held, held, MappingProxyType(dict(versions)), MappingProxyType(dict(files)))


def changed_capture(before: PointHistory, after: PointHistory) -> str | None:
    """The capture whose points differ between two states; None where none do."""
    return next((name for name, points in after.points.items() if points != before.points[name]), None)


def at_new_heights(points: Points, before: Board, after: Board, side: Side) -> Points:
    """Points given by refdes at the heights of a changed board, unless they had a height of their own."""
    out = []
    for point in points:
        old = None if point.at is None else part_target(before, side, point.at)
        new = None if point.at is None else part_target(after, side, point.at)
        if old is not None and new is not None and (old.z_mm, old.height_known) == (point.z_mm, point.height_known):
            point = replace(point, z_mm=new.z_mm, height_known=new.height_known)
        out.append(point)
    return tuple(out)


def part_target(board: Board, side: Side, refdes: str) -> Target | None:
    """The middle of a part's top face; None where the side has no such part, or has it more than once."""
    found = [part for part in board.components if part.refdes == refdes and part.side == side]
    if len(found) != 1:
        return None
    z_mm, known = height_at(found[0])
    return Target(refdes, found[0].center_mm, z_mm, known)


def placed(points: Points, target: Target, pixel: tuple[float, float]) -> tuple[Points, int]:
    """The points with ``target`` seen at ``pixel``, and its index: moved where it has a point already."""
    for index, point in enumerate(points):
        if (point.at, point.board_mm) == (target.at, target.board_mm) and abs(point.z_mm - target.z_mm) < _SAME_MM:
            return moved(points, index, pixel), index
    point = ControlPoint(
        pixel=pixel,
        board_mm=target.board_mm,
        z_mm=target.z_mm,
        pixel_u=DEFAULT_PIXEL_U,
        at=target.at,
        line=0,  # stands in no file yet
        height_known=target.height_known,
    )
    return (*points, point), len(points)


def moved(points: Points, index: int, pixel: tuple[float, float]) -> Points:
    """The points with one of them put elsewhere by hand."""
    return _with(points, index, replace(points[index], pixel=pixel, clicked_px=None))


def snapped(points: Points, index: int, pixel: tuple[float, float], pixel_u: float) -> Points:
    """The points with one of them where the frame's contrast has it; the place clicked first is kept."""
    point = points[index]
    clicked = point.clicked_px or point.pixel
    return _with(points, index, replace(point, pixel=pixel, pixel_u=pixel_u, clicked_px=clicked))


def unsnapped(points: Points, index: int) -> Points:
    """The points with one of them back where it was clicked."""
    point = points[index]
    if point.clicked_px is None:
        return points
    return _with(points, index, replace(point, pixel=point.clicked_px, pixel_u=DEFAULT_PIXEL_U, clicked_px=None))


def removed(points: Points, index: int) -> Points:
    """The points without one of them."""
    return points[:index] + points[index + 1 :]


def _with(points: Points, index: int, point: ControlPoint) -> Points:
    return (*points[:index], point, *points[index + 1 :])
