"""From the settings of one capture to a registered frame that can be read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from overlay.board.model import Board
from overlay.errors import input_error
from overlay.frames.emissivity import BOARD, emissivity_of, map_from_cold_frames
from overlay.frames.frame import Array, EmissivityMap, Frame
from overlay.frames.radiometry import Band, Sight, air_transmittance, leaving_radiance, undo_instrument_settings
from overlay.frames.read import read_frame
from overlay.frames.sampling import nearest
from overlay.job.settings import CaptureSettings, Settings
from overlay.registration.control_points import read_control_points
from overlay.registration.coverage import coverage_warnings
from overlay.registration.faces import project_faces
from overlay.registration.fit import fit_registration
from overlay.registration.model import Registration
from overlay.view.model import View
from overlay.view.regions import pixel_weights_of

_SAME_SURFACE_MM = 1.0  # difference of height up to which two poses show the same surface


def read_capture_frame(folder: Path, capture: CaptureSettings) -> Frame:
    """The capture's frame, scaled to °C, with its times."""
    return read_frame(
        folder / capture.frame,
        capture.frame,
        scale=capture.frame_scale,
        offset=capture.frame_offset,
        times_s=capture.frame_times_s,
        period_s=capture.frame_period_s,
    )


def read_reflection_check(folder: Path, capture: CaptureSettings, shape_px: tuple[int, int]) -> Array | None:
    """The same scene with something else reflected, in °C as its file has it; None where the capture names none."""
    if capture.reflection_check is None:
        return None
    file = capture.reflection_check
    frame = read_frame(folder / file, file, scale=capture.frame_scale, offset=capture.frame_offset)
    if frame.shape_px != shape_px:
        rows, cols = frame.shape_px
        what = f"is {cols} × {rows} pixels, but {capture.frame} is {shape_px[1]} × {shape_px[0]}"
        raise input_error(file, None, what, "take both frames with the same camera from the same place")
    return np.asarray(frame.temperature_c.mean(axis=0))


def register_capture(
    folder: Path,
    capture: CaptureSettings,
    settings: Settings,
    board: Board,
    shape_px: tuple[int, int],
    points_file: str | None = None,
) -> Registration:
    """Fit a capture's registration to its control points (or to those of ``points_file``)."""
    file = points_file or capture.control_points
    if file is None:
        remedy = 'add control_points = "….points.csv", or place points in `board-overlay workbench`'
        raise input_error("job.toml", None, f'capture "{capture.name}" has no control points', remedy)
    points = read_control_points(folder / file, file, board, capture.side)
    registration = fit_registration(
        points,
        capture.side,
        shape_px,
        hfov_deg=settings.camera.hfov_deg,
        distance_m=capture.distance_m,
        file=file,
    )
    return replace(registration, warnings=(*registration.warnings, *coverage_warnings(registration, board)))


def band_of(settings: Settings) -> Band:
    """The camera's spectral band."""
    return Band(*settings.camera.band_um)


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


def read_cold_frames(
    folder: Path, capture: CaptureSettings, settings: Settings, board: Board, registration: Registration
) -> EmissivityMap | None:
    """Emissivity of every pixel from the frames of the unpowered board; None where the capture names none."""
    if not capture.emissivity_map:
        return None
    band = band_of(settings)
    sight = sight_of(capture, band)
    reflected_c = capture.emissivity_map_reflected_c
    frames = []
    for file in capture.emissivity_map:
        cold = read_frame(folder / file, file, scale=capture.frame_scale, offset=capture.frame_offset)
        if cold.shape_px != registration.shape_px and capture.emissivity_map_points is None:
            what = f"has {cold.shape_px} pixels, the capture's frame {registration.shape_px}"
            raise input_error(file, None, what, "take it with the same pose, or give emissivity_map_points")
        apparent = apparent_of(capture, band, cold.temperature_c.mean(axis=0))
        frames.append(leaving_radiance(band, sight, apparent))
    sampling = None
    if capture.emissivity_map_points is not None:
        shape_px = (frames[0].shape[0], frames[0].shape[1])
        other = register_capture(folder, capture, settings, board, shape_px, capture.emissivity_map_points)
        sampling = _sampling(registration, other, board)
    return map_from_cold_frames(
        band,
        frames,
        capture.emissivity_map_c,
        reflected_c=capture.reflected_or_ambient_c if reflected_c is None else reflected_c,
        reflected_u_c=capture.reflected_u_c,
        noise_c=settings.camera.netd_c,
        sampling_px=sampling,
        source=", ".join(capture.emissivity_map),
    )


def _sampling(capture: Registration, cold: Registration, board: Board) -> Array:
    """For each pixel of the capture the place in the cold frame that saw the same surface, (rows, cols, 2).

    Each pixel counts at the height of the top face it shows: from another angle a tall part lies elsewhere, and what
    lies at its place on the flat board is another surface. nan where the cold frame shows something else there.
    """
    from overlay.registration.project import board_from_pixels, pixels_from_board

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
    height_mm = np.zeros(registration.shape_px)
    faces = [face for face in project_faces(registration, board) if not face.visible_px.is_empty]
    for face, weights in zip(
        faces, pixel_weights_of([face.visible_px for face in faces], registration.shape_px), strict=True
    ):
        most = weights.weight > 0.5
        height_mm[weights.rows[most], weights.cols[most]] = face.z_mm
    return height_mm


def view_of(
    capture: CaptureSettings,
    settings: Settings,
    board: Board,
    registration: Registration,
    temperature_c: Array,
    *,
    pages: int = 1,
    emissivity_map: EmissivityMap | None = None,
    frame: Frame | None = None,
    second_c: Array | None = None,
) -> View:
    """Everything a registered frame of shape (rows, cols) offers to be read.

    ``frame`` tells which of its pixels say less than they seem to; ``second_c`` is the frame of the reflection check.
    """
    band = band_of(settings)
    sight = sight_of(capture, band)
    apparent = apparent_of(capture, band, temperature_c)
    camera = settings.camera
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
        emissivity_map=emissivity_map,
        ambient_c=capture.ambient_c,
        reflected_c=capture.reflected_or_ambient_c,
        reflected_u_c=capture.reflected_u_c,
        accuracy_c=camera.accuracy_c,
        accuracy_percent=camera.accuracy_percent,
        noise_c=camera.netd_c / float(np.sqrt(pages)),
        blur_px=camera.blur_px,
        saturated=None if frame is None else frame.saturated,
        left_out=None if frame is None else frame.left_out,
        second_apparent_c=None if second_c is None else apparent_of(capture, band, second_c),
    )
