"""Makes every data file of the demo anew: ``python -m demo_board.simulation.make_demo`` from the repository's root."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from demo_board.simulation.band import BandTable
from demo_board.simulation.camera import Instrument, PartTruth, frame_c, truths
from demo_board.simulation.demo_world import BOARD, FIDUCIALS, FULL_LOAD_RISE_K, IDLE_SHARE, RATINGS, demo_world
from demo_board.simulation.heat import HeatNetwork
from demo_board.simulation.job_files import (
    Shot,
    click,
    write_bodies,
    write_job,
    write_outline,
    write_parts,
    write_placement,
    write_truth,
)
from demo_board.simulation.rays import Lobe, Pose, Room, Scene, aim
from demo_board.simulation.world import Array, World

FOLDER = Path(__file__).parents[1]
INVENTED = "Invented for this demonstration: no such board, parts or measurements exist."
HFOV_DEG, SHAPE_PX, DISTANCE_MM = 25.0, (240, 320), 268.0
BODIES = (
    "IND-4018", "IND-8040", "CAN-8X10", "RADIAL-10X12", "TANT-7343", "XTAL-3225", "SHIELD-22X16", "TERM-2P", "HDR-1X6",
    "FUSE-2410", "COAX-3", "LED0603",
)  # fmt: skip
CAMERA: dict[str, Any] = {
    "band_um": [8.0, 14.0], "accuracy_c": 2.0, "accuracy_percent": 2.0, "netd_c": 0.05, "hfov_deg": HFOV_DEG,
    "blur_px": 1.3,
}  # fmt: skip
REQUIREMENT = {"ambient_max_c": 60.0, "margin_c": 10.0, "confidence": 0.95, "derating": "none"}
TOP_POINTS: list[str | tuple[float, float]] = [
    (4.0, 60.0),
    (92.0, 60.0),
    (4.0, 4.0),
    (92.0, 4.0),
    "R21",
    "U2",
    "J1",
    "L1",
]
BOTTOM_POINTS: list[str | tuple[float, float]] = [
    (4.0, 60.0),
    (92.0, 60.0),
    (4.0, 4.0),
    (92.0, 4.0),
    "R41",
    "C30",
    "U8",
]
TABLE = BandTable(8.0, 14.0)
# a lamp high up at the left, a person behind the bench
LOBES = (Lobe((-0.5, 0.35, 0.8), 38.0, 12.0), Lobe((0.1, -0.9, 0.45), 31.0, 18.0))


def powers_of(network: HeatNetwork, rises_k: dict[str, float]) -> Array:
    """Powers that give those rises, by designator."""
    index = {part.refdes: k for k, part in enumerate(network.world.parts)}
    return network.powers_for({index[name]: rise for name, rise in rises_k.items() if name in index})


def idle(world: World, powers_w: Array) -> Array:
    return powers_w * np.array([IDLE_SHARE.get(part.refdes, 0.0) for part in world.parts])


def pose(side: str, tilt: tuple[float, float], roll: float) -> Pose:
    return aim((48.0, 32.0), DISTANCE_MM, HFOV_DEG, SHAPE_PX, side, tilt, roll, radial=-0.01)


def rows_with_power(world: World, powers_w: Array) -> list[dict[str, object]]:
    """The parts table, each junction-rated part on a row of its own with its power as somebody computed it."""
    power = {part.refdes: float(w) for part, w in zip(world.parts, powers_w, strict=True)}
    rows: list[dict[str, object]] = []
    for row in RATINGS:
        for name in str(row["refdes"]).split(", ") if row.get("limit_at") == "junction" else [str(row["refdes"])]:
            more: dict[str, object] = {}
            if "-" not in name and ", " not in name and power.get(name):
                more = {"power_w": f"{power[name] * 1.02:.3f}", "power_u_w": f"{0.05 * power[name]:.3f}"}
            rows.append({"limit_at": "surface"} | row | {"refdes": name} | more)
    return rows


def write_board(folder: Path, world: World, full_w: Array) -> None:
    """Placement, outline, parts and bodies."""
    extra = [[name, "", "FIDUCIAL", f"{x:.3f}", f"{y:.3f}", "0", side] for name, (x, y), side in FIDUCIALS]
    extra += [
        [f"H{n}", "", "HOLE", f"{x:.3f}", f"{y:.3f}", "0", "top"] for n, (x, y, _) in enumerate(BOARD.holes, start=1)
    ]
    write_placement(folder / "placement.csv", world.parts, extra)
    write_outline(folder / "outline.svg", world.board)
    write_parts(folder / "parts.csv", rows_with_power(world, full_w), INVENTED)
    write_bodies(folder / "bodies.csv", world.parts, BODIES, INVENTED)


def board_keys(revision: str) -> dict[str, Any]:
    files = {"placement": "placement.csv", "outline": "outline.svg", "parts": "parts.csv", "bodies": "bodies.csv"}
    return {"name": "Tide-gauge power and telemetry", "revision": revision} | files


def shoot(
    network: HeatNetwork, powers_w: Array, name: str, file: str, eye: Pose, seed: int, ambient_c: float, offset_c: float
) -> tuple[Shot, tuple[Instrument, dict[str, PartTruth]]]:
    """One settled capture, and its truth."""
    heat = network.steady(powers_w, ambient_c)
    scene = Scene(network.world, heat, Room(ambient_c, ambient_c - 0.5, 30.0, LOBES), TABLE, eye, seed)
    instrument = Instrument(offset_c=offset_c, tail=0.015)
    frame = frame_c(scene, instrument, seed, per_side=4)
    targets = TOP_POINTS if eye.side == "top" else BOTTOM_POINTS
    points = click(network.world, eye, targets, 0.4, seed)
    keys = {
        "ambient_c": round(ambient_c + 0.2, 1),
        "ambient_u_c": 0.5,
        "reflected_c": round(ambient_c - 0.2, 1),
        "reflected_u_c": 1.0,
        "humidity_percent": 45,
        "distance_m": 0.27,
        "rise_scale": 1.0,
    }
    return Shot(name, file, eye.side, frame, points, keys), (instrument, truths(scene, powers_w))


def make_revision_b(folder: Path = FOLDER) -> None:
    world = demo_world()
    network = HeatNetwork(world)
    full = powers_of(network, FULL_LOAD_RISE_K)
    top, bottom = pose("top", (5.0, 3.0), 2.0), pose("bottom", (-4.0, 2.0), -3.0)
    shots = [
        shoot(network, idle(world, full), "telemetry idle", "telemetry_idle", top, 11, 23.2, 0.6),
        shoot(network, full, "full load", "full_load", pose("top", (5.5, 2.0), 1.2), 12, 23.6, 0.5),
        shoot(network, full, "full load, bottom", "full_load_bottom", bottom, 13, 23.9, 0.7),
    ]
    write_board(folder, world, full)
    sections = {"board": board_keys("B"), "requirement": REQUIREMENT, "camera": CAMERA}
    write_job(folder, sections, [shot for shot, _ in shots], integers=True, remark=INVENTED)
    write_truth(folder / "truth.json", {shot.name: truth for shot, truth in shots}, INVENTED)


if __name__ == "__main__":
    make_revision_b()
