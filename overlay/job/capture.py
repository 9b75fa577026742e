"""From one loaded capture to a registered frame, and what it offers to be read. Touches no file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from overlay.board.model import Board
from overlay.errors import Problem
from overlay.frames.emissivity import BOARD, POSE_U_PX, emissivity_of, map_from_cold_frames, resample_map
from overlay.frames.frame import Array, EmissivityMap
from overlay.frames.radiometry import Band, Sight, air_transmittance, leaving_radiance, undo_instrument_settings
from overlay.frames.sampling import nearest
from overlay.frames.size_of_source import PUBLISHED
from overlay.job.load import CaptureData
from overlay.job.settings import CameraSettings, CaptureSettings, lens_of
from overlay.registration.faces import project_faces
from overlay.registration.fit import fit_registration
from overlay.registration.model import Registration
from overlay.registration.policy import settle_registration, tie_frame, try_frame
from overlay.registration.project import board_from_pixels, pixels_from_board

if TYPE_CHECKING:
    from overlay.view.model import View

_SAME_SURFACE_MM = 1.0  # difference of height up to which two poses show the same surface (common practice)


def register_capture(
    data: CaptureData, board: Board, camera: CameraSettings, start: Registration | None = None, *, always: bool = False
) -> Registration:
    """Tie a capture to the board by its control points (or from ``start``) and by what its frame shows.

    See `overlay.registration.policy`; ``always``: use the frame's own registration wherever it can be trusted.
    """
    capture, lens = data.settings, lens_of(camera, data.settings)
    apparent_c = apparent_page_c(data, camera)
    if start is not None:
        return settle_registration(start, apparent_c, board, lens, always=always)
    file = capture.control_points or "control points"
    return tie_frame(data.points, capture.side, apparent_c, board, lens, file=file, always=always)


def try_capture(data: CaptureData, board: Board, camera: CameraSettings) -> Registration:
    """A registration of a capture for who only asks whether it can be had; see `overlay.registration.policy`."""
    capture = data.settings
    file, lens = capture.control_points or "control points", lens_of(camera, capture)
    return try_frame(data.points, capture.side, apparent_page_c(data, camera), board, lens, file=file)


def foreign_problem(capture: CaptureSettings, board: Board, foreign: str) -> Problem:
    """The error that a capture shows another board than the placement says."""
    what = f'capture "{capture.name}": {foreign}'
    remedy = "nothing of this capture was read; give the placement of the board in the frame, then run again"
    return Problem("error", board.placement_file.name, None, what, remedy)


def band_of(camera: CameraSettings) -> Band:
    """The camera's spectral band."""
    return Band(*camera.band_um)


def apparent_page_c(data: CaptureData, camera: CameraSettings) -> Array:
    """Apparent temperatures (rows, cols) of what of the frame is read."""
    return apparent_of(data.settings, band_of(camera), data.page.temperature_c)


def sight_of(capture: CaptureSettings, band: Band) -> Sight:
    """What lies between board and camera.

    Without a distance the air counts as clear; at the bench its effect stays under 0.2 K.
    """
    air, air_u = 1.0, 0.0
    if capture.distance_m is not None:
        air, air_u = air_transmittance(capture.distance_m, capture.humidity_percent, capture.ambient_c, band)
    return Sight(
        air_c=capture.ambient_c,
        air_transmittance=air,
        air_transmittance_u=air_u,
        window_transmittance=capture.window_transmittance,
        window_transmittance_u=capture.window_transmittance_u if capture.window_transmittance < 1.0 else 0.0,
        window_reflectance=capture.window_reflectance,
        window_c=capture.ambient_c if capture.window_c is None else capture.window_c,
        window_reflected_c=capture.ambient_c if capture.window_reflected_c is None else capture.window_reflected_c,
    )


def apparent_of(capture: CaptureSettings, band: Band, temperature_c: Array) -> Array:
    """Apparent temperature of a frame: the instrument's own emissivity setting undone."""
    if capture.frame_emissivity == 1.0:
        return np.asarray(temperature_c, dtype=np.float64)
    assert capture.frame_reflected_c is not None  # settings ask for it
    return undo_instrument_settings(band, temperature_c, capture.frame_emissivity, capture.frame_reflected_c)


