"""The registration of a frame: control points in, a tie to the board with its covariance out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.board.model import Side
from overlay.errors import InputError, input_error, raise_errors
from overlay.registration.camera import Pinhole
from overlay.registration.checks import mirrored_problem, mirrored_share, point_problems, view_problems
from overlay.registration.fit_models import fit_camera, fit_cameras, fit_flat, left_out_px, refit, surface_matrix
from overlay.registration.least_squares import (
    CameraPriors,
    Fit,
    Sightings,
    camera_prior_terms,
    camera_priors,
    point_terms,
)
from overlay.registration.lens import LEAN_U, lean_u_of, lens_warnings, with_distance
from overlay.registration.model import UNTOLD, ControlPoint, Lens, Model, PointResidual, Registration
from overlay.registration.planar import Planar
from overlay.registration.residuals import mm_per_px_of, rms_of, sighted
from overlay.registration.suspects import Suspicion, find_suspects
from overlay.registration.tails import chi2_tail

UNKNOWN_HEIGHT_U_MM = 1.5
"""Standard uncertainty of the height of a part nobody knows, in mm (common practice: most parts are under 3 mm)."""
HOPELESS = 0.05  # rms of the residuals over the frame's diagonal
NO_CAMERA_P = 1e-3
"""Chance of the points' scatter about the best camera, or of a camera so unlike any, below which none is believed: the
frame was cropped, or bent."""
CLICK_U_PX = 0.1
"""Nobody places a point better than that (common practice): a smaller scatter makes nobody suspect."""
_HELD_BY_POINTS = {True: 6, False: 8}  # parameters that points must settle, by whether the field of view is told
_CAMERA_FROM = 4  # points from which a camera is fitted although its field of view is not told


def fit_registration(
    points: Sequence[ControlPoint],
    side: Side,
    shape_px: tuple[int, int],
    lens: Lens = UNTOLD,
    *,
    file: str = "control points",
) -> Registration:
    """Tie a frame to a board.

    A camera is fitted: pose, focal length, radial term, each point at its height. Where ``lens`` tells no field of
    view its focal length is held loosely (35° give or take half), and ``distance_m`` tells it where that is stated;
    then two points give but a similarity and three an affine map. Where no camera suits the points of an untold lens,
    a homography of the surface does.

    A point so wrong that its left-out residual exceeds 8 standard uncertainties, while at least four others agree,
    is left out of the fit; it is marked and ``warnings`` say so. Other suspects are only marked.

    Parameters
    ----------
    points
        Two or more; pixels inside the frame.
    side, shape_px
        The side that is seen, and (rows, cols) of the frame.
    file
        Name for messages.

    Raises
    ------
    InputError
        If no trustworthy fit exists, with the reason: too few points, on one line, coincident, outside the frame,
        mirrored against ``side``, a horizon inside the frame, or a scatter that fits no view at all.
    """
    points = tuple(points)
    told = lens.hfov_deg is not None
    raise_errors(point_problems(points, side, shape_px, file, flat=not told))
    priors = camera_priors(replace(lens, distance_m=None), shape_px)
    seen = sightings(points)
    suspicion = _suspicion(_widened(seen, points, LEAN_U), points, side, priors, shape_px)
    if len(points) > 3 and not suspicion.explained and mirrored_share(points, side) > 0.5:
        raise InputError([mirrored_problem(side, file)])
    if 2 * len(points) <= _HELD_BY_POINTS[told]:  # they fit exactly, whatever they are: no one can be singled out
        suspicion = Suspicion({}, (), hint=suspicion.hint)
    if told:
        tied = _camera(seen, points, suspicion, lens, priors, (side, shape_px))
    else:
        tied = _flat(seen, points, suspicion, side, shape_px)
        if len(points) - len(suspicion.left_out) >= _CAMERA_FROM:
            camera = _camera(seen, points, suspicion, lens, priors, (side, shape_px))
            if not _no_camera(camera, tied):
                tied = camera
            else:
                suspicion = replace(suspicion, notes=(*suspicion.notes, _NO_CAMERA))
    raise_errors(view_problems(tied.fit, tied.seen, file, suspicion.hint))
    registration = _registration(points, suspicion, tied, told=told)
    _refuse_hopeless(registration, suspicion, file)
    return replace(registration, warnings=(*suspicion.notes, *tied.warnings, *_warnings(registration, tied.fit)))


_NO_CAMERA = (
    "no camera that looks straight through the middle of the frame suits the points (a cropped frame?): "
    "they were fitted as a flat picture, in which tall parts lean unknown ways; give hfov_deg and the whole frame"
)


@dataclass(frozen=True, slots=True, eq=False)
class _Tied:
    """A model fitted to those points that are believed."""

    fit: Fit
    seen: Sightings  # all points, as uncertain as the model leaves them
    used: tuple[int, ...]
    priors: CameraPriors | None = None
    lean_u: float = 0.0
    warnings: tuple[str, ...] = ()


def sightings(points: Sequence[ControlPoint]) -> Sightings:
    """Control points as arrays."""
    return Sightings(*sighted(points))


def _suspicion(
    seen: Sightings, points: Sequence[ControlPoint], side: Side, priors: CameraPriors, shape_px: tuple[int, int]
) -> Suspicion:
    """Which points the others contradict; priors hold the camera, so that few points can disagree."""
    if len(points) < 4:
        return Suspicion({}, ())
    floored = replace(seen, u_px=np.maximum(seen.u_px, CLICK_U_PX))
    return find_suspects(
        floored, [point.name for point in points], lambda cases: fit_cameras(floored, cases, side, shape_px, priors)
    )


def _widened(seen: Sightings, points: Sequence[ControlPoint], lean_u: float, *, flat: bool = False) -> Sightings:
    """Pixel uncertainties with the lean of unknown heights; of all heights where the model is ``flat``."""
    unknown = np.array([0.0 if point.height_known else UNKNOWN_HEIGHT_U_MM for point in points])
    height = np.hypot(unknown, seen.xyz_mm[:, 2] if flat else 0.0)
    across_mm = np.ptp(seen.xyz_mm[:, :2], axis=0)
    across_px = np.ptp(seen.uv_px, axis=0)
    px_per_mm = float(np.hypot(*across_px) / np.hypot(*across_mm))
    return replace(seen, u_px=np.hypot(seen.u_px, lean_u * px_per_mm * height))


def _flat(
    seen: Sightings, points: Sequence[ControlPoint], suspicion: Suspicion, side: Side, shape_px: tuple[int, int]
) -> _Tied:
    """The points as a flat picture of a flat board."""
    used = _used(points, suspicion)
    lean_u = lean_u_of(seen.without(*suspicion.left_out), side, shape_px)
    widened = _widened(seen, points, lean_u, flat=True)
    return _Tied(fit_flat(widened.without(*suspicion.left_out), side, shape_px), widened, used, lean_u=lean_u)


def _camera(
    seen: Sightings,
    points: Sequence[ControlPoint],
    suspicion: Suspicion,
    lens: Lens,
    priors: CameraPriors,
    view: tuple[Side, tuple[int, int]],
) -> _Tied:
    """The points as a camera sees them, its lens as it is told; the distance only where it does not contradict."""
    side, shape_px = view
    widened = _widened(seen, points, LEAN_U)
    used = widened.without(*suspicion.left_out)
    fit = fit_camera(used, side, shape_px, priors)
    warnings = lens_warnings(fit, priors, used) if lens.hfov_deg is not None else []
    if lens.distance_m is not None and not view_problems(fit, widened, "", ""):
        priors, fit, warning = with_distance(used, fit, priors, lens.distance_m)
        warnings += warning
    return _Tied(fit, widened, _used(points, suspicion), priors, warnings=tuple(warnings))


def _used(points: Sequence[ControlPoint], suspicion: Suspicion) -> tuple[int, ...]:
    return tuple(index for index in range(len(points)) if index not in suspicion.left_out)


def _no_camera(camera: _Tied, flat: _Tied) -> bool:
    """Whether a flat picture suits the points, and no camera does: they scatter about the best, or it is a freak."""

    def scatter(tied: _Tied) -> float:
        left_out = [index for index in range(len(tied.seen)) if index not in tied.used]
        residuals, _ = point_terms(tied.fit.projection, tied.fit.parameters, tied.seen.without(*left_out))
        return float(residuals @ residuals)

    assert isinstance(camera.fit.projection, Pinhole)
    assert camera.priors is not None
    freak, _ = camera_prior_terms(camera.fit.projection, camera.fit.parameters, camera.priors)
    free = max(2 * len(camera.used) - _HELD_BY_POINTS[False], 1)
    unlikely = min(chi2_tail(free, scatter(camera)), chi2_tail(len(freak), float(freak @ freak)))
    return bool(unlikely < NO_CAMERA_P and chi2_tail(free, scatter(flat)) > NO_CAMERA_P)


def _registration(points: Sequence[ControlPoint], suspicion: Suspicion, tied: _Tied, *, told: bool) -> Registration:
    fit, seen = tied.fit, tied.seen
    projection = fit.projection
    off_px = seen.uv_px - projection.pixels(fit.parameters, seen.xyz_mm)
    residuals = []
    left_out_of = _left_out_px(tied, told=told)
    for index, point in enumerate(points):
        alone = index not in tied.used
        left_out = float(np.hypot(*off_px[index])) if alone else left_out_of.get(index)
        residuals.append(
            PointResidual(
                point=point,
                residual_px=float(np.hypot(*off_px[index])),
                left_out_px=left_out,
                residual_xy_px=(float(off_px[index, 0]), float(off_px[index, 1])),
                suspect=index in suspicion.remarks,
                remark=suspicion.remarks.get(index, ""),
                left_out=alone,
            )
        )
    rms_px, rms_mm = rms_of(projection, fit.parameters, [points[index] for index in tied.used])
    exact = 2 * len(tied.used) <= _HELD_BY_POINTS[told]  # as many numbers as the points settle: they fit whatever
    return Registration(
        model=_model(fit, len(tied.used)),
        side=projection.side,
        shape_px=projection.shape_px,
        pixel_from_board=surface_matrix(projection, fit.parameters),
        parameters=fit.parameters,
        covariance=fit.covariance,
        points=tuple(residuals),
        rms_px=None if exact else rms_px,
        rms_mm=None if exact else rms_mm,
        mm_per_px=mm_per_px_of(projection, fit.parameters),
        camera=projection.camera(fit.parameters) if isinstance(projection, Pinhole) else None,
        lean_u=tied.lean_u,
        center_mm=projection.center_mm,
        scale_mm=projection.scale_mm if isinstance(projection, Planar) else 1.0,
    )


def _model(fit: Fit, count: int) -> Model:
    if isinstance(fit.projection, Pinhole):
        return "camera"
    return "similarity" if count == 2 else "affine" if count == 3 else "homography"


def _left_out_px(tied: _Tied, *, told: bool) -> dict[int, float]:
    """Distance between each point and where the others put it; none where these do not carry the same model."""
    if len(tied.used) - 1 < (2 if told else 4):
        return {}
    used = tied.seen.without(*(index for index in range(len(tied.seen)) if index not in tied.used))
    if tied.priors is not None:
        found = left_out_px(tied.fit, used, tied.priors)
    else:
        rests = [refit(tied.fit, used.without(number), None) for number in range(len(used))]
        places = [rest.projection.pixels(rest.parameters, used.xyz_mm) for rest in rests]
        found = np.array([math.dist(used.uv_px[number], one[number]) for number, one in enumerate(places)])
    return {index: float(one) for index, one in zip(tied.used, found, strict=True) if math.isfinite(one)}


def _refuse_hopeless(registration: Registration, suspicion: Suspicion, file: str) -> None:
    missed = [item.residual_px for item in registration.points if not item.left_out]
    rms_px = math.sqrt(float(np.mean(np.square(missed))))
    if rms_px <= HOPELESS * math.hypot(*registration.shape_px):
        return
    worst = sorted(registration.points, key=lambda item: (-item.residual_px, item.point.line))[:3]
    listed = ", ".join(f"{item.point.name} by {item.residual_px:.0f} px" for item in worst)
    what = f"the points fit no view of this board: they miss by {rms_px:.0f} px (rms), {listed}"
    remedy = suspicion.hint or "check which pixel belongs to which place, the side, and the placement's units"
    raise input_error(file, None, what, remedy)


def _warnings(registration: Registration, fit: Fit) -> list[str]:
    count = sum(not item.left_out for item in registration.points)
    warnings = []
    if count == 2:
        warnings.append(
            "two control points can show neither tilt nor perspective, nor that the board is seen mirrored: "
            "positions away from them are uncertain; add points"
        )
    elif count == 3:
        warnings.append("three control points cannot show perspective, nor check each other: add points")
    elif registration.rms_px is None:
        warnings.append("four control points leave nothing over to check each other by: add points")
    if fit.spread > 2.0:
        warnings.append(
            f"the points scatter {fit.spread:.1f} times as much as their pixel_u says: uncertainties were widened"
        )
    unknown = [item.point.name for item in registration.points if not item.point.height_known]
    if unknown:
        warnings.append(
            f"the height of {', '.join(unknown)} is unknown and was taken as 0 ± {UNKNOWN_HEIGHT_U_MM:g} mm: "
            "give height_mm in the parts table, or z_mm with the point"
        )
    return warnings
