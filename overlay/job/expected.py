"""What a planned shot can be expected to give: its frame is drawn, and read as any frame is.

The uncertainty of a reading depends on blur, neighbours, emissivity and registration all at once. Rather than telling
it a second time by a rule of thumb, the planned frame is drawn with a stated rise and goes through the reading itself,
so that a plan stays true when the reading changes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.frames.emissivity import BOARD, emissivity_of
from overlay.frames.optics import gaussian_sigma_px
from overlay.frames.read import frame_of
from overlay.frames.smoothing import gaussian
from overlay.job.analyse import Progress
from overlay.job.analysis import Job
from overlay.job.arrays import capture_of_arrays
from overlay.job.capture import band_of, view_of
from overlay.job.settings import CaptureSettings, lens_of
from overlay.reading.read_components import read_view
from overlay.registration.control_points import DEFAULT_PIXEL_U
from overlay.registration.faces import project_faces
from overlay.registration.fit import fit_registration
from overlay.registration.model import ControlPoint, Face, Registration
from overlay.registration.project import board_from_pixels, pixels_from_board
from overlay.shots.model import Shot, ShotCamera, ShotPlan
from overlay.shots.pose import planned_registration
from overlay.shots.side import CLICKABLE_PX
from overlay.threads import one_algebra_thread
from overlay.unmixing.unmix import unmix
from overlay.view.shares import painted

RISE_K = 20.0
"""Rise of the board where no report tells better; a hotter part's emissivity weighs more (own choice)."""
CONTRAST_K = 4.0
"""How much warmer than its board a part is then: most are passive and warmed by others (own choice)."""
_NEIGHBOURS = 6  # parts whose median is taken for the board's own rise: a hot one among them does not move it
_COARSE_PX = 8  # the board's temperature is smooth: worked out at every eighth pixel
_AMBIENT_C = 23.0  # of a usual laboratory: uncertainties hardly depend on it
_BLUR_PX = 1.3  # full width at half maximum where the camera's is not stated: as the reading's own assumption
_MOST_POINTS = 8  # as many as a careful person clicks
_NAME = "planned frame"


def with_expected_u(
    job: Job, plan: ShotPlan, rise_k: Mapping[str, float] | None = None, progress: Progress | None = None
) -> ShotPlan:
    """The plan with ``expected_u_c`` of every sighting and shortfall that a reading of its frame would give.

    ``rise_k``: rise over ambient by refdes, from a report; `RISE_K` for all others.
    """
    tell = progress or (lambda _what, _share: None)
    shots = []
    for index, shot in enumerate(plan.shots):
        tell(f"reading shot {shot.number} as it is expected to look", index / len(plan.shots))
        shots.append(_with_u(job, plan.camera, shot, rise_k or {}))
    told = replace(plan, shots=tuple(shots))
    best = {item.refdes: told.best(item.refdes) for item in plan.shortfalls}
    shortfalls = tuple(
        item if (seen := best[item.refdes]) is None else replace(item, expected_u_c=seen[1].expected_u_c)
        for item in plan.shortfalls
    )
    told_by = "what the report read" if rise_k else f"a board {RISE_K:g} K warm; hotter parts are read less surely"
    return replace(told, shortfalls=shortfalls, notes=(*plan.notes, f"u is one standard uncertainty, for {told_by}"))


@one_algebra_thread
def _with_u(job: Job, camera: ShotCamera, shot: Shot, rise_k: Mapping[str, float]) -> Shot:
    exact = planned_registration(camera, shot.side, shot.aim_mm, shot.distance_m * 1000.0, shot.turned)
    settings = CaptureSettings(
        name=_NAME, frame=_NAME, side=shot.side, ambient_c=_AMBIENT_C, distance_m=shot.distance_m
    )
    faces = project_faces(exact, job.board)
    points = _points(job, exact, faces)
    if len(points) < 4:
        return shot  # nobody could tie that frame to the board: what its readings would be worth is not known
    lens = lens_of(job.settings.camera, settings)
    registration = fit_registration(points, shot.side, exact.shape_px, lens, file=_NAME)
    data = capture_of_arrays(settings, frame_of(_drawn_c(job, exact, faces, rise_k), _NAME), points)
    view = view_of(data, job.board, job.settings.camera, registration)
    u_c = {item.refdes: item.u_c for item in read_view(view, unmix(view)).readings if item.trusted}
    return replace(shot, sightings=tuple(replace(item, expected_u_c=u_c.get(item.refdes)) for item in shot.sightings))