def emissivity_map_of(
    data: CaptureData, board: Board, camera: CameraSettings, registration: Registration
) -> EmissivityMap | None:
    """Emissivity of every pixel from the frames of the unpowered board; None where there are none."""
    if not data.cold:
        return None

    capture, band = data.settings, band_of(camera)
    sight = sight_of(capture, band)
    sampling = None
    if capture.emissivity_map_points is not None:
        shape_px, lens = data.cold[0].shape_px, lens_of(camera, capture)
        # one even temperature shows hardly any part: the points alone must do
        other = fit_registration(data.cold_points, capture.side, shape_px, lens, file=capture.emissivity_map_points)
        sampling = _sampling(registration, other, board)
    reflected_c = capture.emissivity_map_reflected_c
    found = map_from_cold_frames(
        band,
        [
            leaving_radiance(band, sight, apparent_of(capture, band, cold.temperature_c.mean(axis=0)))
            for cold in data.cold
        ],
        capture.emissivity_map_c,
        reflected_c=capture.reflected_or_ambient_c if reflected_c is None else reflected_c,
        stage_u_c=capture.emissivity_map_u_c,
        reflected_u_c=capture.reflected_u_c,
        noise_c=camera.netd_c,
        source=", ".join(capture.emissivity_map),
    )
    return found if sampling is None else resample_map(found, sampling, POSE_U_PX)


def _sampling(capture: Registration, cold: Registration, board: Board) -> Array:
    """For each pixel of the capture the place in the cold frame that saw the same surface, (rows, cols, 2).

    Each pixel counts at the height of the top face it shows: from another angle a tall part lies elsewhere, and what
    lies at its place on the flat board is another surface. nan where the cold frame shows something else there.
    """
    rows, cols = capture.shape_px
    y, x = np.mgrid[0:rows, 0:cols]
    height_mm = _heights_mm(capture, board)
    pixels = np.column_stack([x.ravel(), y.ravel()]).astype(np.float64)
    board_mm = board_from_pixels(capture, pixels, height_mm.ravel())
    place = pixels_from_board(cold, np.column_stack([board_mm, height_mm.ravel()])).reshape(rows, cols, 2)
    there_mm = nearest(_heights_mm(cold, board), place)
    return np.where(np.abs(there_mm - height_mm)[..., None] < _SAME_SURFACE_MM, place, np.nan)


def _heights_mm(registration: Registration, board: Board) -> Array:
    """Height of the top face that each pixel shows, 0 where it shows none, (rows, cols)."""
    from overlay.view.regions import pixel_weights_of

    height_mm = np.zeros(registration.shape_px)
    faces = [face for face in project_faces(registration, board) if not face.visible_px.is_empty]
    for face, weights in zip(
        faces, pixel_weights_of([face.visible_px for face in faces], registration.shape_px), strict=True
    ):
        most = weights.weight > 0.5
        height_mm[weights.rows[most], weights.cols[most]] = face.z_mm
    return height_mm


def view_of(data: CaptureData, board: Board, camera: CameraSettings, registration: Registration) -> View:
    """Everything a registered capture offers to be read."""
    from overlay.view.model import View

    capture, band = data.settings, band_of(camera)
    sight = sight_of(capture, band)
    apparent, second, colours = apparent_page_c(data, camera), data.reflection_check, data.frame.colour_scale
    noise_c = camera.netd_c / np.sqrt(data.page.averaged)
    return View(
        capture=capture.name,
        band=band,
        sight=sight,
        board=board,
        registration=registration,
        faces=project_faces(registration, board),
        apparent_c=apparent,
        leaving_radiance=leaving_radiance(band, sight, apparent),
        emissivity={part.refdes: emissivity_of(part) for part in board.components},
        board_emissivity=BOARD,
        emissivity_map=emissivity_map_of(data, board, camera, registration),
        ambient_c=capture.ambient_c,
        reflected_c=capture.reflected_or_ambient_c,
        reflected_u_c=capture.reflected_u_c,
        accuracy_c=camera.accuracy_c,
        accuracy_percent=camera.accuracy_percent,
        noise_c=float(np.hypot(noise_c, 0.0 if colours is None else colours.noise_c)),
        blur_px=camera.blur_px,
        colour_scale_u_c=0.0 if colours is None else colours.common_u_c,
        nonuniformity_c=camera.nonuniformity_c,
        size_of_source=data.size_of_source or PUBLISHED,
        saturated=data.frame.saturated,
        left_out=data.frame.left_out,
        second_apparent_c=None if second is None else apparent_of(capture, band, second.temperature_c.mean(axis=0)),
    )
