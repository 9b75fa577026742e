"""What no planned shot shows as well as wanted, and what would help."""

from __future__ import annotations

import math
from collections.abc import Sequence

from overlay.shots.model import Lack, Shortfall, Shot, ShotCamera, Sighting, Subject
from overlay.shots.places import LEVELS
from overlay.shots.side import BoardSide, well_seen


def shortfalls_of(side: BoardSide, shots: Sequence[Shot]) -> list[Shortfall]:
    """Subjects that no shot serves as wanted, with what would."""
    out = []
    for subject, served in zip(side.subjects, side.served(shots, None), strict=True):
        if served:
            continue
        best = max(
            (s.short_px for shot in shots for s in shot.sightings if _is_of(s, subject) and well_seen(s)), default=0.0
        )
        hidden = best == 0.0
        lack: Lack = "hidden" if hidden else "too small"
        remedy = _hidden_remedy(shots, subject) if hidden else _nearer_remedy(side.camera, subject, best)
        out.append(Shortfall(subject.component.refdes, lack, best, subject.wanted_px, None, remedy))
    return out


def _nearer_remedy(camera: ShotCamera, subject: Subject, best_px: float) -> str:
    nearest_px = camera.size_px(subject.short_mm, camera.nearest_mm, subject.height_mm)
    if best_px < min(nearest_px, subject.wanted_px) / LEVELS:
        return (
            "nearer frames hold too little to click on: lay a straight edge of known place beside it, let a nearer "
            "frame follow this one, or glue a thermocouple beside the part"
        )
    distance_m = camera.distance_mm(subject.short_mm, subject.wanted_px, subject.height_mm) / 1000.0
    if distance_m >= camera.nearest_mm / 1000.0:
        return f"no frame of this plan is near enough: take one from {distance_m * 1000.0:.0f} mm"
    power = 1.0 / distance_m - 1.0 / camera.min_focus_m
    return f"glue a thermocouple beside it, or take it through a close-up lens of {math.ceil(power):.0f} dioptres"


def _is_of(sighting: Sighting, subject: Subject) -> bool:
    return sighting.refdes == subject.component.refdes


def _hidden_remedy(shots: Sequence[Shot], subject: Subject) -> str:
    part = subject.component
    steep = [s for shot in shots for s in shot.sightings if s.refdes == part.refdes and s.in_sight]
    if steep:
        return "seen only at more than 45°: move the camera above it"
    return "a taller part stands in the way from every place: tilt the camera by hand, or glue a thermocouple on it"
