"""One open page at work on the control points."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from overlay.board.model import Board
from overlay.errors import InputError, input_error
from overlay.job.settings import CaptureSettings
from overlay.registration.model import Registration
from overlay.registration.project import board_from_pixels, pixels_from_board
from overlay.registration.refine import snap_point
from overlay.report.numbers import numbers
from overlay.workbench import frame_opinion, point_history
from overlay.workbench.fitting import Tie, live, live_json, tie, tie_json
from overlay.workbench.job_files import JobFiles, UnknownError
from overlay.workbench.point_history import Points, Target, changed_capture
from overlay.workbench.requests import Drag, Move, OnCapture, OnPoint, Place

# A proposal nearer than this to where the hand put the point is no proposal: a click is good to a few tenths of a
# pixel (common practice).
WORTH_SNAPPING_PX = 0.15


class PageSession:
    """One open page: its control points with undo, and the last fit of each capture to start the next one from."""

    def __init__(self, files: JobFiles) -> None:
        points, versions, notes = {}, {}, {}
        for capture in files.captures:
            points[capture.name], versions[capture.name], notes[capture.name] = files.points(capture)
        self.history = point_history.begun(points, versions, _points_files(files))
        self._files = files
        self._ties: dict[str, Tie] = {}
        self._notes = notes  # why a capture's points could not be read

    def state(self, capture: str) -> dict[str, Any]:
        """A capture's points and fit as they stand."""
        return self._state(self._files.capture(capture))

    def edit(self, wish: Place | Move | OnPoint | OnCapture) -> dict[str, Any]:
        """Change the points, and tell how they stand then."""
        capture = self._files.capture(wish.capture)
        points = self.history.points[capture.name]
        note, index = "", None
        if isinstance(wish, OnCapture) and wish.do in ("undo", "redo"):
            before = self.history
            self.history = before.undone() if wish.do == "undo" else before.redone()
            return {**self._state(capture), "changed": changed_capture(before, self.history)}
        if isinstance(wish, Place):
            points, index = point_history.placed(points, self._target(capture, wish), wish.pixel)
        elif isinstance(wish, Move | OnPoint):
            if wish.index >= len(points):
                raise UnknownError("that point is gone; reload the page")
            points, note = self._on_point(capture, points, wish)
            index = None if isinstance(wish, OnPoint) and wish.do == "remove" else wish.index
        elif wish.do == "clear":
            points = ()
        elif wish.do == "follow":
            points, note = self._followed(capture, points)
        else:
            points, note = self._refined(capture, points)
        self.history = self.history.edited(capture.name, points)
        state = self._state(capture)
        return {**state, "index": index, "note": note, "proposal": self._proposal(capture, wish, index)}

    def drag(self, wish: Drag) -> dict[str, Any]:
        """Outlines and residuals with a point where it is dragged just now; nothing is changed."""
        capture = self._files.capture(wish.capture)
        points, index = self.history.points[capture.name], wish.index
        if index is None:
            points, index = point_history.placed(points, self._target(capture, wish), wish.pixel)
        elif index < len(points):
            points = point_history.moved(points, index, wish.pixel)
        else:
            raise UnknownError("that point is gone; reload the page")
        former = self._ties.get(capture.name)
        fit = None
        if former is not None and former.registration is not None:
            fit = live(former.registration, points, index, capture, self._files.settings.camera)
        if fit is None:
            return {"outlines": None, "rms_px": None, "residuals_xy_px": []}
        return live_json(fit, self._files.shapes(capture))

    def where(self, capture: str, pixel: tuple[float, float]) -> dict[str, Any]:
        """The place of the board's surface that is seen at a pixel."""
        former = self._ties.get(capture)
        if former is None or former.registration is None:
            return {"board_mm": None}
        with np.errstate(all="ignore"):
            return {"board_mm": numbers(board_from_pixels(former.registration, np.array([pixel]))[0], 3)}

    def fitted(self, capture: CaptureSettings) -> Registration | None:
        """The fit of a capture's points; None where there is none."""
        return self._tied(capture).registration

    def registered(self, capture: CaptureSettings) -> Registration:
        """The fit of a capture's points; `InputError` where there is none."""
        known = self._tied(capture)
        if known.registration is None:
            raise input_error(capture.name, None, known.problems[0], "then ask again")
        return known.registration

    def leading(self, capture: CaptureSettings) -> Registration | None:
        """The fit of another capture of the same side and size, to look nearby first; None where there is none."""
        name = self._leader(capture)
        return None if name is None else self.fitted(self._files.capture(name))

    def take(self, capture: CaptureSettings, points: Points) -> dict[str, Any]:
        """Take points in the place of a capture's own, and tell how they stand then."""
        self.history = self.history.edited(capture.name, points)
        return self._state(capture)

    def board_changed(self, before: Board) -> None:
        """Carry points over to a board whose parts have got other heights."""
        sides = {capture.name: capture.side for capture in self._files.captures}
        self.history = self.history.mapped(
            lambda name, points: point_history.at_new_heights(points, before, self._files.board, sides[name])
        )
        self._ties.clear()

    def captures_changed(self) -> None:
        """Take up captures that have been begun, and let go of those that are no more."""
        points, versions = {}, {}
        for capture in self._files.captures:
            if capture.name in self.history.points:
                points[capture.name] = self.history.points[capture.name]
                versions[capture.name] = self.history.versions[capture.name]
            else:
                points[capture.name], versions[capture.name], self._notes[capture.name] = self._files.points(capture)
        self.history = self.history.of_captures(points, versions, _points_files(self._files))
        self._ties.clear()

    def _state(self, capture: CaptureSettings) -> dict[str, Any]:
        return {
            "capture": capture.name,
            **tie_json(self._tied(capture), self._files.board, self._files.shapes(capture)),
            "unread": self._notes.get(capture.name, ""),
            "leader": self._leader(capture),
            "unsaved": list(self.history.unsaved()),
            "can_undo": bool(self.history.past),
            "can_redo": bool(self.history.future),
        }

    def _leader(self, capture: CaptureSettings) -> str | None:
        """The first other capture of the same side, with a frame of the same size, that is registered."""
        try:
            shape = self._files.frame(capture).shape
            for other in self._files.captures:
                if other.name == capture.name or other.side != capture.side or len(self.history.points[other.name]) < 2:
                    continue
                if self._files.frame(other).shape == shape:
                    return other.name
        except InputError:
            pass
        return None

    def _tied(self, capture: CaptureSettings) -> Tie:
        points = self.history.points[capture.name]
        known = self._ties.get(capture.name)
        if known is None or known.points != points:
            rows, cols = self._files.frame(capture).shape
            known = self._ties[capture.name] = tie(points, capture, self._files.settings.camera, (rows, cols))
        return known

    def _followed(self, capture: CaptureSettings, points: Points) -> tuple[Points, str]:
        """Points where the leading capture's pose has them: the board stood still, or nearly so."""
        name = self._leader(capture)
        if name is None:
            raise UnknownError("no other capture of this side is registered yet")
        fitted = self.registered(self._files.capture(name))
        leading = [item.point for item in fitted.points]
        places = np.array([[*point.board_mm, point.z_mm] for point in leading])
        for point, pixel in zip(leading, pixels_from_board(fitted, places), strict=True):
            if np.isfinite(pixel).all():
                target = Target(point.at, point.board_mm, point.z_mm, point.height_known)
                points, _ = point_history.placed(points, target, (float(pixel[0]), float(pixel[1])))
        return points, f"Points taken over from “{name}”: look whether they fit, and drag what does not."

    def _on_point(self, capture: CaptureSettings, points: Points, wish: Move | OnPoint) -> tuple[Points, str]:
        if isinstance(wish, Move):
            return point_history.moved(points, wish.index, wish.pixel), ""
        if wish.do == "remove":
            return point_history.removed(points, wish.index), ""
        if wish.do == "unsnap":
            return point_history.unsnapped(points, wish.index), ""
        fitted = self.registered(capture)
        point = points[wish.index]
        found = snap_point(fitted, self._files.frame(capture), self._files.board, point)
        if found is None:
            return points, f"The frame shows no clear place for {point.name}; it stays where it was put."
        return point_history.snapped(
            points, wish.index, found.pixel, found.pixel_u
        ), f"{point.name} moved to the frame's own contrast."

    def _refined(self, capture: CaptureSettings, points: Points) -> tuple[Points, str]:
        fitted = self.registered(capture)
        found = frame_opinion.refine(
            fitted, self._files.frame(capture), self._files.board, capture, self._files.settings.camera
        )
        if isinstance(found, str):
            return points, f"Nothing was moved: {found}."
        assert found.confidence is not None
        told = found.confidence
        words = (
            f"The frame disagreed with the points by {told.moved_px:.1f} px; {told.parts_agreeing} of "
            f"{told.parts_judged} parts agree now, to {told.precision_px:.2f} px."
        )
        return frame_opinion.points_of(found, points, self._files.board), words

    def _target(self, capture: CaptureSettings, wish: Place | Drag) -> Target:
        if wish.at is not None:
            target = point_history.part_target(self._files.board, capture.side, wish.at)
            if target is None:
                raise UnknownError(f"{wish.at} cannot be used: it is not on the {capture.side}, or is there twice")
            return target
        if wish.board_mm is None:
            raise UnknownError("name a part or a place of the board")
        return Target(None, wish.board_mm, wish.z_mm)

    def _proposal(self, capture: CaptureSettings, wish: object, index: int | None) -> list[float] | None:
        """Where the frame's contrast has a point that was just put by hand."""
        fitted = self._tied(capture).registration
        if not isinstance(wish, Place | Move) or index is None or fitted is None:
            return None
        point = self.history.points[capture.name][index]
        found = snap_point(fitted, self._files.frame(capture), self._files.board, point)
        if found is None or np.hypot(*np.subtract(found.pixel, point.pixel)) < WORTH_SNAPPING_PX:
            return None
        return [round(value, 3) for value in found.pixel]


def _points_files(files: JobFiles) -> dict[str, str]:
    """The file of each capture's points by the capture's name, "" for none yet."""
    return {item.name: str(Path(item.control_points)) if item.control_points else "" for item in files.captures}
