"""The plain way, beside which every clever one is set: the hottest pixel inside the projected outline.

A homography through the clicks (no heights, no camera), each body's outline as it is listed, its hottest pixel, its
emissivity. No blur is undone, nothing is said of uncertainty; it ranks the parts by what it reads.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from overlay.board.model import Component
from overlay.frames.emissivity import emissivity_of
from overlay.frames.read import read_frame
from overlay.job.analysis import Job
from tests.truth.worlds.instrument import exitance, temperature_c
from tests.truth.worlds.solids import Array

_UNKNOWN_MM = 1.0  # half side of the square that is looked at where a body is not known


def plain_readings(job: Job) -> dict[str, float]:
    """Temperature of every part that lies inside the frame, by designator."""
    capture = job.settings.capture[0]
    shown = read_frame(job.folder / capture.frame, capture.frame, colour_scale=capture.colour_scale).temperature_c[0]
    room = exitance(capture.reflected_or_ambient_c)
    leaving = exitance(shown)
    if capture.frame_emissivity < 1:
        told = capture.frame_emissivity
        leaving = told * leaving + (1 - told) * exitance(capture.frame_reflected_c or capture.ambient_c)
    matrix = _homography(job)
    result = {}
    for part in job.board.components:
        if part.mechanical or part.side != capture.side:
            continue
        hottest = _hottest(leaving, _project(matrix, _outline(part)))
        if hottest is not None:
            emissivity = emissivity_of(part).value
            result[part.refdes] = float(temperature_c((hottest - (1 - emissivity) * room) / emissivity))
    return result


def ranked(readings: dict[str, float]) -> list[str]:
    """Designators, hottest first."""
    return sorted(readings, key=lambda refdes: (-readings[refdes], refdes))


def _homography(job: Job) -> Array:
    """Direct linear transform through all clicks; three are enough for an affine one."""
    capture = job.settings.capture[0]
    assert capture.control_points is not None
    with Path(job.folder / capture.control_points).open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    pixels = np.array([[float(row["pixel_x"]), float(row["pixel_y"])] for row in rows])
    places = [(float(row["board_x_mm"] or 0), float(row["board_y_mm"] or 0)) for row in rows]
    named = [job.board.component(row["at"]).center_mm if row["at"] else None for row in rows]
    board = np.array([place if at is None else at for place, at in zip(places, named, strict=True)])
    middle, scale = board.mean(axis=0), board.std()
    x, y = ((board - middle) / scale).T
    u, v = (pixels / 100.0).T
    one, none = np.ones_like(x), np.zeros_like(x)
    system = np.concatenate(
        [
            np.stack([x, y, one, none, none, none, -u * x, -u * y, -u], axis=1),
            np.stack([none, none, none, x, y, one, -v * x, -v * y, -v], axis=1),
        ]
    )
    matrix = np.linalg.svd(system)[2][-1].reshape(3, 3)
    to_unit = np.array([[1 / scale, 0, -middle[0] / scale], [0, 1 / scale, -middle[1] / scale], [0, 0, 1]])
    return np.asarray(np.diag([100.0, 100.0, 1.0]) @ matrix @ to_unit)


def _project(matrix: Array, places_mm: Array) -> Array:
    seen = np.column_stack([places_mm, np.ones(len(places_mm))]) @ matrix.T
    return np.asarray(seen[:, :2] / seen[:, 2:])


def _outline(part: Component) -> Array:
    half = np.array([_UNKNOWN_MM, _UNKNOWN_MM])
    if part.body is not None:
        half = np.array([part.body.length_mm, part.body.width_mm]) / 2
    turn = np.radians(part.rotation_deg)
    corners = np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]]) * half
    return np.asarray(
        corners @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) + part.center_mm
    )


def _hottest(leaving: Array, polygon_px: Array) -> float | None:
    """The largest value whose pixel's middle lies in the outline; else that of the pixel in its middle."""
    rows, cols = leaving.shape
    low, high = np.floor(polygon_px.min(axis=0)).astype(int), np.ceil(polygon_px.max(axis=0)).astype(int)
    x, y = np.meshgrid(
        np.arange(max(low[0], 0), min(high[0] + 1, cols)), np.arange(max(low[1], 0), min(high[1] + 1, rows))
    )
    edges = np.roll(polygon_px, -1, axis=0) - polygon_px
    signs = [
        np.sign(edge[0] * (y - corner[1]) - edge[1] * (x - corner[0]))
        for corner, edge in zip(polygon_px, edges, strict=True)
    ]
    inside = np.abs(np.sum(signs, axis=0)) >= 3.5 if x.size else np.zeros(x.shape, dtype=bool)
    if inside.any():
        return float(leaving[y[inside], x[inside]].max())
    col, row = np.round(polygon_px.mean(axis=0)).astype(int)
    return float(leaving[row, col]) if 0 <= row < rows and 0 <= col < cols else None
