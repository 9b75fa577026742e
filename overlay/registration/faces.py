"""The top face of every body as the camera sees it: where it is, and how much of it is left to see."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from overlay.arrays import Array, Index
from overlay.board.model import Board, Component
from overlay.reasons import Reason
from overlay.registration.fit import UNKNOWN_HEIGHT_U_MM
from overlay.registration.model import Face, FaceCode, Finding, Registration
from overlay.registration.occlusion import visible_faces
from overlay.registration.project import (
    board_jacobian,
    camera_jacobian,
    outside_hull,
    pixel_covariance,
    pixels_from_board,
)
from overlay.registration.stacking import stack_of

ROUND_CORNERS = 32  # the polygon has the circle's area and leaves it by 0.3 % of the radius
_BOX = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])  # corners, in half sides
# In radii; corners a little outside, so that the polygon has the circle's area.
_ANGLES = np.arange(ROUND_CORNERS) * (2.0 * math.pi / ROUND_CORNERS)
_OUTSIDE = math.sqrt(2.0 * math.pi / ROUND_CORNERS / math.sin(2.0 * math.pi / ROUND_CORNERS))
_CIRCLE = _OUTSIDE * np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)])
UNKNOWN_RADIUS_MM = 0.5
"""Radius of the disc that stands for a part whose body nobody knows."""
LEAST_VISIBLE = 0.5
"""Share of a top face below which a part counts as hidden (the rule that README.md states)."""
WORTH_SAYING_PX = 1.0  # less is within the uncertainty of most registrations


def project_faces(registration: Registration, board: Board) -> tuple[Face, ...]:
    """Faces of all components on the seen side, in the board's order; mechanical ones where they have a body.

    A part without a known body is a disc of 0.5 mm radius. A part without a known height is drawn on the surface,
    and hides nothing. With a camera each top face stands at its height and taller bodies hide what is behind and
    under them; without, all faces lie flat, and taller bodies hide only what is under them.
    """
    findings = {finding.refdes: finding for finding in registration.findings}
    components = [
        _as_seen(component, findings.get(component.refdes))
        for component in board.components
        if component.side == registration.side and (component.body is not None or not component.mechanical)
    ]
    if not components:
        return ()
    import shapely

    sections_mm = face_polygons(components)
    known = np.array([component.height_mm is not None for component in components])
    stack = stack_of(components, sections_mm)
    heights = stack.top_mm

    def pixels(xyz_mm: Array) -> Array:
        return pixels_from_board(registration, xyz_mm)

    visible, hidden, inside = visible_faces(sections_mm, stack, pixels, registration.shape_px)
    centers = np.array([[*component.center_mm, z] for component, z in zip(components, heights, strict=True)])
    pixel_u, lean_px = _pixel_u(registration, centers, known)
    outside = outside_hull(registration, centers[:, :2])
    counts = np.array([len(section) for section in sections_mm], dtype=np.intp)
    ends = np.cumsum(counts)[:-1]
    corners = np.column_stack([np.concatenate(sections_mm), np.repeat(heights, counts)])
    corners_px = pixels(corners)
    areas, tops_px = _areas(corners_px, counts).tolist(), np.split(corners_px, ends)
    feet_px = np.split(pixels(corners * np.array([1.0, 1.0, 0.0])), ends)
    faces = []
    for index, component in enumerate(components):
        area = areas[index]
        finding = findings.get(component.refdes)
        if finding is not None and finding.code is FaceCode.NOT_SHOWN:
            visible[index] = shapely.Polygon()  # what lies over it is none of the bodies
        seen = float(visible[index].area) / area if area > 0 else 0.0
        faces.append(
            Face(
                component=component,
                polygon_mm=sections_mm[index],
                z_mm=float(heights[index]),
                height_known=bool(known[index]),
                polygon_px=tops_px[index],
                base_px=feet_px[index],
                visible_px=visible[index],
                visible=min(max(seen, 0.0), 1.0),
                pixel_u=math.hypot(float(pixel_u[index]), _unsure_px(finding)),
                hidden_by=tuple(components[other].refdes for other in sorted(hidden[index])),
                why=_why(
                    component,
                    seen,
                    [components[other].refdes for other in sorted(hidden[index], key=lambda o: -hidden[index][o])],
                    float(inside[index]),
                    float(lean_px[index]),
                    float(pixel_u[index]) if outside[index] else 0.0,
                    finding,
                ),
            )
        )
    return tuple(faces)


def _as_seen(component: Component, finding: Finding | None) -> Component:
    """A part as the frame shows it to lie where that contradicts its description."""
    if finding is None or finding.code is not FaceCode.TURNED:
        return component
    return replace(component, rotation_deg=(component.rotation_deg + 90.0) % 360.0)


def _unsure_px(finding: Finding | None) -> float:
    """What a contradicted description adds to the uncertainty of a face's place; one found turned is drawn so."""
    return 0.0 if finding is None or finding.code is FaceCode.TURNED else finding.off_px


def face_polygon(component: Component) -> Array:
    """Top face (n, 2) of a component on the board, in mm, counter-clockwise seen from the top."""
    return face_polygons([component])[0]


