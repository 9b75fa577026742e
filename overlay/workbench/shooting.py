"""The plan of shots as the page shows it."""

from __future__ import annotations

from typing import Any

from overlay.report.results import numbers
from overlay.report.shot_pages import field_corners_mm, preparation_lines, shortfall_lines
from overlay.shots.model import ShotPlan


def plan_json(plan: ShotPlan) -> dict[str, Any]:
    """Fields to draw, how to stand for each, and what cannot be had."""
    return {
        "shots": [
            {
                "number": shot.number,
                "side": shot.side,
                "aim_mm": numbers(shot.aim_mm, 1),
                "distance_mm": round(1000.0 * shot.distance_m),
                "along": "y" if shot.turned else "x",
                "field_mm": numbers(shot.field_mm, 0),
                "corners_mm": [numbers(corner, 2) for corner in field_corners_mm(shot)],
                "mm_per_px": round(shot.mm_per_px, 3),
                "parts": len(shot.sightings),
                "enough": sum(1 for item in shot.sightings if item.enough and item.visible >= 0.5),
                "to_click": shot.control_points,
                "notes": list(shot.notes),
            }
            for shot in plan.shots
        ],
        "camera": f"{plan.camera.cols} × {plan.camera.rows} pixels, {plan.camera.hfov_deg:g}° wide, "
        f"nearest {plan.camera.nearest_mm:.0f} mm",
        "shortfalls": shortfall_lines(plan.shortfalls),
        "preparations": preparation_lines(plan.preparations),
        "notes": list(plan.notes),
    }
