"""What the page shows of a job that was read."""

from __future__ import annotations

from typing import Any

import numpy as np

from overlay.frames.frame import Array
from overlay.job.analysis import Analysis, CaptureAnalysis
from overlay.report.columns import columns_of
from overlay.report.content import DASH, PartRow, cautions, part_rows
from overlay.report.html import part_detail
from overlay.report.numbers import numbers
from overlay.report.results import summary
from overlay.workbench.shapes import NOWHERE


def analysis_json(analysis: Analysis) -> dict[str, Any]:
    """Rows, hot spots and outlines for the page, in the words of the reports."""
    rows = part_rows(analysis)
    return {
        "columns": [{"heading": column.heading, "number": column.number} for column in columns_of("page")],
        "rows": [_row(row) for row in rows],
        "summary": summary(analysis),
        "captures": {capture.name: _capture(capture) for capture in analysis.captures},
        "cautions": list(cautions(analysis)),
        "problems": [str(problem) for problem in analysis.problems],
    }


def _row(row: PartRow) -> dict[str, Any]:
    reading = row.reading
    peak_mm = None if reading is None else reading.peak_at_mm
    return {
        "refdes": row.refdes,
        "verdict": row.verdict,
        "side": row.side,
        "kind": row.component.kind,
        "capture": "" if row.capture == DASH else row.capture,
        "cells": [column.cell(row, "page") for column in columns_of("page")],
        "peak_at_mm": numbers(peak_mm, 3),
        **part_detail(row),
    }


def _capture(capture: CaptureAnalysis) -> dict[str, Any]:
    return {
        "side": capture.settings.side,
        "parts": [face.component.refdes for face in capture.faces],
        "outlines": [_ring(face.polygon_px) for face in capture.faces],
        "notes": [*capture.notes, *capture.reading.notes],
        "readings": {
            item.refdes: f"{item.peak_c:.1f} ± {item.u_c:.1f} °C (k = 1)"
            for item in capture.reading.readings
            if item.trusted
        },
        "hot_spots": [
            {
                "rank": spot.rank,
                "pixel": numbers(spot.pixel, 2),
                "board_mm": numbers(spot.board_mm, 2),
                "temperature_c": round(spot.temperature_c, 1),
                "u_c": round(spot.u_c, 1),
                "rise_k": round(spot.rise_k, 1),
                "candidates": [[one.refdes, round(one.probability, 3)] for one in spot.candidates],
                "why": list(spot.why),
            }
            for spot in capture.reading.hot_spots
        ],
    }


def _ring(polygon_px: Array) -> list[int]:
    far = ~np.isfinite(polygon_px) | (np.abs(polygon_px) > 1e6)
    cells = np.rint(np.where(far, 0.0, polygon_px) * 100.0).astype(np.int64)
    cells[far] = NOWHERE
    return [int(cell) for cell in cells.ravel()]
