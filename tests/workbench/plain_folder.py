"""Folders of files as an engineer has them, for boards of invented parts: placement, sizes, edge, list, and a frame."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tests.plain_board import Part, Setting, places_to_click, view_of


def write_folder(folder: Path, parts: Sequence[Part], size_mm: tuple[float, float], *, bodies: bool = True) -> None:
    """Placement, outline and purchasing list, and the sizes of packages unless they are to be asked for."""
    folder.mkdir(exist_ok=True)
    rows = ["Designator,Mid X (mm),Mid Y (mm),Rotation,Layer,Package,Comment"]
    rows += [
        f"{part.refdes},{part.center_mm[0]:.3f},{part.center_mm[1]:.3f},0,{part.side},{package(part)},{part.refdes}-PN"
        for part in parts
    ]
    (folder / "placement.csv").write_text("\n".join(rows) + "\n")
    width, height = size_mm
    (folder / "outline.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 {-height} {width} {height}"><path d="M0 0H{width}V{-height}H0Z"/></svg>'
    )
    (folder / "parts.csv").write_text(
        "\n".join(["refdes,limit_c,limit_at,emissivity", *(f"{part.refdes},105,surface,0.94" for part in parts)]) + "\n"
    )
    if bodies:
        sizes = {package(part): part.size_mm for part in parts}
        lines = [f"{name},{length},{wide},0.05" for name, (length, wide) in sizes.items()]
        (folder / "bodies.csv").write_text("\n".join(["package,length_mm,width_mm,height_mm", *lines]) + "\n")


def package(part: Part) -> str:
    """A name that tells nothing, so that the sizes are those of the table."""
    return f"HOUSE-{part.size_mm[0]:g}-{part.size_mm[1]:g}".replace(".", "P")


def frame_of(parts: Sequence[Part], setting: Setting) -> np.ndarray:
    """Apparent temperatures of the board from straight above, (0, 0) mm at pixel (2.5, rows − 3.5)."""
    return np.asarray(view_of(parts, setting).apparent_c)


def pixel_of(board_mm: tuple[float, float], setting: Setting) -> tuple[float, float]:
    """Where that frame has a place of the board."""
    scale = setting.px_per_mm
    return 2.5 + board_mm[0] * scale, 2.5 + (setting.size_mm[1] - board_mm[1]) * scale


def many(count: int) -> list[Part]:
    """Parts of a few sizes in rows, every tenth of them warm, on a board of 100 × 80 mm."""
    cols = int(np.ceil(np.sqrt(count * 100 / 80)))
    rows = -(-count // cols)
    pitch = (100.0 / cols, 80.0 / rows)
    made = []
    for index in range(count):
        at = ((index % cols + 0.5) * pitch[0], (index // cols + 0.5) * pitch[1])
        share = (0.75, 0.5, 0.35)[index % 3]
        size = (round(share * pitch[0], 1), round(share * pitch[1] * 0.8, 1))
        warm = 80.0 if index % 10 == 3 else 42.0
        made.append(Part(f"{'RCU'[index % 3]}{index + 1}", at, size, warm))
    return made


def write_job(folder: Path, parts: Sequence[Part], setting: Setting) -> Path:
    """A whole job with one registered capture; returns its ``job.toml``."""
    write_folder(folder, parts, setting.size_mm)
    np.save(folder / "warm.npy", frame_of(parts, setting))
    places = places_to_click(setting)
    rows = [f"{x:.3f},{y:.3f},{a},{b}" for a, b in places for x, y in [pixel_of((a, b), setting)]]
    (folder / "warm.points.csv").write_text("\n".join(["pixel_x,pixel_y,board_x_mm,board_y_mm", *rows]) + "\n")
    job = folder / "job.toml"
    job.write_text(
        "# invented for this test\nformat = 1\n\n"
        '[board]\nname = "Rows"\nplacement = "placement.csv"\noutline = "outline.svg"\nparts = "parts.csv"\n'
        'bodies = "bodies.csv"\n\n[requirement]\nambient_max_c = 40.0  # as the customer wants it\n\n'
        '[[capture]]\nname = "warm"\nframe = "warm.npy"\ncontrol_points = "warm.points.csv"\nambient_c = 23.0\n'
    )
    return job
