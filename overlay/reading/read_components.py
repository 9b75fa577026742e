"""From one capture's view to a reading for every part, and the hot spots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Component
from overlay.frames.emissivity import SHINY_BELOW
from overlay.frames.frame import Emissivity
from overlay.frames.optics import gaussian_sigma_px
from overlay.frames.radiometry import surface_temperature_c
from overlay.reading import remarks
from overlay.reading.attribution import bodies_of
from overlay.reading.detection import Scene, bare_surface, shiny_of
from overlay.reading.estimate import Estimate
from overlay.reading.guards import guarded
from overlay.reading.hotspots import find_hot_spots
from overlay.reading.measure import measure
from overlay.reading.model import FrameReading, Reading, ReadingCode, State
from overlay.reading.standing_out import LEAST_EXCESS_K, standing_of
from overlay.reasons import Reason
from overlay.registration.faces import LEAST_VISIBLE, project_faces
from overlay.registration.model import Face
from overlay.registration.project import board_from_pixels
from overlay.uncertainty import combined_k
from overlay.unmixing.priors import BLUR_UNKNOWN_PX
from overlay.unmixing.unmix import Unmixed, unmix
from overlay.view.emission import pixel_emissivity, top_emissivities
from overlay.view.model import View
from overlay.view.regions import pixel_weights_of
from overlay.view.surroundings import (
    RingTemperature,
    bare_board,
    extent_of,
    outline_px,
    ring_temperatures,
    rings,
)
from overlay.view.tops import DIRECT_FROM_PX, SMALL_BELOW_PX, Top, inner_of, tops_of


def read_view(view: View, joint: Unmixed | None = None, faces: tuple[Face, ...] | None = None) -> FrameReading:
    """Read every non-mechanical component of a view, in the board's order, and find its hot spots.

    ``joint`` is the joint solution of the view's small parts and ``faces`` are those of its registration, where they
    are known already; else they are worked out.
    """
    view = _finite(view)
    joint = unmix(view) if joint is None else joint
    told_u_px = {face.component.refdes: face.pixel_u for face in view.faces}
    if joint.registration is not view.registration:
        faces = project_faces(joint.registration, view.board) if faces is None else faces
        view = replace(view, registration=joint.registration, faces=faces)
    sigma = gaussian_sigma_px(joint.blur_px)
    shape = view.registration.shape_px
    tops = tops_of([face for face in view.faces if np.isfinite(face.polygon_px).all()], joint.blur_px)
    emission = pixel_emissivity(view, tops, sigma)
    outline = outline_px(view)
    around = rings(view, tops, bare_board(view, tops, outline, sigma), emission.value)
    # smaller faces are not read from their insides, nor is their emissivity
    least_px = DIRECT_FROM_PX if view.emissivity_map is None else SMALL_BELOW_PX
    inner = pixel_weights_of(inner_of(tops, least_px), shape)
    emissivities = top_emissivities(view, tops, inner)
    ring_c = ring_temperatures(view, around)
    around_c = {top.face.component.refdes: ring.high_c for top, ring in zip(tops, ring_c, strict=True) if ring}
    estimates = measure(view, tops, inner, emissivities, around, joint, sigma, told_u_px)
    readings = _as_measured(view, tops, estimates, emissivities, ring_c, joint)
    readings = list(guarded(view, tops, emissivities, _board_c(view, tops, ring_c, joint), readings))
    readings = [_warned(reading, around_c.get(reading.refdes)) for reading in readings]
    named = {reading.refdes: reading for reading in readings}
    scene = Scene(
        view=view,
        tops=tops,
        emission=emission,
        extent=extent_of(view, tops, outline, sigma),
        readings=named,
        joint=joint,
        standing=standing_of(view, tops, named, ring_c, joint),
        shiny=shiny_of(view, tops, named),
    )
    bodies = bodies_of(tops)
    bare_c = bare_surface(scene, bodies)
    hot_spots = find_hot_spots(scene, bodies, bare_c)
    reflected = float(view.band.radiance(view.reflected_c))
    return FrameReading(
        readings=remarks.warmed_by_others(readings, hot_spots, around_c, view.board, view.ambient_c),
        hot_spots=hot_spots,
        surface_c=surface_temperature_c(view.band, view.leaving_radiance, emission.value, reflected),
        bare_c=bare_c,
        blur_px=joint.blur_px,
        blur_source=joint.blur_source,
        notes=joint.notes,
    )


def _as_measured(
    view: View,
    tops: Sequence[Top],
    estimates: Sequence[Estimate | None],
    emissivities: Sequence[Emissivity],
    ring_c: Sequence[RingTemperature | None],
    joint: Unmixed,
) -> list[Reading]:
    """A reading for every non-mechanical component, whatever the frame has to say against it."""
    places_mm = _places_mm(view, tops, estimates)
    of_part = {top.face.component.refdes: i for i, top in enumerate(tops)}
    of_joint = {refdes: i for i, refdes in enumerate(joint.refdes)}
    readings, faces = [], {face.component.refdes: face for face in view.faces}
    for component in view.board.parts:
        i, face = of_part.get(component.refdes), faces.get(component.refdes)
        estimate = None if i is None or tops[i].face.visible < LEAST_VISIBLE else estimates[i]
        if i is None or estimate is None:
            why = remarks.not_seen(component, view.registration.side, face, LEAST_VISIBLE)
            readings.append(hidden_reading(view, component, 0.0 if face is None else face.visible, why))
            continue
        at = of_joint.get(component.refdes)
        readings.append(_reading(view, tops[i], estimate, emissivities[i], ring_c[i], places_mm[i], joint, at))
    return readings


def _warned(reading: Reading, around_c: float | None) -> Reading:
    """A shiny part that looks warmer than the board around it with the remark that this may be a reflection."""
    if reading.state != "shiny" or around_c is None or reading.apparent_peak_c is None:
        return reading
    if reading.apparent_peak_c < around_c + LEAST_EXCESS_K:
        return reading
    return replace(reading, why=(*reading.why, remarks.may_be_reflection(reading.refdes)))


def _board_c(
    view: View, tops: Sequence[Top], ring_c: Sequence[RingTemperature | None], joint: Unmixed
) -> list[float | None]:
    """The coldest of the board around each top: of its ring, else what the joint solution has beneath it."""
    reflected = view.band.radiance(view.reflected_c)
    beneath_c = surface_temperature_c(view.band, joint.beneath, view.board_emissivity.value, reflected)
    solved = dict(zip(joint.refdes, beneath_c.tolist(), strict=True))
    around = [
        solved.get(top.face.component.refdes) if ring is None else ring.low_c
        for top, ring in zip(tops, ring_c, strict=True)
    ]
    return [value if value is not None and np.isfinite(value) else None for value in around]


def read_nothing(view: View) -> FrameReading:
    """A frame of which nothing may be read, because the placement is not that of the board in it."""
    why = (Reason(ReadingCode.FOREIGN_PLACEMENT, view.registration.foreign),)
    parts = view.board.parts
    return FrameReading(
        readings=tuple(hidden_reading(view, part, 0.0, why) for part in parts),
        hot_spots=(),
        surface_c=np.full(view.apparent_c.shape, np.nan),
        blur_px=BLUR_UNKNOWN_PX if view.blur_px is None else view.blur_px,
        blur_source="assumed" if view.blur_px is None else "camera.blur_px",
        notes=(view.registration.foreign,),
    )


def _finite(view: View) -> View:
    """The view with pixels beyond the band's temperatures set to the ambient, so that sums survive them."""
    if np.isfinite(view.leaving_radiance).all():
        return view
    ambient = float(view.band.radiance(view.ambient_c))
    return replace(view, leaving_radiance=np.where(np.isfinite(view.leaving_radiance), view.leaving_radiance, ambient))


