"""Floors: the least that the work's main steps take with the libraries at hand, measured on this machine."""

from __future__ import annotations

import io
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from reportlab.lib.pagesizes import A4
from reportlab.platypus import SimpleDocTemplate, Table
from scipy.ndimage import label
from scipy.sparse import csr_array
from scipy.sparse.linalg import spsolve

SHAPE_PX = (480, 640)
PARTS = 500
_SIDE_PX = 9
_LIBRARIES = "numpy, cv2, shapely, pydantic, typer, scipy.ndimage, scipy.optimize, scipy.sparse.linalg, scipy.spatial"
_REPEATS = 7


def floors_s() -> dict[str, float]:
    """Processor seconds of each floor by its name, the median of some runs."""
    return {
        "warp of a frame": _median_s(_warp),
        "labels of a frame": _median_s(_labels),
        f"normal equations of {PARTS} parts": _median_s(_normal_equations),
        "PDF of a table of 600 rows": _median_s(_pdf),
        "imports of libraries": _imports_s(""),
        "imports with the PDF's": _imports_s(", reportlab.platypus"),
    }


@dataclass(frozen=True, slots=True)
class Child:
    """What a Python process took, forks of it included."""

    processor_s: float
    wall_s: float
    printed: str


def child(code: str, *arguments: str) -> Child:
    """Run ``code`` in a process of its own."""
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True)
    wall_s, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    return Child(after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime, wall_s, done.stdout)


def _imports_s(more: str) -> float:
    return statistics.median(child(f"import {_LIBRARIES}{more}").processor_s for _ in range(3))


def _median_s(step: Callable[[], object]) -> float:
    step()  # what is made once, and lazily
    times = []
    for _ in range(_REPEATS):
        begun = time.process_time()
        step()
        times.append(time.process_time() - begun)
    return statistics.median(times)


def _warp() -> object:
    frame = np.ones(SHAPE_PX, dtype=np.float32)
    return cv2.warpPerspective(frame, np.array([[1.0, 0.1, 3.0], [0.0, 1.1, 2.0], [1e-5, 0.0, 1.0]]), SHAPE_PX[::-1])


def _labels() -> object:
    rows, cols = np.indices(SHAPE_PX)
    return label((rows % 20 < 10) & (cols % 20 < 10))


def _normal_equations() -> object:
    """One temperature a part and a pixel's noise: the plainest unmixing there is."""
    rng = np.random.default_rng(1)
    top, left = rng.integers(0, SHAPE_PX[0] - _SIDE_PX, PARTS), rng.integers(0, SHAPE_PX[1] - _SIDE_PX, PARTS)
    down, across = np.divmod(np.arange(_SIDE_PX**2), _SIDE_PX)
    pixel = (top[:, None] + down) * SHAPE_PX[1] + left[:, None] + across
    part = np.repeat(np.arange(PARTS), _SIDE_PX**2)
    shares = csr_array((np.full(pixel.size, 0.7), (pixel.ravel(), part)), shape=(SHAPE_PX[0] * SHAPE_PX[1], PARTS))
    normal = shares.T @ shares + csr_array((np.full(PARTS, 1e-3), (np.arange(PARTS),) * 2), shape=(PARTS, PARTS))
    return spsolve(normal.tocsc(), shares.T @ np.ones(SHAPE_PX[0] * SHAPE_PX[1]))


def _pdf() -> object:
    rows = [[f"R{i}", "R0603", "read", "81.2", "1.4", "155", "42.1", "clear"] for i in range(600)]
    stream = io.BytesIO()
    SimpleDocTemplate(stream, pagesize=A4).build([Table(rows)])
    return stream.getvalue()
