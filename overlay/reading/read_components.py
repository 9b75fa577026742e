"""From one capture's view to a reading for every part, and the hot spots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from overlay.board.model import Component
from overlay.frames.emissivity import SHINY_BELOW
from overlay.frames.frame import Emissivity
from overlay.frames.optics import gaussian_sigma_px
from overlay.frames.radiometry import surface_temperature_c
from overlay.reading import remarks
from overlay.reading.detection import Scene
from overlay.reading.emission import pixel_emissivity, top_emissivity
from overlay.reading.estimate import Estimate, Joint, from_few_pixels, from_frame
from overlay.reading.hotspots import find_hot_spots
from overlay.reading.little import fills_of, read_little
from overlay.reading.model import FrameReading, Reading, State, View
from overlay.reading.regions import Weights, pixel_weights_of
from overlay.reading.statistics import Smoothed, highest, peak_of, smoothed
from overlay.reading.surroundings import Ring, bare_board, extent_of, outline_px, rings
from overlay.reading.terms import common_terms, noise_radiance
from overlay.reading.tops import DIRECT_FROM_PX, SMALL_BELOW_PX, Top, tops_of
from overlay.registration.faces import project_faces
from overlay.registration.project import board_from_pixels
from overlay.uncertainty import combined_k

if TYPE_CHECKING:
    from overlay.reading.unmixing import Unmixed

LEAST_VISIBLE = 0.5
# Place of a part on the board against its placement, either axis (common practice for machine-placed parts).
PLACEMENT_U_MM = 0.06


def read_view(view: View, joint: Unmixed | None = None) -> FrameReading:
    """Read every non-mechanical component of a view, in the board's order, and find its hot spots.

    ``joint`` is the joint solution of the view's small parts where it is known already; else it is worked out.
    """
    view = _finite(view)
    joint = _solve(view) if joint is None else joint
    if joint.registration is not view.registration:
        view = replace(view, registration=joint.registration, faces=project_faces(joint.registration, view.board))
    sigma = gaussian_sigma_px(joint.blur_px)
    shape = view.registration.shape_px
    tops = tops_of([face for face in view.faces if np.isfinite(face.polygon_px).all()], joint.blur_px)
    emission = pixel_emissivity(view, tops, sigma)
    outline = outline_px(view)
    around = rings(view, tops, bare_board(view, tops, outline, sigma), emission.value)
    inner = pixel_weights_of([top.inner for top in tops], shape)
    emissivities = tuple(top_emissivity(view, top, weights) for top, weights in zip(tops, inner, strict=True))
    estimates = _estimates(view, tops, inner, emissivities, around, joint, sigma)
    of_part = {top.face.component.refdes: i for i, top in enumerate(tops)}
    readings, faces = [], {face.component.refdes: face for face in view.faces}
    for component in view.board.components:
        if component.mechanical:
            continue
        i = of_part.get(component.refdes)
        face = faces.get(component.refdes)
        if i is None or face is None or tops[i].face.visible < LEAST_VISIBLE or estimates[i] is None:
            why = remarks.not_seen(component, view.registration.side, face, LEAST_VISIBLE)
            readings.append(_unread(view, component, 0.0 if face is None else face.visible, why))
            continue
        estimate = estimates[i]
        assert estimate is not None
        readings.append(_reading(view, tops[i], estimate, emissivities[i], around[i], joint))
    around_c = _warmest_around(view, tops, around)
    extent = extent_of(view, outline, sigma)
    scene = Scene(
        view=view,
        tops=tops,
        emission=emission,
        on_board=extent.inside,
        beyond=extent.beyond,
        fittings=extent.fittings,
        readings={reading.refdes: reading for reading in readings},
        around_c=around_c,
        relative_u_c={reading.refdes: _relative_u_c(reading) for reading in readings},
    )
    hot_spots = find_hot_spots(scene)
    reflected = float(view.band.radiance(view.reflected_c))
    return FrameReading(
        readings=remarks.warmed_by_others(readings, hot_spots, around_c, view.board, view.ambient_c),
        hot_spots=hot_spots,
        surface_c=surface_temperature_c(view.band, view.leaving_radiance, emission.value, reflected),
        blur_px=joint.blur_px,
        blur_source=joint.blur_source,
        notes=joint.notes,
    )


def _solve(view: View) -> Unmixed:
    try:
        from overlay.reading.unmixing import unmix
    except ImportError:
        from types import SimpleNamespace

        none = np.zeros(0)
        return SimpleNamespace(
            refdes=(),
            leaving=none,
            leaving_u=none,
            beneath=none,
            short_px=none,
            clipped=(),
            registration=view.registration,
            blur_px=1.3 if view.blur_px is None else view.blur_px,
            blur_source="declared",
            notes=(),
        )  # type: ignore
    return unmix(view)


def _finite(view: View) -> View:
    """The view with pixels beyond the band's temperatures set to the ambient, so that sums survive them."""
    if np.isfinite(view.leaving_radiance).all():
        return view
    ambient = float(view.band.radiance(view.ambient_c))
    return replace(view, leaving_radiance=np.where(np.isfinite(view.leaving_radiance), view.leaving_radiance, ambient))