def _places_mm(view: View, tops: Sequence[Top], estimates: Sequence[Estimate | None]) -> Array:
    """Where on the board each peak lies, at the height of its face, (n, 2); nan where there is none."""
    at_px = np.array([(np.nan, np.nan) if e is None else e.at_px for e in estimates]).reshape(-1, 2)
    return board_from_pixels(view.registration, at_px, np.array([top.face.z_mm for top in tops]))


def _reading(
    view: View,
    top: Top,
    estimate: Estimate,
    emissivity: Emissivity,
    ring: RingTemperature | None,
    at_mm: Array,
    joint: Unmixed,
    at: int | None,
) -> Reading:
    """One part as it was measured; ``at`` is its place in the joint solution, where it has one."""
    component = top.face.component
    short_px = _fitted_short_px(top, joint, at)
    readable = bool(np.isfinite(estimate.peak_c))
    state: State = "read"
    why = [*top.face.why, *estimate.why]
    if emissivity.value < SHINY_BELOW or not readable:
        state = "shiny"
        why.append(remarks.shiny(emissivity) if emissivity.value < SHINY_BELOW else remarks.no_solution())
    elif short_px < SMALL_BELOW_PX:
        state = "small"
        why.append(remarks.small(short_px))
    if state in ("read", "small"):
        uneven = remarks.uneven(estimate.peak_c, estimate.mean_c, view.ambient_c)
        why += [uneven] if uneven else []
        why += _of_the_solution(component.refdes, joint, at)
    return Reading(
        refdes=component.refdes,
        capture=view.capture,
        state=state,
        peak_c=estimate.peak_c if readable else None,
        mean_c=estimate.mean_c if np.isfinite(estimate.mean_c) else None,
        u_c=combined_k(estimate.budget) if readable else None,
        apparent_peak_c=float(view.apparent_c[estimate.pixel]),
        peak_at_mm=(float(at_mm[0]), float(at_mm[1])) if np.isfinite(at_mm).all() else None,
        pixels=float(top.face.visible_px.area),
        visible=top.face.visible,
        emissivity=emissivity.value,
        emissivity_u=emissivity.u,
        emissivity_source=emissivity.source,
        leaving_radiance=estimate.leaving,
        leaving_u=estimate.leaving_u,
        ring_c=None if ring is None else ring.mean_c,
        ring_u_c=None if ring is None else ring.mean_u_c,
        budget=estimate.budget,
        why=tuple(why),
    )


