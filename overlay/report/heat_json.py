"""What makes the heat, as ``results.json`` has it."""

from __future__ import annotations

from typing import Any

from overlay.heat.model import BoardSource, FrameHeat, HeatedBy, PartHeat
from overlay.report.numbers import number


def part_heat_json(heat: PartHeat | None) -> dict[str, Any] | None:
    """What one part's temperature is made of; None where nothing was worked out."""
    if heat is None:
        return None
    return {
        "call": heat.call.value,
        "own_rise_k": number(heat.own_rise_k, 2),
        "own_rise_u_k": number(heat.own_rise_u_k, 2),
        "share": number(heat.share, 4),
        "share_u": number(heat.share_u, 4),
        "power_w": number(heat.power_w, 4),
        "power_u_w": number(heat.power_u_w, 4),
        "heated_by": [_heater_json(heater) for heater in heat.heated_by],
    }


def frame_heat_json(heat: FrameHeat | None) -> dict[str, Any] | None:
    """What is known of one capture's heat; None where nothing was worked out."""
    if heat is None:
        return None
    return {
        "board_sources": [_source_json(source) for source in heat.board_sources],
        "total_power_w": number(heat.total_power_w, 4),
        "fit_rms_k": number(heat.fit_rms_k, 3),
        "why": list(heat.why),
    }


def _heater_json(heater: HeatedBy) -> dict[str, Any]:
    place = [number(value, 2) for value in heater.board_mm]
    return {"refdes": heater.refdes, "board_mm": place, "rise_k": number(heater.rise_k, 2)}


def _source_json(source: BoardSource) -> dict[str, Any]:
    return {
        "board_mm": [number(value, 2) for value in source.board_mm],
        "share": number(source.share, 4),
        "share_u": number(source.share_u, 4),
        "power_w": number(source.power_w, 4),
        "power_u_w": number(source.power_u_w, 4),
    }
