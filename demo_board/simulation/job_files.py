"""Writes a simulated board as a job folder: what a user would have typed, measured or exported."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import tifffile

from demo_board.simulation.camera import Instrument, PartTruth
from demo_board.simulation.rays import Pose
from demo_board.simulation.world import Array, Board, Part, World

PARTS_COLUMNS = (
    "refdes", "part_number", "kind", "limit_c", "limit_at", "psi_jt_k_per_w", "power_w", "power_u_w", "rated_power_w",
    "endurance_h", "endurance_c", "height_mm", "emissivity", "emissivity_u", "note",
)  # fmt: skip


@dataclass(frozen=True)
class Shot:
    """One capture as the job describes it; ``keys`` are further lines of its ``[[capture]]``."""

    name: str
    file: str  # without suffix
    side: str
    frame_c: Array  # (rows, cols) or (pages, rows, cols)
    points: Sequence[tuple[float, float, str]]
    keys: dict[str, Any] = field(default_factory=dict)


def write_placement(path: Path, parts: Iterable[Part], extra: Sequence[Sequence[str]] = ()) -> None:
    """A centroid table in millimetres; ``extra`` rows (fiducials and the like) follow the parts."""
    rows = [
        [p.refdes, p.value, p.package, f"{p.center_mm[0]:.3f}", f"{p.center_mm[1]:.3f}", f"{p.rotation_deg:g}", p.side]
        for p in parts
    ]
    head = ["Designator", "Value", "Package", "Mid X (mm)", "Mid Y (mm)", "Rotation", "Side"]
    write_table(path, head, [*rows, *extra])


def write_table(path: Path, head: Sequence[str], rows: Iterable[Sequence[object]], remark: str = "") -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        if remark:
            stream.write(f"# {remark}\n")
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(head)
        writer.writerows(rows)


def write_outline(path: Path, board: Board) -> None:
    """The outline as one SVG path, arcs and all; millimetres, y down as SVG has it."""
    (x, y), w, h, r = board.origin_mm, board.width_mm, board.height_mm, board.corner_mm

    def at(px: float, py: float) -> str:
        return f"{px:g} {-py:g}"

    d = [f"M {at(x + r, y)}"]
    ends = [(x + w - r, y), (x + w, y + r), (x + w, y + h - r), (x + w - r, y + h)]
    ends += [(x + r, y + h), (x, y + h - r), (x, y + r), (x + r, y)]
    for number, end in enumerate(ends):
        d.append(f"L {at(*end)}" if number % 2 == 0 else f"A {r:g} {r:g} 0 0 0 {at(*end)}")
    d.append("Z")
    for hx, hy, diameter in board.holes:
        a = diameter / 2
        d.append(f"M {at(hx - a, hy)} A {a:g} {a:g} 0 1 0 {at(hx + a, hy)} A {a:g} {a:g} 0 1 0 {at(hx - a, hy)} Z")
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w + 4:g}mm" height="{h + 4:g}mm" '
        f'viewBox="{x - 2:g} {-y - h - 2:g} {w + 4:g} {h + 4:g}">\n'
        f'  <path d="{" ".join(d)}" fill="none" fill-rule="evenodd" stroke="black" stroke-width="0.1"/>\n</svg>\n'
    )
    path.write_text(svg, encoding="utf-8")


def write_parts(path: Path, rows: Iterable[dict[str, object]], remark: str = "") -> None:
    write_table(path, PARTS_COLUMNS, [[row.get(name, "") for name in PARTS_COLUMNS] for row in rows], remark)


def write_bodies(path: Path, parts: Iterable[Part], packages: Iterable[str], remark: str = "") -> None:
    """Nominal bodies of those packages that their names do not tell."""
    from demo_board.simulation.catalogue import PACKAGES

    rows = []
    used = {p.package for p in parts}
    for package in sorted(set(packages) & used):
        (length, width, height), _, more = PACKAGES[package]
        shiny = more.get("emissivity", 1.0) < 0.5
        shape = "round" if more.get("round") else "box"
        rows.append([package, length, width, height, shape, 0.08 if shiny else "", 0.05 if shiny else ""])
    head = ["package", "length_mm", "width_mm", "height_mm", "shape", "emissivity", "emissivity_u"]
    write_table(path, head, rows, remark)


def write_frame(path: Path, frame_c: Array, *, integers: bool) -> dict[str, float]:
    """A TIFF of 32-bit floats, or of 16-bit integers with the scale and offset that are returned."""
    if not integers:
        tifffile.imwrite(path, frame_c.astype(np.float32), photometric="minisblack", metadata=None, software="")
        return {}
    scale, offset = 0.01, -40.0
    values = np.round((frame_c - offset) / scale).astype(np.uint16)
    tifffile.imwrite(path, values, photometric="minisblack", metadata=None, software="")
    return {"frame_scale": scale, "frame_offset": offset}


def click(
    world: World, pose: Pose, targets: Sequence[str | tuple[float, float]], noise_px: float, seed: int
) -> list[tuple[float, float, str]]:
    """Where a person would click those parts (centres of top faces) and places of the board: pixels and the target."""
    by_name = {part.refdes: part for part in world.parts}
    random, out = np.random.default_rng(seed), []
    for target in targets:
        if isinstance(target, str):
            part = by_name[target]
            at = np.array([[*part.center_mm, part.size_mm[2]]])
            told = target
        else:
            at, told = np.array([[*target, 0.0]]), f"{target[0]:g};{target[1]:g}"
        x, y = pose.project(at)[0] + random.normal(0, noise_px, 2)
        out.append((float(x), float(y), told))
    return out


def write_points(path: Path, points: Iterable[tuple[float, float, str]], pixel_u: float) -> None:
    rows = []
    for x, y, told in points:
        at, bx, by = ("", *told.split(";")) if ";" in told else (told, "", "")
        rows.append([f"{x:.2f}", f"{y:.2f}", at, bx, by, f"{pixel_u:g}"])
    write_table(path, ["pixel_x", "pixel_y", "at", "board_x_mm", "board_y_mm", "pixel_u"], rows)


def write_job(
    folder: Path,
    sections: dict[str, dict[str, Any] | list[dict[str, Any]]],
    shots: Sequence[Shot],
    *,
    integers: bool,
    pixel_u: float = 0.4,
    remark: str = "",
) -> None:
    """``job.toml``, frames and control points of every shot; the tables are written by their own functions.

    A section that is a list has a block for each of its entries.
    """
    lines = [f"# {line}" for line in remark.splitlines()] + ["format = 1", ""]
    for name, told in sections.items():
        blocks = [(f"[[{name}]]", keys) for keys in told] if isinstance(told, list) else [(f"[{name}]", told)]
        for heading, keys in blocks:
            lines += [heading, *_toml(keys), ""]
    for shot in shots:
        write_points(folder / f"{shot.file}.points.csv", shot.points, pixel_u)
        scale = write_frame(folder / f"{shot.file}.tiff", shot.frame_c, integers=integers)
        keys = {"name": shot.name, "frame": f"{shot.file}.tiff", **scale, "side": shot.side}
        keys |= {"control_points": f"{shot.file}.points.csv"} | shot.keys
        lines += ["[[capture]]", *_toml(keys), ""]
    (folder / "job.toml").write_text("\n".join(lines).rstrip() + "\n", encoding="utf-8")


def _toml(keys: dict[str, Any]) -> list[str]:
    return [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in keys.items()]


def write_truth(
    path: Path,
    shots: dict[str, tuple[Instrument, dict[str, PartTruth]]],
    remark: str,
    margins_c: dict[str, float] | None = None,
) -> None:
    """What is true: for every capture the camera's common error and all parts' temperatures; true margins too."""
    captures = {
        name: {
            "camera_offset_c": round(camera.offset_c, 4),
            "camera_gain": round(camera.gain, 6),
            "parts": [_rounded(asdict(part)) for part in parts.values()],
        }
        for name, (camera, parts) in shots.items()
    }
    data: dict[str, Any] = {"remark": remark, "captures": captures}
    if margins_c is not None:
        data["margins_c"] = {name: round(value, 3) for name, value in margins_c.items()}
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    path.write_text(text.replace('{"refdes"', '\n{"refdes"') + "\n", encoding="utf-8")


def _rounded(row: dict[str, Any]) -> dict[str, Any]:
    def short(value: Any) -> Any:
        if isinstance(value, float):
            return round(value, 3)
        return [round(v, 3) for v in value] if isinstance(value, tuple) else value

    return {key: short(value) for key, value in row.items()}