def _points(job: Job, exact: Registration, faces: Sequence[Face]) -> tuple[ControlPoint, ...]:
    """Points a person would click: large parts far from each other, at their true pixels."""
    rows, cols = exact.shape_px
    places = [
        (face.component.refdes, face.component.center_mm, face.z_mm)
        for face in faces
        if face.component.body is not None and face.visible > 0.9 and _wide(face.polygon_px)
    ]
    corners = np.array(job.board.outline.polygon.minimum_rotated_rectangle.exterior.coords)[:4]
    places += [("", (float(x), float(y)), 0.0) for x, y in corners]
    xyz_mm = np.array([(*at, z) for _, at, z in places])
    uv_px = pixels_from_board(exact, xyz_mm)
    inside = np.flatnonzero(((uv_px > 1) & (uv_px < np.array([cols - 2, rows - 2]))).all(axis=1))
    chosen: list[int] = []
    while len(chosen) < min(_MOST_POINTS, len(inside)):
        apart = [min((float(np.hypot(*(uv_px[i] - uv_px[j]))) for j in chosen), default=0.0) for i in inside]
        first = np.hypot(*(uv_px[inside] - np.array([cols, rows]) / 2.0).T)
        chosen.append(int(inside[int(np.argmax(np.round(apart if chosen else first, 6)))]))
    return tuple(
        ControlPoint(
            pixel=(float(uv_px[i, 0]), float(uv_px[i, 1])),
            board_mm=places[i][1],
            z_mm=places[i][2],
            pixel_u=DEFAULT_PIXEL_U,
            at=places[i][0] or None,
            line=line,
        )
        for line, i in enumerate(chosen, start=1)
    )


def _wide(polygon_px: Array) -> bool:
    return bool(np.ptp(polygon_px, axis=0).min() >= CLICKABLE_PX)


def _drawn_c(job: Job, exact: Registration, faces: Sequence[Face], rise_k: Mapping[str, float]) -> Array:
    """Apparent temperatures of the planned frame: even tops on a smooth board, blurred as the camera does."""
    import shapely

    band = band_of(job.settings.camera)
    room = float(band.radiance(_AMBIENT_C))
    rises = {part.refdes: rise_k.get(part.refdes, np.nan) for part in job.board.components if part.side == exact.side}
    board_rise = _board_rise_k(job, exact, rises)
    board_c = _AMBIENT_C + board_rise
    board = BOARD.value * band.radiance(board_c) + (1.0 - BOARD.value) * room
    rings = job.board.outline.polygon
    shapes = list(rings.geoms) if rings.geom_type == "MultiPolygon" else [rings]
    edges = [shapely.Polygon(_seen(exact, np.asarray(shape.exterior.coords))) for shape in shapes]
    inside = painted(edges, np.ones((len(edges), 1)), exact.shape_px, 0.0)
    regions, values = [], []
    for face in faces:
        if face.visible_px.is_empty or face.component.body is None:
            continue
        emissivity = emissivity_of(face.component).value
        at = np.clip(np.rint(face.polygon_px.mean(axis=0)).astype(int), 0, np.array(exact.shape_px)[::-1] - 1)
        own = rises.get(face.component.refdes, np.nan)
        rise = own if np.isfinite(own) else float(board_rise[at[1], at[0]]) + CONTRAST_K
        regions.append(face.visible_px)
        values.append(emissivity * float(band.radiance(_AMBIENT_C + rise)) + (1.0 - emissivity) * room)
    camera = job.settings.camera
    sigma = gaussian_sigma_px(_BLUR_PX if camera.blur_px is None else camera.blur_px)
    # parts over board over room: what a part covers of a pixel, it takes from the board beneath
    covered, parts = painted(regions, np.column_stack([np.ones(len(values)), values]), exact.shape_px, 0.0)
    leaving = parts + (1.0 - covered) * (inside[0] * board + (1.0 - inside[0]) * room)
    return np.asarray(band.temperature_c(gaussian(leaving, sigma)))


def _board_rise_k(job: Job, exact: Registration, rises: Mapping[str, float]) -> Array:
    """Rise of the board at every pixel (rows, cols): the median of the parts next to it, smoothed between them."""
    rows, cols = exact.shape_px
    known = [part for part in job.board.components if np.isfinite(rises.get(part.refdes, np.nan))]
    if not known:
        return np.full((rows, cols), RISE_K)
    places = np.array([part.center_mm for part in known])
    own = np.array([rises[part.refdes] for part in known])
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    around = np.median(own[np.argsort(apart, axis=1, kind="stable")[:, :_NEIGHBOURS]], axis=1)
    v, u = np.mgrid[0:rows:_COARSE_PX, 0:cols:_COARSE_PX]
    grid_mm = board_from_pixels(exact, np.column_stack([u.ravel(), v.ravel()]).astype(np.float64))
    weights = 1.0 / (1.0 + ((grid_mm[:, None] - places[None]) ** 2).sum(axis=2))
    coarse = (weights @ around / weights.sum(axis=1)).reshape(u.shape)
    return np.asarray(np.repeat(np.repeat(coarse, _COARSE_PX, axis=0), _COARSE_PX, axis=1)[:rows, :cols])


def _seen(exact: Registration, ring_mm: Array) -> Array:
    return pixels_from_board(exact, np.column_stack([ring_mm, np.zeros(len(ring_mm))]))[:-1]