def _estimates(
    view: View,
    tops: Sequence[Top],
    inner: Sequence[Weights],
    emissivities: Sequence[Emissivity],
    around: Sequence[Ring | None],
    joint: Unmixed,
    sigma_px: float,
) -> list[Estimate | None]:
    noise = noise_radiance(view)
    maps = smoothed(view.leaving_radiance, noise)
    moved = _moved_peaks(view, tops, inner, maps)
    solved = _solved(joint)
    mirrored = float(view.band.radiance(view.reflected_c))
    result: list[Estimate | None] = [None] * len(tops)
    few = []
    for i, top in enumerate(tops):
        peak = None
        if top.readable_px >= DIRECT_FROM_PX:
            peak = peak_of(maps, inner[i], top.readable_px, top.margin_px)
        if peak is None:
            few.append(i)
        else:
            result[i] = from_frame(view, top, peak, emissivities[i], moved[i])
    fills = fills_of([tops[i] for i in few], view.registration.shape_px, sigma_px)
    for i, fill in zip(few, fills, strict=True):
        top, ring = tops[i], around[i]
        part = solved.get(top.face.component.refdes)
        beneath = part.beneath if part is not None else None if ring is None else ring.leaving
        place_u = float(np.hypot(top.face.pixel_u, PLACEMENT_U_MM * top.px_per_mm))
        surround = mirrored if beneath is None else beneath
        little = read_little(view.leaving_radiance, noise, surround, mirrored, emissivities[i].value, fill, place_u)
        result[i] = from_few_pixels(view, top, part, little, emissivities[i], beneath)
    return result


def _solved(joint: Unmixed) -> dict[str, Joint]:
    return {
        refdes: Joint(float(leaving), float(u), float(beneath))
        for refdes, leaving, u, beneath in zip(joint.refdes, joint.leaving, joint.leaving_u, joint.beneath, strict=True)
        if np.isfinite(leaving) and np.isfinite(u) and np.isfinite(beneath)
    }


def _moved_peaks(
    view: View, tops: Sequence[Top], inner: Sequence[Weights], maps: Smoothed
) -> list[tuple[float, float]]:
    """By how much peaks change when faces move by one standard uncertainty: (of registration, of placement)."""
    import shapely

    if not tops:
        return []
    registration_u = np.array([top.face.pixel_u for top in tops])
    placement_u = np.array([PLACEMENT_U_MM * top.px_per_mm for top in tops])
    step = np.hypot(registration_u, placement_u)
    direct = [i for i, top in enumerate(tops) if top.readable_px >= DIRECT_FROM_PX and len(inner[i].weight)]
    regions = np.array([tops[i].inner for i in direct], dtype=object)
    total = np.zeros(len(tops))
    coordinates, owner = shapely.get_coordinates(regions, return_index=True)
    for direction in np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]]):
        shift = step[np.array(direct, dtype=np.intp)][owner][:, None] * direction
        shifted = shapely.set_coordinates(regions.copy(), coordinates + shift)
        for i, weights in zip(direct, pixel_weights_of(list(shifted), view.registration.shape_px), strict=True):
            values = maps.for_side(tops[i].readable_px)[0]
            change = highest(values, weights) - highest(values, inner[i])
            if np.isfinite(change):
                total[i] += change**2 / 2.0  # two axes, each with the mean square of its two directions
    root = np.sqrt(total)
    return [
        (float(r * a / max(s, 1e-12)), float(r * b / max(s, 1e-12)))
        for r, a, b, s in zip(root, registration_u, placement_u, step, strict=True)
    ]


def _reading(
    view: View, top: Top, estimate: Estimate, emissivity: Emissivity, ring: Ring | None, joint: Unmixed
) -> Reading:
    component = top.face.component
    short_px = _fitted_short_px(top, joint)
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
        why += _of_the_solution(component.refdes, joint)
    at_mm = board_from_pixels(view.registration, np.array([estimate.at_px]), top.face.z_mm)[0]
    ring_c, ring_u_c = _ring(view, ring)
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
        ring_c=ring_c,
        ring_u_c=ring_u_c,
        budget=estimate.budget,
        why=tuple(why),
    )


def _unread(view: View, component: Component, visible: float, why: tuple[str, ...]) -> Reading:
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


def _fitted_short_px(top: Top, joint: Unmixed) -> float:
    """Short side of the top face: as fitted by the joint solution where it did, else as projected."""
    if top.face.component.refdes in joint.refdes:
        fitted = float(joint.short_px[joint.refdes.index(top.face.component.refdes)])
        if np.isfinite(fitted) and fitted > 0.0:
            return fitted
    return top.short_px


def _of_the_solution(refdes: str, joint: Unmixed) -> list[str]:
    if refdes in joint.refdes and joint.clipped[joint.refdes.index(refdes)]:
        return ["its place or size in the frame does not fit its body: check the package and the placement"]
    return []


def _ring(view: View, ring: Ring | None) -> tuple[float | None, float | None]:
    """Mean surface of the board around a part, and its standard uncertainty, in °C."""
    if ring is None:
        return None, None
    reflected = float(view.band.radiance(view.reflected_c))
    ring_c = float(surface_temperature_c(view.band, ring.leaving, ring.emissivity, reflected))
    if not np.isfinite(ring_c):
        return None, None
    emissivity = Emissivity(ring.emissivity, view.board_emissivity.u, view.board_emissivity.source)
    return ring_c, combined_k(common_terms(view, ring_c, ring.leaving, emissivity, ""))


def _warmest_around(view: View, tops: Sequence[Top], around: Sequence[Ring | None]) -> dict[str, float]:
    reflected = float(view.band.radiance(view.reflected_c))
    result = {}
    for top, ring in zip(tops, around, strict=True):
        if ring is not None:
            warmest = float(surface_temperature_c(view.band, ring.high, ring.emissivity, reflected))
            if np.isfinite(warmest):
                result[top.face.component.refdes] = warmest
    return result


def _relative_u_c(reading: Reading) -> float:
    """Standard uncertainty of a part's temperature against others of the frame: without what the frame shares."""
    return combined_k(
        tuple(term for term in reading.budget if not term.shared or term.shared.startswith("emissivity:"))
    )
