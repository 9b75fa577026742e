"""A job of many parts before a fine frame, made without any simulation: a quarter of the largest that are usual."""

from pathlib import Path

import numpy as np
import tifffile

PARTS = 150
EVIL = "<script>alert(1)</script>"
SHAPE_PX = (240, 320)
PX_PER_MM = 3.2
CORNER_PX = (16.0, 224.0)  # where the board's (0, 0) is seen


def make_large_job(folder: Path) -> Path:
    """Write the job; one designator would be a script if a page took it for markup."""
    folder.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng(600)
    columns, rows = 15, 10
    x_mm, y_mm = (grid.ravel() for grid in np.meshgrid(np.linspace(6.0, 84.0, columns), np.linspace(6.0, 59.0, rows)))
    names = [f"{'RC'[index % 2]}{index + 1}" for index in range(PARTS)]
    names[7] = EVIL
    packages = ["R0805", "C0603", "R0603", "C0805", "R1206", "SOIC-8"]
    lines = ["Designator,Value,Package,Mid X (mm),Mid Y (mm),Rotation,Side"]
    for index, name in enumerate(names):
        package = packages[index % len(packages)]
        lines.append(f"{name},10k,{package},{x_mm[index]:.3f},{y_mm[index]:.3f},{90 * (index % 4)},top")
    (folder / "placement.csv").write_text("\n".join(lines) + "\n")
    (folder / "parts.csv").write_text("part_number,limit_c\n10k,125\n")
    (folder / "outline.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="65mm" viewBox="0 -65 90 65">'
        '<path d="M0 0H90V-65H0Z"/></svg>\n'
    )
    row, column = np.mgrid[0 : SHAPE_PX[0], 0 : SHAPE_PX[1]].astype(np.float64)
    frame = 30.0 + 4.0 * np.exp(-(((column - 160) / 130) ** 2) - ((row - 120) / 100) ** 2)
    for index in range(PARTS):
        u, v = CORNER_PX[0] + PX_PER_MM * x_mm[index], CORNER_PX[1] - PX_PER_MM * y_mm[index]
        near = (slice(max(int(v) - 12, 0), int(v) + 13), slice(max(int(u) - 12, 0), int(u) + 13))
        rise = random.gamma(1.5, 6.0)
        frame[near] += rise * np.exp(-((column[near] - u) ** 2 + (row[near] - v) ** 2) / 18.0)
    frame += random.normal(0.0, 0.05, SHAPE_PX)
    tifffile.imwrite(folder / "frame.tiff", frame.astype(np.float32))
    points = ["pixel_x,pixel_y,board_x_mm,board_y_mm"]
    for x, y in ((0, 0), (90, 0), (0, 65), (90, 65), (45, 32), (20, 50)):
        jitter = random.normal(0.0, 0.2, 2)
        u, v = CORNER_PX[0] + PX_PER_MM * x + jitter[0], CORNER_PX[1] - PX_PER_MM * y + jitter[1]
        points.append(f"{u:.2f},{v:.2f},{x},{y}")
    (folder / "frame.points.csv").write_text("\n".join(points) + "\n")
    (folder / "job.toml").write_text(
        'format = 1\n[board]\nname = "Grid"\nplacement = "placement.csv"\noutline = "outline.svg"\n'
        'parts = "parts.csv"\n'
        "[camera]\nhfov_deg = 25.0\nblur_px = 1.3\n"
        '[[capture]]\nname = "grid"\nframe = "frame.tiff"\ncontrol_points = "frame.points.csv"\nambient_c = 22.0\n'
    )
    return folder