def face_polygons(components: Sequence[Component]) -> list[Array]:
    """Top faces of components, (n, 2) each: see `face_polygon`."""
    center = np.array([component.center_mm for component in components]).reshape(-1, 1, 2)
    turn = np.radians([component.rotation_deg for component in components])
    boxes, sides = [], []
    for i, component in enumerate(components):
        if component.body is not None and component.body.shape != "round":
            boxes.append(i)
            sides.append((component.body.length_mm, component.body.width_mm))
    corners = _BOX * (np.array(sides) / 2.0).reshape(-1, 1, 2)
    cosine, sine = np.cos(turn[boxes])[:, None], np.sin(turn[boxes])[:, None]
    x = corners[..., 0] * cosine - corners[..., 1] * sine
    y = corners[..., 0] * sine + corners[..., 1] * cosine
    faces: list[Array] = [np.empty(0)] * len(components)
    for i, face in zip(boxes, center[boxes] + np.stack([x, y], axis=2), strict=True):
        faces[i] = face
    for i in set(range(len(components))) - set(boxes):
        body = components[i].body
        faces[i] = center[i] + (UNKNOWN_RADIUS_MM if body is None else body.length_mm / 2.0) * _CIRCLE
    return faces


def _pixel_u(registration: Registration, centers: Array, known: Array) -> tuple[Array, Array]:
    """Standard uncertainty of each face's place (n,), and what unknown height or camera add to it (n,), in px."""
    variance = _mean_variance(pixel_covariance(registration, centers))
    slopes = board_jacobian(registration, centers)
    per_mm = np.sqrt((slopes[:, :, :2] ** 2).sum(axis=(1, 2)) / 2.0)
    height_u = np.where(known, 0.0, UNKNOWN_HEIGHT_U_MM)
    if registration.camera is None:
        unknown = registration.lean_u * per_mm * height_u
        lean = registration.lean_u * per_mm * np.hypot(centers[:, 2], height_u)
    else:
        unknown = np.sqrt((slopes[:, :, 2] ** 2).sum(axis=1) / 2.0) * height_u
        # a camera whose lens nobody told leaves open by how much tops lean against their feet
        feet = centers * np.array([1.0, 1.0, 0.0])
        apart = camera_jacobian(registration, centers) - camera_jacobian(registration, feet)
        lean = np.hypot(unknown, np.sqrt(_mean_variance(apart @ registration.covariance @ apart.transpose(0, 2, 1))))
    return np.sqrt(variance + unknown**2), lean


def _mean_variance(covariance: Array) -> Array:
    """Variance along either axis (n,) of covariances (n, 2, 2), on average."""
    return np.asarray(np.trace(covariance, axis1=1, axis2=2) / 2.0)


def _why(
    component: Component,
    seen: float,
    hiding: list[str],
    inside: float,
    lean_px: float,
    extrapolated_px: float,
    finding: Finding | None,
) -> tuple[Reason, ...]:
    """What a user should know of a face that is not plainly there to see."""
    why = [] if finding is None else [Reason(finding.code, _said(finding))]
    if hiding:
        names = ", ".join(hiding[:3]) + (" and others" if len(hiding) > 3 else "")
        text = f"behind or under {names}: {max(seen, 0.0):.0%} of its top face is left to see"
        why.append(Reason(FaceCode.HIDDEN, text))
    if inside < 0.995:
        text = "outside the frame" if inside < 0.005 else f"{1.0 - inside:.0%} of its top face is outside the frame"
        why.append(Reason(FaceCode.OUTSIDE_FRAME, text))
    if component.body is None:
        text = "body unknown: a disc of 0.5 mm radius stands for it; name its size in bodies.csv"
        why.append(Reason(FaceCode.BODY_UNKNOWN, text))
    elif component.height_mm is None and lean_px > 0.1:
        text = f"height unknown: its top face may be seen {lean_px:.1f} px aside; state height_mm"
        why.append(Reason(FaceCode.HEIGHT_UNKNOWN, text))
    elif component.height_mm is not None and lean_px > WORTH_SAYING_PX:
        text = f"without hfov_deg its top face may lean {lean_px:.1f} px aside"
        why.append(Reason(FaceCode.LEAN_UNKNOWN, text))
    if extrapolated_px > WORTH_SAYING_PX:
        text = f"outside the control points: its place is uncertain by {extrapolated_px:.1f} px"
        why.append(Reason(FaceCode.OUTSIDE_POINTS, text))
    return tuple(why)


def _said(finding: Finding) -> str:
    ends = {
        FaceCode.TURNED: ", and was read so: correct the placement",
        FaceCode.RESIZED: ": correct bodies.csv",
        FaceCode.MOVED: ": correct the placement",
    }
    return finding.text + ends.get(finding.code, "")


def _areas(corners: Array, counts: Index) -> Array:
    """Areas (n,) of polygons of so many corners each (n,), given one after the other; 0 where one is not finite."""
    begin = np.cumsum(counts) - counts
    following = np.arange(1, len(corners) + 1)
    following[begin + counts - 1] = begin
    (x, y), (to_x, to_y) = corners.T, corners[following].T
    areas = np.abs(np.add.reduceat(x * to_y - to_x * y, begin)) / 2.0
    return np.where(np.isfinite(areas), areas, 0.0)