def hidden_reading(view: View, component: Component, visible: float, why: tuple[Reason, ...]) -> Reading:
    """A part that cannot be read in this view, and why."""
    emissivity = view.emissivity.get(component.refdes)
    return Reading(
        refdes=component.refdes,
        capture=view.capture,
        state="hidden",
        peak_c=None,
        mean_c=None,
        u_c=None,
        apparent_peak_c=None,
        peak_at_mm=None,
        pixels=0.0,
        visible=visible,
        emissivity=None if emissivity is None else emissivity.value,
        emissivity_u=None if emissivity is None else emissivity.u,
        emissivity_source="" if emissivity is None else emissivity.source,
        why=why,
    )


def _fitted_short_px(top: Top, joint: Unmixed, at: int | None) -> float:
    """Short side of the top face: as fitted by the joint solution, where that has it at a place, else as projected."""
    fitted = np.nan if at is None else float(joint.short_px[at])
    return fitted if np.isfinite(fitted) and fitted > 0.0 else top.short_px


def _of_the_solution(refdes: str, joint: Unmixed, at: int | None) -> list[Reason]:
    """What the joint solution has to say of a part besides its value."""
    why = []
    if at is not None and joint.clipped[at]:
        why.append(remarks.misfit())
    for group in joint.inseparable:
        if refdes in group:
            why.append(remarks.inseparable([other for other in group if other != refdes]))
    return why
