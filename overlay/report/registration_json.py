"""Registrations, as ``results.json`` and ``register --json`` have them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from overlay.registration.model import Camera, Confidence, Registration
from overlay.report.numbers import number, numbers


def registrations_json(registrations: Mapping[str, Registration]) -> dict[str, Any]:
    """The registrations of a job's captures as ``results.json`` has them."""
    return {
        "captures": [
            {"name": name, "side": registration.side, "registration": registration_json(registration)}
            for name, registration in registrations.items()
        ]
    }


def registration_json(registration: Registration) -> dict[str, Any]:
    """One registration: matrix, points with residuals, and the pose and confidence where there are any."""
    values: dict[str, Any] = {
        "model": registration.model,
        "pixel_from_board": [[number(cell, 9) for cell in row] for row in registration.pixel_from_board],
        "points": [
            {
                "at": item.point.at,
                "pixel": numbers(item.point.pixel, 3),
                "board_mm": numbers(item.point.board_mm, 4),
                "z_mm": number(item.point.z_mm, 3),
                "residual_px": number(item.residual_px, 3),
                "left_out_px": number(item.left_out_px, 3),
                "suspect": item.suspect,
                "remark": item.remark,
            }
            for item in registration.points
        ],
        "rms_px": number(registration.rms_px, 4),
        "rms_mm": number(registration.rms_mm, 4),
        "mm_per_px": number(registration.mm_per_px, 5),
        "refined": registration.refined,
        "warnings": list(registration.warnings),
        "findings": [
            {"refdes": finding.refdes, "code": finding.code.value, "what": finding.text}
            for finding in registration.findings
        ],
        "foreign": registration.foreign or None,
    }
    if registration.camera is not None:
        values["pose"] = _pose(registration.camera)
    if registration.confidence is not None:
        values["confidence"] = _confidence(registration.confidence)
    return values


def _pose(camera: Camera) -> dict[str, Any]:
    return {
        "rotation": [numbers(row, 9) for row in camera.rotation],
        "translation_mm": numbers(camera.translation_mm, 5),
        "focal_px": number(camera.focal_px, 4),
        "radial": number(camera.radial, 6),
        "center_px": numbers(camera.center_px, 3),
    }


def _confidence(confidence: Confidence) -> dict[str, Any]:
    return {
        "score": number(confidence.score, 2),
        "parts_agreeing": confidence.parts_agreeing,
        "parts_judged": confidence.parts_judged,
        "precision_px": number(confidence.precision_px, 3),
        "rival_score": number(confidence.rival_score, 2),
        "moved_px": number(confidence.moved_px, 3),
        "outline_shift_mm": numbers(confidence.outline_shift_mm, 3),
        "trusted": confidence.trusted,
        "reason": confidence.reason,
    }
